#include "mainstair/proto/scpi.h"

#include <assert.h>
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { NUMBER_MAX = 48 };

/* IEEE 488.2 response numbers for "no such value"; see facts in tests/unit/test_scpi.c. */
static const double scpi_nan = 9.91e37;
static const double scpi_infinity = 9.9e37;

const struct scpi_map scpi_map_default = {
	.query = {
		[READING_VOLTS] = "MEASure:VOLTage:AC?",
		[READING_AMPS] = "MEASure:CURRent:AC?",
		[READING_WATTS] = "MEASure:POWer:AC?",
	},
	.scale = { 1, 1, 1, 1, 1, 1 },
	.setup = "*CLS",
	.error_query = "SYSTem:ERRor?",
};

const struct scpi_command scpi_commands_default[] = {
	{ "MEASure:VOLTage:AC?", READING_VOLTS, SCPI_NR3, 6 },
	{ "MEASure:CURRent:AC?", READING_AMPS, SCPI_NR3, 6 },
	{ "MEASure:POWer:AC[:REAL]?", READING_WATTS, SCPI_NR3, 6 },
	{ "MEASure:POWer:AC:APParent?", READING_VA, SCPI_NR2, 3 },
	{ "MEASure:POWer:AC:PFACtor?", READING_POWER_FACTOR, SCPI_NR2, 3 },
	{ "MEASure:FREQuency?", READING_HERTZ, SCPI_NR2, 2 },
};
const size_t scpi_n_commands_default =
	sizeof scpi_commands_default / sizeof scpi_commands_default[0];

static void trim(const char **text, size_t *n)
{
	while (*n > 0 && isspace((unsigned char)**text)) {
		(*text)++;
		(*n)--;
	}
	while (*n > 0 && isspace((unsigned char)(*text)[*n - 1]))
		(*n)--;
}

static bool is_word(const char *text, size_t n, const char *word)
{
	return strlen(word) == n && strncasecmp(text, word, n) == 0;
}

/* Is it [+-] digits [. digits] [E [+-] digits], with a digit in the mantissa? */
static bool is_decimal(const char *s)
{
	size_t digits;

	s += *s == '+' || *s == '-';
	digits = strspn(s, "0123456789");
	s += digits;
	if (*s == '.') {
		size_t fraction = strspn(++s, "0123456789");

		digits += fraction;
		s += fraction;
	}
	if (digits == 0)
		return false;
	if (*s == 'E' || *s == 'e') {
		s++;
		s += *s == '+' || *s == '-';
		digits = strspn(s, "0123456789");
		if (digits == 0)
			return false;
		s += digits;
	}
	return *s == 0;
}

enum scpi_number scpi_parse_number(const char *text, size_t n, double *ret)
{
	char copy[NUMBER_MAX];
	double value;

	trim(&text, &n);
	if (n == 0 || n >= sizeof copy || memchr(text, 0, n))
		return SCPI_NOT_NUMERIC;
	memcpy(copy, text, n);
	copy[n] = 0;
	if (is_word(copy, n, "NAN")) {
		*ret = (double)NAN;
		return SCPI_NOT_A_NUMBER;
	}
	if (is_word(copy, n, "INF") || is_word(copy, n, "INFINITY") || is_word(copy, n, "NINF") ||
	    is_word(copy, n, "+INF") || is_word(copy, n, "-INF")) {
		*ret = strchr("-Nn", *copy) ? -(double)INFINITY : (double)INFINITY;
		return SCPI_INFINITY;
	}
	if (!is_decimal(copy))
		return SCPI_NOT_NUMERIC;
	value = strtod(copy, NULL);
	if (fabs(fabs(value) / scpi_nan - 1) < 1e-4) {
		*ret = (double)NAN;
		return SCPI_NOT_A_NUMBER;
	}
	if (fabs(value) >= scpi_infinity * (1 - 1e-6)) {
		*ret = copysign((double)INFINITY, value);
		return SCPI_INFINITY;
	}
	*ret = value;
	return SCPI_NUMBER;
}

