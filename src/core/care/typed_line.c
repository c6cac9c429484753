#include "core/care/typed_line.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/base/text.h"

static bool is_blank(char c)
{
	return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

static char lower(char c)
{
	return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

bool typed_copy(char out[ENTRY_LINE_MAX], const char *line)
{
	size_t n;

	while (is_blank(*line))
		line++;
	n = strnlen(line, ENTRY_LINE_MAX);
	if (n == ENTRY_LINE_MAX)
		return false;
	while (n > 0 && is_blank(line[n - 1]))
		n--;
	memcpy(out, line, n);
	out[n] = '\0';
	return true;
}

static const char *after_word(const char *line, const char *word)
{
	for (; *word; word++) {
		if (*word == ' ') {
			if (!is_blank(*line))
				return NULL;
			while (is_blank(*line))
				line++;
		} else if (lower(*line++) != lower(*word)) {
			return NULL;
		}
	}
	if (*line && !is_blank(*line) && *line != ':' && *line != ',' && *line != ';')
		return NULL;
	while (is_blank(*line))
		line++;
	if (*line == ':' || *line == ',' || *line == ';')
		line++;
	while (is_blank(*line))
		line++;
	return line;
}

const char *typed_after(const char *line, const char *const *words)
{
	for (; *words; words++) {
		const char *rest = after_word(line, *words);

		if (rest)
			return rest;
	}
	return NULL;
}

enum entry_line typed_say(char *echo, enum entry_line is, const char *format, ...)
{
	char text[3 * ENTRY_ECHO_MAX];
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(text, sizeof text, format, ap);
	va_end(ap);
	(void)text_show(echo, ENTRY_ECHO_MAX, text, strlen(text));
	return is;
}

void typed_put(char *dst, size_t size, const char *text)
{
	size_t used = 0, n = strlen(text);

	while (used < n) {
		uint32_t code;
		size_t len = text_next(text + used, n - used, &code);

		if (len == 0)
			len = 1; /* no UTF-8: escaped where it is stored and shown */
		if (used + len >= size)
			break;
		memcpy(dst + used, text + used, len);
		used += len;
	}
	dst[used] = '\0';
}

const char *typed_number(char out[32], double value, enum unit unit)
{
	if (isinf(value))
		(void)snprintf(out, 32, "over-range");
	else
		(void)num_print_unit(out, 32, value, unit, 3);
	return out;
}
