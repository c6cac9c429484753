/* core/care/desk_typed.c - a line typed at the re-forming desk, understood: see core/desk.h */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/care/typed_line.h"
#include "mainstair/core/desk.h"

static const char *const supply_words[] = { "supply", NULL };
static const char *const resistor_words[] = { "resistor", "series", NULL };
static const char *const rule_words[] = { "rule", NULL };
static const char *const limit_words[] = { "limit", "target", NULL };
static const char *const form_words[] = { "form to", "form", NULL };
static const char *const meter_words[] = { "meter", NULL };
static const char *const on_words[] = { "on", NULL };
static const char *const off_words[] = { "off", NULL };
static const char *const discharged_words[] = { "discharged", "shorted", NULL };
static const char *const replaced_words[] = { "replaced", NULL };
static const char *const accept_words[] = { "accept", "accepted", NULL };
static const char *const note_words[] = { "note", NULL };

/* What no capacitor tester and no re-forming supply gives. */
static const double volts_most = 5000.0, amps_most = 0.5;
/* Meters and resistors are not exact. */
static const double meter_share = 0.05;
/* Heat of the leakage inside the part, and the ceiling of the older rule: above either, and above
 * its own limit, it is asked about (common practice, no source). */
static const double heat_watts = 1.0, heat_amps = 10e-3;
/* So far above what was advised is no step: this ratio, and this share of rated volts. */
static const double jump_ratio = 1.25, jump_rated_share = 0.1;
/* A reading this many times the one before, or less, is more often a slip of the prefix. */
static const double slip_ratio = 100.0;

struct line {
	const struct desk_section *section;
	struct entry_draft *draft;
	char *echo;
};

static void draft(const struct line *l, enum entry_kind kind, const char *word)
{
	entry_draft_init(l->draft, kind);
	typed_put(l->draft->subject, sizeof l->draft->subject, l->section->capacitor->place);
	typed_put(l->draft->word, sizeof l->draft->word, word);
}

/* --- a quantity --------------------------------------------------------------------------- */

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* What one in the last written digit at `text` is worth; NAN where the writing does not tell. */
static double last_digit(const char *text, double value)
{
	double digits = 0.0; /* without the point: 350 for 3.50 */
	size_t n = strspn(text, " \t,;");

	for (; is_digit(text[n]) || text[n] == '.'; n++)
		if (text[n] != '.')
			digits = 10.0 * digits + (text[n] - '0');
	if (text[n] == 'e' || text[n] == 'E' || !(digits > 0.0))
		return (double)NAN;
	return value / digits;
}

/* A number without a unit, n bytes, read as if `unit` stood behind it. */
static bool scan_bare(const char *number, size_t n, const char *unit, enum unit own,
                      struct quantity *ret, struct err *err)
{
	char text[ENTRY_LINE_MAX + 8];

	while (n > 0 && strchr(" \t", number[n - 1]))
		n--;
	(void)snprintf(text, sizeof text, "%.*s %s", (int)n, number, unit);
	return num_scan(text, own, ret, err) != NULL;
}

/* One quantity at *at, with its unit, or of `own` and in `bare` when it had none.  false with the
 * echo. */
static bool scan(const struct line *l, const char **at, enum unit own, const char *bare,
                 const char *what, struct quantity *ret)
{
	struct err with_unit = { 0 }, without = { 0 };
	const char *end = num_scan(*at, UNIT_ANY, ret, &with_unit);

	if (!end) {
		end = num_scan(*at, UNIT_NONE, ret, &without);
		if (end && ret->tol < 0.0 &&
		    !scan_bare(*at, (size_t)(end - *at), bare, own, ret, &without))
			end = NULL;
	}
	if (!end) {
		(void)typed_say(l->echo, ENTRY_LINE_WRONG, "%s: %s", what, without.text);
		return false;
	}
	if (ret->tol >= 0.0) {
		(void)typed_say(l->echo, ENTRY_LINE_WRONG, "%s: without a tolerance", what);
		return false;
	}
	*at = end + strspn(end, ",;/ \t");
	return true;
}

