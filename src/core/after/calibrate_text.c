/*
 * core/after/calibrate_text.c - values of the sheet for people, and typed lines understood
 */
#include "mainstair/core/calibrate.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/care/typed_line.h"
#include "mainstair/base/text.h"
#include "mainstair/core/uncertainty.h"

enum { SHOWN_MAX = 48, READINGS_MAX = 32, DECIMALS_MAX = 9 };

/* A slip is asked about: further off than so many tolerances, and than this share. */
static const double slip_tolerances = 5;
static const double slip_share = 0.2;
static const double slip_decibels = 6;
/* Beyond it nothing is believed, asked about or not. */
static const double value_most = 1e12;
static const double level_most = 1e3;

/* ---- for people ---- */

/* Decimals that show steps of the resolution whole: 2 for 0.01 and for 0.25. */
static double decimals_of_step(double step)
{
	double decimals = fmax(ceil(-log10(step) - 1e-9), 0);

	for (int more = 0; more < 2; more++) {
		const double steps = step * pow(10, decimals);

		if (fabs(steps - floor(steps + 0.5)) < 1e-6 * steps)
			break;
		decimals++;
	}
	return decimals;
}

static bool has_size(double value)
{
	return isfinite(value) && fabs(value) > 0;
}

/* The same for all values of a point, be they near it or errors of nought: those of its resolution,
 * or what shows so many significant digits of what is applied. */
static int decimals_of(const struct profile_point *point, double value, int digits)
{
	const double like = has_size(point->applied) ? point->applied
	                    : has_size(point->full_scale) ? point->full_scale : value;
	double decimals;

	if (point->resolution > 0)
		decimals = decimals_of_step(point->resolution / point->scale);
	else
		decimals = digits - 1 -
		           (has_size(like) ? floor(log10(fabs(like) / point->scale)) : 0);
	return (int)fmin(fmax(decimals, 0), DECIMALS_MAX);
}

static const char *print_signed(char *dst, size_t size, const struct profile_point *point,
                                double value, int digits, bool sign)
{
	size_t n = 0;

	if (isinf(value)) {
		(void)snprintf(dst, size, value > 0 ? "no limit" : "nothing");
		return dst;
	}
	n = num_print(dst, size, value / point->scale, decimals_of(point, value, digits));
	/* what rounds to nought has no sign */
	if (sign && value > 0 && dst[strspn(dst, "0.")] != '\0' && n + 1 < size) {
		memmove(dst + 1, dst, n + 1);
		dst[0] = '+';
		n++;
	}
	if (point->written[0] && n < size)
		(void)snprintf(dst + n, size - n, " %s", point->written);
	return dst;
}

const char *cal_print(char *dst, size_t size, const struct profile_point *point, double value,
                      int digits)
{
	return print_signed(dst, size, point, value, digits, false);
}

/* What a difference of values of the point is in. */
static const char *apart(const struct profile_point *point)
{
	/* levels are apart by dB, whatever they are above */
	return point->unit == UNIT_DBM ? unit_symbol(UNIT_DECIBEL) : point->written;
}

const char *cal_print_error(char *dst, size_t size, const struct profile_point *point, double value,
                            int digits)
{
	struct profile_point difference = *point;

	(void)snprintf(difference.written, sizeof difference.written, "%s", apart(point));
	return print_signed(dst, size, &difference, value, digits, true);
}

const char *cal_print_span(char *dst, size_t size, const struct profile_point *point, double value,
                           int digits)
{
	const size_t n = num_print_unit(dst, size, value / point->scale, UNIT_NONE, digits);

	if (point->written[0] && n < size)
		(void)snprintf(dst + n, size - n, " %s", apart(point));
	return dst;
}

static void add_term(char *dst, size_t size, double value, const char *unit)
{
	char number[SHOWN_MAX];
	size_t n = strlen(dst);

	if (!(value > 0))
		return;
	(void)num_print_unit(number, sizeof number, value, UNIT_NONE, 6);
	(void)snprintf(dst + n, size - n, "%s%s%s%s", n > 0 ? " + " : "+/- ", number,
	               unit[0] ? " " : "", unit);
}

