/*
 * app/page/capacitors.c - the re-forming desk: every section of the unit's capacitors
 *
 * Two things cost time and are kept between draws: the sections, made anew when the logbook has
 * grown, and the fit of each, made anew when its own readings or its setup changed.  A draw makes
 * one fit at most, the one of the section in hand first, and none within two seconds of the last:
 * a meter's stream does not eat a processor.  Until then the last fit is shown.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/page/before.h"
#include "mainstair/base/num.h"
#include "mainstair/core/desk.h"

static const double refit_after_s = 2.0, tick_s = 10.0;

static const struct typed_form forms[] = {
	{"250 3.5 mA", "a reading: volts across the section, amps through it (bare: mA)"},
	{"supply 300", "the most that the supply gives"},
	{"resistor 47k 5 W", "in series; held against a shorted section"},
	{"rule older", "its limit: older, cv-0.01, cv-0.03, cv-0.002, uk-1968, root-cv, power-cv"},
	{"limit 0.5 mA", "your own limit"},
	{"form 350 V", "form it to less than rated"},
	{"on, on 300", "volts put on, or raised: leakage counts from here"},
	{"off, discharged", "supply off; discharged through a resistor and shorted"},
	{"accept REASON", "take it as it is"},
	{"replaced", "by a new one"},
	{"meter, meter off", "the bench's meter is on the section in hand; on none"},
	{"note TEXT", "your own words"},
	{NULL, NULL},
};

/* What a fit said; of rows not in hand as well. */
struct said {
	bool is;
	size_t n_taken, n_earlier; /* of the readings it was made of */
	struct reform_aim aim;
	struct reform_judgement judgement;
	struct reform_reach to_rule[REFORM_RULES];
	struct reform_range slope;
	double noise;
	struct { double seconds; struct reform_range amps; } curve[SHEET_CURVE_MAX];
	int n_curve;
};

struct forming {
	struct desk_section section[PROFILE_CAPS_MAX];
	struct said said[PROFILE_CAPS_MAX];
	struct reform_work work;
	int n;
	size_t n_entries;    /* that the sections were made of */
	bool made, begun;
	double fitted_utc_s; /* NAN: never */
};

static void *open_page(const struct bench_desk *desk)
{
	struct forming *f = calloc(1, sizeof *f);

	(void)desk;
	if (f)
		f->fitted_utc_s = (double)NAN;
	return f;
}

/* --- what is kept between draws ----------------------------------------------------------- */

static bool same_aim(const struct reform_aim *a, const struct reform_aim *b)
{
	return a->rule == b->rule && fabs(a->limit_amps - b->limit_amps) <= 0.0 &&
		fabs(a->form_volts - b->form_volts) <= 0.0 &&
		fabs(a->series_ohms - b->series_ohms) <= 0.0 &&
		fabs(a->floor_amps - b->floor_amps) <= 0.0;
}

static bool is_stale(const struct forming *f, int i)
{
	const struct desk_section *s = &f->section[i];
	const struct said *said = &f->said[i];

	return s->n >= REFORM_READINGS_LEAST && s->aim.limit_amps > 0.0 &&
		(!said->is || said->n_taken != s->n_taken || said->n_earlier != s->n_earlier ||
		 !same_aim(&said->aim, &s->aim));
}

static bool same_run(const struct forming *f, int i)
{
	return f->said[i].is && f->said[i].n_earlier == f->section[i].n_earlier;
}

/* Volts of this stretch were put on, in the readings' time. */
static double stretch_begins(const struct desk_section *s)
{
	const struct reform_reading *first = &s->reading[s->judgement.stretch];

	if (!isnan(s->aim.applied_s) && s->aim.applied_s < first->seconds)
		return s->aim.applied_s;
	return s->judgement.stretch + 1 < s->n ?
		first->seconds - 0.25 * (first[1].seconds - first->seconds) : first->seconds;
}