/* The one quantity that a line ends with. */
static bool only(const struct line *l, const char *rest, enum unit unit, const char *bare,
                 const char *what, const char *as, double *ret)
{
	struct quantity q;

	if (!*rest) {
		(void)typed_say(l->echo, ENTRY_LINE_WRONG, "%s? As: %s", what, as);
		return false;
	}
	if (!scan(l, &rest, unit, bare, what, &q))
		return false;
	if (*rest || q.unit != unit) {
		(void)typed_say(l->echo, ENTRY_LINE_WRONG, "%s is one number. As: %s", what, as);
		return false;
	}
	if (!(q.value > 0.0)) {
		(void)typed_say(l->echo, ENTRY_LINE_WRONG, "%s must be above zero", what);
		return false;
	}
	*ret = q.value;
	return true;
}

/* --- a reading ---------------------------------------------------------------------------- */

/* The volts that the desk advised for this reading; NAN: it had no say. */
static double advised_volts(const struct desk_section *s, double volts, double amps)
{
	const struct reform_reading *last = s->n > 0 ? &s->reading[s->n - 1] : NULL;

	if (!s->judged)
		return (double)NAN;
	/* a new part, or one that is good as it is, is at full volts rightly */
	if (!last && (s->replaced || amps <= s->aim.limit_amps))
		return (double)NAN;
	/* the resistor gives volts back as the leakage falls: nothing was raised */
	if (last && s->series_told && volts + s->series_ohms * amps <=
	    (1.0 + meter_share) * (last->volts + s->series_ohms * last->amps) + 1.0)
		return (double)NAN;
	return s->step.order == REFORM_RAISE ? s->step.volts : last ? last->volts : (double)NAN;
}

static bool is_jump(const struct desk_section *s, double volts, double advised)
{
	return volts > jump_ratio * advised && volts > advised + jump_rated_share * s->aim.part.volts;
}

static enum entry_line question_jump(const struct line *l, const char *reading, double advised)
{
	const struct reform_step *step = &l->section->step;
	char limit[32], time[REFORM_WORDS_MAX];

	(void)typed_number(limit, advised, UNIT_VOLT);
	if (step->order == REFORM_RAISE)
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s, where the next step goes to %s: really? "
		                 "In steps it stays cool", reading, limit);
	if (step->order != REFORM_HOLD || !(step->hold_s > 0.0))
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s, where nothing was to go above %s yet: "
		                 "really? In steps it stays cool", reading, limit);
	reform_say_time(time, step->hold_s);
	return typed_say(l->echo, ENTRY_LINE_ASK, "%s, where %s was to be held for at least %s more: "
	                 "really? In steps it stays cool", reading, limit, time);
}

static enum entry_line question_reading(const struct line *l, double volts, double amps)
{
	const struct desk_section *s = l->section;
	const double surge = reform_surge_volts(&s->aim.part);
	const struct reform_reading *last = s->n > 0 ? &s->reading[s->n - 1] : NULL;
	const double advised = advised_volts(s, volts, amps);
	char v[32], a[32], limit[32];
	double most;

	(void)typed_number(v, volts, UNIT_VOLT);
	(void)typed_number(a, amps, UNIT_AMPERE);
	if (volts > surge)
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s is above the surge volts of this part "
		                 "(%s): really? Then volts off at once", v,
		                 typed_number(limit, surge, UNIT_VOLT));
	if (s->supply_told && volts > s->supply_volts * (1.0 + meter_share) + 1.0)
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s is more than the supply gives (%s): "
		                 "really?", v, typed_number(limit, s->supply_volts, UNIT_VOLT));
	most = (s->supply_volts * (1.0 + meter_share) + 1.0 - volts) / s->series_ohms;
	if (s->supply_told && s->series_told && amps > (1.0 + 2.0 * meter_share) * most + 1e-6)
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s at %s is more than supply and resistor "
		                 "can give (%s): really?", a, v,
		                 typed_number(limit, fmax(most, 0.0), UNIT_AMPERE));
	if (amps > amps_most)
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s would boil it: really? Bare amps are "
		                 "milliamps; write uA for microamps", a);
	if (last && s->on && amps > 0.0 && last->amps > 0.0 &&
	    fabs(volts - last->volts) <= 0.1 * last->volts &&
	    (amps > slip_ratio * last->amps || amps < last->amps / slip_ratio))
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s, where the last reading was %s: really? "
		                 "uA or mA?", a, typed_number(limit, last->amps, UNIT_AMPERE));
	if (!(amps <= s->aim.limit_amps) && (volts * amps > heat_watts || amps > heat_amps))
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s at %s heats the part with %s: really? Then "
		                 "volts down, and let it cool", a, v,
		                 typed_number(limit, volts * amps, UNIT_WATT));
	if (is_jump(s, volts, advised))
		return question_jump(l, v, advised);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "%s: %s, %s", s->capacitor->place, v, a);
}

