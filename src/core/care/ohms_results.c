/* core/care/ohms_results.c - ohm readings as typed, as judged, as handed to the model */
#include "mainstair/core/ohms_results.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/care/typed_line.h"

/* Beyond any hand-held multimeter. */
static const double most_ohms = 1e9;
/* network_measure() refuses what lies further from the number it replaces. */
static const double plausible_factor = 3.0;

/* --- what was read ------------------------------------------------------------------------ */

/* The greater half over the smaller; the two halves stand ahead of their balance in the list. */
static void work_out_balance(const struct ohms_list *list, int b, struct ohms_state *states)
{
	double halves[2];
	int n = 0;

	for (int i = 0; i < b && n < 2; i++)
		if (list->check[i].kind == OHMS_HALF &&
		    list->check[i].index == list->check[b].index)
			halves[n++] = states[i].reading;
	states[b].worked_out = true;
	states[b].reading = (double)NAN;
	/* an open half is a finding of its own and has no ratio; so has one of nought */
	if (n == 2 && isfinite(halves[0]) && isfinite(halves[1]) &&
	    fmin(halves[0], halves[1]) > 0.0)
		states[b].reading = fmax(halves[0], halves[1]) / fmin(halves[0], halves[1]);
	states[b].verdict = ohms_judge(&list->check[b], states[b].reading);
}

void ohms_states(const struct ohms_list *list, const struct entry *entries, size_t n,
                 struct ohms_state ret[OHMS_CHECKS_MAX])
{
	for (int i = 0; i < list->n; i++)
		ret[i] = (struct ohms_state){.reading = (double)NAN};
	for (size_t e = 0; e < n; e++) {
		if (entries[e].kind != ENTRY_OHMS)
			continue;
		for (int i = 0; i < list->n; i++)
			if (strcmp(list->check[i].what, entries[e].subject) == 0) {
				ret[i].entry = &entries[e];
				ret[i].reading = entries[e].number[0];
				ret[i].verdict = ohms_judge(&list->check[i], ret[i].reading);
			}
	}
	for (int i = 0; i < list->n; i++)
		if (list->check[i].kind == OHMS_BALANCE)
			work_out_balance(list, i, ret);
}

bool ohms_is_of_model(const struct ohms_check *check, double reading)
{
	return check->measured_as[0] && isfinite(reading) &&
	       ohms_judge(check, reading) == OHMS_PASS &&
	       reading > check->expected / plausible_factor &&
	       reading < check->expected * plausible_factor;
}

int ohms_measured(const struct ohms_list *list, const struct entry *entries, size_t n,
                  char words[][OHMS_WORDS_MAX], int max)
{
	struct ohms_state states[OHMS_CHECKS_MAX];
	int count = 0;

	ohms_states(list, entries, n, states);
	for (int i = 0; i < list->n && count < max; i++) {
		const struct ohms_check *c = &list->check[i];
		char number[32];

		if (!ohms_is_of_model(c, states[i].reading))
			continue;
		(void)num_print_unit(number, sizeof number, states[i].reading, UNIT_OHM, 9);
		(void)snprintf(words[count++], OHMS_WORDS_MAX, "%s %s", c->measured_as, number);
	}
	return count;
}

/* The kinds that can block have a word; of a rail, and of any other, it is what is read as far as
 * its name goes. */
const char *ohms_key(const struct ohms_check *check, char ret[OHMS_WHAT_MAX])
{
	static const char *const words[] = {
	        [OHMS_BOND] = "bond",       [OHMS_INSULATION] = "insulation",
	        [OHMS_PRIMARY] = "primary", [OHMS_STRING] = "string",
	        [OHMS_RAIL] = NULL,
	};
	const enum ohms_kind kind = check->kind;
	const char *word = kind < sizeof words / sizeof *words ? words[kind] : NULL;
	const char *end = strstr(check->what, " to ");

	if (word)
		(void)snprintf(ret, OHMS_WHAT_MAX, "%s", word);
	else
		(void)snprintf(ret, OHMS_WHAT_MAX, "%.*s",
		               (int)(end ? (size_t)(end - check->what) : strlen(check->what)),
		               check->what);
	return ret;
}

/* --- for people --------------------------------------------------------------------------- */

