/*
 * io/profile_sheet.c - [calibration] and [nulls] of a profile
 *
 *     [calibration]
 *     warm_up    = 30 min
 *     reference  = +/- 0.5 %
 *     guard_band = U                       ; U | 4:1 | none
 *     P1 = dial: 1 kHz on 2 kHz, +/- 2 % + 1 % fs, by C12, resolution 10 Hz, reference +/- 0.1 %
 *
 *     [nulls]
 *     bridge = by R5 C7, below 2 mV        ; or `in mV`; or neither: the meter's own divisions
 */
#include "io/profile_grammar.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/profile_values.h"

#include "mainstair/base/text.h"

enum { PARTS_MAX = 8, TERMS_MAX = 6 };

/* No reading of this trade lies beyond. */
static const double value_most = 1e12;
static const double level_most = 300; /* dB */

static bool is_letter(char c)
{
	return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static const char *skip_blanks(const char *s)
{
	while (is_blank(*s))
		s++;
	return s;
}

/* Behind `word` when text begins with it as a word; else NULL. */
static const char *behind(const char *text, const char *word)
{
	char first[PROFILE_NAME_MAX];
	const size_t n = strcspn(text, " \t");

	if (n >= sizeof first)
		return NULL;
	memcpy(first, text, n);
	first[n] = '\0';
	return text_same(first, word) ? skip_blanks(text + n) : NULL;
}

/* Behind "+/-" or its one sign when text begins with it; else NULL. */
static const char *behind_plus_minus(const char *text)
{
	static const char sign[] = "\u00b1";

	if (strncmp(text, "+/-", 3) == 0)
		return skip_blanks(text + 3);
	if (strncmp(text, sign, sizeof sign - 1) == 0)
		return skip_blanks(text + sizeof sign - 1);
	return NULL;
}

/* ---- quantities that keep their unit as written ---- */

struct written {
	double value;
	enum unit unit;
	double scale;
	char word[PROFILE_UNIT_MAX];
};

/* "1 kHz", "50" (divisions of a dial), "-3 dB". */
static int read_written(const char *text, struct written *ret, struct err *err)
{
	const char *unit = text + strspn(text, "+-.0123456789");
	struct quantity q, one;
	struct err other;
	char with_unit[VALUE_MAX];

	if ((*unit == 'e' || *unit == 'E') && strspn(unit + 1, "+-0123456789") > 0)
		unit += 1 + strspn(unit + 1, "+-0123456789");
	unit = skip_blanks(unit);
	if (num_parse(text, *unit ? UNIT_ANY : UNIT_NONE, &q, err) < 0)
		return -1;
	if (q.tol >= 0)
		return err_set(err, ERR_INPUT, "a comma belongs before +/-");
	if (fabs(q.value) > (unit_is_level(q.unit) ? level_most : value_most))
		return err_set(err, ERR_RANGE, "`%.40s` cannot be", text);
	*ret = (struct written){.value = q.value, .unit = q.unit, .scale = 1};
	if (!*unit)
		return 0;
	(void)snprintf(with_unit, sizeof with_unit, "1 %s", unit);
	if (num_parse(with_unit, q.unit, &one, &other) < 0 || strlen(unit) >= sizeof ret->word)
		return err_set(err, ERR_INPUT, "`%.40s`: write number and unit, such as 4.7 kohm",
		               text);
	ret->scale = one.value;
	strcpy(ret->word, unit);
	return 0;
}

/* A quantity that must be of the point's own unit. */
static int read_same(const char *text, const struct profile_point *point, const char *what,
                     double *ret, struct err *err)
{
	struct written w;

	if (read_written(text, &w, err) < 0)
		return -1;
	/* a step between two levels is in dB */
	if (w.unit != point->unit &&
	    !(point->unit == UNIT_DBM && w.unit == UNIT_DECIBEL && !strcmp(what, "resolution")))
		return err_set(err, ERR_INPUT, "`%.40s`: a %s is in %s like what is applied", text,
		               what,
		               point->unit == UNIT_NONE ? "divisions (no unit)"
		                                        : unit_symbol(point->unit));
	*ret = w.value;
	return 0;
}

/* ---- tolerances ---- */

static int put_term(double *term, double value, const char *text, struct err *err)
{
	if (*term > 0)
		return err_set(err, ERR_INPUT, "`%.40s`: two terms of one kind", text);
	if (!(value > 0))
		return err_set(err, ERR_RANGE, "`%.40s`: a term lies above zero", text);
	*term = value;
	return 0;
}

/* "2 %", "1 % fs", "1 digit", "0.5 dB", "2 V"; point NULL: for all points, whatever their unit. */
static int read_term(const char *text, const struct profile_point *point,
                     struct profile_tolerance *t, struct err *err)
{
	static const struct range share = {UNIT_PERCENT, 0, 1, true};
	static const struct range count = {UNIT_NONE, 0, 1000, true};
	char first[VALUE_MAX];
	struct given given;
	struct written w;
	struct words words;
	const char *last;

	if (words_of(text, &words, err) < 0)
		return -1;
	last = words.word[words.n - 1];
	if (words.n > 1 && text_same(last, "fs")) {
		if (value_quantity(words_join(&words, 0, words.n - 1, first, sizeof first), &share,
		                   &given, err) < 0)
			return -1;
		return put_term(&t->full_scale, given.value, text, err);
	}
	if (words.n > 1 && (text_same(last, "digit") || text_same(last, "digits"))) {
		if (value_quantity(words_join(&words, 0, words.n - 1, first, sizeof first), &count,
		                   &given, err) < 0)
			return -1;
		return put_term(&t->digits, given.value, text, err);
	}
	if (read_written(text, &w, err) < 0)
		return -1;
	if (w.unit == UNIT_PERCENT) {
		if (w.value > 1)
			return err_set(err, ERR_RANGE, "`%.40s`: at most 100 %%", text);
		return put_term(&t->reading, w.value, text, err);
	}
	if (w.unit == UNIT_DECIBEL && w.value > 60)
		return err_set(err, ERR_RANGE, "`%.40s`: at most 60 dB", text);
	if (w.unit == UNIT_DECIBEL)
		return put_term(point && unit_is_level(point->unit) ? &t->absolute : &t->decibel,
		                w.value, text, err);
	if (point && w.unit == point->unit && w.unit != UNIT_DBM)
		return put_term(&t->absolute, w.value, text, err);
	if (!point)
		return err_set(err, ERR_INPUT,
		               "`%.40s`: for all points in %% or dB; else behind "
		               "each point",
		               text);
	return err_set(err, ERR_INPUT, "`%.40s`: in %%, %% fs, digits, dB%s%s", text,
	               unit_is_level(point->unit) ? "" : " or ",
	               unit_is_level(point->unit) ? ""
	               : point->unit == UNIT_NONE ? "divisions (no unit)"
	                                          : unit_symbol(point->unit));
}

/* "2 % + 1 % fs + 1 digit", what stood before it taken off. */
static int read_tolerance(const char *text, const struct profile_point *point,
                          struct profile_tolerance *ret, struct err *err)
{
	char copy[VALUE_MAX], *s = copy;
	struct profile_tolerance t = {.given = true};

	(void)snprintf(copy, sizeof copy, "%s", text);
	for (int n = 0; s; n++) {
		char *plus = strchr(s, '+'), *end;

		if (plus)
			*plus = '\0';
		s += strspn(s, " \t");
		for (end = s + strlen(s); end > s && is_blank(end[-1]);)
			*--end = '\0';
		if (!*s || n == TERMS_MAX)
			return err_set(err, ERR_INPUT,
			               "a tolerance is written `+/- 2 %% + 1 %% fs + 1 digit`");
		if (read_term(s, point, &t, err) < 0)
			return -1;
		s = plus ? plus + 1 : NULL;
	}
	if (t.decibel > 0 && t.reading + t.full_scale + t.digits + t.absolute > 0)
		return err_set(err, ERR_INPUT, "decibels of what is not in dB stand alone");
	*ret = t;
	return 0;
}

/* Does every term of it have what it is a share of? */
static int check_terms(const struct profile_point *point, const struct profile_tolerance *t,
                       struct err *err)
{
	if (t->full_scale > 0 && isnan(point->full_scale))
		return err_set(err, ERR_INPUT, "%% fs needs the full scale: `1 kHz on 2 kHz, ...`");
	if (t->digits > 0 && isnan(point->resolution))
		return err_set(err, ERR_INPUT,
		               "digits need the step of one: `..., resolution 10 Hz`");
	/* nought itself may be known exactly: a shorted input */
	if (t == &point->tolerance && !unit_is_level(point->unit) && !(fabs(point->applied) > 0) &&
	    !(t->full_scale + t->digits + t->absolute > 0))
		return err_set(err, ERR_INPUT,
		               "%s of zero is zero: add a term in %% fs, "
		               "digits or the unit",
		               t->decibel > 0 ? "a ratio" : "a share");
	return 0;
}

/* ---- points ---- */

/* "dial: 1 kHz on 2 kHz" */
static int read_applied(char *text, struct profile_point *point, struct err *err)
{
	char *colon = strchr(text, ':'), *on = NULL;
	struct written applied, full;

	if (colon) {
		char *end = colon;

		while (end > text && is_blank(end[-1]))
			end--;
		*end = '\0';
		if (!*text || strlen(text) >= sizeof point->function)
			return err_set(err, ERR_INPUT,
			               "before the colon stands a function of up to %zu bytes: "
			               "`dial: 1 kHz`",
			               sizeof point->function - 1);
		strcpy(point->function, text);
		text = colon + 1 + strspn(colon + 1, " \t");
	}
	for (char *s = text; (s = strstr(s, "on")) != NULL; s++)
		if (s > text && is_blank(s[-1]) && is_blank(s[2]))
			on = s;
	if (on) {
		*on = '\0';
		for (char *end = on; end > text && is_blank(end[-1]);)
			*--end = '\0';
	}
	if (read_written(text, &applied, err) < 0)
		return -1;
	point->applied = applied.value;
	point->unit = applied.unit;
	point->scale = applied.scale;
	strcpy(point->written, applied.word);
	if (!on)
		return 0;
	if (read_written(on + 2 + strspn(on + 2, " \t"), &full, err) < 0)
		return -1;
	if (full.unit != point->unit)
		return err_set(err, ERR_INPUT,
		               "the range behind `on` is in %s like what is applied",
		               point->unit == UNIT_NONE ? "divisions (no unit)"
		                                        : unit_symbol(point->unit));
	if (!unit_is_level(full.unit) && !(full.value > 0))
		return err_set(err, ERR_RANGE, "a range lies above zero");
	if (unit_is_level(full.unit) ? point->applied > full.value
	                             : fabs(point->applied) > full.value)
		return err_set(err, ERR_RANGE, "what is applied lies beyond the range behind `on`");
	point->full_scale = full.value;
	return 0;
}

static int copy_control(const char *text, struct profile_point *point, struct err *err)
{
	if (!*text || strlen(text) >= sizeof point->control)
		return err_set(err, ERR_INPUT,
		               "behind `by` stands a control of up to %zu bytes: "
		               "`by C12`",
		               sizeof point->control - 1);
	if (point->control[0])
		return err_set(err, ERR_INPUT, "two controls: one is turned for a point");
	strcpy(point->control, text);
	return 0;
}

/* One part behind what is applied. */
static int read_part(const char *text, struct profile_point *point, struct err *err)
{
	const char *rest = behind_plus_minus(text);

	if (rest) {
		if (point->tolerance.given)
			return err_set(err, ERR_INPUT,
			               "two tolerances: the reference's is written "
			               "`reference +/- 0.1 %%`");
		return read_tolerance(rest, point, &point->tolerance, err);
	}
	if ((rest = behind(text, "by")) != NULL)
		return copy_control(rest, point, err);
	if ((rest = behind(text, "resolution")) != NULL) {
		if (!isnan(point->resolution))
			return err_set(err, ERR_INPUT, "two resolutions");
		if (read_same(rest, point, "resolution", &point->resolution, err) < 0)
			return -1;
		if (!(point->resolution > 0))
			return err_set(err, ERR_RANGE, "a resolution lies above zero");
		return 0;
	}
	if ((rest = behind(text, "reference")) != NULL) {
		rest = behind_plus_minus(rest);
		if (!rest)
			return err_set(err, ERR_INPUT, "is written `reference +/- 0.1 %%`");
		if (point->reference.given)
			return err_set(err, ERR_INPUT, "two accuracies of the reference");
		if (read_tolerance(rest, point, &point->reference, err) < 0)
			return -1;
		if (point->reference.digits > 0)
			return err_set(err, ERR_INPUT,
			               "digits of the reference: write them in its "
			               "unit");
		return 0;
	}
	return err_set(err, ERR_INPUT,
	               "`%.40s` is not understood: behind what is applied go `+/- 2 %%`, `by "
	               "C12`, `resolution 10 Hz`, `reference +/- 0.1 %%`",
	               text);
}

static int read_point(const struct ini_entry *e, struct profile_point *point, struct err *err)
{
	static const char *const taken[] = {"found", "as-found", "adjusted",
	                                    "left",  "as-left",  "at"};
	char text[VALUE_MAX], *parts[PARTS_MAX];
	int n;

	for (size_t i = 0; i < sizeof taken / sizeof taken[0]; i++)
		if (text_same(e->key, taken[i]))
			return err_set(err, ERR_INPUT,
			               "is a word that is typed at the sheet: give "
			               "the point another name");
	if (!is_letter(e->key[0]))
		return err_set(err, ERR_INPUT, "a point's name begins with a letter, as P1");
	(void)snprintf(text, sizeof text, "%s", e->value);
	n = value_list(text, false, parts, PARTS_MAX, err);
	if (n < 0 || read_applied(parts[0], point, err) < 0)
		return -1;
	for (int i = 1; i < n; i++)
		if (read_part(parts[i], point, err) < 0)
			return -1;
	if (!point->tolerance.given)
		return err_set(err, ERR_INPUT,
		               "a point is written `dial: 1 kHz on 2 kHz, +/- 2 %% + 1 %% fs`: the "
		               "tolerance is missing");
	if (check_terms(point, &point->tolerance, err) < 0)
		return -1;
	return point->reference.given ? check_terms(point, &point->reference, err) : 0;
}

static void complain(struct profile_reader *r, const struct ini_entry *e, const struct err *err)
{
	complaints_add(r->c, e->line, r->doc->sections[e->section].title, e->key, "%s", err->text);
}

static int read_rule(struct profile_reader *r, const struct ini_entry *e, struct err *err)
{
	static const struct {
		const char *word;
		enum guard_band rule;
	} rules[] = {
	        {"U", GUARD_BAND_U}, {"4:1", GUARD_BAND_FOUR_TO_ONE}, {"none", GUARD_BAND_NONE}};

	for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
		if (text_same(rules[i].word, e->value)) {
			r->p->guard_band = rules[i].rule;
			return 0;
		}
	return err_set(err, ERR_INPUT, "`%.40s` is none of: U, 4:1, none", e->value);
}

/* The accuracy that holds for all points without their own. */
static int read_common(const struct ini_entry *e, struct profile_tolerance *ret, struct err *err)
{
	const char *rest = behind_plus_minus(e->value);

	if (!rest)
		return err_set(err, ERR_INPUT, "is written `+/- 0.5 %%`");
	if (read_tolerance(rest, NULL, ret, err) < 0)
		return -1;
	if (ret->digits > 0)
		return err_set(err, ERR_INPUT,
		               "digits of the reference: say them behind each "
		               "point, in its unit");
	return 0;
}

static void share_reference(struct profile_reader *r, const struct ini_entry *e,
                            const struct profile_tolerance *common)
{
	for (int i = 0; i < r->p->n_points; i++) {
		struct profile_point *point = &r->p->points[i];
		struct err err;

		/* a point with faults of its own has no tolerance, and its complaint already */
		if (point->reference.given || !point->tolerance.given)
			continue;
		point->reference = *common;
		if (unit_is_level(point->unit)) {
			point->reference.absolute = common->decibel;
			point->reference.decibel = 0;
		}
		if (check_terms(point, &point->reference, &err) < 0)
			complaints_add(r->c, e->line, r->doc->sections[e->section].title, e->key,
			               "does not fit point %s: %s", point->name, err.text);
	}
}

static void add_point(struct profile_reader *r, const struct ini_entry *e)
{
	struct profile *p = r->p;
	struct profile_point *point;
	struct err err;

	if (p->n_points == PROFILE_POINTS_MAX) {
		(void)err_set(&err, ERR_RANGE, "more than %d points in one profile",
		              PROFILE_POINTS_MAX);
		complain(r, e, &err);
		return;
	}
	point = &p->points[p->n_points++];
	*point = (struct profile_point){
	        .scale = 1, .full_scale = NAN, .resolution = NAN, .line = e->line};
	strcpy(point->name, e->key);
	if (!e->refused && read_point(e, point, &err) < 0) {
		point->tolerance.given = false;
		complain(r, e, &err);
	}
}

static void read_calibration(struct profile_reader *r, int section)
{
	static const struct range warm_up = {UNIT_SECOND, 1, 86400, true};
	const struct ini_entry *reference = NULL;
	struct profile_tolerance common = {.given = false};

	for (int i = 0; i < r->doc->n_entries; i++) {
		const struct ini_entry *e = &r->doc->entries[i];
		struct err err;
		int result = 0;

		if (e->section != section)
			continue;
		if (text_same(e->key, "warm_up")) {
			if (!e->refused)
				result = value_quantity(e->value, &warm_up, &r->p->warm_up_s, &err);
		} else if (text_same(e->key, "guard_band")) {
			if (!e->refused)
				result = read_rule(r, e, &err);
		} else if (text_same(e->key, "reference")) {
			reference = e;
			if (!e->refused)
				result = read_common(e, &common, &err);
		} else {
			add_point(r, e);
		}
		if (result < 0)
			complain(r, e, &err);
	}
	if (common.given)
		share_reference(r, reference, &common);
	if (r->p->n_points == 0)
		complaints_add(r->c, r->doc->sections[section].line,
		               r->doc->sections[section].title, NULL,
		               "no point in it, such as `P1 = dial: 1 kHz, +/- 2 %%`");
}

/* ---- nulls ---- */

static int read_controls(const char *text, struct profile_null *null, struct err *err)
{
	struct words w;

	if (words_of(text, &w, err) < 0)
		return -1;
	if (w.n < 2 || w.n > PROFILE_NULL_CONTROLS_MAX)
		return err_set(err, ERR_INPUT, "a null is sought with 2 to %d controls: `by R5 C7`",
		               PROFILE_NULL_CONTROLS_MAX);
	for (int i = 0; i < w.n; i++) {
		if (strlen(w.word[i]) >= PROFILE_NAME_MAX)
			return err_set(err, ERR_RANGE, "a control of more than %d bytes",
			               PROFILE_NAME_MAX - 1);
		if (!is_letter(w.word[i][0]))
			return err_set(err, ERR_INPUT,
			               "`%.40s`: a control's name begins with a "
			               "letter",
			               w.word[i]);
		for (int k = 0; k < i; k++)
			if (text_same(w.word[i], w.word[k]))
				return err_set(err, ERR_INPUT, "names %s twice", w.word[i]);
		strcpy(null->control[i], w.word[i]);
	}
	null->n_controls = w.n;
	return 0;
}

/* "by R5 C7", "by R5 C7, in mV", "by R5 C7, below 2 mV" */
static int read_null(const struct ini_entry *e, struct profile_null *null, struct err *err)
{
	char text[VALUE_MAX], one[VALUE_MAX], *parts[2];
	const char *rest;
	struct written w = {.scale = 1};
	int n;

	(void)snprintf(text, sizeof text, "%s", e->value);
	n = value_list(text, false, parts, 2, err);
	if (n < 0)
		return -1;
	rest = behind(parts[0], "by");
	if (!rest)
		return err_set(err, ERR_INPUT, "is written `by R5 C7` or `by R5 C7, below 2 mV`");
	if (read_controls(rest, null, err) < 0)
		return -1;
	if (n == 1)
		return 0;
	if ((rest = behind(parts[1], "in")) != NULL) {
		(void)snprintf(one, sizeof one, "1 %s", rest);
		if (!*rest || read_written(one, &w, err) < 0)
			return err_set(err, ERR_INPUT, "behind `in` stands a unit, such as mV");
	} else if ((rest = behind(parts[1], "below")) != NULL) {
		if (read_written(rest, &w, err) < 0)
			return -1;
		if (!unit_is_level(w.unit) && !(w.value > 0))
			return err_set(err, ERR_RANGE, "nothing reads below zero");
		null->below = w.value;
	} else {
		return err_set(err, ERR_INPUT,
		               "`%.40s`: behind the controls goes `below 2 mV` or "
		               "`in mV`",
		               parts[1]);
	}
	null->unit = w.unit;
	null->scale = w.scale;
	strcpy(null->written, w.word);
	return 0;
}

static void read_nulls(struct profile_reader *r, int section)
{
	struct profile *p = r->p;

	for (int i = 0; i < r->doc->n_entries; i++) {
		const struct ini_entry *e = &r->doc->entries[i];
		struct profile_null *null;
		struct err err;

		if (e->section != section)
			continue;
		if (p->n_nulls == PROFILE_NULLS_MAX) {
			(void)err_set(&err, ERR_RANGE, "more than %d nulls in one profile",
			              PROFILE_NULLS_MAX);
			complain(r, e, &err);
			return;
		}
		null = &p->nulls[p->n_nulls++];
		*null = (struct profile_null){.scale = 1, .below = NAN, .line = e->line};
		strcpy(null->name, e->key);
		if (!e->refused && read_null(e, null, &err) < 0)
			complain(r, e, &err);
	}
}

void profile_sheet(struct profile_reader *r)
{
	const int calibration = ini_find_section(r->doc, "calibration", "");
	const int nulls = ini_find_section(r->doc, "nulls", "");

	if (calibration >= 0)
		read_calibration(r, calibration);
	if (nulls >= 0)
		read_nulls(r, nulls);
}