static enum entry_line take_reading(const struct line *l, const char *text)
{
	double volts = (double)NAN, amps = (double)NAN, digit = (double)NAN;

	for (int i = 0; i < 2 && *text; i++) {
		const char *from = text;
		struct quantity q;
		const enum unit own = isnan(volts) ? UNIT_VOLT : UNIT_AMPERE;

		if (!scan(l, &text, own, own == UNIT_AMPERE ? "mA" : "V",
		          own == UNIT_AMPERE ? "amps" : "volts", &q))
			return ENTRY_LINE_WRONG;
		if (q.value < 0.0)
			return typed_say(l->echo, ENTRY_LINE_WRONG, "below zero: is the meter or the "
			                 "capacitor the wrong way round? A reversed one is not "
			                 "re-formed");
		if (q.unit == UNIT_VOLT && isnan(volts)) {
			volts = q.value;
		} else if (q.unit == UNIT_AMPERE && isnan(amps)) {
			amps = q.value;
			digit = last_digit(from, q.value);
		} else {
			break;
		}
	}
	if (isnan(volts) || isnan(amps) || *text)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "a reading is volts across the section and "
		                 "amps through it: 250 3.5 mA, or 250 V 80 uA");
	if (volts > volts_most)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "volts: at most 5000 are believed");
	draft(l, ENTRY_CAP_READING, "");
	l->draft->entry.number[0] = volts;
	l->draft->entry.number[1] = amps;
	l->draft->entry.number[2] = digit;
	return question_reading(l, volts, amps);
}

/* --- setup -------------------------------------------------------------------------------- */

static enum entry_line set_supply(const struct line *l, const char *rest)
{
	const struct desk_section *s = l->section;
	const double surge = reform_surge_volts(&s->aim.part);
	char v[32], a[32], w[32];
	struct reform_series at;
	double volts;

	if (!only(l, rest, UNIT_VOLT, "V", "the most the supply gives", "supply 300", &volts))
		return ENTRY_LINE_WRONG;
	draft(l, ENTRY_CAP_SET, "");
	l->draft->entry.number[0] = volts;
	(void)typed_number(v, volts, UNIT_VOLT);
	if (volts > volts_most)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "volts: at most 5000 are believed");
	if (volts > surge)
		return typed_say(l->echo, ENTRY_LINE_ASK, "a supply of %s can go above the surge volts "
		                 "of this part (%s): really?", v, typed_number(a, surge, UNIT_VOLT));
	at = reform_series_at(volts, s->series_ohms, s->series_watts, s->aim.limit_amps);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "supply up to %s; a shorted section would take "
	                 "%s, %s in the resistor%s", v, typed_number(a, at.short_amps, UNIT_AMPERE),
	                 typed_number(w, at.short_watts, UNIT_WATT),
	                 at.overloaded ? ": MORE THAN IT STANDS" : "");
}

static enum entry_line set_resistor(const struct line *l, const char *rest)
{
	const struct desk_section *s = l->section;
	struct quantity ohms, watts = { .value = (double)NAN, .unit = UNIT_WATT };
	struct reform_series at;
	char r[32], a[32], w[32];