const char *cal_print_tolerance(char *dst, size_t size, const struct profile_point *point,
                                const struct profile_tolerance *tolerance)
{
	dst[0] = '\0';
	add_term(dst, size, tolerance->reading * 100, "%");
	add_term(dst, size, tolerance->full_scale * 100, "% fs");
	add_term(dst, size, tolerance->digits, tolerance->digits > 1 ? "digits" : "digit");
	add_term(dst, size, tolerance->absolute / point->scale, apart(point));
	add_term(dst, size, tolerance->decibel, unit_symbol(UNIT_DECIBEL));
	if (!dst[0])
		(void)snprintf(dst, size, "not told");
	return dst;
}

/* ---- typed lines ---- */

struct line {
	const struct profile_point *point;
	const struct cal_point *state;
	const char *word; /* "" : none was typed */
	double reading[READINGS_MAX];
	size_t n;
	double applied; /* NAN: as the sheet says */
};

static const char *skip_blanks(const char *s)
{
	return s + strspn(s, " \t");
}

/* The word at s into dst, cut to fit; *ret_end behind it. */
static void word_at(const char *s, char *dst, size_t size, const char **ret_end)
{
	const size_t n = strcspn(s, " \t:"), kept = n < size ? n : size - 1;

	memcpy(dst, s, kept);
	dst[kept] = '\0';
	*ret_end = skip_blanks(s + n + (s[n] == ':' ? 1 : 0));
}

