/*
 * proto/record_text.h - the record of a run as text, both ways: values to bytes, bytes to values
 *
 * Layer: proto; no file, no clock.  io/record_file.h puts it on a disk.
 *
 * A record is a head and then one line per event; tab-separated, UTF-8, "\n" ends a line:
 *
 *     mainstair record 1                       format and version
 *     started <TAB> 2026-03-01T18:02:11Z       UTC
 *     program <TAB> mainstair 0.1.0
 *     profile <TAB> NAME <TAB> BYTES <TAB> CRC32
 *     |[instrument]                            the profile itself, a `|` before each line
 *     |name = ...
 *     bench <TAB> NAME <TAB> BYTES <TAB> CRC32 and the bench likewise; 0 bytes: none
 *     head <TAB> CRC32                         of all bytes before this line
 *     seconds <TAB> kind <TAB> stage <TAB> volts <TAB> watts <TAB> amps <TAB> power_factor
 *             <TAB> verdict <TAB> note <TAB> crc32           (one line)
 *     0 <TAB> start <TAB> - <TAB> ...          an event
 *
 * `-` stands for what was not told.  Stages count from 1, as on the screen.  Numbers survive
 * exactly (below 1e-307 as 0).  Text is escaped as base/text.h does.  The last column of an event
 * is the CRC-32 of the line before its tab (the one of IEEE 802.3 and gzip), in eight hex
 * digits, so a line that was torn or garbled is known as such.
 *
 * A newer program may add event kinds, columns between note and crc32, and lines in the head:
 * they are passed over and counted.  Anything else raises the version, and is refused.
 */
#ifndef MAINSTAIR_PROTO_RECORD_TEXT_H
#define MAINSTAIR_PROTO_RECORD_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/err.h"
#include "mainstair/core/event.h"

enum {
	RECORD_VERSION = 1,
	RECORD_LINE_MAX = 4096,      /* no line that this program writes is longer */
	RECORD_HEAD_MAX = 4 << 20,   /* a longer head is not read */
	RECORD_NAME_MAX = 128,
	RECORD_STAMP_MAX = 24        /* "2026-03-01T18:02:11Z" */
};

/* A file embedded whole. */
struct record_block {
	const char *name; /* as the file was called; for people */
	const char *text; /* may hold 0 bytes */
	size_t len;
	bool damaged;     /* decoded only: text does not agree with its check sum */
};

struct record_head {
	int64_t started_s;   /* UTC, seconds since 1970 */
	const char *program; /* name and version */
	struct record_block profile, bench;

	/* decoded only */
	bool damaged;        /* the head as a whole does not agree with its check sum */
	unsigned passed_over; /* lines of the head that this version does not know */
};

/** Append the head.  Everything in *head is borrowed. */
void record_text_put_head(struct buf *out, const struct record_head *head);

/** Length of the head at the start of these bytes, its column line included; 0: it does not end
 *  within them. */
size_t record_text_head_size(const char *bytes, size_t n);

/** Decode the n bytes of a head, found by record_text_head_size().  Texts in *ret are borrowed
 *  from *store, which is emptied first.  0, or -1: ERR_INPUT (no record, or a head without
 *  profile), ERR_UNSUPPORTED (a newer version), ERR_NOMEM.  With n the first bytes of a file
 *  whose head never ends it tells what is wrong with that. */
int record_text_get_head(const char *bytes, size_t n, struct record_head *ret, struct buf *store,
                         struct err *err);

/** Append one event as a line with its "\n"; at most RECORD_LINE_MAX bytes. */
void record_text_put_event(struct buf *out, const struct event *ev);

/* One event line, its text not yet decoded. */
struct record_line {
	double seconds, volts, watts, amps, power_factor;
	enum event_kind kind;
	int stage;              /* index, or -1 */
	enum verdict verdict;
	const char *note;       /* escaped; borrowed from the line */
	size_t note_len;
	unsigned extra_columns; /* between note and check sum: passed over */
};

enum record_line_is {
	RECORD_LINE_EVENT,
	RECORD_LINE_UNKNOWN, /* whole, but of a kind that this version does not know */
	RECORD_LINE_GARBLED  /* check sum or a column wrong: nothing of it is believed */
};

/** Read one line, given without its "\n".  *ret is filled for RECORD_LINE_EVENT only. */
enum record_line_is record_text_scan(const char *line, size_t n, struct record_line *ret);

/** The event of a scanned line.  `scratch` is any buffer, kept by the caller between calls for
 *  speed.  A note too long for an event is cut at a character. */
void record_text_get_event(const struct record_line *line, struct buf *scratch, struct event *ret);

/** CRC-32 of IEEE 802.3 (reflected, as in gzip and PNG) of n bytes; `crc` is that of the bytes
 *  before them, 0 to begin. */
uint32_t record_crc32(uint32_t crc, const void *bytes, size_t n);

/** "2026-03-01T18:02:11Z" of a time in UTC seconds since 1970, years 1..9999. */
void record_stamp(char out[RECORD_STAMP_MAX], int64_t utc_s);
/** The reverse; 0, or -1 when the n characters are no such stamp. */
int record_stamp_parse(const char *text, size_t n, int64_t *ret);

#endif
