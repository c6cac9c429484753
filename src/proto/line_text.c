#include "mainstair/proto/line_text.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "mainstair/proto/scpi.h"

enum { NUMBER_MAX = 48 };

const struct line_text_map line_text_map_default = {
	.separator = ',',
	.fields = { READING_VOLTS, READING_AMPS, READING_WATTS },
	.n_fields = 3,
	.scale = { 1, 1, 1, 1, 1, 1 },
};

static enum line_text_verdict garbled(char ret_why[READING_WHY_MAX], const char *format, ...)
	__attribute__((format(printf, 2, 3)));

static enum line_text_verdict garbled(char ret_why[READING_WHY_MAX], const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(ret_why, READING_WHY_MAX, format, ap);
	va_end(ap);
	return LINE_TEXT_GARBLED;
}

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static void trim(const char **text, size_t *n)
{
	while (*n > 0 && is_blank(**text)) {
		(*text)++;
		(*n)--;
	}
	while (*n > 0 && is_blank((*text)[*n - 1]))
		(*n)--;
}

/* A unit behind a number: its factor to the quantity's own unit, or 0 when it is no unit of
 * that quantity. */
static double unit_factor(enum reading_quantity q, const char *text, size_t n)
{
	static const char *const names[READING_QUANTITIES][4] = {
		[READING_VOLTS] = { "V", "Vrms", "Vac", NULL },
		[READING_AMPS] = { "A", "Arms", "Aac", NULL },
		[READING_WATTS] = { "W", NULL },
		[READING_VA] = { "VA", NULL },
		[READING_POWER_FACTOR] = { NULL },
		[READING_HERTZ] = { "Hz", NULL },
	};
	static const struct {
		const char *text;
		double factor;
	} prefixes[] = {
		{ "", 1 }, { "m", 1e-3 }, { "k", 1e3 }, { "K", 1e3 }, { "M", 1e6 }, { "u", 1e-6 },
		{ "\xb5", 1e-6 }, { "\xc2\xb5", 1e-6 }, { "\xce\xbc", 1e-6 },
	};

	if (q == READING_POWER_FACTOR)
		return n == 1 && *text == '%' ? 0.01 : 0;
	for (size_t i = 0; i < sizeof prefixes / sizeof prefixes[0]; i++) {
		size_t skip = strlen(prefixes[i].text);

		if (skip > n || memcmp(text, prefixes[i].text, skip) != 0)
			continue;
		for (const char *const *name = names[q]; *name; name++)
			if (strlen(*name) == n - skip &&
			    strncasecmp(text + skip, *name, n - skip) == 0)
				return prefixes[i].factor;
	}
	return 0;
}

/* The number at the start of text, its unit behind it, in V, A, W, …  False: neither. */
static bool parse_value(const struct line_text_map *map, enum reading_quantity q,
                        const char *text, size_t n, double *ret)
{
	char number[NUMBER_MAX];
	size_t n_number = 0;
	double factor = map->scale[q];

	trim(&text, &n);
	if (n == 0)
		return false;
	if ((n == 2 && strncasecmp(text, "OL", n) == 0) ||
	    (n == 4 && strncasecmp(text, "OVLD", n) == 0)) {
		*ret = (double)INFINITY;
		return true;
	}
	while (n_number < n && (isdigit((unsigned char)text[n_number]) ||
	                        strchr("+-.,", text[n_number]) ||
	                        (strchr("eE", text[n_number]) && n_number + 1 < n &&
	                         strchr("+-0123456789", text[n_number + 1]))))
		n_number++;
	if (n_number == 0)
		n_number = n; /* a word: nan, inf */
	if (n_number >= sizeof number)
		return false;
	memcpy(number, text, n_number);
	for (size_t i = 0; map->decimal_comma && i < n_number; i++)
		if (number[i] == ',')
			number[i] = '.';
	text += n_number;
	n -= n_number;
	trim(&text, &n);
	if (n > 0)
		factor = unit_factor(q, text, n);
	if (!(fabs(factor) > 0) || scpi_parse_number(number, n_number, ret) == SCPI_NOT_NUMERIC)
		return false;
	*ret *= factor;
	return true;
}

/* The next field of *text; false at the end.  Blanks around a field are no part of it. */
static bool next_field(const struct line_text_map *map, const char **text, const char *end,
                       const char **ret_field, size_t *ret_n)
{
	const char *stop = *text;

	if (*text > end)
		return false;
	while (stop < end && *stop != map->separator &&
	       !(map->separator == ' ' && *stop == '\t'))
		stop++;
	*ret_field = *text;
	*ret_n = (size_t)(stop - *text);
	trim(ret_field, ret_n);
	*text = stop + 1;
	while (map->separator == ' ' && *text < end && is_blank(**text))
		(*text)++;
	return true;
}