static void keep_curve(struct forming *f, int i)
{
	const struct desk_section *s = &f->section[i];
	struct said *said = &f->said[i];
	const double begins = stretch_begins(s);
	const double first = s->reading[s->judgement.stretch].seconds - begins;
	const double last = s->reading[s->n - 1].seconds - begins;
	double far = 3.0;

	if (isfinite(said->judgement.reach.seconds.median))
		far = fmax(far, 1.5 * (1.0 + said->judgement.reach.seconds.median / last));
	far = fmin(far, REFORM_HORIZON);
	said->n_curve = 0;
	if (!(first > 0.0) || !(last > first))
		return;
	for (int k = 0; k < 48; k++) {
		const double t = first * pow(far * last / first, k / 47.0);

		said->curve[k].seconds = t;
		said->curve[k].amps = reform_fit_at(&f->work, begins + t);
		said->n_curve = k + 1;
	}
}

static void fit(struct forming *f, int i, double utc_s)
{
	struct desk_section *s = &f->section[i];
	struct said *said = &f->said[i];

	desk_judge(s, &f->work);
	*said = (struct said){.is = true, .n_taken = s->n_taken, .n_earlier = s->n_earlier,
		.aim = s->aim, .judgement = s->judgement, .noise = (double)NAN};
	f->fitted_utc_s = utc_s;
	if (!s->judgement.fitted)
		return;
	for (int rule = 0; rule < REFORM_RULES; rule++)
		if (s->limits[rule] > 0.0)
			said->to_rule[rule] = reform_fit_reach(&f->work, s->limits[rule]);
	said->slope = reform_fit_slope(&f->work);
	said->noise = reform_fit_noise(&f->work);
	keep_curve(f, i);
}

static void make_sections(struct forming *f, const struct bench_desk *desk)
{
	if (f->made && f->n_entries == desk->n_entries)
		return;
	f->n = desk->profile->n_capacitors;
	f->n_entries = desk->n_entries;
	f->made = true;
	for (int i = 0; i < f->n; i++) {
		desk_section_make(&f->section[i], desk->profile, i, desk->entries, desk->n_entries);
		if (same_run(f, i) && !is_stale(f, i))
			desk_take(&f->section[i], &f->said[i].judgement);
		else
			desk_judge(&f->section[i], NULL);
	}
}

static bool may_fit(const struct forming *f, double utc_s)
{
	return !(fabs(utc_s - f->fitted_utc_s) < refit_after_s);
}

static int stale_one(const struct forming *f, int in_hand)
{
	if (in_hand >= 0 && in_hand < f->n && is_stale(f, in_hand))
		return in_hand;
	for (int i = 0; i < f->n; i++)
		if (is_stale(f, i))
			return i;
	return -1;
}

/* --- the list ----------------------------------------------------------------------------- */

static const struct {
	enum role role;
	enum glyph mark;
} looks[DESK_STATES] = {
	[DESK_UNTOUCHED] = {ROLE_DIM, GLYPH_UNKNOWN}, [DESK_FORMING] = {ROLE_PLAIN, GLYPH_SETTLING},
	[DESK_FORMED] = {ROLE_GOOD, GLYPH_GOOD}, [DESK_OLDER_ONLY] = {ROLE_GOOD, GLYPH_GOOD},
	[DESK_ACCEPTED] = {ROLE_GOOD, GLYPH_GOOD}, [DESK_REPLACED] = {ROLE_GOOD, GLYPH_GOOD},
	[DESK_STUCK] = {ROLE_CAUTION, GLYPH_OVER}, [DESK_FAILING] = {ROLE_DANGER, GLYPH_ABORT},
};

static bool is_done(const struct desk_section *s)
{
	return s->state == DESK_FORMED || s->state == DESK_OLDER_ONLY ||
		s->state == DESK_ACCEPTED || s->state == DESK_REPLACED;
}

static const char *show(char out[32], double value, enum unit unit)
{
	(void)num_print_unit(out, 32, value, unit, 3);
	return out;
}

/* What is to be done with it, in a few words; charge comes first. */
static void say_next(const struct desk_section *s, char out[REFORM_WORDS_MAX])
{
	if (s->must_discharge)
		(void)snprintf(out, REFORM_WORDS_MAX, "DISCHARGE it");
	else if (s->state == DESK_FAILING && !s->on)
		(void)snprintf(out, REFORM_WORDS_MAX, "replace it");
	else if (is_done(s))
		(void)snprintf(out, REFORM_WORDS_MAX, s->on ? "volts off, discharge" : "done");
	else
		reform_say_step(out, &s->step);
}

static void say_wait(double seconds, char out[REFORM_WORDS_MAX])
{
	char words[REFORM_WORDS_MAX];

	reform_say_time(words, seconds);
	(void)snprintf(out, REFORM_WORDS_MAX, "wait %.60s", words);
}

