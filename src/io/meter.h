/*
 * io/meter.h - a power meter on a serial line: opened by name, asked at its pace, never waited for
 *
 * Layer: io; includes proto/, core/, base/.
 * Ownership: meter_open() makes a meter, meter_close() frees it and its wire.
 * Time: now_ms is the loop's monotonic clock; a meter reads none.  Nothing here blocks, and
 * trouble on the line is a state and a counter, never an error: the session must record it.
 * Threads: the loop's only.  A new protocol: fill struct meter_ops (meter_ops.h), add a row to
 * the table in meter.c.
 *
 * No reading is lost or made up: what is damaged, cut, foreign or late is counted and thrown
 * away, and after a time-out nothing is believed until the line has been quiet.
 */
#ifndef MAINSTAIR_IO_METER_H
#define MAINSTAIR_IO_METER_H

#include <stdbool.h>
#include <stdint.h>

#include "io/wire.h"

#include "mainstair/base/err.h"
#include "mainstair/core/envelope.h"
#include "mainstair/core/reading.h"
#include "mainstair/proto/line_text.h"
#include "mainstair/proto/modbus_map.h"
#include "mainstair/proto/scpi.h"

enum meter_protocol { METER_MODBUS, METER_SCPI, METER_TEXT, METER_PROTOCOLS };

/** "modbus", "scpi", "text". */
const char *meter_protocol_word(enum meter_protocol protocol);
/** The reverse; -1 when it is none of them. */
int meter_protocol_from_word(const char *word);

struct meter_config {
	enum meter_protocol protocol;
	struct wire_settings wire;
	int period_ms;  /* from one reading's start to the next one's; 0: as the line allows */
	int timeout_ms; /* > 0: wait so long for an answer, the time on the line not counted; text
	                   lines: no line for so long is a time-out */
	double watch_s; /* for the session: blind after this long without a reading */

	uint8_t unit;   /* Modbus: 1..247 */
	unsigned span;  /* Modbus: unused registers to be read along; see modbus_map_blocks() */
	struct modbus_map modbus;
	struct scpi_map scpi;
	struct line_text_map text;
	bool own_map;   /* no map was given: the protocol's default stands here */

	struct meter_accuracy accuracy;
	bool accuracy_given; /* else: meter_accuracy_default */
};

/** Everything at its default: mainstair's own maps, 9600 8N1 (text lines and SCPI too), unit 1,
 *  period 500 ms, time-out 500 ms (text lines: 5 s), watch 5 s. */
void meter_config_default(struct meter_config *config, enum meter_protocol protocol);

/** Override from a command line: `PROTOCOL:PORT[,BAUD[,FRAMING[,UNIT]]]` with PROTOCOL modbus,
 *  scpi or text, as in modbus:/dev/ttyUSB0,9600,8N1,1.  What the text leaves out stays as it is
 *  in *config when that is of the same protocol (from a bench file); else everything is the
 *  default first.  0, or -1 with ERR_INPUT and *config unchanged. */
int meter_parse_spec(const char *spec, struct meter_config *config, struct err *err);

enum meter_state {
	METER_LOST,     /* the port is not there; tried again every second */
	METER_SILENT,   /* open, and no reading for three time-outs or as many damaged answers */
	METER_STARTING, /* open, no reading yet */
	METER_READING   /* the last question was answered */
};

/* What became of everything that was asked and heard.  Only ever rises. */
struct meter_counters {
	unsigned long readings;
	unsigned long timeouts;    /* nothing came, or not enough of it */
	unsigned long crc_errors;  /* Modbus CRC, text check sum */
	unsigned long exceptions;  /* Modbus exceptions, SCPI errors: the meter refuses */
	unsigned long garbled;     /* came, and could not be read */
	unsigned long resyncs;     /* bytes thrown away to get back in step */
	unsigned long late;        /* answers that came after their time-out */
	unsigned long unplugged;   /* the port went away */
	unsigned long reopened;    /* and came back */
};

enum { METER_TROUBLE_MAX = 256 };

struct meter_health {
	enum meter_state state;
	struct meter_counters count;
	bool have_reading;
	int64_t last_ms;     /* when the last reading's last byte came in; its age is now - this */
	int timeout_ms;      /* in force; longer than configured when answers came late */
	uint8_t exception;   /* last Modbus exception code, 0: none */
	int scpi_error;      /* last SCPI error, 0: none */
	char trouble[METER_TROUBLE_MAX]; /* last trouble, in words, safe to print; "" none so far */
	char refusal[METER_TROUBLE_MAX]; /* the same of the last exception or SCPI error */
	char heard[READING_RAW_MAX];     /* last bytes that came, good or bad, printable */
	unsigned long heard_bytes, heard_text; /* all that came; of these printable or line ends */
	uint8_t other_unit;  /* Modbus: another unit's whole answer was heard; 0: none */
	char suspicion[READING_WHY_MAX]; /* a wrong word order suspected, in words; "" */
};

struct meter; /* opaque */

/** Make a meter.  config is copied; opener NULL is wire_open().  The port need not be there: the
 *  meter then begins as METER_LOST and goes on trying.  Returns NULL and *err (ERR_NOMEM, ERR_INPUT
 *  for a map with nothing in it to read) only when it can never work. */
struct meter *meter_open(const struct meter_config *config, wire_opener *opener, int64_t now_ms,
                         struct err *err);
void meter_close(struct meter *m); /**< NULL is fine. */

/** To poll for input; -1 while the port is lost.  It changes when the port comes back. */
int meter_fd(const struct meter *m);

/** Monotonic ms of the next step; never INT64_MAX. */
int64_t meter_due(const struct meter *m);

/** Take bytes in, send the next request, notice time-outs and lost ports.  revents: what poll()
 *  said of meter_fd(), 0 when called for time alone. */
void meter_step(struct meter *m, int revents, int64_t now_ms);

/** Nobody could look for a while (the program was stopped): what has come in since is old, and
 *  would be taken for new.  It is thrown away, and the reading under way begins anew. */
void meter_missed(struct meter *m, int64_t now_ms);

/** Take the oldest reading not yet taken, completed (reading_complete()).  False: none.  A meter
 *  whose readings are not taken stops listening rather than lose one. */
bool meter_next(struct meter *m, struct reading *ret);

/** Borrowed, valid until meter_close(). */
const struct meter_health *meter_health(const struct meter *m);
const struct meter_config *meter_config(const struct meter *m);

enum { METER_ADVICE_MAX = 512 };

/** Plain words for somebody who is setting the meter up: what is wrong and what to try, as far as
 *  can be told from what has been asked and heard.  `last`: the newest reading, NULL: none.
 *  Returns true, and says so, when nothing is wrong. */
bool meter_advice(const struct meter_config *config, const struct meter_health *health,
                  const struct reading *last, char ret[METER_ADVICE_MAX]);

/** One line for a record or a screen: what the state is, and the counters that are not nought. */
void meter_describe(const struct meter *m, int64_t now_ms, char ret[METER_TROUBLE_MAX]);

#endif