static void show(const char *text, size_t n, char out[40])
{
	size_t i = 0;

	for (; i < n && i < 39; i++)
		out[i] = text[i] >= 0x20 && text[i] < 0x7f ? text[i] : '.';
	out[i] = 0;
}

static int hex_digit(char c)
{
	const char *digits = "0123456789abcdef", *at = c ? strchr(digits, tolower((unsigned char)c))
	                                                 : NULL;

	return at ? (int)(at - digits) : -1;
}

static unsigned char check_sum(const char *text, size_t n)
{
	unsigned char sum = 0;

	for (size_t i = n > 0 && *text == '$'; i < n; i++)
		sum = (unsigned char)(sum ^ (unsigned char)text[i]);
	return sum;
}

/* Check the sum at the end of the line and take it, and the '$' in front, off. */
static enum line_text_verdict take_check_sum(const char **line, size_t *n,
                                             char ret_why[READING_WHY_MAX])
{
	int high, low;

	if (*n < 3 || (*line)[*n - 3] != '*')
		return garbled(ret_why, "no check sum (*HH) at the end of the line");
	high = hex_digit((*line)[*n - 2]);
	low = hex_digit((*line)[*n - 1]);
	if (high < 0 || low < 0)
		return garbled(ret_why, "no check sum (*HH) at the end of the line");
	*n -= 3;
	if (check_sum(*line, *n) != high * 16 + low) {
		(void)snprintf(ret_why, READING_WHY_MAX,
		               "wrong check sum: %X%X told, %02X computed", (unsigned)high,
		               (unsigned)low, (unsigned)check_sum(*line, *n));
		return LINE_TEXT_BAD_SUM;
	}
	if (*n > 0 && **line == '$') {
		(*line)++;
		(*n)--;
	}
	return LINE_TEXT_READING;
}

static enum line_text_verdict decode_ordered(const struct line_text_map *map, const char *line,
                                             size_t n, struct reading *r,
                                             char ret_why[READING_WHY_MAX])
{
	const char *end = line + n, *field;
	size_t n_field, count = 0;
	char shown[40];
	double value;

	for (; next_field(map, &line, end, &field, &n_field); count++) {
		enum reading_quantity q;

		if (count >= map->n_fields || map->fields[count] < 0)
			continue;
		q = (enum reading_quantity)map->fields[count];
		if (!parse_value(map, q, field, n_field, &value)) {
			show(field, n_field, shown);
			return garbled(ret_why, "field %zu: '%s' is no value of %s", count + 1,
			               shown, reading_quantity_word(q));
		}
		reading_set(r, q, value);
	}
	if (count != map->n_fields)
		return garbled(ret_why, "%zu fields instead of %zu", count, map->n_fields);
	return LINE_TEXT_READING;
}

static enum line_text_verdict decode_labelled(const struct line_text_map *map, const char *line,
                                              size_t n, struct reading *r,
                                              char ret_why[READING_WHY_MAX])
{
	const char *end = line + n, *field;
	size_t n_field;
	char shown[40];
	double value;

	while (next_field(map, &line, end, &field, &n_field)) {
		for (int q = 0; q < READING_QUANTITIES; q++) {
			size_t n_label = strlen(map->label[q]);
			const char *rest = field + n_label;
			size_t n_rest;

			if (n_label == 0 || n_field <= n_label ||
			    memcmp(field, map->label[q], n_label) != 0)
				continue;
			n_rest = n_field - n_label;
			trim(&rest, &n_rest);
			/* `Pmax=3` is not P: behind a label stands =, : or the number itself */
			if (n_rest > 0 && (*rest == '=' || *rest == ':')) {
				rest++;
				n_rest--;
			} else if (n_rest == 0 || !strchr("+-.0123456789", *rest)) {
				continue;
			}
			if (r->at[q].state != VALUE_NONE)
				return garbled(ret_why, "label %s twice", map->label[q]);
			if (!parse_value(map, (enum reading_quantity)q, rest, n_rest, &value)) {
				show(field, n_field, shown);
				return garbled(ret_why, "'%s' is no value of %s", shown,
				               reading_quantity_word((enum reading_quantity)q));
			}
			reading_set(r, (enum reading_quantity)q, value);
		}
	}
	for (int q = 0; q < READING_QUANTITIES; q++)
		if (map->label[q][0] && r->at[q].state == VALUE_NONE)
			return garbled(ret_why, "label %s is missing", map->label[q]);
	return LINE_TEXT_READING;
}

