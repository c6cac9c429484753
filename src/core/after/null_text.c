/*
 * core/after/null_text.c - what a null hunt says, and typed lines understood
 */
#include "mainstair/core/null_hunt.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/care/typed_line.h"
#include "mainstair/base/text.h"

enum { SHOWN_MAX = 48 };

/* From one turn to the next no reading goes up or down so much, or it is a slip. */
static const double slip_ratio = 30;
/* Beyond it nothing is believed. */
static const double value_most = 1e12;
static const double level_most = 1e3;

/* ---- for people ---- */

const char *null_print(const struct null_hunt *hunt, double indicated, char *dst, size_t size)
{
	const struct profile_null *null = hunt->profile;
	size_t n = num_print_unit(dst, size, indicated / (null ? null->scale : 1), UNIT_NONE, 4);

	if (null && null->written[0] && n < size)
		(void)snprintf(dst + n, size - n, " %s", null->written);
	return dst;
}

static void add(char *dst, size_t size, const char *format, ...)
        __attribute__((format(printf, 3, 4)));

static void add(char *dst, size_t size, const char *format, ...)
{
	const size_t n = strlen(dst);
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(dst + n, size - n, format, ap);
	va_end(ap);
}

/* "41 %" of a change. */
static const char *print_share(double change, char dst[SHOWN_MAX])
{
	(void)num_print_unit(dst, SHOWN_MAX, change, UNIT_PERCENT, 2);
	return dst;
}

const char *null_advice(const struct null_hunt *hunt, char *dst, size_t size)
{
	char best[SHOWN_MAX], share[SHOWN_MAX], below[SHOWN_MAX];
	const double change =
	        hunt->n_rounds > 0 ? hunt->round[hunt->n_rounds - 1].change : (double)NAN;

	dst[0] = '\0';
	if (hunt->entries > 0)
		null_print(hunt, hunt->best, best, sizeof best);
	switch (hunt->state) {
	case NULL_TOO_FEW:
		add(dst, size,
		    "turn one control for the least reading, then the other, and enter "
		    "each");
		break;
	case NULL_FALLING:
		add(dst, size, "still falling: the last round took it to %s of what it was",
		    print_share(change, share));
		if (hunt->rounds_to_go > 0)
			add(dst, size, "; at this rate %.0f more round%s to %s",
			    ceil(hunt->rounds_to_go), hunt->rounds_to_go > 1 ? "s" : "",
			    null_print(hunt, hunt->profile->below, below, sizeof below));
		break;
	case NULL_SLOWING:
		add(dst, size,
		    "the last round gained nothing that counts: one more, in smaller "
		    "steps");
		break;
	case NULL_WANDERING:
		add(dst, size, "the last %d rounds only wander: %s is as low as it goes here",
		    hunt->idle_rounds, best);
		break;
	case NULL_REACHED:
		add(dst, size, "reached: %s, where %s was asked", best,
		    null_print(hunt, hunt->profile->below, below, sizeof below));
		break;
	}
	if (hunt->entries > 0 && hunt->gained_last >= 0)
		add(dst, size, "; %s gained last", hunt->control[hunt->gained_last].name);
	return dst;
}

const char *null_way_back(const struct null_hunt *hunt, char *dst, size_t size)
{
	char number[SHOWN_MAX];

	dst[0] = '\0';
	for (int i = 0; i < hunt->n_controls; i++) {
		const struct null_control *c = &hunt->control[i];

		if (c->turns_since_best == 0)
			continue;
		add(dst, size, "%s%s", dst[0] ? ", " : "", c->name);
		if (isnan(c->best_position)) {
			add(dst, size, " (turned %d time%s since; where it stood was not told)",
			    c->turns_since_best, c->turns_since_best > 1 ? "s" : "");
			continue;
		}
		(void)num_print_unit(number, sizeof number, c->best_position, UNIT_NONE, 6);
		add(dst, size, " to %s", number);
		if (!isnan(c->position)) {
			(void)num_print_unit(number, sizeof number, c->position, UNIT_NONE, 6);
			add(dst, size, " (now %s)", number);
		}
	}
	return dst;
}

/* ---- typed lines ---- */