const char *ohms_say(const struct ohms_check *check, double reading, char out[32])
{
	if (isnan(reading))
		(void)snprintf(out, 32, "-");
	else if (isinf(reading))
		(void)snprintf(out, 32, "over-range");
	else if (reading > 0.0 && reading < 0.995 && check->kind != OHMS_BALANCE)
		/* as the meter shows it, not in milliohms */
		(void)snprintf(out + num_print(out, 24, reading, reading < 0.1 ? 3 : 2), 8, " ohm");
	else
		(void)num_print_unit(out, 32, reading,
		                     check->kind == OHMS_BALANCE ? UNIT_NONE : UNIT_OHM, 3);
	return out;
}

const char *ohms_say_range(const struct ohms_check *check, char out[OHMS_RANGE_MAX])
{
	char low[32], high[32];
	const char *unit;
	char *same;

	(void)ohms_say(check, check->low, low);
	(void)ohms_say(check, check->high, high);
	/* "15.3 to 19 ohm": a unit that both share is said once */
	unit = strchr(high, ' ');
	same = strchr(low, ' ');
	if (check->low > 0.0 && isfinite(check->high) && unit && same && strcmp(unit, same) == 0)
		*same = '\0';
	if (isinf(check->high))
		(void)snprintf(out, OHMS_RANGE_MAX, "%s%s", low,
		               isinf(check->low) ? "" : " or more");
	else if (check->low > 0.0)
		(void)snprintf(out, OHMS_RANGE_MAX, "%s to %s", low, high);
	else
		(void)snprintf(out, OHMS_RANGE_MAX, "%s or less", high);
	return out;
}

/* --- as typed ----------------------------------------------------------------------------- */

static void make(const struct ohms_check *check, double reading, const char *note,
                 struct entry_draft *ret)
{
	entry_draft_init(ret, ENTRY_OHMS);
	typed_put(ret->subject, sizeof ret->subject, check->what);
	typed_put(ret->note, sizeof ret->note, note);
	ret->entry.number[0] = reading;
}

static enum entry_line take(const struct ohms_check *check, double reading, const char *note,
                            struct entry_draft *ret, char *echo)
{
	const enum ohms_verdict verdict = ohms_judge(check, reading);
	char said[32], range[OHMS_RANGE_MAX];

	make(check, reading, note, ret);
	(void)ohms_say(check, reading, said);
	if (isnan(reading))
		return typed_say(echo, ENTRY_LINE_TAKEN, "%s: not read", check->what);
	if (verdict == OHMS_PASS)
		return typed_say(echo, ENTRY_LINE_TAKEN, "%s: %s, pass", check->what, said);
	return typed_say(echo, ENTRY_LINE_TAKEN, "%s: %s, %s: expected %s", check->what, said,
	                 ohms_verdict_word(verdict), ohms_say_range(check, range));
}

/* The last range of a hand-held multimeter that is met everywhere. */
static const double usual_most_ohms = 20e6;
/* So far outside, a slip is as likely as a finding. */
static const double far_factor = 10.0;

/* Out of range by ten times or more, and neither open nor nought. */
static bool is_far(const struct ohms_check *check, double reading)
{
	return isfinite(reading) && reading > 0.0 && ohms_judge(check, reading) != OHMS_PASS &&
	       (far_factor * reading <= check->low || reading >= far_factor * check->high);
}

/* Out of range, and in it with another prefix: more likely a slip.  A bare number may lack its k or
 * M; one with a prefix may have it too much, unless anything small passes anyway. */
static bool meant_otherwise(const struct ohms_check *check, double reading, bool bare, double *ret)
{
	static const double more[] = {1e3, 1e6}, less[] = {1e-3, 1e-6};

	for (int i = 0; i < 2; i++) {
		*ret = reading * (bare ? more[i] : less[i]);
		if (reading > 0.0 && (bare || check->low > 0.0) && *ret <= usual_most_ohms &&
		    ohms_judge(check, *ret) == OHMS_PASS)
			return true;
	}
	return false;
}

