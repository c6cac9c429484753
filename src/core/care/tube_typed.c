/* core/care/tube_typed.c - a line typed at a tube's place, understood */
#include "mainstair/core/tube_test.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/care/typed_line.h"

static const char *const good_words[] = {"good", "ok", "strong", "fine", NULL};
static const char *const weak_words[] = {"weak", "low", "tired", NULL};
static const char *const bad_words[] = {"bad", "dead", NULL};
static const char *const short_words[] = {"shorted", "short", NULL};
static const char *const withdraw_words[] = {"not tested", "not-tested", "untested", "undo", NULL};
/* What is wrong says how bad it is; the words are the note. */
static const char *const short_notes[] = {"leaky", "leak", "leakage", NULL};
static const char *const bad_notes[] = {"gassy", "gas", "open", "no heater", "burnt out", NULL};
static const char *const weak_notes[] = {"microphonic", "noisy", NULL};
static const char *const dark_words[] = {"no strike", "does not strike", "dark", "no glow", NULL};
static const char *const strike_words[] = {"strikes at", "strikes", "strike", NULL};
static const char *const hold_words[] = {"holds at", "holds", "hold", "and holds", NULL};
/* As testers are marked; a per cent is of a new one. */
static const char *const figure_units[] = {"%",        "umho",      "\u00b5mho", "\u03bcmho",
                                           "micromho", "micromhos", "uS",        "\u00b5S",
                                           "\u03bcS",  "mS",        "mA/V",      "mA"};
/* More than any new tube shows. */
static const double most_share = 2.0;

/* A regulator's row for the judge, and what was read from the line so far. */
struct reading {
	const struct tube_place *place;
	struct entry_draft *draft;
	char *echo;
	double figure, of, strikes, holds;
	char unit[16];
};

static void make(struct reading *r, enum tube_result result, const char *note)
{
	struct entry_draft *d = r->draft;

	entry_draft_init(d, ENTRY_TUBE);
	typed_put(d->subject, sizeof d->subject, r->place->place);
	typed_put(d->word, sizeof d->word, tube_word(result));
	/* per cent are told by the figure that a new one has */
	if (r->unit[0] && strcmp(r->unit, "%") != 0)
		(void)snprintf(d->note, sizeof d->note, "%s%s%.400s", r->unit, *note ? " " : "",
		               note);
	else
		typed_put(d->note, sizeof d->note, note);
	d->entry.number[0] = r->figure;
	d->entry.number[1] = r->of;
	d->entry.number[2] = r->strikes;
	d->entry.number[3] = r->holds;
}

/* --- numbers ------------------------------------------------------------------------------ */

/* A plain number at *at, blanks behind it skipped.  1 when there was one, 0 when there is none, -1
 * with the echo. */
static int scan_plain(struct reading *r, const char **at, double *ret)
{
	const size_t n = strspn(*at, "0123456789.,+-");
	char number[ENTRY_LINE_MAX];
	struct quantity q;
	struct err err = {0};

	if (n == 0 || !strpbrk(*at, "0123456789") || strcspn(*at, "0123456789") >= n)
		return 0;
	(void)snprintf(number, sizeof number, "%.*s", (int)n, *at);
	if (num_parse(number, UNIT_NONE, &q, &err) < 0) {
		(void)typed_say(r->echo, ENTRY_LINE_WRONG, "%s", err.text);
		return -1;
	}
	*ret = q.value;
	*at += n;
	*at += strspn(*at, " \t");
	return 1;
}

static bool skip_unit(const char **at, const char *unit)
{
	const size_t n = strlen(unit);

	if (strncmp(*at, unit, n) != 0 || ((*at)[n] && !strchr(" \t,;:", (*at)[n])))
		return false;
	*at += n;
	*at += strspn(*at, " \t,;:");
	return true;
}

/* "85 %", "1200 umho", "1200 of 1600 umho", "1200/1600".  As scan_plain(). */
static int scan_figure(struct reading *r, const char **at)
{
	static const char *const of_words[] = {"of", NULL};
	const int got = scan_plain(r, at, &r->figure);
	const char *rest;

	if (got <= 0)
		return got;
	rest = **at == '/' ? *at + 1 : typed_after(*at, of_words);
	if (rest) {
		int of;

		*at = rest + strspn(rest, " \t");
		of = scan_plain(r, at, &r->of);
		if (of < 0)
			return of;
		if (of == 0 || !(r->of > 0.0)) {
			(void)typed_say(r->echo, ENTRY_LINE_WRONG,
			                "of how much for a new one? As: 1200 of 1600 umho");
			return -1;
		}
	}
	for (size_t i = 0; i < sizeof figure_units / sizeof *figure_units; i++)
		if (skip_unit(at, figure_units[i])) {
			(void)snprintf(r->unit, sizeof r->unit, "%s", figure_units[i]);
			break;
		}
	if (strcmp(r->unit, "%") == 0 && isnan(r->of))
		r->of = 100.0;
	*at += strspn(*at, " \t,;:");
	if (r->figure < 0.0) {
		(void)typed_say(r->echo, ENTRY_LINE_WRONG, "a figure below zero");
		return -1;
	}
	return 1;
}

