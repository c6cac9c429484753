#include "proto/columns.h"

#include <float.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/num.h"

enum { NUMBER_MAX = 40 };

/* Powers of ten that a double holds exactly, as far as numbers here need them. */
static const double tens[] = { 1.0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
	                       1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15 };

static bool same(double a, double b)
{
	return !(a < b) && !(a > b);
}

/* Nearly everything that a meter tells is a whole number of micro-units: print it as an integer
 * with a point set into it.  Both divisions, here and in get_decimal(), are of exact doubles and
 * so are rounded the same way: what was printed reads back as the same double. */
static bool put_decimal(char out[NUMBER_MAX], double value)
{
	for (size_t d = 0; d <= 9; d++) {
		const double scaled = nearbyint(fabs(value) * tens[d]);
		char digits[NUMBER_MAX];
		size_t n, whole, at = 0;

		if (scaled >= 1e15)
			return false;
		if (!same(scaled / tens[d], fabs(value)))
			continue;
		n = (size_t)snprintf(digits, sizeof digits, "%0*" PRIu64, (int)d + 1,
		                     (uint64_t)scaled);
		whole = n - d;
		if (value < 0.0)
			out[at++] = '-';
		memcpy(out + at, digits, whole);
		at += whole;
		if (d > 0)
			out[at++] = '.';
		memcpy(out + at, digits + whole, d + 1);
		return true;
	}
	return false;
}

void columns_put_number(struct buf *out, double value)
{
	char text[NUMBER_MAX];

	if (isnan(value)) {
		buf_addc(out, '-');
	} else if (isinf(value)) {
		buf_adds(out, value < 0.0 ? "-inf" : "inf");
	} else if (fabs(value) < DBL_MIN) {
		buf_addc(out, '0'); /* nothing measures less, and not every reader could read it */
	} else if (put_decimal(text, value)) {
		buf_adds(out, text);
	} else {
		/* 17 digits hold any double; the point must not follow the locale */
		(void)snprintf(text, sizeof text, "%.17g", value);
		for (const char *p = text; *p; p++)
			if (strchr("0123456789+-e", *p))
				buf_addc(out, *p);
			else if (p == text || strchr("0123456789", p[-1]))
				buf_addc(out, '.');
	}
}

bool slice_is(struct slice s, const char *word)
{
	return s.n == strlen(word) && memcmp(s.at, word, s.n) == 0;
}

/* A plain decimal of at most 15 digits, which a double and a power of ten give exactly. */
static bool get_decimal(struct slice s, double *ret)
{
	const bool negative = s.n > 0 && s.at[0] == '-';
	uint64_t value = 0;
	size_t digits = 0, decimals = 0;
	bool point = false;

	for (size_t i = negative ? 1 : 0; i < s.n; i++) {
		const char c = s.at[i];

		if (c == '.' && !point && digits > 0) {
			point = true;
		} else if (c >= '0' && c <= '9' && digits < 15) {
			value = 10 * value + (uint64_t)(c - '0');
			digits++;
			decimals += point;
		} else {
			return false;
		}
	}
	if (digits == 0 || (point && decimals == 0))
		return false;
	*ret = (double)value / tens[decimals];
	if (negative)
		*ret = -*ret;
	return true;
}

bool columns_number(struct slice s, double *ret)
{
	char text[NUMBER_MAX];
	struct quantity q;
	struct err err;

	if (get_decimal(s, ret))
		return true;
	if (slice_is(s, "-")) {
		*ret = NAN;
		return true;
	}
	if (slice_is(s, "inf") || slice_is(s, "-inf")) {
		*ret = s.at[0] == '-' ? -INFINITY : INFINITY;
		return true;
	}
	if (s.n >= sizeof text)
		return false;
	memcpy(text, s.at, s.n);
	text[s.n] = '\0';
	if (memchr(text, '\0', s.n) || num_parse(text, UNIT_NONE, &q, &err) < 0 || q.tol >= 0.0)
		return false;
	*ret = q.value;
	return true;
}

bool columns_count(struct slice s, size_t most, size_t *ret)
{
	size_t value = 0;

	if (s.n == 0 || s.n > 18)
		return false;
	for (size_t i = 0; i < s.n; i++) {
		if (s.at[i] < '0' || s.at[i] > '9')
			return false;
		value = 10 * value + (size_t)(s.at[i] - '0');
	}
	*ret = value;
	return value <= most;
}

bool columns_crc(struct slice s, uint32_t *ret)
{
	uint32_t value = 0;

	if (s.n != 8)
		return false;
	for (size_t i = 0; i < s.n; i++) {
		const char c = s.at[i];

		if (c >= '0' && c <= '9')
			value = value << 4 | (uint32_t)(c - '0');
		else if (c >= 'a' && c <= 'f')
			value = value << 4 | (uint32_t)(c - 'a' + 10);
		else
			return false;
	}
	*ret = value;
	return true;
}

bool columns_next_line(struct slice *rest, struct slice *line)
{
	const char *end = rest->n ? memchr(rest->at, '\n', rest->n) : NULL;

	if (!end)
		return false;
	*line = (struct slice){ rest->at, (size_t)(end - rest->at) };
	rest->at = end + 1;
	rest->n -= line->n + 1;
	return true;
}

struct slice columns_next(struct slice *rest)
{
	const char *tab = rest->n ? memchr(rest->at, '\t', rest->n) : NULL;
	const struct slice column = { rest->at, tab ? (size_t)(tab - rest->at) : rest->n };

	rest->at += column.n + (tab ? 1 : 0);
	rest->n -= column.n + (tab ? 1 : 0);
	return column;
}