static bool is_letter(char c)
{
	return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static const char *skip_blanks(const char *s)
{
	return s + strspn(s, " \t");
}

/* The indication, bare or with a unit, to the end of s. */
static int read_indication(const struct null_hunt *hunt, const char *s, double *ret,
                           struct err *err)
{
	const struct profile_null *null = hunt->profile;
	struct quantity q;
	struct err other;

	if (!*s)
		return err_set(err, ERR_INPUT, "what does the meter read? `R5 3.2`");
	if (num_parse(s, UNIT_NONE, &q, &other) == 0) {
		q.value *= null ? null->scale : 1;
	} else if (null && null->unit != UNIT_NONE) {
		if (num_parse(s, null->unit, &q, err) < 0)
			return -1;
	} else {
		*err = other;
		return -1;
	}
	if (q.tol >= 0)
		return err_set(err, ERR_INPUT, "a tolerance means nothing here");
	if (fabs(q.value) > (null && unit_is_level(null->unit) ? level_most : value_most))
		return err_set(err, ERR_RANGE, "no meter reads that");
	*ret = q.value;
	return 0;
}

/* "41.5: 3.2 mV", "at 41.5 3.2 mV", or the indication alone. */
static int read_values(const struct null_hunt *hunt, const char *s, double *ret_position,
                       double *ret_indicated, struct err *err)
{
	const char *colon = strchr(s, ':'), *end;
	const bool at = strncmp(s, "at", 2) == 0 && strchr(" \t", s[2]) && s[2];
	char before[ENTRY_LINE_MAX];
	struct quantity q;

	*ret_position = NAN;
	if (at) {
		end = num_scan(s + 2, UNIT_NONE, &q, err);
		if (!end)
			return -1;
		*ret_position = q.value;
		return read_indication(hunt, skip_blanks(end + (*end == ':' ? 1 : 0)),
		                       ret_indicated, err);
	}
	if (!colon)
		return read_indication(hunt, s, ret_indicated, err);
	(void)snprintf(before, sizeof before, "%.*s", (int)(colon - s), s);
	if (num_parse(before, UNIT_NONE, &q, err) < 0)
		return -1;
	*ret_position = q.value;
	return read_indication(hunt, skip_blanks(colon + 1), ret_indicated, err);
}

static bool is_slip(const struct null_hunt *hunt, double indicated)
{
	double ratio;

	if (hunt->entries == 0)
		return false;
	if (hunt->profile && unit_is_level(hunt->profile->unit))
		return fabs(indicated - hunt->last) > 20 * log10(slip_ratio);
	ratio = fabs(indicated) / fabs(hunt->last);
	return ratio > slip_ratio || ratio < 1 / slip_ratio;
}

enum entry_line null_understand(const struct null_hunt *hunt, const char *line,
                                struct entry_draft *ret, char *echo)
{
	const char *s = skip_blanks(line), *name = NULL;
	char word[PROFILE_NAME_MAX], shown[SHOWN_MAX], last[SHOWN_MAX], position[SHOWN_MAX] = "";
	bool known = false;
	double indicated, at;
	struct err err;

	if (strlen(line) >= ENTRY_LINE_MAX)
		return typed_say(echo, ENTRY_LINE_WRONG, "longer than %d bytes",
		                 ENTRY_LINE_MAX - 1);
	if (is_letter(*s)) {
		const size_t n = strcspn(s, " \t");

		if (n >= sizeof word)
			return typed_say(echo, ENTRY_LINE_WRONG, "a control of more than %d bytes",
			                 PROFILE_NAME_MAX - 1);
		memcpy(word, s, n);
		word[n] = '\0';
		s = skip_blanks(s + n);
		name = word;
		for (int i = 0; i < hunt->n_controls; i++)
			if (text_same(hunt->control[i].name, word)) {
				name = hunt->control[i].name;
				known = true;
			}
		if (!known && hunt->n_controls == NULL_CONTROLS_MAX)
			return typed_say(echo, ENTRY_LINE_WRONG,
			                 "%.40s is none of the %d controls of this null", word,
			                 NULL_CONTROLS_MAX);
	} else if (hunt->n_controls >= 2) {
		name = hunt->control[(hunt->last_control + 1) % hunt->n_controls].name;
		known = true;
	} else {
		return typed_say(echo, ENTRY_LINE_WRONG, "which control was turned? `R5 3.2`");
	}
	if (read_values(hunt, s, &at, &indicated, &err) < 0)
		return typed_say(echo, ENTRY_LINE_WRONG, "%.400s", err.text);

	(void)snprintf(ret->subject, sizeof ret->subject, "%s", name);
	(void)snprintf(ret->word, sizeof ret->word, "%s", hunt->name);
	ret->entry.number[0] = indicated;
	ret->entry.number[1] = at;
	if (!isnan(at)) {
		(void)num_print_unit(last, sizeof last, at, UNIT_NONE, 6);
		(void)snprintf(position, sizeof position, " at %.40s", last);
	}
	null_print(hunt, indicated, shown, sizeof shown);
	if (!known && hunt->profile)
		return typed_say(echo, ENTRY_LINE_ASK, "%s is not in the profile: %s after "
		                 "turning %s%s?",
		                 name, shown, name, position);
	if (is_slip(hunt, indicated))
		return typed_say(echo, ENTRY_LINE_ASK, "%s after turning %s%s, after %s?", shown,
		                 name, position, null_print(hunt, hunt->last, last, sizeof last));
	return typed_say(echo, ENTRY_LINE_TAKEN, "%s after turning %s%s", shown, name, position);
}
