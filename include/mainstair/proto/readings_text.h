/*
 * proto/readings_text.h - a list of readings as CSV: what `mainstair judge` is given
 *
 * Layer: proto; no file.  RFC 4180 with what is met in practice: LF or CRLF, a byte order mark,
 * blank lines passed over, blanks around a number.  The first line names the columns, in any
 * order: `line_volts` and `watts` must be there, `amps`, `seconds` and `rail_NAME_volts` are known,
 * any other is carried along.  Numbers may bear their unit ("50 V").
 * All faults are gathered, each with its line and column; one is enough to refuse the whole.
 */
#ifndef MAINSTAIR_PROTO_READINGS_TEXT_H
#define MAINSTAIR_PROTO_READINGS_TEXT_H

#include <stddef.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/complaints.h"

enum { READINGS_COLUMNS_MAX = 256 };

struct readings_row {
	const char *raw; /* the line as given, without its end; may hold line ends in quotes */
	size_t len;
	int line;        /* in the text, from 1 */
	double volts, watts;
	double amps, seconds; /* NAN: not told */
};

enum readings_column {
	READINGS_OTHER, READINGS_VOLTS, READINGS_WATTS, READINGS_AMPS, READINGS_SECONDS,
	READINGS_RAIL /* rail_NAME_volts */
};

struct readings {
	struct readings_row head; /* only raw, len and line */
	size_t n_columns;
	enum readings_column column[READINGS_COLUMNS_MAX];
	char *name[READINGS_COLUMNS_MAX]; /* unquoted; 0-terminated */
	struct buf names;                 /* what name[] points into */

	struct readings_row *rows;
	size_t n_rows, cap_rows;
};

/** Read n bytes of text; rows borrow from it.  0 with *ret filled (for readings_release()), or -1
 *  with every fault added to *c and nothing to release. */
int readings_parse(const char *text, size_t n, struct readings *ret, struct complaints *c);
void readings_release(struct readings *r);

/** The number in column k of a row that readings_parse() accepted; NAN: the cell is empty. */
double readings_number(const struct readings *r, const struct readings_row *row, size_t k);

/** The rail that column k (READINGS_RAIL) is about: "main" of "rail_main_volts", into out (size
 *  bytes, cut to fit). */
void readings_rail_name(const struct readings *r, size_t k, char *out, size_t size);

#endif
