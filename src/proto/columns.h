/*
 * proto/columns.h - lines of tab-separated columns: what every file of ours is made of
 *
 * Layer: proto; pure.  Records and unit files share it.  A slice is borrowed from the text it was
 * cut from.
 */
#ifndef PROTO_COLUMNS_H
#define PROTO_COLUMNS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "mainstair/base/buf.h"

struct slice {
	const char *at;
	size_t n;
};

/** Is it exactly this word? */
bool slice_is(struct slice s, const char *word);

/** Append a number so that it reads back as the same double: `-` for NAN, `inf`; below 1e-307 as
 *  0; a point whatever the locale. */
void columns_put_number(struct buf *out, double value);
/** The reverse; false when it is no such number. */
bool columns_number(struct slice s, double *ret);
/** Digits alone, at most `most`. */
bool columns_count(struct slice s, size_t most, size_t *ret);
/** A check sum: eight hex digits in lower case. */
bool columns_crc(struct slice s, uint32_t *ret);

/** The next line of *rest without its end; false when no whole line is left. */
bool columns_next_line(struct slice *rest, struct slice *line);
/** Cut the first column off *rest; its tab goes too. */
struct slice columns_next(struct slice *rest);

#endif
