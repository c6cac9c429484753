#include "mainstair/base/text.h"

#include <assert.h>
#include <string.h>

enum { DISTANCE_MAX = 63 };

size_t text_next(const char *s, size_t n, uint32_t *ret)
{
	static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
	const unsigned char *u = (const unsigned char *)s;
	uint32_t c = u[0];
	size_t len;

	if (c < 0x80) {
		*ret = c;
		return 1;
	}
	if ((c & 0xe0) == 0xc0)
		len = 2;
	else if ((c & 0xf0) == 0xe0)
		len = 3;
	else if ((c & 0xf8) == 0xf0)
		len = 4;
	else
		return 0;
	if (len > n)
		return 0;
	c &= 0x7fU >> len;
	for (size_t i = 1; i < len; i++) {
		if ((u[i] & 0xc0) != 0x80)
			return 0;
		c = c << 6 | (u[i] & 0x3f);
	}
	if (c < least[len] || c > 0x10ffff || (c >= 0xd800 && c <= 0xdfff))
		return 0;
	*ret = c;
	return len;
}

static bool is_control(uint32_t c)
{
	return c < 0x20 || (c >= 0x7f && c < 0xa0) || c == 0x061c || c == 0x200e || c == 0x200f ||
	       (c >= 0x2028 && c <= 0x202e) || (c >= 0x2066 && c <= 0x2069) || c == 0xfeff;
}

size_t text_printable(const char *s, size_t n)
{
	uint32_t c;
	size_t len = text_next(s, n, &c);

	return len > 0 && !is_control(c) ? len : 0;
}

bool text_is_clean(const char *s, size_t n)
{
	for (size_t i = 0, len; i < n; i += len) {
		len = text_printable(s + i, n - i);
		if (len == 0)
			return false;
	}
	return true;
}

static void hex_escape(char out[4], char byte)
{
	static const char digits[] = "0123456789abcdef";
	unsigned char u = (unsigned char)byte;

	out[0] = '\\';
	out[1] = 'x';
	out[2] = digits[u >> 4];
	out[3] = digits[u & 15];
}

void text_escape(struct buf *out, const char *s, size_t n)
{
	for (size_t i = 0; i < n;) {
		size_t len = text_printable(s + i, n - i);
		char hex[4];

		if (s[i] == '\\')
			buf_adds(out, "\\\\");
		else if (s[i] == '\t')
			buf_adds(out, "\\t");
		else if (s[i] == '\n')
			buf_adds(out, "\\n");
		else if (s[i] == '\r')
			buf_adds(out, "\\r");
		else if (len > 0) {
			buf_add(out, s + i, len);
		} else {
			hex_escape(hex, s[i]);
			buf_add(out, hex, sizeof hex);
		}
		i += len > 0 ? len : 1;
	}
}

static int hex_value(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	if (c >= 'a' && c <= 'f')
		return c - 'a' + 10;
	return -1;
}

int text_unescape(struct buf *out, const char *s, size_t n, struct err *err)
{
	for (size_t i = 0; i < n; i++) {
		char next = i + 1 < n ? s[i + 1] : '\0';
		int high, low;

		if (s[i] != '\\') {
			buf_addc(out, s[i]);
			continue;
		}
		switch (next) {
		case '\\':
			buf_addc(out, '\\');
			break;
		case 't':
			buf_addc(out, '\t');
			break;
		case 'n':
			buf_addc(out, '\n');
			break;
		case 'r':
			buf_addc(out, '\r');
			break;
		case 'x':
			high = i + 2 < n ? hex_value(s[i + 2]) : -1;
			low = i + 3 < n ? hex_value(s[i + 3]) : -1;
			if (high >= 0 && low >= 0) {
				buf_addc(out, (char)(high << 4 | low));
				i += 2;
				break;
			}
			return err_set(err, ERR_INPUT, "\\x needs two digits 0-9a-f behind it");
		default:
			return err_set(
			        err, ERR_INPUT,
			        "a backslash starts \\\\, \\t, \\n, \\r or \\xHH, nothing else");
		}
		i++;
	}
	return 0;
}

size_t text_show(char *dst, size_t size, const char *s, size_t n)
{
	size_t at = 0, cut = 0; /* cut: the last end that leaves room for the dots */

	assert(size > 0);
	for (size_t i = 0; i < n;) {
		size_t len = text_printable(s + i, n - i);
		size_t put = len > 0 ? len : 4;

		if (at + put >= size) {
			size_t dots = size - 1 - cut < 3 ? size - 1 - cut : 3;

			memset(dst + cut, '.', dots);
			at = cut + dots;
			break;
		}
		if (len > 0)
			memcpy(dst + at, s + i, len);
		else
			hex_escape(dst + at, s[i]);
		at += put;
		i += len > 0 ? len : 1;
		if (at + 3 < size)
			cut = at;
	}
	dst[at] = '\0';
	return at;
}

static char lower(char c)
{
	return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

size_t text_characters(const char *s, size_t n)
{
	size_t count = 0;

	for (size_t i = 0; i < n; i++)
		count += ((unsigned char)s[i] & 0xc0) != 0x80;
	return count;
}

void text_wrap(struct buf *out, const char *s, size_t at, size_t indent, size_t width)
{
	bool first = true;

	while (*s) {
		size_t n = strcspn(s, " "), wide = text_characters(s, n);

		if (!first && at + 1 + wide > width) {
			buf_addf(out, "\n%*s", (int)indent, "");
			at = indent;
		} else if (!first) {
			buf_addc(out, ' ');
			at++;
		}
		buf_add(out, s, n);
		at += wide;
		first = false;
		s += n;
		s += strspn(s, " ");
	}
	buf_addc(out, '\n');
}

bool text_same(const char *a, const char *b)
{
	while (*a && lower(*a) == lower(*b)) {
		a++;
		b++;
	}
	return lower(*a) == lower(*b);
}

static size_t least_of(size_t a, size_t b)
{
	return a < b ? a : b;
}

size_t text_distance(const char *a, const char *b)
{
	/* three rows of the table are enough: a swap looks two rows back */
	size_t rows[3][DISTANCE_MAX + 1];
	size_t *above2 = rows[0], *above = rows[1], *row = rows[2], *swap;
	size_t na = strlen(a), nb = strlen(b);

	if (na > DISTANCE_MAX || nb > DISTANCE_MAX)
		return DISTANCE_MAX + 1;
	for (size_t j = 0; j <= nb; j++) {
		row[j] = j;
		above[j] = above2[j] = 0;
	}
	for (size_t i = 1; i <= na; i++) {
		swap = above2;
		above2 = above;
		above = row;
		row = swap;
		row[0] = i;
		for (size_t j = 1; j <= nb; j++) {
			bool same = lower(a[i - 1]) == lower(b[j - 1]);
			size_t d = above[j - 1] + (same ? 0 : 1);

			d = least_of(d, least_of(above[j], row[j - 1]) + 1);
			if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
			    lower(a[i - 2]) == lower(b[j - 1]))
				d = least_of(d, above2[j - 2] + 1);
			row[j] = d;
		}
	}
	return row[nb];
}

const char *text_nearest(const char *word, const char *const *words, size_t n)
{
	size_t allowed = least_of(strlen(word) / 3, 2);
	const char *best = NULL;

	for (size_t i = 0; i < n; i++) {
		size_t d = text_distance(word, words[i]);

		if (d < allowed || (d == allowed && !best)) {
			allowed = d;
			best = words[i];
		}
	}
	return best;
}