/* The same for a cell of the list. */
static void say_next_shortly(const struct desk_section *s, char out[REFORM_WORDS_MAX])
{
	char amps[32];

	say_next(s, out);
	if (s->must_discharge || is_done(s))
		return;
	if (s->step.order == REFORM_STOP && s->on)
		(void)snprintf(out, REFORM_WORDS_MAX, "STOP");
	else if (s->step.order == REFORM_HOLD && s->n > 0 &&
	         s->reading[s->n - 1].amps <= s->step.below_amps)
		say_wait(s->step.hold_s, out);
	else if (s->step.order == REFORM_HOLD)
		(void)snprintf(out, REFORM_WORDS_MAX, "wait for %s",
			show(amps, s->step.below_amps, UNIT_AMPERE));
}

/* Cut the unit from the first of two times that share it: "12 to 40 min". */
static void cut_unit(char *low, const char *high)
{
	char *unit = strchr(low, ' ');
	const char *other = strchr(high, ' ');

	if (unit && other && strcmp(unit, other) == 0)
		*unit = '\0';
}

/* The interval alone: "12 to 40 min", "40 min to never". */
static void say_interval(const struct desk_section *s, const struct reform_reach *reach,
                         char out[REFORM_WORDS_MAX])
{
	char low[REFORM_WORDS_MAX], high[REFORM_WORDS_MAX] = "never";

	if (s->reading[s->n - 1].amps <= s->aim.limit_amps) {
		(void)snprintf(out, REFORM_WORDS_MAX, "met here");
	} else if (isinf(reach->seconds.low)) {
		(void)snprintf(out, REFORM_WORDS_MAX, "not in sight");
	} else {
		reform_say_time(low, reach->seconds.low);
		if (isfinite(reach->seconds.high))
			reform_say_time(high, reach->seconds.high);
		cut_unit(low, high);
		(void)snprintf(out, REFORM_WORDS_MAX, "%.40s to %.40s", low, high);
	}
}

static void add_row(const struct forming *f, int i, struct sheet *sheet)
{
	const struct desk_section *s = &f->section[i];
	const struct reform_reading *last = s->n > 0 ? &s->reading[s->n - 1] : NULL;
	struct sheet_row *row = sheet_row(sheet, looks[s->state].role, looks[s->state].mark);
	char a[32], b[32], words[REFORM_WORDS_MAX];

	if (!row)
		return;
	if (s->must_discharge) {
		row->role = s->state == DESK_FAILING ? ROLE_DANGER : ROLE_CAUTION;
		row->mark = s->state == DESK_FAILING ? GLYPH_ABORT : GLYPH_OVER;
	}
	sheet_cell(row, 0, "%s", s->capacitor->place);
	sheet_cell(row, 1, "%s %s%s", show(a, s->aim.part.farad, UNIT_FARAD),
		show(b, s->aim.part.volts, UNIT_VOLT), s->metered ? ", meter" : "");
	sheet_cell(row, 2, "%s", !last ? "-" : s->on ? show(a, last->volts, UNIT_VOLT) :
		s->must_discharge ? show(a, s->charged_volts, UNIT_VOLT) : "off");
	sheet_cell(row, 3, "%s", last ? show(a, last->amps, UNIT_AMPERE) : "-");
	sheet_cell(row, 4, "%s", desk_state_word(s->state));
	words[0] = '\0';
	if (s->state == DESK_FORMING && f->said[i].is && same_run(f, i) &&
	    isfinite(f->said[i].judgement.reach.share_never))
		say_interval(s, &f->said[i].judgement.reach, words);
	sheet_cell(row, 5, "%s", words);
	say_next_shortly(s, words);
	sheet_cell(row, 6, "%s", words);
}

/* --- the section in hand ------------------------------------------------------------------ */