	if (!*rest)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "which resistor? As: resistor 47k 5 W");
	if (!scan(l, &rest, UNIT_OHM, "ohm", "ohms", &ohms) ||
	    (*rest && !scan(l, &rest, UNIT_WATT, "W", "watts", &watts)))
		return ENTRY_LINE_WRONG;
	if (*rest || ohms.unit != UNIT_OHM || watts.unit != UNIT_WATT || !(ohms.value > 0.0) ||
	    watts.value <= 0.0)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "a resistor is ohms and watts: resistor "
		                 "47k 5 W");
	draft(l, ENTRY_CAP_SET, "");
	l->draft->entry.number[1] = ohms.value;
	l->draft->entry.number[2] = watts.value;
	(void)typed_number(r, ohms.value, UNIT_OHM);
	at = reform_series_at(s->supply_volts, ohms.value, isnan(watts.value) ? 0.0 : watts.value,
	                      s->aim.limit_amps);
	(void)typed_number(a, at.short_amps, UNIT_AMPERE);
	(void)typed_number(w, at.short_watts, UNIT_WATT);
	if (at.overloaded)
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s: a shorted section would take %s and put "
		                 "%s into it, MORE THAN IT STANDS. Keep it?", r, a, w);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "%s in series; a shorted section would take %s, "
	                 "%s in the resistor%s", r, a, w,
	                 isnan(watts.value) ? " (its own watts were not told)" : "");
}

static enum entry_line set_rule(const struct line *l, const char *rest)
{
	const int rule = reform_rule_from_word(rest);
	char a[32];

	if (rule < 0)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "rules: older, cv-0.01, cv-0.03, cv-0.002, "
		                 "uk-1968, root-cv, power-cv; or your own limit, as: limit 0.5 mA");
	if (isnan(l->section->limits[rule]))
		return typed_say(l->echo, ENTRY_LINE_WRONG, "the rule %s does not cover this part",
		                 reform_rules[rule].name);
	draft(l, ENTRY_CAP_SET, reform_rules[rule].name);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "held against %s: %s", reform_rules[rule].name,
	                 typed_number(a, l->section->limits[rule], UNIT_AMPERE));
}

static enum entry_line set_limit(const struct line *l, const char *rest)
{
	double amps, most = 0.0;
	char a[32];

	if (!only(l, rest, UNIT_AMPERE, "mA", "your own limit", "limit 0.5 mA", &amps))
		return ENTRY_LINE_WRONG;
	draft(l, ENTRY_CAP_SET, "own");
	l->draft->entry.number[3] = amps;
	(void)typed_number(a, amps, UNIT_AMPERE);
	for (int i = 0; i < REFORM_RULES; i++)
		most = fmax(most, l->section->limits[i]);
	if (amps > most)
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s is more than any of the rules allows: "
		                 "really?", a);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "held against your own limit, %s", a);
}

static enum entry_line set_form(const struct line *l, const char *rest)
{
	const double rated = l->section->aim.part.volts;
	char v[32];
	double volts;

	if (!only(l, rest, UNIT_VOLT, "V", "form to how many volts", "form 350 V", &volts))
		return ENTRY_LINE_WRONG;
	if (volts > rated)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "re-forming never goes above the rated %s",
		                 typed_number(v, rated, UNIT_VOLT));
	draft(l, ENTRY_CAP_EVENT, "form");
	l->draft->entry.number[0] = volts;
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "formed to %s, and good for no more",
	                 typed_number(v, volts, UNIT_VOLT));
}

/* --- what happens ------------------------------------------------------------------------- */

static enum entry_line put_on(const struct line *l, const char *rest)
{
	const struct desk_section *s = l->section;
	double volts = (double)NAN;
	char v[32], limit[32];

	if (*rest && !only(l, rest, UNIT_VOLT, "V", "on at how many volts", "on 300", &volts))
		return ENTRY_LINE_WRONG;
	draft(l, ENTRY_CAP_EVENT, "volts");
	l->draft->entry.number[0] = volts;
	if (volts > fmin(reform_surge_volts(&s->aim.part), volts_most))
		return typed_say(l->echo, ENTRY_LINE_ASK, "%s is above the surge volts of this part "
		                 "(%s): really?", typed_number(v, volts, UNIT_VOLT),
		                 typed_number(limit, reform_surge_volts(&s->aim.part), UNIT_VOLT));
	if (s->series.overloaded)
		return typed_say(l->echo, ENTRY_LINE_ASK, "with this section shorted the resistor takes "
		                 "%s, more than its %s: on in spite of that?",
		                 typed_number(v, s->series.short_watts, UNIT_WATT),
		                 typed_number(limit, s->series_watts, UNIT_WATT));
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "%s: on%s%s; the leakage falls from now",
	                 s->capacitor->place, isnan(volts) ? "" : " at ",
	                 isnan(volts) ? "" : typed_number(v, volts, UNIT_VOLT));
}

