/* Plain text lines: by order, by label, units, scales, check sums, cut lines and garbage. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "mainstair/proto/line_text.h"

TestSuite(line_text, .timeout = 20);

static struct line_text_map ordered(char separator)
{
	struct line_text_map map = line_text_map_default;

	map.separator = separator;
	return map;
}

static struct line_text_map labelled(char separator)
{
	return (struct line_text_map){
		.separator = separator,
		.labelled = true,
		.label = { [READING_VOLTS] = "U", [READING_AMPS] = "I", [READING_WATTS] = "P" },
		.scale = { 1, 1, 1, 1, 1, 1 },
	};
}

static enum line_text_verdict decode(const struct line_text_map *map, const char *line,
                                     struct reading *r, char why[READING_WHY_MAX])
{
	reading_clear(r);
	why[0] = 0;
	return line_text_decode(map, line, strlen(line), r, why);
}

static bool is(const struct reading *r, double volts, double amps, double watts)
{
	return fabs(reading_get(r, READING_VOLTS) - volts) < 1e-9 &&
	       fabs(reading_get(r, READING_AMPS) - amps) < 1e-9 &&
	       fabs(reading_get(r, READING_WATTS) - watts) < 1e-9;
}

Test(line_text, by_order)
{
	static const struct {
		char separator;
		const char *line;
	} rows[] = {
		{ ',', "117.2,0.241,26.9" },
		{ ',', "  117.2 , 0.241 ,\t26.9  " },
		{ ',', "+117.2,2.41E-1,26.9" },
		{ ',', "117.2V,0.241A,26.9W" },
		{ ',', "117.2 V, 241 mA, 0.0269 kW" },
		{ ',', "117.2 Vrms,241000 uA,26900mW" },
		{ ',', "117.2v,241000 \xc2\xb5" "A,26.9 w" },
		{ ';', "117.2;0.241;26.9" },
		{ '\t', "117.2\t0.241\t26.9" },
		{ ' ', "117.2   0.241 26.9" },
		{ ' ', "  117.2V 241mA\t26.9W " },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct line_text_map map = ordered(rows[i].separator);
		struct reading r;
		char why[READING_WHY_MAX];

		cr_assert(decode(&map, rows[i].line, &r, why) == LINE_TEXT_READING, "%s: %s",
		          rows[i].line, why);
		cr_assert(is(&r, 117.2, 0.241, 26.9), "%s", rows[i].line);
	}
}

Test(line_text, by_label)
{
	static const struct {
		char separator;
		const char *line;
	} rows[] = {
		{ ' ', "U=117.2V I=241mA P=26.9W" },
		{ ' ', "P:26.9 PF=0.95 U:117.2 t=123 I:0.241" },
		{ ',', "U = 117.2, I = 0.241, P = 26.9, Pmax=99" },
		{ ';', "U117.2;I.241;P+26.9" },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct line_text_map map = labelled(rows[i].separator);
		struct reading r;
		char why[READING_WHY_MAX];

		cr_assert(decode(&map, rows[i].line, &r, why) == LINE_TEXT_READING, "%s: %s",
		          rows[i].line, why);
		cr_assert(is(&r, 117.2, 0.241, 26.9), "%s", rows[i].line);
	}
}

Test(line_text, garbled_lines_say_why)
{
	static const struct {
		bool labelled;
		const char *line, *expect;
	} rows[] = {
		{ false, "117.2,0.241", "2 fields instead of 3" },
		{ false, "117.2,0.241,26.9,1", "4 fields instead of 3" },
		{ false, "117.2,,26.9", "'' is no value of amps" },
		{ false, "117.2,0.241,26.9X", "'26.9X' is no value of watts" },
		{ false, "117.2,0.241,26.9V", "no value of watts" }, /* volts for watts */
		{ false, "117.2,0.241,26.9 VA", "no value of watts" },
		{ false, "117.2.1,0.241,26.9", "no value of volts" },
		{ false, "1 17.2,0.241,26.9", "no value of volts" },
		{ false, "abc", "no value of volts" },
		{ false, "117.2,0.241,26\x01.9", "control character (01)" },
		{ false, "\xff\xfe,0.241,26.9", "'..' is no value of volts" },
		{ true, "U=117.2 I=0.241", "label P is missing" },
		{ true, "U=117.2 I=0.241 P=", "no value of watts" },
		{ true, "U=117.2 I=0.241 P", "label P is missing" },
		{ true, "U=117.2 U=118 I=0.241 P=26.9", "label U twice" },
		{ true, "u=117.2 I=0.241 P=26.9", "label U is missing" },
	};

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct line_text_map map = rows[i].labelled ? labelled(' ') : ordered(',');
		struct reading r;
		char why[READING_WHY_MAX];

		cr_assert(decode(&map, rows[i].line, &r, why) == LINE_TEXT_GARBLED, "%s",
		          rows[i].line);
		cr_assert(strstr(why, rows[i].expect), "%s: %s", rows[i].line, why);
		for (int q = 0; q < READING_QUANTITIES; q++)
			cr_assert(r.at[q].state == VALUE_NONE);
	}
}