static void say_setup(const struct desk_section *s, struct sheet *sheet)
{
	const struct reform_series *at = &s->series;
	const double left = s->supply_volts - at->drop_volts;
	char volts[32], ohms[32], watts[32], amps[32], heat[32], leaves[64] = "", most[32];

	if (left < 0.97 * s->aim.form_volts && left > 0.0)
		(void)snprintf(leaves, sizeof leaves, "; at %.20s that leaves it %.20s",
			show(amps, s->aim.limit_amps, UNIT_AMPERE), show(most, left, UNIT_VOLT));
	sheet_detail(sheet, at->overloaded ? ROLE_DANGER : ROLE_PLAIN,
		"supply to %s%s through %s%s%s%s: a shorted section takes %s, %s in it%s%s",
		show(volts, s->supply_volts, UNIT_VOLT), s->supply_told ? "" : " (advised)",
		show(ohms, s->series_ohms, UNIT_OHM), s->series_watts > 0.0 ? " " : "",
		s->series_watts > 0.0 ? show(watts, s->series_watts, UNIT_WATT) : "",
		s->series_told ? "" : " (advised)", show(amps, at->short_amps, UNIT_AMPERE),
		show(heat, at->short_watts, UNIT_WATT),
		at->overloaded ? ": MORE THAN IT STANDS" :
		s->series_watts > 0.0 ? "" : " (its own watts were not told)", leaves);
}

static void say_charge(const struct desk_section *s, struct sheet *sheet)
{
	/* before anything is charged: what it will hold when formed */
	const bool now = s->charged_volts > reform_safe_volts;
	const double volts = now ? s->charged_volts : s->aim.form_volts;
	const struct reform_discharge d = reform_discharge_of(s->aim.part.farad, volts);
	char v[32], r[32], w[32], peak[32], joules[32], seconds[32];

	if (isnan(d.ohms))
		return;
	(void)num_print_unit(joules, sizeof joules, d.joules, UNIT_NONE, 3);
	(void)num_print(seconds, sizeof seconds, d.seconds, 1);
	sheet_detail(sheet, s->must_discharge ? ROLE_DANGER : now ? ROLE_CAUTION : ROLE_DIM,
		"%s %s J at %s%s: discharge through %s %s (%s at first), below 60 V after %s s, "
		"then short it%s",
		now ? "holds" : "will hold", joules, show(v, volts, UNIT_VOLT),
		d.shock_hazard ? " (enough to kill)" : "", show(r, d.ohms, UNIT_OHM),
		show(w, d.watts, UNIT_WATT), show(peak, d.peak_watts, UNIT_WATT), seconds,
		s->must_discharge ? "; then type `discharged`" : "");
}

static void say_fit(const struct said *said, struct sheet *sheet)
{
	char low[32], middle[32], high[32], n[32], from[32], to[32], noise[32];

	if (!said->is || isnan(said->noise))
		return;
	(void)num_print(n, sizeof n, fmax(said->slope.median, 0.0), 2);
	(void)num_print(from, sizeof from, fmax(said->slope.low, 0.0), 2);
	(void)num_print(to, sizeof to, fmax(said->slope.high, 0.0), 2);
	(void)num_print(noise, sizeof noise, 100.0 * said->noise, 1);
	sheet_detail(sheet, ROLE_PLAIN,
		"fit: falls as t^-%s (%s to %s), readings scatter by %s %%; left after %d times this "
		"time: %s (%s to %s)", n, from, to, noise, REFORM_HORIZON,
		show(middle, said->judgement.plateau.median, UNIT_AMPERE),
		show(low, said->judgement.plateau.low, UNIT_AMPERE),
		show(high, said->judgement.plateau.high, UNIT_AMPERE));
}

static void say_limit(const struct desk_section *s, const char *name, double limit,
                      const struct reform_reach *reach, const char *formula, const char *source,
                      bool decides, struct sheet *sheet)
{
	const bool met = s->n > 0 && s->reading[s->n - 1].amps <= limit;
	char amps[32], words[REFORM_WORDS_MAX] = "";

	if (met)
		(void)snprintf(words, sizeof words, "met");
	else if (reach && isfinite(reach->share_never))
		reform_say_reach(words, reach);
	sheet_detail(sheet, decides ? ROLE_STRONG : met ? ROLE_GOOD : ROLE_PLAIN,
		"%s%s %s%s%.60s; %.90s%s%.175s", decides ? "held against " : "", name,
		show(amps, limit, UNIT_AMPERE), *words ? ", " : "", words, formula, *source ? "; " : "", source);
}