size_t scpi_format_number(char out[32], double value, enum scpi_form form, int decimals)
{
	int n = 0;

	assert(decimals >= 0 && decimals <= 9);
	if (isnan(value))
		return (size_t)snprintf(out, 32, "9.91E+37");
	if (fabs(value) >= scpi_infinity)
		return (size_t)snprintf(out, 32, value > 0 ? "9.9E+37" : "-9.9E+37");
	if (fabs(value) >= 1e15)
		form = SCPI_NR3;
	switch (form) {
	case SCPI_NR1: n = snprintf(out, 32, "%.0f", value); break;
	case SCPI_NR2: n = snprintf(out, 32, "%.*f", decimals, value); break;
	case SCPI_NR3: n = snprintf(out, 32, "%+.*E", decimals, value); break;
	}
	return (size_t)n;
}

size_t scpi_line(const uint8_t *bytes, size_t n, size_t *ret_text)
{
	for (size_t i = 0; i < n; i++) {
		if (bytes[i] != '\n' && bytes[i] != '\r')
			continue;
		*ret_text = i;
		return bytes[i] == '\r' && i + 1 < n && bytes[i + 1] == '\n' ? i + 2 : i + 1;
	}
	return 0;
}

/* Copy with everything but printable ASCII as '.', cut to fit. */
static void printable(const char *text, size_t n, char *out, size_t max)
{
	size_t i = 0;

	for (; i < n && i + 1 < max; i++)
		out[i] = text[i] >= 0x20 && text[i] < 0x7f ? text[i] : '.';
	out[i] = 0;
}

static int not_numeric(const char *text, size_t n, struct err *err)
{
	char shown[64];

	printable(text, n, shown, sizeof shown);
	return err_set(err, ERR_INPUT, "the answer '%s' is not a number", shown);
}

int scpi_decode(const struct scpi_map *map, int quantity, const char *line, size_t n,
                struct reading *r, struct err *err)
{
	struct reading got = *r;
	size_t field = 0;
	double value;

	trim(&line, &n);
	/* some devices put the header in front of their answer: `:MEAS:VOLT 117.2` */
	if (n > 0 && (*line == ':' || isalpha((unsigned char)*line))) {
		const char *blank = memchr(line, ' ', n);

		if (blank) {
			n -= (size_t)(blank - line);
			line = blank;
			trim(&line, &n);
		}
	}
	if (quantity >= 0) {
		if (scpi_parse_number(line, n, &value) == SCPI_NOT_NUMERIC)
			return not_numeric(line, n, err);
		reading_set(r, (enum reading_quantity)quantity, value * map->scale[quantity]);
		return 0;
	}
	for (const char *at = line, *end = line + n; at <= end; field++) {
		const char *stop = at;

		while (stop < end && *stop != ',' && *stop != ';')
			stop++;
		if (field < map->n_fields && map->fields[field] >= 0) {
			enum reading_quantity q = (enum reading_quantity)map->fields[field];

			if (scpi_parse_number(at, (size_t)(stop - at), &value) == SCPI_NOT_NUMERIC)
				return not_numeric(at, (size_t)(stop - at), err);
			reading_set(&got, q, value * map->scale[q]);
		}
		at = stop + 1;
	}
	if (field != map->n_fields)
		return err_set(err, ERR_INPUT, "the answer has %zu fields instead of %zu", field,
		               map->n_fields);
	*r = got;
	return 0;
}

int scpi_decode_error(const char *line, size_t n, int *ret_code, char ret_text[SCPI_ERROR_MAX])
{
	const char *comma;
	size_t n_code;
	double code;

	trim(&line, &n);
	comma = memchr(line, ',', n);
	n_code = comma ? (size_t)(comma - line) : n;
	if (scpi_parse_number(line, n_code, &code) != SCPI_NUMBER || fabs(code) > 32768)
		return -1;
	*ret_code = (int)code;
	line += comma ? n_code + 1 : n;
	n -= comma ? n_code + 1 : n;
	trim(&line, &n);
	if (n >= 2 && *line == '"' && line[n - 1] == '"') {
		line++;
		n -= 2;
	}
	printable(line, n, ret_text, SCPI_ERROR_MAX);
	return 0;
}