enum line_text_verdict line_text_decode(const struct line_text_map *map, const char *line,
                                        size_t n, struct reading *r,
                                        char ret_why[READING_WHY_MAX])
{
	enum line_text_verdict verdict;
	struct reading got = *r;

	for (int q = 0; q < READING_QUANTITIES; q++)
		got.at[q] = (struct reading_value){ VALUE_NONE, 0 };
	if (map->separator == '\t') { /* a leading or trailing tab makes an empty field */
		while (n > 0 && line[n - 1] == ' ')
			n--;
	} else {
		trim(&line, &n);
	}
	if (n == 0)
		return LINE_TEXT_EMPTY;
	if (*line == '#')
		return LINE_TEXT_COMMENT;
	for (size_t i = 0; i < n; i++)
		if (((unsigned char)line[i] < 0x20 && line[i] != '\t') || line[i] == 0x7f)
			return garbled(ret_why, "a control character (%02X) in the line",
			               (unsigned)(unsigned char)line[i]);
	if (map->check_sum) {
		verdict = take_check_sum(&line, &n, ret_why);
		if (verdict != LINE_TEXT_READING)
			return verdict;
	}
	verdict = map->labelled ? decode_labelled(map, line, n, &got, ret_why)
	                        : decode_ordered(map, line, n, &got, ret_why);
	if (verdict == LINE_TEXT_READING)
		*r = got;
	return verdict;
}

/* One value as the map writes it.  Seven digits: more than a meter has. */
static void format_value(const struct line_text_map *map, enum reading_quantity q,
                         const struct reading *r, char out[32])
{
	double value = reading_get(r, q) / map->scale[q];

	if (r->at[q].state == VALUE_OVER)
		(void)snprintf(out, 32, "inf");
	else if (isnan(value))
		(void)snprintf(out, 32, "nan");
	else
		(void)snprintf(out, 32, "%.7g", value);
	for (char *c = out; map->decimal_comma && *c; c++)
		if (*c == '.')
			*c = ',';
}

size_t line_text_encode(const struct line_text_map *map, const struct reading *r,
                        char out[LINE_TEXT_MAX])
{
	int n = 0;
	char value[32];
	size_t n_fields = map->labelled ? READING_QUANTITIES : map->n_fields;

	/* the longest line still has to leave room for the sum and the end of the line */
	for (size_t i = 0; i < n_fields && n < LINE_TEXT_MAX - 64; i++) {
		int q = map->labelled ? (int)i : map->fields[i];

		if (map->labelled && map->label[q][0] == 0)
			continue;
		if (q >= 0)
			format_value(map, (enum reading_quantity)q, r, value);
		else
			(void)snprintf(value, sizeof value, "-");
		if (n > 0)
			out[n++] = map->separator;
		n += snprintf(out + n, LINE_TEXT_MAX - (size_t)n, "%s%s%s",
		              map->labelled ? map->label[q] : "", map->labelled ? "=" : "", value);
	}
	if (n >= LINE_TEXT_MAX - 64)
		return 0;
	if (map->check_sum)
		n += snprintf(out + n, LINE_TEXT_MAX - (size_t)n, "*%02X",
		              (unsigned)check_sum(out, (size_t)n));
	n += snprintf(out + n, LINE_TEXT_MAX - (size_t)n, "\r\n");
	return (size_t)n;
}

enum line_text_event line_text_take(struct line_text_stream *s, const uint8_t *bytes, size_t n,
                                    size_t *ret_used)
{
	if (s->complete) {
		s->n = 0;
		s->complete = false;
	}
	for (size_t i = 0; i < n; i++) {
		bool lost = !s->in_step || s->overlong;

		if (bytes[i] != '\n' && bytes[i] != '\r') {
			if (s->n < sizeof s->line)
				s->line[s->n++] = (char)bytes[i];
			else
				s->overlong = true;
			continue;
		}
		*ret_used = i + 1;
		lost = lost && s->n > 0;
		s->in_step = true;
		s->overlong = false;
		s->complete = true;
		return lost ? LINE_TEXT_LOST : LINE_TEXT_LINE;
	}
	*ret_used = n;
	return LINE_TEXT_NONE;
}