static void say_limits(const struct forming *f, int i, struct sheet *sheet)
{
	const struct desk_section *s = &f->section[i];
	const struct said *said = &f->said[i];
	const bool fitted = said->is && same_run(f, i) && !isnan(said->noise) &&
		s->state != DESK_FAILING;

	if (s->aim.rule == REFORM_RULES)
		say_limit(s, "your own limit", s->aim.limit_amps, fitted ? &said->judgement.reach : NULL,
			"as typed", "", true, sheet);
	for (int rule = 0; rule < REFORM_RULES; rule++) {
		const struct reform_rule_info *info = &reform_rules[rule];
		char source[200], name[64];

		if (isnan(s->limits[rule]))
			continue;
		(void)snprintf(name, sizeof name, "%s (%s)", info->title, info->name);
		(void)snprintf(source, sizeof source, "%s: %s", basis_word(info->basis), info->source);
		say_limit(s, name, s->limits[rule], fitted ? &said->to_rule[rule] : NULL,
			info->formula, source, (int)s->aim.rule == rule, sheet);
	}
}

static void say_state(const struct forming *f, int i, double utc_s, struct sheet *sheet)
{
	const struct desk_section *s = &f->section[i];
	char words[REFORM_WORDS_MAX], ago[REFORM_WORDS_MAX];

	sheet_detail(sheet, looks[s->state].role, "%s: %s", desk_state_word(s->state), s->words);
	if (!s->must_discharge && (s->on || s->n == 0)) {
		reform_say_step(words, &s->step);
		sheet_detail(sheet, s->step.order == REFORM_STOP ? ROLE_DANGER : ROLE_STRONG,
			"next: %s - %s", words, s->step.why);
	}
	if (s->metered)
		sheet_detail(sheet, ROLE_DIM, "the bench's meter is on this section");
	if (s->n > 0) {
		reform_say_time(words, s->judgement.held_s);
		reform_say_time(ago, fmax(utc_s - s->last_utc_s, 0.0));
		sheet_detail(sheet, ROLE_DIM, "%zu reading%s in this run, %zu in earlier ones; %.30s at "
			"these volts; last %.30s ago%s", s->n_taken, s->n_taken == 1 ? "" : "s", s->n_earlier, words, ago,
			s->clock_set_back > 0 ? "; the clock was set back in between" : "");
	}
	if (s->state == DESK_FAILING && s->judgement.reason != REFORM_OVER_SURGE)
		sheet_detail(sheet, ROLE_CAUTION, "was the supply off in between, and nobody said so? "
			"Then type `on` and a new reading");
	if (s->judgement.sparks > 0)
		sheet_detail(sheet, ROLE_CAUTION, "%zu reading%s stood half as much again above both "
			"neighbours: sparks inside, or slips", s->judgement.sparks,
			s->judgement.sparks > 1 ? "s" : "");
}

/* "C1" of "C1A" and "C1b": sections of one can are named so. */
static size_t can_of(const char *place)
{
	const size_t n = strlen(place);

	return n > 1 && place[n - 2] >= '0' && place[n - 2] <= '9' &&
		((place[n - 1] | 0x20) >= 'a' && (place[n - 1] | 0x20) <= 'f') ? n - 1 : 0;
}

/* The other sections of the can in hand: each holds its own charge. */
static void say_others(const struct forming *f, int in_hand, struct sheet *sheet)
{
	const char *place = f->section[in_hand].capacitor->place;
	const size_t can = can_of(place);
	char volts[32];

	for (int i = 0; i < f->n; i++) {
		const struct desk_section *s = &f->section[i];
		const char *other = s->capacitor->place;

		if (i != in_hand && can > 0 && can_of(other) == can &&
		    strncmp(place, other, can) == 0 && s->charged_volts > reform_safe_volts)
			sheet_detail(sheet, ROLE_CAUTION, "%s of the same can %s %s", other,
				s->on ? "is on the supply at" : "is still CHARGED to",
				show(volts, s->charged_volts, UNIT_VOLT));
	}
}

static void say_cautions(const struct desk_section *s, struct sheet *sheet)
{
	if (s->n > 0 || s->on || is_done(s))
		return;
	for (int i = 1; i < REFORM_CAUTIONS; i++)
		sheet_detail(sheet, ROLE_CAUTION, "%s", reform_cautions[i]);
}