/* ---- device ---- */

static const struct {
	int code;
	const char *text;
} error_texts[] = {
	{ 0, "No error" },
	{ -101, "Invalid character" },
	{ -102, "Syntax error" },
	{ -108, "Parameter not allowed" },
	{ -109, "Missing parameter" },
	{ -113, "Undefined header" },
	{ -222, "Data out of range" },
	{ -350, "Queue overflow" },
	{ -363, "Input buffer overrun" },
	{ -410, "Query INTERRUPTED" },
	{ -420, "Query UNTERMINATED" },
	{ -430, "Query DEADLOCKED" },
};

/* The standard's words: "Undefined header" for -113. */
static const char *error_text(int code)
{
	for (size_t i = 0; i < sizeof error_texts / sizeof error_texts[0]; i++)
		if (error_texts[i].code == code)
			return error_texts[i].text;
	return "Device-specific error";
}

/* One mnemonic of a pattern against one of a header: the capitals alone or the whole word. */
static bool mnemonic_match(const char *pattern, size_t n_pattern, const char *word, size_t n)
{
	size_t n_short = 0;

	while (n_short < n_pattern && !islower((unsigned char)pattern[n_short]))
		n_short++;
	return (n == n_short || n == n_pattern) && strncasecmp(pattern, word, n) == 0;
}

/* The rest of a pattern against the rest of a header.  `first`: no colon stands before the
 * next mnemonic of the header. */
static bool path_match(const char *pattern, const char *header, size_t n, bool first)
{
	bool optional = *pattern == '[';
	const char *start, *rest;
	size_t n_start, n_word;

	if (*pattern == 0)
		return n == 0;
	if (*pattern == '?')
		return n == 1 && *header == '?' && pattern[1] == 0;
	start = pattern + optional;
	start += *start == ':';
	n_start = strcspn(start, ":[]?");
	rest = start + n_start;
	if (optional) {
		rest += strspn(rest, ":]"); /* the colon may stand inside, as in [SENSe:] */
		if (path_match(rest, header, n, first))
			return true;
	}
	if (!first) {
		if (n == 0 || *header != ':')
			return false;
		header++;
		n--;
	}
	for (n_word = 0; n_word < n && header[n_word] != ':' && header[n_word] != '?'; )
		n_word++;
	return mnemonic_match(start, n_start, header, n_word) &&
	       path_match(rest, header + n_word, n - n_word, false);
}

bool scpi_match(const char *pattern, const char *header, size_t n)
{
	if (n > 0 && *header == ':') {
		header++;
		n--;
	}
	return path_match(pattern, header, n, true);
}

static void push_error(struct scpi_device *d, int code)
{
	if (d->n_errors < SCPI_ERRORS_MAX)
		d->errors[d->n_errors++] = code;
	else
		d->errors[SCPI_ERRORS_MAX - 1] = -350;
}

static int pop_error(struct scpi_device *d)
{
	int code = 0;

	if (d->n_errors > 0) {
		code = d->errors[0];
		d->n_errors--;
		memmove(d->errors, d->errors + 1, d->n_errors * sizeof d->errors[0]);
	}
	return code;
}

struct reply {
	char *out;
	size_t n, max;
	bool answered; /* something of this command line already */
	bool full;
};

static void reply_text(struct reply *reply, const char *text)
{
	size_t n = strlen(text) + (reply->answered ? 1 : 0);

	/* one place is kept for the line end */
	if (reply->full || n + 1 > reply->max - reply->n) {
		reply->full = true;
		return;
	}
	if (reply->answered)
		reply->out[reply->n++] = ';';
	memcpy(reply->out + reply->n, text, strlen(text));
	reply->n += strlen(text);
	reply->answered = true;
}

