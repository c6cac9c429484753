#include "mainstair/core/compare.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/care/typed_line.h"
#include "mainstair/base/text.h"
#include "mainstair/core/calibrate.h"

enum { SHOWN_MAX = 48, UNIT_WORD_MAX = 16 };

const double compare_matters_share = 0.10;
/* Beyond it nothing typed is believed. */
static const double value_most = 1e12;
static const double level_most = 1e3;
static const char dropped_word[] = "dropped";

const char *compare_verdict_word(enum compare_verdict verdict)
{
	static const char *const words[] = {
	        [COMPARE_CANNOT_TELL] = "cannot tell",
	        [COMPARE_AGREE] = "agree",
	        [COMPARE_DIFFER] = "differ",
	};

	return words[verdict];
}

const char *compare_why_text(enum compare_why why)
{
	static const char *const texts[] = {
	        [COMPARE_PLAIN] = "",
	        [COMPARE_NO_VALUE] = "one of the two values is missing",
	        [COMPARE_NO_UNCERTAINTY] = "how well one of the two is known was not told",
	        [COMPARE_TOO_COARSE] =
	                "a difference that matters would not show: the two are known "
	                "too coarsely",
	};

	return texts[why];
}

double compare_matters(enum unit unit, double b, double share)
{
	if (unit_is_level(unit))
		return 20 * log10(1 + share);
	return fabs(b) > 0 ? share * fabs(b) : (double)NAN;
}

void compare_difference(double difference, double expanded, double b, double matters,
                        struct compare_result *r)
{
	*r = (struct compare_result){.difference = difference,
	                             .expanded = expanded,
	                             .en = NAN,
	                             .share = NAN,
	                             .matters = matters,
	                             .verdict = COMPARE_CANNOT_TELL,
	                             .why = COMPARE_PLAIN};
	if (fabs(b) > 0)
		r->share = difference / fabs(b);
	if (!isfinite(r->difference)) {
		r->why = COMPARE_NO_VALUE;
		return;
	}
	if (!(r->expanded > 0) || !isfinite(r->expanded)) {
		r->expanded = NAN;
		r->why = COMPARE_NO_UNCERTAINTY;
		return;
	}
	r->en = r->difference / r->expanded;
	/* at the limit it agrees, whatever the last digit of a difference makes of it */
	if (fabs(r->en) > 1 + 1e-9)
		r->verdict = COMPARE_DIFFER;
	else if (r->expanded > r->matters)
		r->why = COMPARE_TOO_COARSE;
	else
		r->verdict = COMPARE_AGREE;
}

void compare_values(double a, double ua, double b, double ub, double matters,
                    struct compare_result *ret)
{
	compare_difference(a - b, ua > 0 && ub > 0 ? hypot(ua, ub) : (double)NAN, b,
	                   isnan(matters) ? compare_matters(UNIT_NONE, b, compare_matters_share)
	                                  : matters,
	                   ret);
}

/* ---- entries ---- */

static bool unit_of_word(const char *word, enum unit *ret)
{
	for (int unit = UNIT_VOLT; unit <= UNIT_DBM; unit++)
		if (strcmp(unit_symbol((enum unit)unit), word) == 0) {
			*ret = (enum unit)unit;
			return true;
		}
	return false;
}

enum unit compare_unit(const char *subject, char *name, size_t size)
{
	const char *blank = strrchr(subject, ' ');
	enum unit unit = UNIT_NONE;

	if (!blank || !unit_of_word(blank + 1, &unit))
		blank = subject + strlen(subject);
	if (name)
		(void)snprintf(name, size, "%.*s", (int)(blank - subject), subject);
	return unit;
}

/* What a difference must be to matter: the sheet's tolerance for a point of that name. */
static double matters_of(const struct profile *profile, const struct entry *e)
{
	char name[ENTRY_SUBJECT_MAX];
	const enum unit unit = compare_unit(e->subject, name, sizeof name);
	const double other = e->number[2];
	double low, high;

	for (int i = 0; i < profile->n_points; i++) {
		const struct profile_point *point = &profile->points[i];

		if (!text_same(point->name, name) || point->unit != unit)
			continue;
		cal_limits(point, other, &low, &high);
		if (isfinite(high) && high > other)
			return high - other;
	}
	return compare_matters(unit, other, compare_matters_share);
}

static bool is_drop(const struct entry *e)
{
	return strcmp(e->word, dropped_word) == 0;
}

static void forget(struct compare_list *list, int at)
{
	memmove(&list->line[at], &list->line[at + 1],
	        (size_t)(list->n - at - 1) * sizeof list->line[0]);
	list->n--;
}

