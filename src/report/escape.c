#include "report/escape.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/text.h"

/* Bytes of the character at s that may be shown; 0: its first byte may not. */
static size_t shown(const char *s, size_t n)
{
	size_t len = text_printable(s, n);
	uint32_t c;

	if (len == 0 || text_next(s, n, &c) == 0)
		return 0;
	/* noncharacters: legal UTF-8, no legal text */
	return (c >= 0xfdd0 && c <= 0xfdef) || (c & 0xfffe) == 0xfffe ? 0 : len;
}

static void hex(struct buf *out, char byte)
{
	char text[8];

	(void)snprintf(text, sizeof text, "\\x%02x", (unsigned char)byte);
	buf_adds(out, text);
}

void escape_html(struct buf *out, const char *s, size_t n)
{
	for (size_t i = 0; i < n;) {
		size_t len = shown(s + i, n - i);

		if (len == 0)
			hex(out, s[i]);
		else if (s[i] == '<')
			buf_adds(out, "&lt;");
		else if (s[i] == '>')
			buf_adds(out, "&gt;");
		else if (s[i] == '&')
			buf_adds(out, "&amp;");
		else if (s[i] == '"')
			buf_adds(out, "&quot;");
		else if (s[i] == '\'')
			buf_adds(out, "&#39;");
		else
			buf_add(out, s + i, len);
		i += len > 0 ? len : 1;
	}
}

void escape_plain(struct buf *out, const char *s, size_t n)
{
	for (size_t i = 0; i < n;) {
		size_t len = shown(s + i, n - i);

		if (len == 0)
			hex(out, s[i]);
		else
			buf_add(out, s + i, len);
		i += len > 0 ? len : 1;
	}
}

/* Blanks before it do not keep a spreadsheet from taking it for a formula. */
static bool looks_like_formula(const char *s, size_t n)
{
	/* U+FF1D, U+FF0B, U+FF0D, U+FF20: the same signs, full width */
	static const char *const signs[] = {
	        "=", "+", "-", "@", "\xef\xbc\x9d", "\xef\xbc\x8b", "\xef\xbc\x8d", "\xef\xbc\xa0"};
	size_t i = 0;

	while (i < n && (s[i] == ' ' || s[i] == '\t' || s[i] == '\r' || s[i] == '\n'))
		i++;
	for (size_t k = 0; k < sizeof signs / sizeof *signs; k++) {
		size_t len = strlen(signs[k]);

		if (n - i >= len && memcmp(s + i, signs[k], len) == 0)
			return true;
	}
	return false;
}

void escape_csv(struct buf *out, const char *s, size_t n)
{
	bool quote =
	        n > 0 && (memchr(s, ',', n) || memchr(s, '"', n) || s[0] == ' ' || s[n - 1] == ' ');

	if (quote)
		buf_addc(out, '"');
	if (looks_like_formula(s, n))
		buf_addc(out, '\'');
	for (size_t i = 0; i < n;) {
		size_t len = shown(s + i, n - i);

		if (len == 0)
			hex(out, s[i]);
		else
			buf_add(out, s + i, len);
		if (s[i] == '"')
			buf_addc(out, '"');
		i += len > 0 ? len : 1;
	}
	if (quote)
		buf_addc(out, '"');
}