static enum entry_line take_number(const struct ohms_check *check, double reading, bool bare,
                                   const char *note, struct entry_draft *ret, char *echo)
{
	char said[32], other[32], range[OHMS_RANGE_MAX];
	double meant;

	(void)ohms_say(check, reading, said);
	make(check, reading, note, ret);
	if (reading > most_ohms)
		return typed_say(echo, ENTRY_LINE_ASK,
		                 "%s? No multimeter shows that; over-range is OL", said);
	if (ohms_judge(check, reading) != OHMS_PASS &&
	    meant_otherwise(check, reading, bare, &meant))
		return typed_say(echo, ENTRY_LINE_ASK, "%s? Expected %s; did you mean %s?", said,
		                 ohms_say_range(check, range), ohms_say(check, meant, other));
	/* a unit that was typed is meant */
	if (bare && is_far(check, reading))
		return typed_say(echo, ENTRY_LINE_ASK,
		                 "%s? Expected %s: that is ten times off, or more", said,
		                 ohms_say_range(check, range));
	return take(check, reading, note, ret, echo);
}

/* ">20M": the meter ends there. */
static enum entry_line take_beyond(const struct ohms_check *check, double least,
                                   struct entry_draft *ret, char *echo)
{
	char said[32], range[OHMS_RANGE_MAX], note[64];

	(void)ohms_say(check, least, said);
	(void)snprintf(note, sizeof note, "more than %s", said);
	if (least < check->low || (least <= check->high && isfinite(check->high)))
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "more than %s leaves it open: expected %s; read it on a higher "
		                 "range",
		                 said, ohms_say_range(check, range));
	return take(check, least, note, ret, echo);
}

/* A number with something behind it that is no unit: most likely a note. */
static bool note_follows(const char *text)
{
	const size_t n = strcspn(text, " \t");
	char head[ENTRY_LINE_MAX];
	struct quantity q;
	struct err err = {0};

	(void)snprintf(head, sizeof head, "%.*s", (int)n, text);
	return text[n] && num_parse(head, UNIT_OHM, &q, &err) == 0;
}

static int scan_ohms(const char *text, double *ret, char *echo)
{
	struct quantity q;
	struct err err = {0};

	if (num_parse(text, UNIT_OHM, &q, &err) < 0) {
		(void)typed_say(echo, ENTRY_LINE_WRONG, "%s%s", err.text,
		                note_follows(text) ? "; words go behind a `;`" : "");
		return -1;
	}
	if (q.tol >= 0.0) {
		(void)typed_say(echo, ENTRY_LINE_WRONG,
		                "a reading has no tolerance: the number alone");
		return -1;
	}
	if (q.value < 0.0) {
		(void)typed_say(echo, ENTRY_LINE_WRONG,
		                "below zero: a charge is left; discharge the capacitors and read "
		                "again");
		return -1;
	}
	*ret = q.value;
	return 0;
}

enum entry_line ohms_understand(const struct ohms_check *check, const char *line,
                                struct entry_draft *ret, char *echo)
{
	static const char *const withdraw_words[] = {"not read", "not-read", "undo", NULL};
	static const char *const over_words[] = {"ol",         "o.l",       "o.l.",   "0l",
	                                         "open",       "over",      "inf",    "infinite",
	                                         "over-range", "overrange", "\u221e", NULL};
	static const char *const more_words[] = {"more than", "over", "above", NULL};
	char text[ENTRY_LINE_MAX];
	const char *note = "";
	const char *rest;
	char *cut;
	double ohms;

	if (!typed_copy(text, line))
		return typed_say(echo, ENTRY_LINE_WRONG, "too long: the reading alone, as 2k2");
	if (check->kind == OHMS_BALANCE)
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "worked out from the two halves: type those");
	cut = strchr(text, ';');
	if (cut) {
		note = cut + 1 + strspn(cut + 1, " \t");
		while (cut > text && strchr(" \t", cut[-1]))
			cut--;
		*cut = '\0';
	}
	if (!text[0])
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "type what the meter reads, as 21.4, 2k2, 4M7 or OL");
	rest = typed_after(text, withdraw_words);
	if (rest && !*rest)
		return take(check, (double)NAN, note, ret, echo);
	rest = typed_after(text, over_words);
	if (rest && !*rest)
		return take(check, (double)INFINITY, note, ret, echo);
	rest = text[0] == '>' ? text + 1 : typed_after(text, more_words);
	if (rest) {
		if (scan_ohms(rest, &ohms, echo) < 0)
			return ENTRY_LINE_WRONG;
		return take_beyond(check, ohms, ret, echo);
	}
	if (scan_ohms(text, &ohms, echo) < 0)
		return ENTRY_LINE_WRONG;
	/* a mark or a unit was typed when anything but digits stands there */
	return take_number(check, ohms, text[strspn(text, "0123456789.+eE-")] == '\0', note, ret,
	                   echo);
}