void compare_list_make(struct compare_list *ret, const struct profile *profile,
                       const struct entry *entries, size_t n)
{
	memset(ret, 0, sizeof *ret);
	for (size_t i = 0; i < n; i++) {
		const struct entry *e = &entries[i];
		int at = 0;

		if (e->kind != ENTRY_COMPARE)
			continue;
		while (at < ret->n && !text_same(ret->line[at].entry->subject, e->subject))
			at++;
		if (is_drop(e)) {
			if (at < ret->n)
				forget(ret, at);
			continue;
		}
		if (at == COMPARE_LINES_MAX) {
			ret->beyond++;
			continue;
		}
		ret->line[at].entry = e;
		if (at == ret->n)
			ret->n++;
	}
	for (int i = 0; i < ret->n; i++) {
		struct compare_line *line = &ret->line[i];
		const struct entry *e = line->entry;

		compare_values(e->number[0], e->number[1], e->number[2], e->number[3],
		               matters_of(profile, e), &line->result);
		ret->count[line->result.verdict]++;
	}
}

/* ---- typed lines ---- */

/* Blanks at both ends off, in place. */
static char *trim(char *s)
{
	size_t n;

	s += strspn(s, " \t");
	for (n = strlen(s); n > 0 && strchr(" \t", s[n - 1]);)
		s[--n] = '\0';
	return s;
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* A bare number with a comma behind it is a value that was typed into the name: "1.02, 1.00gain";
 * "1 kHz, 1 V in" is a name. */
static bool holds_value(const char *name)
{
	for (const char *comma = name; (comma = strchr(comma, ',')) != NULL; comma++) {
		const char *before = comma;

		while (before > name && strchr(" \t", before[-1]))
			before--;
		if (before > name && is_digit(before[-1]))
			return true;
	}
	return false;
}

/* The next comma that separates; one between two digits is a slip. */
static int next_comma(char *s, char **ret, struct err *err)
{
	char *comma = strchr(s, ',');

	*ret = comma;
	if (comma && comma > s && is_digit(comma[-1]) && is_digit(comma[1]))
		return err_set(err, ERR_INPUT,
		               "a decimal comma? write 2.5 for two and a half; a blank goes behind "
		               "a comma that separates");
	return 0;
}

/* "1.02 V +/- 2 %"; *unit is UNIT_ANY for the first value, then that of the first. */
static int read_value(char *s, enum unit *unit, double *ret_value, double *ret_expanded,
                      struct err *err)
{
	static const char sign[] = "\u00b1";
	char *plus_minus = strstr(s, "+/-"), *rest = NULL;
	struct quantity q, u;
	struct err other;

	*ret_expanded = NAN;
	if (plus_minus) {
		rest = plus_minus + 3;
	} else {
		plus_minus = strstr(s, sign);
		rest = plus_minus ? plus_minus + sizeof sign - 1 : NULL;
	}
	if (plus_minus)
		*plus_minus = '\0';
	if (*unit == UNIT_ANY && num_parse(s, UNIT_NONE, &q, &other) == 0)
		*unit = UNIT_NONE;
	else if (num_parse(s, *unit == UNIT_NONE ? UNIT_NONE : UNIT_ANY, &q, err) < 0)
		return -1;
	if (*unit == UNIT_ANY)
		*unit = q.unit;
	if (q.unit != *unit)
		return err_set(err, ERR_INPUT, "one in %s, the other in %s", unit_symbol(*unit),
		               unit_symbol(q.unit));
	if (fabs(q.value) > (unit_is_level(*unit) ? level_most : value_most))
		return err_set(err, ERR_RANGE, "nothing reads that");
	*ret_value = q.value;
	if (!rest)
		return 0;
	if (num_parse(rest, UNIT_PERCENT, &u, &other) == 0 && strchr(rest, '%')) {
		/* of a level: of its volts */
		*ret_expanded = unit_is_level(*unit)    ? 20 * log10(1 + u.value)
		                : *unit == UNIT_PERCENT ? u.value
		                                        : u.value * fabs(q.value);
	} else {
		if (num_parse(rest, *unit == UNIT_DBM ? UNIT_DECIBEL : *unit, &u, err) < 0)
			return -1;
		*ret_expanded = u.value;
	}
	if (!(*ret_expanded > 0) || *ret_expanded > value_most)
		return err_set(err, ERR_RANGE,
		               "an uncertainty lies above zero: leave it out when "
		               "it is not known");
	return 0;
}

static const char *print_value(char dst[SHOWN_MAX], double value, enum unit unit)
{
	(void)num_print_unit(dst, SHOWN_MAX, value, unit, 5);
	return dst;
}

static const char *last_other(const struct entry *entries, size_t n)
{
	const struct entry *e = entry_last(entries, n, ENTRY_COMPARE, NULL);

	return e ? e->note : "";
}

/* The newest comparison of a quantity, named with its unit or without; NULL: there is none. */
static const struct entry *newest_of(const struct entry *entries, size_t n, const char *quantity)
{
	while (n > 0) {
		const struct entry *e = &entries[--n];
		char name[ENTRY_SUBJECT_MAX];

		if (e->kind != ENTRY_COMPARE)
			continue;
		(void)compare_unit(e->subject, name, sizeof name);
		if (text_same(e->subject, quantity) || text_same(name, quantity))
			return e;
	}
	return NULL;
}

static enum entry_line understand_drop(const struct entry *entries, size_t n, const char *quantity,
                                       struct entry_draft *ret, char *echo)
{
	const struct entry *e = newest_of(entries, n, quantity);

	if (!e || is_drop(e))
		return typed_say(echo, ENTRY_LINE_WRONG, "drop which? No comparison of `%.60s` %s",
		                 quantity, e ? "is left" : "is kept");
	(void)snprintf(ret->subject, sizeof ret->subject, "%s", e->subject);
	(void)snprintf(ret->word, sizeof ret->word, "%s", dropped_word);
	(void)snprintf(ret->note, sizeof ret->note, "%s", last_other(entries, n));
	return typed_say(echo, ENTRY_LINE_TAKEN,
	                 "%s: dropped, does not count any more", e->subject);
}

enum entry_line compare_understand(const struct entry *entries, size_t n, const char *line,
                                   struct entry_draft *ret, char *echo)
{
	char text[ENTRY_LINE_MAX], a_text[SHOWN_MAX], b_text[SHOWN_MAX];
	char *name, *values, *second, *note;
	enum unit unit = UNIT_ANY;
	double *number = ret->entry.number;
	struct compare_result result;
	struct err err;

	if (strlen(line) >= sizeof text)
		return typed_say(echo, ENTRY_LINE_WRONG, "longer than %d bytes",
		                 ENTRY_LINE_MAX - 1);
	(void)snprintf(text, sizeof text, "%s", line);
	values = strchr(text, ':');
	name = trim(text);
	if (!values && strncmp(name, "drop ", 5) == 0)
		return understand_drop(entries, n, trim(name + 5), ret, echo);
	if (!values)
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "what was compared? `output: 1.02 V +/- 2 %%, 1.00 V +/- 1 %%`");
	*values++ = '\0';
	name = trim(text);
	if (!*name || strlen(name) > ENTRY_SUBJECT_MAX - UNIT_WORD_MAX)
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "before the colon stands what was compared, in up to %d bytes",
		                 ENTRY_SUBJECT_MAX - UNIT_WORD_MAX);
	if (holds_value(name))
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "a number and a comma before the colon: the quantity's name comes "
		                 "first, then the values: `gain: 1.02, 1.00`");
	if (next_comma(values, &second, &err) < 0)
		return typed_say(echo, ENTRY_LINE_WRONG, "%.400s", err.text);
	if (!second)
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "two values, a comma between: this unit's, then the other's");
	*second++ = '\0';
	if (next_comma(second, &note, &err) < 0)
		return typed_say(echo, ENTRY_LINE_WRONG, "%.400s", err.text);
	if (note)
		*note++ = '\0';
	if (read_value(trim(values), &unit, &number[0], &number[1], &err) < 0 ||
	    read_value(trim(second), &unit, &number[2], &number[3], &err) < 0)
		return typed_say(echo, ENTRY_LINE_WRONG, "%.400s", err.text);

	(void)snprintf(ret->subject, sizeof ret->subject, "%s%s%s", name,
	               unit == UNIT_NONE ? "" : " ", unit_symbol(unit));
	(void)snprintf(ret->note, sizeof ret->note, "%s",
	               note ? trim(note) : last_other(entries, n));
	compare_values(number[0], number[1], number[2], number[3],
	               compare_matters(unit, number[2], compare_matters_share), &result);
	return typed_say(echo, ENTRY_LINE_TAKEN, "%s: %s against %s: %s", name,
	                 print_value(a_text, number[0], unit), print_value(b_text, number[2], unit),
	                 compare_verdict_word(result.verdict));
}