Test(line_text, empty_comment_and_special_values)
{
	struct line_text_map map = ordered(',');
	struct reading r;
	char why[READING_WHY_MAX];

	cr_assert(decode(&map, "", &r, why) == LINE_TEXT_EMPTY);
	cr_assert(decode(&map, "  \t ", &r, why) == LINE_TEXT_EMPTY);
	cr_assert(decode(&map, "# volts,amps,watts", &r, why) == LINE_TEXT_COMMENT);
	cr_assert(decode(&map, "117.2,nan,OL", &r, why) == LINE_TEXT_READING);
	cr_assert(r.at[READING_AMPS].state == VALUE_NAN);
	cr_assert(r.at[READING_WATTS].state == VALUE_OVER);
	cr_assert(decode(&map, "117.2,9.91E37,inf", &r, why) == LINE_TEXT_READING);
	cr_assert(r.at[READING_AMPS].state == VALUE_NAN);
	cr_assert(r.at[READING_WATTS].state == VALUE_OVER);
}

Test(line_text, scale_comma_and_skipped_fields)
{
	struct line_text_map map = {
		.separator = ';', .decimal_comma = true,
		.fields = { -1, READING_WATTS, READING_POWER_FACTOR, READING_VOLTS }, .n_fields = 4,
		.scale = { 0.1, 1, 1000, 1, 1, 1 },
	};
	struct reading r;
	char why[READING_WHY_MAX];

	cr_assert(decode(&map, "12:00:01;0,0269;95%;1172", &r, why) == LINE_TEXT_READING, "%s",
	          why);
	cr_assert(fabs(reading_get(&r, READING_WATTS) - 26.9) < 1e-9);
	cr_assert(fabs(reading_get(&r, READING_POWER_FACTOR) - 0.95) < 1e-9);
	cr_assert(fabs(reading_get(&r, READING_VOLTS) - 117.2) < 1e-9);
	cr_assert(r.at[READING_AMPS].state == VALUE_NONE);
	/* a unit behind the number goes before the scale */
	cr_assert(decode(&map, ";26,9 W;1;117,2 V", &r, why) == LINE_TEXT_READING, "%s", why);
	cr_assert(fabs(reading_get(&r, READING_WATTS) - 26.9) < 1e-9);
	/* a comma is no decimal point unless the bench file says so */
	map.decimal_comma = false;
	cr_assert(decode(&map, ";26,9;1;1172", &r, why) == LINE_TEXT_GARBLED);
}

Test(line_text, check_sum)
{
	struct line_text_map map = ordered(',');
	struct reading r, told;
	char why[READING_WHY_MAX], line[LINE_TEXT_MAX];
	size_t n;

	map.check_sum = true;
	reading_clear(&told);
	reading_set(&told, READING_VOLTS, 117.2);
	reading_set(&told, READING_AMPS, 0.241);
	reading_set(&told, READING_WATTS, 26.9);
	n = line_text_encode(&map, &told, line);
	cr_assert(n > 2 && strcmp(line + n - 2, "\r\n") == 0);
	n -= 2;
	line[n] = 0;
	cr_assert(decode(&map, line, &r, why) == LINE_TEXT_READING, "%s: %s", line, why);
	cr_assert(is(&r, 117.2, 0.241, 26.9));
	/* no digit can change or go missing unseen */
	for (size_t i = 0; i < n; i++) {
		char spoilt[LINE_TEXT_MAX];

		for (int bit = 0; bit < 8; bit++) {
			enum line_text_verdict v;

			memcpy(spoilt, line, n + 1);
			spoilt[i] = (char)(spoilt[i] ^ 1 << bit);
			if (spoilt[i] == (line[i] ^ 0x20) && i > n - 3)
				continue; /* a hex digit in the other case is the same digit */
			v = decode(&map, spoilt, &r, why);
			cr_assert(v != LINE_TEXT_READING, "%s", spoilt);
		}
		memcpy(spoilt, line, i);
		memcpy(spoilt + i, line + i + 1, n - i);
		cr_assert(decode(&map, spoilt, &r, why) != LINE_TEXT_READING, "%s", spoilt);
	}
	/* with the dollar sign that some senders put in front; the sum worked out by hand:
	 * '1' 31h ^ ',' 2Ch ^ '2' 32h ^ ',' 2Ch ^ '3' 33h = 30h */
	cr_assert(decode(&map, "$1,2,3*30", &r, why) == LINE_TEXT_READING, "%s", why);
	cr_assert(decode(&map, "1,2,3*30", &r, why) == LINE_TEXT_READING, "%s", why);
	cr_assert(decode(&map, "1,2,3*31", &r, why) == LINE_TEXT_BAD_SUM);
	cr_assert(strstr(why, "31 told, 30 computed"), "%s", why);
	cr_assert(decode(&map, "1,2,3", &r, why) == LINE_TEXT_GARBLED);
	cr_assert(decode(&map, "*", &r, why) == LINE_TEXT_GARBLED);
	cr_assert(decode(&map, "*00", &r, why) == LINE_TEXT_GARBLED);
}

