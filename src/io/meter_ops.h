/*
 * io/meter_ops.h - what a protocol does, and what it may use of the meter that carries it
 *
 * Layer: io; private to meter*.c.
 * meter.c owns the wire, the clock and the queue of readings; a protocol is a state machine that
 * is told of bytes and of time and says what to send and when to be called again.
 */
#ifndef MAINSTAIR_IO_METER_OPS_H
#define MAINSTAIR_IO_METER_OPS_H

#include "io/meter.h"

enum { METER_IN_MAX = 512, METER_OUT_MAX = SCPI_QUERY_MAX + 2, METER_QUEUE_MAX = 16 };

struct meter_ops {
	const char *word;
	enum reading_from from;
	/** Is there anything to read by this map?  0, or -1 with ERR_INPUT. */
	int (*check)(const struct meter_config *config, struct err *err);
	/** The port has just been opened; sets m->due_ms. */
	void (*start)(struct meter *m, int64_t now_ms);
	/** Bytes have been added to m->in.  Takes what it has understood with meter_drop(). */
	void (*heard)(struct meter *m, int64_t now_ms);
	/** m->due_ms has come.  Sets the next one. */
	void (*due)(struct meter *m, int64_t now_ms);
};

extern const struct meter_ops meter_modbus_ops, meter_scpi_ops, meter_text_ops;

/* Where an asking protocol stands. */
enum asking {
	ASK_IDLE,   /* until due: then the next reading begins */
	ASK_PAUSE,  /* until due: then the next question of this reading */
	ASK_ANSWER, /* a question is out */
	ASK_DRAIN   /* something went wrong: throw away until the line has been quiet */
};

struct meter {
	struct meter_config config;
	const struct meter_ops *ops;
	wire_opener *opener;
	struct wire *wire; /* NULL: lost */
	int64_t due_ms;
	struct meter_health health;
	unsigned failures;  /* questions in a row that brought nothing usable */
	bool was_open;      /* ever: tells a replug from a first start */

	uint8_t in[METER_IN_MAX];
	size_t n_in;
	char out[METER_OUT_MAX];
	size_t n_out;       /* still to be written */
	int64_t unsent_ms;  /* when to try again to write it */

	struct reading queue[METER_QUEUE_MAX];
	size_t queue_first, n_queue;
	bool look_again;    /* the queue was full; what has come in is still to be understood */

	/* asking protocols */
	enum asking asking;
	int64_t began_ms;    /* of this reading */
	int64_t asked_ms;
	int64_t heard_ms;    /* last byte */
	int64_t deadline_ms; /* of the answer */
	int64_t drain_ms;    /* when the drain under way began */
	int quiet_ms;        /* how long a quiet line ends it */
	bool drained;        /* it has thrown something away */
	size_t question;     /* which of this reading's */
	unsigned quick;      /* answers in a row within half the time-out in force */
	bool timed_out;      /* the drain follows a time-out: an answer in it is a late one */
	bool answered;       /* at least one question of this reading */
	struct reading next; /* under way */

	struct modbus_query block[MODBUS_BLOCKS_MAX];
	size_t n_blocks;

	unsigned scpi_strikes[READING_QUANTITIES]; /* unknown commands in a row */
	bool scpi_setup_due, scpi_errors_due;
	unsigned scpi_errors_read;

	struct line_text_stream stream;
};

/** Forget the first n bytes of m->in. */
void meter_drop(struct meter *m, size_t n);

/** Queue bytes for sending; what is still unsent of an earlier request is forgotten. */
void meter_send(struct meter *m, const void *bytes, size_t n);

/** Hand over m->next as a reading, heard at now_ms. */
void meter_publish(struct meter *m, int64_t now_ms);

/** Note trouble, in words (made safe to print here). */
void meter_trouble(struct meter *m, const char *format, ...) __attribute__((format(printf, 2, 3)));

/** A question brought nothing usable: after three in a row the meter counts as silent. */
void meter_failed(struct meter *m);

/** Append bytes to a reading's raw text, as hex or as printable text. */
void meter_raw_hex(char raw[READING_RAW_MAX], const uint8_t *bytes, size_t n);
void meter_raw_text(char raw[READING_RAW_MAX], const char *text, size_t n);

/** An answer came after its time-out: wait longer from now on (twice, at most 5 s). */
void meter_be_patient(struct meter *m);

/** An answer came in time.  After some that came quickly the patience of meter_be_patient() is
 *  taken back step by step, so that a lost answer does not cost seconds for ever. */
void meter_in_time(struct meter *m, int64_t now_ms);

/** Throw away until the line has been quiet for the time-out in force.  `timed_out`: an answer
 *  that comes meanwhile is a late one. */
void meter_drain(struct meter *m, bool timed_out, int64_t now_ms);

/** In a drain: bytes have come and, `whole`, are no longer wanted: throw them away. */
void meter_drain_heard(struct meter *m, bool whole, int64_t now_ms);

/** The reading under way is over, well or not: the next begins a period after this one began,
 *  but not before not_before_ms. */
void meter_rest(struct meter *m, int64_t not_before_ms);

#endif
