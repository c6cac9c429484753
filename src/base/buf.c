#include "mainstair/base/buf.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

char buf_empty[1];

void buf_init(struct buf *b)
{
	*b = (struct buf)BUF_INIT;
}

void buf_release(struct buf *b)
{
	if (b->cap > 0)
		free(b->data);
	buf_init(b);
}

void buf_clear(struct buf *b)
{
	if (b->cap > 0)
		b->data[0] = '\0';
	b->len = 0;
}

void buf_cut(struct buf *b, size_t len)
{
	assert(len <= b->len);
	b->len = len;
	if (b->cap > 0)
		b->data[len] = '\0';
}

/* Room for n more bytes and the closing 0. */
static bool make_room(struct buf *b, size_t n)
{
	size_t need, cap;
	char *grown;

	if (b->failed)
		return false;
	if (n >= (size_t)-1 - b->len) {
		b->failed = true;
		return false;
	}
	need = b->len + n + 1;
	if (need <= b->cap)
		return true;
	cap = b->cap > 0 ? b->cap : 64;
	while (cap < need)
		cap = cap > (size_t)-1 / 2 ? need : cap * 2;
	grown = realloc(b->cap > 0 ? b->data : NULL, cap);
	if (!grown) {
		b->failed = true;
		return false;
	}
	b->data = grown;
	b->cap = cap;
	return true;
}

void buf_add(struct buf *b, const void *bytes, size_t n)
{
	if (n == 0 || !make_room(b, n))
		return;
	memcpy(b->data + b->len, bytes, n);
	b->len += n;
	b->data[b->len] = '\0';
}

void buf_addc(struct buf *b, char c)
{
	buf_add(b, &c, 1);
}

void buf_adds(struct buf *b, const char *s)
{
	buf_add(b, s, strlen(s));
}

void buf_addv(struct buf *b, const char *format, va_list ap)
{
	va_list again;
	int n;

	va_copy(again, ap);
	n = vsnprintf(NULL, 0, format, ap);
	if (n < 0)
		b->failed = true;
	else if (make_room(b, (size_t)n)) {
		(void)vsnprintf(b->data + b->len, (size_t)n + 1, format, again);
		b->len += (size_t)n;
	}
	va_end(again);
}

void buf_addf(struct buf *b, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	buf_addv(b, format, ap);
	va_end(ap);
}