static int scan_volts(struct reading *r, const char **at, double *ret, const char *what)
{
	const int got = scan_plain(r, at, ret);

	if (got == 0)
		(void)typed_say(r->echo, ENTRY_LINE_WRONG,
		                "%s at how many volts? As: strikes 118 holds 105", what);
	if (got <= 0)
		return -1;
	if (!skip_unit(at, "V"))
		(void)skip_unit(at, "volts");
	*at += strspn(*at, " \t,;:");
	if (!(*ret > 0.0)) {
		(void)typed_say(r->echo, ENTRY_LINE_WRONG, "%s at zero volts or below", what);
		return -1;
	}
	return 1;
}

/* "strikes 118 holds 105", in either order, one of them or none.  How many, or -1. */
static int scan_glow(struct reading *r, const char **at)
{
	int n = 0;

	for (;;) {
		const char *rest = typed_after(*at, strike_words);
		double *ret = &r->strikes;

		if (!rest) {
			rest = typed_after(*at, hold_words);
			ret = &r->holds;
		}
		if (!rest)
			return n;
		*at = rest;
		if (scan_volts(r, at, ret, ret == &r->strikes ? "strikes" : "holds") < 0)
			return -1;
		n++;
	}
}

/* --- whole lines -------------------------------------------------------------------------- */

static const char *say_numbers(const struct reading *r, char out[96])
{
	char a[32], b[32];

	out[0] = '\0';
	if (!isnan(r->figure)) {
		(void)num_print_unit(a, sizeof a, r->figure, UNIT_NONE, 6);
		const char *gap = r->unit[0] ? " " : "";

		if (isnan(r->of) || strcmp(r->unit, "%") == 0)
			(void)snprintf(out, 96, ", %s%s%s", a, gap, r->unit);
		else
			(void)snprintf(out, 96, ", %s of %s%s%s", a,
			               typed_number(b, r->of, UNIT_NONE), gap, r->unit);
	} else if (!isnan(r->strikes) && !isnan(r->holds)) {
		(void)snprintf(out, 96, ", strikes at %s, holds %s",
		               typed_number(a, r->strikes, UNIT_VOLT),
		               typed_number(b, r->holds, UNIT_VOLT));
	} else if (!isnan(r->strikes)) {
		(void)snprintf(out, 96, ", strikes at %s", typed_number(a, r->strikes, UNIT_VOLT));
	} else if (!isnan(r->holds)) {
		(void)snprintf(out, 96, ", holds %s", typed_number(a, r->holds, UNIT_VOLT));
	}
	return out;
}

static enum entry_line take(struct reading *r, enum tube_result result, const char *note)
{
	char numbers[96];

	make(r, result, note);
	return typed_say(r->echo, ENTRY_LINE_TAKEN, "%s: %s%s%s%s", r->place->place,
	                 tube_word(result), say_numbers(r, numbers), *note ? ": " : "", note);
}

/* A figure that says otherwise than the word, or that no tester shows. */
static enum entry_line take_figure(struct reading *r, enum tube_result result, bool worded,
                                   const char *note)
{
	const double share = r->figure / r->of;
	char numbers[96];

	if (!worded && isnan(share))
		return typed_say(r->echo, ENTRY_LINE_WRONG,
		                 "good, weak or bad? Or of how much for a new one: 1200 of 1600 "
		                 "umho");
	if (!worded)
		result = share >= tube_good_share ? TUBE_GOOD : TUBE_WEAK;
	if (share > most_share) {
		make(r, result, note);
		return typed_say(r->echo, ENTRY_LINE_ASK, "%s%s? More than twice a new one",
		                 tube_word(result), say_numbers(r, numbers));
	}
	if (worded && ((result == TUBE_GOOD && share < tube_good_share) ||
	               (result >= TUBE_WEAK && share >= 1.0 && result != TUBE_SHORTED))) {
		make(r, result, note);
		return typed_say(r->echo, ENTRY_LINE_ASK,
		                 "%s%s? Makers passed new ones down to 66 %% of the book's figure",
		                 tube_word(result), say_numbers(r, numbers));
	}
	return take(r, result, note);
}