static const char *known_word(const char *word)
{
	static const char *const known[][2] = {
	        {"found", "as-found"}, {"as-found", "as-found"}, {"adjusted", "adjusted"},
	        {"left", "as-left"},   {"as-left", "as-left"},
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
		if (text_same(known[i][0], word))
			return known[i][1];
	return NULL;
}

/* One value in the point's unit; bare: in its unit as written.  Returns where it ends, or NULL. */
static const char *scan_value(const struct profile_point *point, const char *s, double *ret,
                              struct err *err)
{
	struct quantity q;
	struct err other;
	const char *end = num_scan(s, UNIT_NONE, &q, &other);

	if (end) {
		q.value *= point->scale;
	} else {
		end = num_scan(s, point->unit, &q, err);
		if (!end)
			return NULL;
	}
	if (q.tol >= 0) {
		(void)err_set(err, ERR_INPUT, "a tolerance means nothing here");
		return NULL;
	}
	if (fabs(q.value) > (unit_is_level(point->unit) ? level_most : value_most)) {
		(void)err_set(err, ERR_RANGE, "nothing indicates that");
		return NULL;
	}
	*ret = q.value;
	return end;
}

/* Where "at VALUE" begins, a word of its own; NULL when there is none. */
static const char *find_at(const char *s)
{
	for (const char *at = s; (at = strstr(at, "at")) != NULL; at += 2)
		if (at > s && strchr(" \t", at[-1]) && strchr(" \t", at[2]) && at[2])
			return at;
	return NULL;
}

static int read_values(struct line *line, const char *s, struct err *err)
{
	const char *at = find_at(s), *end;
	char values[ENTRY_LINE_MAX];

	line->applied = NAN;
	if (at) {
		end = scan_value(line->point, at + 2, &line->applied, err);
		if (!end)
			return -1;
		if (*end)
			return err_set(err, ERR_INPUT, "`%.40s`: one value stands behind `at`",
			               end);
	}
	(void)snprintf(values, sizeof values, "%.*s", at ? (int)(at - s) : (int)strlen(s), s);
	for (s = skip_blanks(values); *s;) {
		if (line->n == READINGS_MAX)
			return err_set(err, ERR_RANGE, "more than %d readings", READINGS_MAX);
		s = scan_value(line->point, s, &line->reading[line->n++], err);
		if (!s)
			return -1;
	}
	if (line->n == 0)
		return err_set(err, ERR_INPUT, "what does it indicate? `%s 1.02`",
		               line->point->name);
	return 0;
}

/* What it is about: the point named, or the one in hand; then the word. */
static const char *read_head(const struct cal_sheet *sheet, int in_hand, const char *s,
                             struct line *line)
{
	char word[PROFILE_NAME_MAX];
	const char *end;
	int at = in_hand;

	word_at(s, word, sizeof word, &end);
	for (int i = 0; i < sheet->n; i++)
		if (text_same(sheet->point[i].point->name, word)) {
			at = i;
			s = end;
			break;
		}
	if (at < 0 || at >= sheet->n)
		return NULL;
	line->state = &sheet->point[at];
	line->point = line->state->point;
	word_at(s, word, sizeof word, &end);
	line->word = known_word(word);
	if (line->word)
		return end;
	line->word = line->state->found.have || line->state->found_moved ? "as-left" : "as-found";
	return s;
}

/* Further off than anything that is merely out of calibration? */
static bool is_slip(const struct profile_point *point, const struct cal_reading *r)
{
	const double half = fmax(r->high - r->applied, r->applied - r->low);

	if (unit_is_level(point->unit))
		return fabs(r->error) > fmax(slip_decibels, slip_tolerances * half);
	return fabs(r->error) > slip_tolerances * half &&
	       fabs(r->error) > slip_share * fabs(r->applied);
}

static bool is_far(const struct profile_point *point, double applied)
{
	if (unit_is_level(point->unit))
		return fabs(applied - point->applied) > slip_decibels;
	return fabs(applied - point->applied) > slip_share * fabs(point->applied);
}

enum entry_line cal_understand(const struct cal_sheet *sheet, int in_hand, const char *text,
                               struct entry_draft *ret, char *echo)
{
	struct line line = {.n = 0};
	struct uncertainty scatter;
	struct cal_reading r;
	struct err err;
	char indicated[SHOWN_MAX], applied[SHOWN_MAX], error[SHOWN_MAX];
	const char *s = skip_blanks(text);
	double mean;

	if (strlen(text) >= ENTRY_LINE_MAX)
		return typed_say(echo, ENTRY_LINE_WRONG, "longer than %d bytes",
		                 ENTRY_LINE_MAX - 1);
	s = read_head(sheet, in_hand, s, &line);
	if (!s)
		return typed_say(echo, ENTRY_LINE_WRONG, "which point? `P1 1.02`");
	if (read_values(&line, s, &err) < 0)
		return typed_say(echo, ENTRY_LINE_WRONG, "%.400s", err.text);
	scatter = uncertainty_of_readings(line.reading, line.n, &mean);
	cal_judge(line.point, GUARD_BAND_NONE, mean,
	          isnan(line.applied) ? line.point->applied : line.applied, scatter.u, (int)line.n,
	          &r);

	(void)snprintf(ret->subject, sizeof ret->subject, "%s", line.point->name);
	(void)snprintf(ret->word, sizeof ret->word, "%s", line.word);
	ret->entry.number[0] = mean;
	ret->entry.number[1] = line.applied;
	if (line.n > 1) {
		ret->entry.number[2] = scatter.u;
		ret->entry.number[3] = (double)line.n;
	}
	cal_print(indicated, sizeof indicated, line.point, mean, 5);
	cal_print(applied, sizeof applied, line.point, r.applied, 5);
	cal_print_error(error, sizeof error, line.point, r.error, 5);
	if (!isnan(line.applied) && is_far(line.point, line.applied))
		return typed_say(echo, ENTRY_LINE_ASK, "%s is to have %s applied, not %s?",
		                 line.point->name,
		                 cal_print(error, sizeof error, line.point, line.point->applied, 5),
		                 applied);
	if (is_slip(line.point, &r))
		return typed_say(echo, ENTRY_LINE_ASK, "%s: %s with %s applied?", line.point->name,
		                 indicated, applied);
	return typed_say(echo, ENTRY_LINE_TAKEN, "%s %s: %s with %s applied, %s", line.point->name,
	                 line.word, indicated, applied, error);
}
