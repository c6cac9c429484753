/*
 * ui/utf8.h - UTF-8 to characters and back, and how many cells a character takes on a terminal
 *
 * Layer: ui; pure.  Independent of the C locale, so that a screen is the same wherever it is
 * drawn.
 */
#ifndef MAINSTAIR_UI_UTF8_H
#define MAINSTAIR_UI_UTF8_H

#include <stddef.h>
#include <stdint.h>

enum { UTF8_BAD = 0xfffd, UTF8_BYTES_MAX = 4 };

/** The next character of [*p, end), which must not be empty; moves *p behind it.  Bytes that
 *  are no UTF-8 (overlong, surrogates, cut short) are UTF8_BAD, one byte at a time. */
uint32_t utf8_next(const char **p, const char *end);

/** Write `code` to ret (room for UTF8_BYTES_MAX); returns the bytes written. */
size_t utf8_put(uint32_t code, char *ret);

/** Cells that a character takes: 1 or 2; 0 for combining marks; -1 for what must never reach a
 *  terminal (controls, line and paragraph separators, direction overrides).
 *  Ranges from Unicode 15: EastAsianWidth.txt (W, F) and categories Mn, Me, Cf, by block. */
int utf8_columns(uint32_t code);

#endif