static enum entry_line take_glow(struct reading *r, enum tube_result result, bool worded,
                                 const char *note)
{
	const struct tube_place *p = r->place;
	const enum tube_result judged = tube_judge_volts(p, r->strikes, r->holds);
	char most[32], low[32], high[32], numbers[96];

	if (isnan(p->hold))
		return typed_say(r->echo, ENTRY_LINE_WRONG,
		                 "%s%s%s does not strike and hold: good, weak, bad or short",
		                 p->place, p->type[0] ? " " : "", p->type);
	(void)typed_number(most, p->strike_most, UNIT_VOLT);
	(void)typed_number(low, p->hold_low, UNIT_VOLT);
	(void)typed_number(high, p->hold_high, UNIT_VOLT);
	if (r->strikes < r->holds) {
		make(r, worded ? result : TUBE_WEAK, note);
		return typed_say(r->echo, ENTRY_LINE_ASK,
		                 "strikes below what it holds? The other way round it would be "
		                 "strikes %.4g holds %.4g",
		                 r->holds, r->strikes);
	}
	if (judged == TUBE_NOT_TESTED)
		return typed_say(r->echo, ENTRY_LINE_WRONG,
		                 "no regulator strikes or holds there; expected: strikes by %s, "
		                 "holds %s to %s",
		                 most, low, high);
	if (!worded)
		result = judged;
	if (r->strikes > 2.0 * p->strike_most || r->holds > 2.0 * p->hold ||
	    r->holds < 0.5 * p->hold || r->strikes < 0.5 * p->hold ||
	    (worded && result == TUBE_GOOD && judged != TUBE_GOOD)) {
		make(r, result, note);
		return typed_say(r->echo, ENTRY_LINE_ASK,
		                 "%s%s? Expected: strikes by %s, holds %s to %s", tube_word(result),
		                 say_numbers(r, numbers), most, low, high);
	}
	return take(r, result, note);
}

/* A regulator's two volts as they stand in the list: "168 / 151", "168 V, 151 V".  1 when there
 * were two, 0 with *at as it was, or -1. */
static int scan_pair(struct reading *r, const char **at)
{
	double first = (double)NAN, second = (double)NAN;
	const char *from = *at;
	int got = scan_plain(r, &from, &first);

	if (got <= 0)
		return got;
	(void)skip_unit(&from, "V");
	from += strspn(from, "/ \t,;");
	got = scan_plain(r, &from, &second);
	if (got <= 0)
		return got;
	(void)skip_unit(&from, "V");
	r->strikes = first;
	r->holds = second;
	*at = from;
	return 1;
}

/* Words that are result and note at once. */
static bool telling_words(const char *line, enum tube_result *ret)
{
	*ret = typed_after(line, short_notes)  ? TUBE_SHORTED
	       : typed_after(line, bad_notes)  ? TUBE_BAD
	       : typed_after(line, weak_notes) ? TUBE_WEAK
	                                       : TUBE_NOT_TESTED;
	return *ret != TUBE_NOT_TESTED;
}

static const char *result_words(const char *line, enum tube_result *ret)
{
	static const struct {
		const char *const *words;
		enum tube_result result;
	} rows[] = {
	        {good_words, TUBE_GOOD},
	        {weak_words, TUBE_WEAK},
	        {bad_words, TUBE_BAD},
	        {short_words, TUBE_SHORTED},
	        {withdraw_words, TUBE_NOT_TESTED},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		const char *rest = typed_after(line, rows[i].words);

		*ret = rows[i].result;
		if (rest)
			return rest;
	}
	*ret = TUBE_NOT_TESTED;
	return NULL;
}

enum entry_line tube_understand(const struct tube_place *place, const char *line,
                                struct entry_draft *ret, char *echo)
{
	struct reading r = {.place = place,
	                    .draft = ret,
	                    .echo = echo,
	                    .figure = (double)NAN,
	                    .of = (double)NAN,
	                    .strikes = (double)NAN,
	                    .holds = (double)NAN};
	char text[ENTRY_LINE_MAX];
	enum tube_result result;
	const char *at, *rest;
	int figure, glow;

	if (!typed_copy(text, line))
		return typed_say(echo, ENTRY_LINE_WRONG, "too long: say it shorter");
	rest = typed_after(text, dark_words);
	if (rest && isnan(place->hold))
		return typed_say(echo, ENTRY_LINE_WRONG,
		                 "%s is no gas regulator: good, weak, bad or short", place->place);
	if (rest)
		return take(&r, TUBE_BAD, text);
	if (telling_words(text, &result))
		return take(&r, result, text);
	rest = result_words(text, &result);
	if (rest && (result == TUBE_NOT_TESTED || result == TUBE_SHORTED))
		return take(&r, result, rest);
	at = rest ? rest : text;
	glow = scan_glow(&r, &at);
	if (glow < 0)
		return ENTRY_LINE_WRONG;
	if (glow == 0 && !isnan(place->hold))
		glow = scan_pair(&r, &at);
	if (glow < 0)
		return ENTRY_LINE_WRONG;
	if (glow > 0)
		return take_glow(&r, result, rest != NULL, at);
	figure = scan_figure(&r, &at);
	if (figure < 0)
		return ENTRY_LINE_WRONG;
	if (figure > 0)
		return take_figure(&r, result, rest != NULL, at);
	if (rest)
		return take(&r, result, at);
	return typed_say(
	        echo, ENTRY_LINE_WRONG,
	        isnan(place->hold)
	                ? "type good, weak, bad or short, with a figure if there is one: good 85 %%"
	                : "type good, weak, bad or short, or its volts: strikes 118 holds 105");
}