/* True when the header is one of the commands every device has, or of the table. */
static bool obey(struct scpi_device *d, const char *header, size_t n, const struct reading *now,
                 struct reply *reply)
{
	char text[SCPI_ERROR_MAX];

	if (is_word(header, n, "*IDN?")) {
		reply_text(reply, d->identity);
	} else if (is_word(header, n, "*OPC?")) {
		reply_text(reply, "1");
	} else if (is_word(header, n, "*CLS")) {
		d->n_errors = 0;
	} else if (is_word(header, n, "*RST")) {
		/* nothing here can be set, so nothing goes back */
	} else if (scpi_match("SYSTem:ERRor[:NEXT]?", header, n)) {
		int code = pop_error(d);

		(void)snprintf(text, sizeof text, "%d,\"%s\"", code, error_text(code));
		reply_text(reply, text);
	} else {
		for (size_t i = 0; i < d->n_commands; i++) {
			const struct scpi_command *c = &d->commands[i];

			if (!scpi_match(c->pattern, header, n))
				continue;
			(void)scpi_format_number(text, now->at[c->answer].state == VALUE_OVER
			                         ? (double)INFINITY : reading_get(now, c->answer),
			                         c->form, c->decimals);
			reply_text(reply, text);
			return true;
		}
		return false;
	}
	return true;
}

/* One program message unit.  `path` is the subsystem of the one before it on the line: behind a
 * semicolon a header without a leading colon continues there. */
static void obey_unit(struct scpi_device *d, const char *unit, size_t n,
                      const struct reading *now, struct reply *reply, char path[SCPI_LINE_MAX + 1])
{
	size_t n_header = 0, n_path = strlen(path);
	char joined[SCPI_LINE_MAX];
	const char *header = unit;

	trim(&unit, &n);
	if (n == 0)
		return;
	header = unit;
	while (n_header < n && !isspace((unsigned char)unit[n_header]))
		n_header++;
	if (n_header < n) {
		push_error(d, -108); /* none of our headers takes a parameter */
		return;
	}
	if (*header != ':' && *header != '*' && n_path > 0 && n_path + n < sizeof joined) {
		memcpy(joined, path, n_path);
		memcpy(joined + n_path, header, n);
		if (obey(d, joined, n_path + n, now, reply))
			return;
	}
	if (!obey(d, header, n, now, reply))
		push_error(d, -113);
	if (*header != '*') {
		size_t end = n;

		while (end > 0 && header[end - 1] != ':')
			end--;
		memcpy(path, header, end);
		path[end] = 0;
	}
}

static void obey_line(struct scpi_device *d, const struct reading *now, struct reply *reply)
{
	char path[SCPI_LINE_MAX + 1] = "";

	reply->answered = false;
	for (size_t i = 0; i < d->n_line; i++) {
		if ((unsigned char)d->line[i] >= 0x7f ||
		    ((unsigned char)d->line[i] < 0x20 && d->line[i] != '\t')) {
			push_error(d, -101);
			return;
		}
	}
	for (size_t at = 0; at < d->n_line; ) {
		size_t stop = at;

		while (stop < d->n_line && d->line[stop] != ';')
			stop++;
		obey_unit(d, d->line + at, stop - at, now, reply, path);
		at = stop + 1;
	}
	if (reply->answered)
		reply->out[reply->n++] = '\n';
	if (reply->full)
		push_error(d, -430);
	reply->full = false;
}

size_t scpi_device_input(struct scpi_device *d, const uint8_t *bytes, size_t n,
                         const struct reading *now, char *out, size_t max)
{
	struct reply reply = { .out = out, .max = max };

	for (size_t i = 0; i < n; i++) {
		if (bytes[i] == '\n' || bytes[i] == '\r') {
			if (d->overlong)
				push_error(d, -363);
			else if (d->n_line > 0)
				obey_line(d, now, &reply);
			d->n_line = 0;
			d->overlong = false;
		} else if (d->n_line < sizeof d->line) {
			d->line[d->n_line++] = (char)bytes[i];
		} else {
			d->overlong = true;
		}
	}
	return reply.n;
}