/* The caution that belongs to the step. */
static const char *caution_of(const struct desk_section *s)
{
	if (s->must_discharge || s->step.order == REFORM_STOP || is_done(s))
		return reform_cautions[4];
	if (s->n == 0 && !s->on)
		return reform_cautions[0];
	if (s->n == 0 || !s->series_told)
		return reform_cautions[1];
	return reform_cautions[3];
}

static void instruct(const struct desk_section *s, struct sheet *sheet)
{
	const char *place = s->capacitor->place;
	char words[REFORM_WORDS_MAX];

	say_next(s, words);
	if (s->must_discharge) {
		sheet->instruction_role = ROLE_DANGER;
		(void)snprintf(sheet->instruction, sizeof sheet->instruction,
			"%s: DISCHARGE it through the resistor, then short it", place);
	} else if (s->step.order == REFORM_STOP && s->on) {
		sheet->instruction_role = ROLE_DANGER;
		(void)snprintf(sheet->instruction, sizeof sheet->instruction, "%s: %.60s - %.90s",
			place, words, s->step.why);
	} else if (s->n == 0 && !s->on && !is_done(s)) {
		(void)snprintf(sheet->instruction, sizeof sheet->instruction,
			"%s: positive lead lifted, resistor in series, polarity checked; then %.60s",
			place, words);
	} else {
		(void)snprintf(sheet->instruction, sizeof sheet->instruction, "%s: %s", place, words);
	}
	(void)snprintf(sheet->how, sizeof sheet->how, "type `on` as the volts go on or up, then volts and "
		"leakage as they come: 250 3.5 mA, 250 80 uA; `off`, `discharged` at the end");
	(void)snprintf(sheet->caution, sizeof sheet->caution, "%s", caution_of(s));
}

/* --- the plot ----------------------------------------------------------------------------- */

static void limit_line(struct sheet_plot *p, double amps, const char *name)
{
	if (!(amps > 0.0) || p->n_limits == SHEET_LIMITS_MAX)
		return;
	for (int i = 0; i < p->n_limits; i++)
		if (strcmp(p->limit[i].name, name) == 0)
			return;
	p->limit[p->n_limits].y = amps * 1e6;
	(void)snprintf(p->limit[p->n_limits++].name, sizeof p->limit[0].name, "%s", name);
}

static void draw_plot(const struct forming *f, int i, struct sheet *sheet)
{
	const struct desk_section *s = &f->section[i];
	const struct said *said = &f->said[i];
	struct sheet_plot *p = &sheet->plot;
	double begins, unit = 60.0;
	size_t from;
	char volts[32];

	if (s->n < 2 || s->judgement.stretch + 1 >= s->n)
		return;
	begins = stretch_begins(s);
	unit = s->reading[s->n - 1].seconds - begins < 300.0 ? 1.0 :
		s->reading[s->n - 1].seconds - begins < 36000.0 ? 60.0 : 3600.0;
	sheet->has_plot = p->log_x = p->log_y = true;
	(void)snprintf(p->y_title, sizeof p->y_title, "leakage, uA,");
	(void)snprintf(p->x_title, sizeof p->x_title, "%s at %.16s",
		unit < 2.0 ? "seconds" : unit < 61.0 ? "minutes" : "hours",
		show(volts, s->reading[s->n - 1].volts, UNIT_VOLT));
	from = s->n - s->judgement.stretch > SHEET_POINTS_MAX ? s->n - SHEET_POINTS_MAX :
		s->judgement.stretch;
	for (size_t k = from; k < s->n; k++) {
		p->point[p->n_points].x = (s->reading[k].seconds - begins) / unit;
		p->point[p->n_points++].y = s->reading[k].amps * 1e6;
	}
	if (said->is && same_run(f, i))
		for (int k = 0; k < said->n_curve; k++) {
			p->curve[k].x = said->curve[k].seconds / unit;
			p->curve[k].low = said->curve[k].amps.low * 1e6;
			p->curve[k].middle = said->curve[k].amps.median * 1e6;
			p->curve[k].high = said->curve[k].amps.high * 1e6;
			p->n_curve = k + 1;
		}
	limit_line(p, s->aim.limit_amps,
		s->aim.rule == REFORM_RULES ? "own" : reform_rules[s->aim.rule].name);
	limit_line(p, s->limits[REFORM_OLDER], reform_rules[REFORM_OLDER].name);
	limit_line(p, s->limits[REFORM_CV_1], reform_rules[REFORM_CV_1].name);
}

