/*
 * proto/line_text.h - readings as plain lines of text that a meter sends by itself, both ends
 *
 * Layer: proto; no port, no clock, no allocation.
 * A line is fields between separators: either in a fixed order (`117.2,0.241,26.9`) or each with
 * its label (`U=117.2V I=241mA P=26.9W`).  Units behind a number are understood and must fit the
 * quantity.  Lines may be cut anywhere and garbage may stand between them: a line counts only
 * whole, from one line end to the next, with every expected field a number.  A digit lost
 * inside a line cannot be seen in it unless the meter adds a check sum.
 */
#ifndef MAINSTAIR_PROTO_LINE_TEXT_H
#define MAINSTAIR_PROTO_LINE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "mainstair/core/reading.h"

enum { LINE_TEXT_MAX = 256, LINE_TEXT_FIELDS_MAX = 24, LINE_TEXT_LABEL_MAX = 24 };

struct line_text_map {
	char separator;  /* ',', ';', '\t' or ' ' (a run of blanks counts as one) */
	bool decimal_comma; /* numbers as 117,2; never with separator ',' */
	bool labelled;
	int fields[LINE_TEXT_FIELDS_MAX]; /* by order: enum reading_quantity, or -1 to skip */
	size_t n_fields;                  /* by order: a line must have exactly so many */
	char label[READING_QUANTITIES][LINE_TEXT_LABEL_MAX]; /* labelled: "" not looked for */
	double scale[READING_QUANTITIES]; /* of a number without a unit behind it */
	bool check_sum;  /* the line ends in *HH: exclusive or of the characters before the '*',
	                    a leading '$' left out, two hex digits */
};

/* volts,amps,watts by order, comma, no check sum: what the virtual bench sends and
 * profiles/bench-text.ini reads. */
extern const struct line_text_map line_text_map_default;

enum line_text_verdict {
	LINE_TEXT_READING,
	LINE_TEXT_EMPTY,   /* nothing in it: not worth counting */
	LINE_TEXT_COMMENT, /* begins with '#': heading or chatter of the sender */
	LINE_TEXT_GARBLED, /* why: see ret_why */
	LINE_TEXT_BAD_SUM  /* its check sum is wrong */
};

/** Read one whole line (without its end) into r.  Other than LINE_TEXT_READING, r is untouched
 *  and ret_why says in words what is wrong, safe to print. */
enum line_text_verdict line_text_decode(const struct line_text_map *map, const char *line,
                                        size_t n, struct reading *r,
                                        char ret_why[READING_WHY_MAX]);

/** One line of r by the map, "\r\n" and NUL included; a quantity not told is "nan".  Returns its
 *  length, 0 when it does not fit. */
size_t line_text_encode(const struct line_text_map *map, const struct reading *r,
                        char out[LINE_TEXT_MAX]);

/* Cuts a stream into lines.  Zero it to begin, and after a hang-up: the first, perhaps cut, line
 * after that is passed over. */
struct line_text_stream {
	bool in_step;  /* a line end has been seen */
	bool overlong; /* the line under way is too long to be one: passed over to its end */
	bool complete; /* `line` was handed out; the next byte begins a new one */
	size_t n;
	char line[LINE_TEXT_MAX];
};

enum line_text_event { LINE_TEXT_NONE, LINE_TEXT_LINE, LINE_TEXT_LOST };

/** Take bytes up to and including the next line end.  *ret_used: how many were taken.  LINE: a
 *  whole line stands in s->line (s->n long) until the next call.  LOST: a line that was cut or
 *  overlong was passed over.  NONE: all bytes taken, no line end among them. */
enum line_text_event line_text_take(struct line_text_stream *s, const uint8_t *bytes, size_t n,
                                    size_t *ret_used);

#endif