static enum entry_line happened(const struct line *l, const char *word, const char *rest,
                                const char *said)
{
	if (*rest)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "`%s` stands alone, and means: %s", word,
		                 said);
	draft(l, ENTRY_CAP_EVENT, word);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "%s: %s", l->section->capacitor->place, said);
}

static enum entry_line put_off(const struct line *l, const char *rest)
{
	const struct desk_section *s = l->section;
	char v[32];

	if (*rest || !(s->charged_volts > reform_safe_volts))
		return happened(l, "off", rest, "supply off");
	draft(l, ENTRY_CAP_EVENT, "off");
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "%s: supply off; it still holds %s: discharge it, "
	                 "then type `discharged`", s->capacitor->place,
	                 typed_number(v, s->charged_volts, UNIT_VOLT));
}

static enum entry_line accept(const struct line *l, const char *rest)
{
	if (!*rest)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "accepted for what reason? As: accept no "
		                 "hum, leaks 0.4 mA since yesterday");
	if (l->section->state == DESK_FAILING)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "it is failing: volts off, discharge; a "
		                 "failing one is replaced, not accepted");
	draft(l, ENTRY_CAP_EVENT, "accepted");
	typed_put(l->draft->note, sizeof l->draft->note, rest);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "%s: accepted as it is",
	                 l->section->capacitor->place);
}

static enum entry_line set_meter(const struct line *l, const char *rest)
{
	static const char *const off[] = { "off", NULL };

	if (typed_after(rest, off))
		return happened(l, "unmetered", "", "the bench's meter is on no section");
	return happened(l, "metered", rest, "the bench's meter is on this section");
}

static enum entry_line keep_note(const struct line *l, const char *rest)
{
	if (!*rest)
		return typed_say(l->echo, ENTRY_LINE_WRONG, "note what? As: note can is warm");
	entry_draft_init(l->draft, ENTRY_NOTE);
	typed_put(l->draft->subject, sizeof l->draft->subject, "capacitors");
	(void)snprintf(l->draft->note, sizeof l->draft->note, "%s: ", l->section->capacitor->place);
	typed_put(l->draft->note + strlen(l->draft->note),
	          sizeof l->draft->note - strlen(l->draft->note), rest);
	return typed_say(l->echo, ENTRY_LINE_TAKEN, "noted");
}

enum entry_line desk_understand(const struct desk_section *s, const char *line,
                                struct entry_draft *ret, char *echo)
{
	const struct line l = { s, ret, echo };
	char text[ENTRY_LINE_MAX];
	const char *rest;

	if (!typed_copy(text, line))
		return typed_say(echo, ENTRY_LINE_WRONG, "too long a line");
	if ((rest = typed_after(text, supply_words)))
		return set_supply(&l, rest);
	if ((rest = typed_after(text, resistor_words)))
		return set_resistor(&l, rest);
	if ((rest = typed_after(text, rule_words)))
		return set_rule(&l, rest);
	if ((rest = typed_after(text, limit_words)))
		return set_limit(&l, rest);
	if ((rest = typed_after(text, form_words)))
		return set_form(&l, rest);
	if ((rest = typed_after(text, meter_words)))
		return set_meter(&l, rest);
	if ((rest = typed_after(text, on_words)))
		return put_on(&l, rest);
	if ((rest = typed_after(text, off_words)))
		return put_off(&l, rest);
	if ((rest = typed_after(text, discharged_words)))
		return happened(&l, "discharged", rest, "discharged; leave it shorted");
	if ((rest = typed_after(text, replaced_words)))
		return happened(&l, "out", rest, "replaced by a new one");
	if ((rest = typed_after(text, accept_words)))
		return accept(&l, rest);
	if ((rest = typed_after(text, note_words)))
		return keep_note(&l, rest);
	if (is_digit(text[0]) || text[0] == '.' || text[0] == '-' || text[0] == '+')
		return take_reading(&l, text);
	return typed_say(echo, ENTRY_LINE_WRONG, "a reading (250 3.5 mA), or one of: supply, resistor, "
	                 "rule, limit, form, on, off, discharged, replaced, accept, meter, note");
}