/* --- the page ----------------------------------------------------------------------------- */

static void columns(struct sheet *s)
{
	sheet_column(s, "part", false, false);
	sheet_column(s, "rated", false, true);
	sheet_column(s, "volts", true, false);
	sheet_column(s, "leakage", true, false);
	sheet_column(s, "state", false, false);
	sheet_column(s, "to limit, 90 %", false, true);
	sheet_column(s, "next", false, true);
	s->verdict_column = 4;
}

static void begin(struct forming *f, int *in_hand)
{
	f->begun = true;
	for (int i = 0; i < f->n; i++)
		if (f->section[i].blocks) {
			*in_hand = i;
			return;
		}
}

static void fill(void *self, const struct bench_desk *desk, int *in_hand, struct sheet *s)
{
	struct forming *f = self;
	int done = 0, stale;

	make_sections(f, desk);
	if (!f->begun)
		begin(f, in_hand);
	stale = stale_one(f, *in_hand);
	if (stale >= 0 && may_fit(f, desk->utc_s))
		fit(f, stale, desk->utc_s);
	columns(s);
	for (int i = 0; i < f->n; i++) {
		add_row(f, i, s);
		done += is_done(&f->section[i]);
	}
	(void)snprintf(s->title, sizeof s->title, "capacitors: %d of %d formed or replaced", done, f->n);
	if (f->n == 0) {
		(void)snprintf(s->instruction, sizeof s->instruction,
			"the profile names no capacitors to re-form");
		return;
	}
	before_hand(s, in_hand);
	instruct(&f->section[*in_hand], s);
	say_state(f, *in_hand, desk->utc_s, s);
	say_others(f, *in_hand, s);
	say_setup(&f->section[*in_hand], s);
	say_charge(&f->section[*in_hand], s);
	if (same_run(f, *in_hand))
		say_fit(&f->said[*in_hand], s);
	say_cautions(&f->section[*in_hand], s);
	say_limits(f, *in_hand, s);
	draw_plot(f, *in_hand, s);
}

static enum page_answer enter(void *self, const struct bench_desk *desk, int in_hand,
                              const char *line, struct entry_draft *ret, char *echo)
{
	struct forming *f = self;
	enum page_answer answer;

	make_sections(f, desk);
	if (in_hand < 0 || in_hand >= f->n) {
		(void)snprintf(echo, PAGE_ECHO_MAX, "no capacitor is in hand");
		return PAGE_WRONG;
	}
	answer = before_answer(desk_understand(&f->section[in_hand], line, ret, echo));
	/* readings of one section follow each other */
	return answer == PAGE_TAKEN ? PAGE_STAY : answer;
}

static double due(void *self, const struct bench_desk *desk)
{
	const struct forming *f = self;

	if (stale_one(f, -1) >= 0) {
		const double left = refit_after_s - fabs(desk->utc_s - f->fitted_utc_s);

		return left > 0.0 ? left : 0.0;
	}
	for (int i = 0; i < f->n; i++)
		if (f->section[i].on)
			return tick_s;
	return (double)INFINITY;
}

/* Of the section that the meter was said to be on, whichever is in hand. */
static bool reading(void *self, const struct bench_desk *desk, int in_hand,
                    const struct event *reading, struct entry_draft *ret)
{
	struct forming *f = self;

	(void)in_hand;
	make_sections(f, desk);
	for (int i = 0; i < f->n; i++) {
		const struct desk_section *s = &f->section[i];

		if (!s->metered)
			continue;
		if (!desk_keeps(s, desk->utc_s, reading->volts, reading->amps))
			return false;
		entry_draft_init(ret, ENTRY_CAP_READING);
		(void)snprintf(ret->subject, sizeof ret->subject, "%s", s->capacitor->place);
		(void)snprintf(ret->note, sizeof ret->note, "%s", reading->note);
		ret->entry.number[0] = reading->volts;
		ret->entry.number[1] = reading->amps;
		return true;
	}
	return false;
}

const struct page_ops page_capacitors = {
	.phase = JOB_CAPACITORS,
	.word = "capacitors",
	.forms = forms,
	.open = open_page,
	.close = free,
	.fill = fill,
	.enter = enter,
	.due = due,
	.reading = reading,
};
