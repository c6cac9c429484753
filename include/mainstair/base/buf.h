/*
 * base/buf.h - a growing byte buffer: reports, CSV, records, whole files
 *
 * Layer: base; libc only.
 * Invariants: `data` is never NULL after buf_init() or BUF_INIT and always ends in a 0 byte
 * that `len` does not count, so it may be read as a string; it may hold 0 bytes inside.
 * Read `data` and `len` freely, write to neither.
 * Out of memory is sticky: `failed` is set, what was there stays, and every later addition is
 * ignored, so that a long report checks once, at its end.
 * Ownership: buf_init/buf_release for the caller's storage; release takes a zeroed struct too.
 */
#ifndef MAINSTAIR_BASE_BUF_H
#define MAINSTAIR_BASE_BUF_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

struct buf {
	char *data;
	size_t len;
	size_t cap; /* bytes allocated; 0: data is the shared empty string */
	bool failed;
};

extern char buf_empty[1]; /* only for BUF_INIT; never written */
#define BUF_INIT { .data = buf_empty }

/** Make it empty, whatever stood there: the same as BUF_INIT. */
void buf_init(struct buf *b);

/** Free what it holds and make it empty again, `failed` cleared. */
void buf_release(struct buf *b);

/** Empty it, keep the memory. */
void buf_clear(struct buf *b);

/** Cut to len bytes; asserts that len is not beyond what there is. */
void buf_cut(struct buf *b, size_t len);

/** Append n bytes / one byte / a string / formatted text.  The formats are printf's; a
 *  decimal point in them obeys LC_NUMERIC, so print numbers through base/num.h. */
void buf_add(struct buf *b, const void *bytes, size_t n);
void buf_addc(struct buf *b, char c);
void buf_adds(struct buf *b, const char *s);
void buf_addf(struct buf *b, const char *format, ...) __attribute__((format(printf, 2, 3)));
void buf_addv(struct buf *b, const char *format, va_list ap) __attribute__((format(printf, 2, 0)));

#endif