Test(line_text, encode_and_decode_agree)
{
	struct line_text_map maps[4] = { ordered(','), ordered('\t'), labelled(' '), ordered(';') };
	struct reading told, r;
	char why[READING_WHY_MAX], line[LINE_TEXT_MAX];

	maps[3].decimal_comma = true;
	maps[3].scale[READING_WATTS] = 1000;
	reading_clear(&told);
	reading_set(&told, READING_VOLTS, 117.2);
	reading_set(&told, READING_AMPS, 0.0241);
	reading_set(&told, READING_WATTS, 2.69);
	for (int i = 0; i < 4; i++) {
		size_t n = line_text_encode(&maps[i], &told, line);

		cr_assert(n > 2);
		reading_clear(&r);
		cr_assert(line_text_decode(&maps[i], line, n - 2, &r, why) == LINE_TEXT_READING,
		          "%s: %s", line, why);
		cr_assert(is(&r, 117.2, 0.0241, 2.69), "%s", line);
	}
	reading_clear(&told);
	line_text_encode(&maps[0], &told, line);
	cr_assert_str_eq(line, "nan,nan,nan\r\n");
	for (size_t i = 0; i < LINE_TEXT_FIELDS_MAX; i++)
		maps[0].fields[i] = READING_VOLTS;
	maps[0].n_fields = LINE_TEXT_FIELDS_MAX;
	reading_set(&told, READING_VOLTS, -1.234567e-100);
	cr_assert(line_text_encode(&maps[0], &told, line) == 0);
}

/* ---- stream ---- */

/* Feed `text` in pieces of `step` bytes; lines come out joined by '|', lost ones as '!'. */
static const char *stream(const char *text, size_t n, size_t step)
{
	static char out[4096];
	struct line_text_stream s = { 0 };
	size_t n_out = 0;

	for (size_t at = 0; at < n; ) {
		size_t piece = n - at < step ? n - at : step, used;
		enum line_text_event e =
		        line_text_take(&s, (const uint8_t *)text + at, piece, &used);

		cr_assert(used > 0 && used <= piece);
		at += used;
		if (e == LINE_TEXT_LINE && s.n > 0)
			n_out += (size_t)snprintf(out + n_out, sizeof out - n_out, "%.*s|",
			                          (int)s.n, s.line);
		else if (e == LINE_TEXT_LOST)
			n_out += (size_t)snprintf(out + n_out, sizeof out - n_out, "!");
	}
	out[n_out] = 0;
	return out;
}

Test(line_text, stream_cuts_anywhere)
{
	static const char text[] = "7.2,0.2,26\r\n117.2,0.241,26.9\r\n\r\n118,1,2\n119,2,3\r120";

	for (size_t step = 1; step < sizeof text; step++)
		cr_assert_str_eq(stream(text, sizeof text - 1, step),
		                 "!117.2,0.241,26.9|118,1,2|119,2,3|");
	cr_assert_str_eq(stream("\n1,2,3\n", 7, 3), "1,2,3|");
}

Test(line_text, overlong_lines_are_passed_over)
{
	char text[3 * LINE_TEXT_MAX + 64];
	size_t n = 0;

	text[n++] = '\n';
	memset(text + n, '7', 3 * LINE_TEXT_MAX);
	n += 3 * LINE_TEXT_MAX;
	memcpy(text + n, "\n1,2,3\n", 7);
	n += 7;
	for (size_t step = 1; step < n; step += 37)
		cr_assert_str_eq(stream(text, n, step), "!1,2,3|");
}
