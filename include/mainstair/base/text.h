/*
 * base/text.h - text from outside: stored escaped, shown without control characters
 *
 * Layer: base; libc only.  Pure; safe with any bytes, whatever the locale.
 * "Control" here: U+0000-001F, U+007F-009F (a terminal obeys them), and what turns or hides
 * the text around it (bidirectional overrides, line and paragraph separators).
 */
#ifndef MAINSTAIR_BASE_TEXT_H
#define MAINSTAIR_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "mainstair/base/buf.h"
#include "mainstair/base/err.h"

/** Decode one character of the n bytes at s (n > 0).  Returns its length in bytes with *ret set,
 *  or 0 where no valid UTF-8 character starts (overlong forms, surrogates and a sequence cut by
 *  the end included). */
size_t text_next(const char *s, size_t n, uint32_t *ret);

/** Bytes of the printable (not control) character at s (n > 0), or 0. */
size_t text_printable(const char *s, size_t n);

/** Whether all n bytes are valid UTF-8 without control characters; tabs count as control. */
bool text_is_clean(const char *s, size_t n);

/** Append s escaped for a record: one line, no tabs, exactly reversible.  `\\`, `\t`, `\n`, `\r`
 *  stand for themselves, other control characters and invalid bytes become `\xHH` per byte. */
void text_escape(struct buf *out, const char *s, size_t n);

/** Append what text_escape() was given.  Returns 0, or -1 with ERR_INPUT at an escape that it
 *  does not write (out then holds what came before). */
int text_unescape(struct buf *out, const char *s, size_t n, struct err *err);

/** Write s for people into dst (size > 0 bytes with the closing 0): printable characters as they
 *  are, the rest as `\xHH` per byte.  What does not fit ends in "...", never within a
 *  character.  Returns the bytes written, the 0 not counted. */
size_t text_show(char *dst, size_t size, const char *s, size_t n);

/** Characters among the n bytes of UTF-8 at s: the bytes that begin one. */
size_t text_characters(const char *s, size_t n);

/** Append clean text as lines of at most `width` characters and a line end, broken at its blanks;
 *  a longer word stands alone.  `at` characters of the first line are taken already, later lines
 *  are indented by `indent`.  Runs of blanks become one. */
void text_wrap(struct buf *out, const char *s, size_t at, size_t indent, size_t width);

/** Equal, ASCII letter case ignored. */
bool text_same(const char *a, const char *b);

/** Edit distance (insert, delete, replace, swap of neighbours; ASCII case ignored) in bytes.
 *  Strings longer than 63 bytes count as 64 apart from everything. */
size_t text_distance(const char *a, const char *b);

/** The nearest of n words to `word`, for "did you mean": within one edit per three letters, two at
 *  most; NULL if none is that near.  Borrowed from words. */
const char *text_nearest(const char *word, const char *const *words, size_t n);

#endif
