/*
 * proto/csv_cells.h - lines of comma-separated cells, one cell after the other
 *
 * Layer: proto; private to it.  RFC 4180 with what is met in practice: LF or CRLF, a byte order
 * mark, blank lines, blanks around a cell.  Nothing is copied: a cell is borrowed from the text.
 */
#ifndef PROTO_CSV_CELLS_H
#define PROTO_CSV_CELLS_H

#include <stdbool.h>
#include <stddef.h>

#include "mainstair/base/buf.h"

/* Where the reading of the text has come to. */
struct csv_cursor {
	const char *at, *end;
	int line; /* from 1 */
};

/* One cell as it stands in the text. */
struct csv_cell {
	const char *at;
	size_t n;
	bool quoted; /* at..n is what stands between the quotes, doubled ones still doubled */
};

enum csv_end {
	CSV_COMMA, /* another cell follows */
	CSV_LINE,  /* it was the last of its line */
	CSV_BROKEN /* a quote without its other end, or text behind it */
};

/** Begin at the first line that is not blank; false: there is none. */
bool csv_begin(struct csv_cursor *c, const char *text, size_t n);

/** Read one cell; what follows it is told, a comma behind it is eaten, a line end is not. */
enum csv_end csv_next(struct csv_cursor *c, struct csv_cell *ret);

/** Go to where the next line begins: after a fault, from anywhere in a line; from its end. */
void csv_skip_line(struct csv_cursor *c);
void csv_skip_line_end(struct csv_cursor *c);

/** Pass over a line of nothing but blanks; false when it is none. */
bool csv_skip_blank_line(struct csv_cursor *c);

/** Append the cell's text, quotes undoubled. */
void csv_add_text(struct buf *out, const struct csv_cell *cell);

#endif
