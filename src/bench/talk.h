/*
 * bench/talk.h - what the virtual meter says on its serial line, and what the line does to it
 *
 * Layer: bench; includes proto/.  Pure: bytes in, bytes out, time an argument.
 * Three protocols: lines of text by itself, answers to SCPI queries, a Modbus RTU slave; their
 * codecs are those of proto/.  The line between meter and program can be made bad on purpose.
 */
#ifndef MAINSTAIR_BENCH_TALK_H
#define MAINSTAIR_BENCH_TALK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "bench/random.h"
#include "mainstair/core/reading.h"
#include "mainstair/proto/scpi.h"

enum talk_protocol { TALK_TEXT, TALK_SCPI, TALK_MODBUS };

/* What is wrong with the line; all zero: nothing. */
struct talk_line {
	double noise_share; /* of the bytes, each with one bit turned */
	double drop_share;  /* of the bytes, lost */
	double slow_s;      /* answers and lines come so much later */
	bool bad_check;     /* every check sum wrong: Modbus CRC; elsewhere a last byte turned */
	bool frozen;        /* the last values again and again */
	bool mute;          /* no answer, no line */
};

enum { TALK_OUT_MAX = 4096, TALK_IN_MAX = 512 };

struct talk {
	enum talk_protocol protocol;
	uint8_t unit;         /* Modbus: its address */
	double period_s;      /* text: seconds between lines */
	struct talk_line line;

	struct random random;
	struct reading now, held; /* newest; what a frozen meter repeats */
	double next_line_s;
	struct scpi_device scpi;
	uint8_t in[TALK_IN_MAX];  /* Modbus: heard, not yet a frame */
	size_t n_in;
	double heard_s;           /* when its last byte came */
	/* a queue of what is to go out, each byte with its time in due_s */
	uint8_t out[TALK_OUT_MAX];
	double due_s[TALK_OUT_MAX];
	size_t n_out;
};

/** Begin: nothing told, line good, first text line one period after now_s. */
void talk_init(struct talk *t, enum talk_protocol protocol, uint8_t unit, double period_s,
               uint64_t seed, double now_s);

/** The meter has a new reading. */
void talk_reading(struct talk *t, const struct reading *r);

/** Bytes came in from the program (n may be 0: only time has passed).  Queues the answers, and
 *  the text lines that are due. */
void talk_hear(struct talk *t, const uint8_t *bytes, size_t n, double now_s);

/** Up to max bytes that are due to go out; returns how many. */
size_t talk_say(struct talk *t, double now_s, uint8_t *ret, size_t max);

/** When talk_hear() or talk_say() next has something to do; INFINITY: not until bytes come. */
double talk_due(const struct talk *t);

/** Forget what is half heard and half said: the line was cut. */
void talk_hang_up(struct talk *t);

/** The protocol of "text", "scpi" or "modbus", letter case ignored; -1 for any other word. */
int talk_protocol_from_word(const char *word);

#endif
