/* core/care/desk.c - a capacitor section from the logbook's entries: see core/desk.h */
#include "mainstair/core/desk.h"

#include <math.h>
#include <string.h>


/* Newest readings that are never thinned out; and what a long run is thinned to. */
enum { NEWEST_KEPT = 60, THINNED_TO = 2 * DESK_READINGS_MAX / 3 };
static const double stretch_share = 0.03, jump_share = 0.1;
/* Within the scatter of two clocks that were put right over a network. */
static const double clock_slack_s = 1.0;

/* --- thinning ----------------------------------------------------------------------------- */

static bool jumps(const struct reform_reading *from, const struct reform_reading *to, double share)
{
	return to->amps > (1.0 + share) * from->amps;
}

/* Keep what lies `width` apart in ln t within its stretch, the newest, and both sides of a jump
 * up.  Returns how many; with `write`, moves them to the front. */
static size_t thin(struct reform_reading *r, size_t n, double width, bool write)
{
	const double stretch = fmax(stretch_share, width), jump = fmax(jump_share, width);
	double start = r[0].seconds, kept_log = -(double)INFINITY;
	size_t kept = 0;
	struct reform_reading before = r[0];

	for (size_t i = 0; i < n; i++) {
		const struct reform_reading here = r[i];
		const bool anew = i == 0 || fabs(here.volts - before.volts) >
			fmax(stretch * before.volts, 1.0);
		double log_t;

		if (anew)
			start = here.seconds;
		log_t = log(here.seconds - start + 1.0);
		if (anew || i + NEWEST_KEPT >= n || log_t >= kept_log + width ||
		    jumps(&before, &here, jump) || (i + 1 < n && jumps(&here, &r[i + 1], jump))) {
			kept_log = log_t;
			if (write)
				r[kept] = here;
			kept++;
		}
		before = here;
	}
	return kept;
}

/* Room for more, evenly in the logarithm of time.  A run of nothing but jumps is thinned as well
 * in the end: the width rules those too. */
static void make_room(struct desk_section *s)
{
	double width = 0.005;

	while (thin(s->reading, s->n, width, false) > THINNED_TO)
		width *= 1.3;
	s->n = thin(s->reading, s->n, width, true);
}

/* --- entries ------------------------------------------------------------------------------ */

static bool concerns(const struct desk_section *s, const struct entry *e)
{
	return strcmp(e->subject, s->capacitor->place) == 0;
}

/* What of a run is followed from entry to entry, besides the section itself. */
struct run {
	double volts_utc_s;   /* when the volts were last put on or raised; NAN: not told */
	double volts_told;    /* to what; NAN */
	double offset_s;      /* from UTC to the run's seconds */
	bool anew;            /* the next reading begins a run */
	bool volts_are_anew;  /* volts_utc_s belongs to the run that begins */
	bool unread;          /* no reading since they were put on */
};

static void set_up(struct desk_section *s, const struct entry *e)
{
	const int rule = reform_rule_from_word(e->word);

	if (strcmp(e->word, "own") == 0)
		s->aim.rule = REFORM_RULES;
	else if (rule >= 0)
		s->aim.rule = (enum reform_rule)rule;
	if (e->number[0] > 0.0) {
		s->supply_volts = e->number[0];
		s->supply_told = true;
	}
	if (e->number[1] > 0.0) {
		s->series_ohms = e->number[1];
		s->series_watts = e->number[2] > 0.0 ? e->number[2] : 0.0;
		s->series_told = true;
	}
	if (e->number[3] > 0.0)
		s->aim.limit_amps = e->number[3];
}

static void end_run(struct desk_section *s)
{
	s->n_earlier += s->n_taken;
	if (s->n > 0) {
		s->earlier_volts = s->reading[s->n - 1].volts;
		s->earlier_amps = s->reading[s->n - 1].amps;
	}
	s->n = s->n_taken = s->clock_set_back = 0;
	s->aim.floor_amps = 0.0;
	s->first_utc_s = (double)NAN;
}

static void happen(struct desk_section *s, struct run *run, const struct entry *e)
{
	const double volts = e->number[0];

	if (strcmp(e->word, "volts") == 0) {
		/* on again, or raised? */
		const bool raised = s->on && volts > run->volts_told;

		run->anew = run->anew || (s->n > 0 && !raised);
		run->volts_are_anew = run->anew || s->n == 0;
		run->volts_utc_s = e->utc_s;
		run->volts_told = volts;
		run->unread = true;
		s->on = true;
	} else if (strcmp(e->word, "off") == 0) {
		/* nobody read it: it may hold all that the supply gave */
		if (s->on && run->unread)
			s->charged_volts = fmax(s->charged_volts, run->volts_told > 0.0 ? run->volts_told
			                        : s->supply_told ? s->supply_volts
			                                         : s->aim.form_volts);
		run->unread = false;
		s->on = false;
		run->anew = true;
		run->volts_are_anew = false;
	} else if (strcmp(e->word, "discharged") == 0) {
		s->on = false;
		s->charged_volts = 0.0;
		run->anew = true;
		run->volts_are_anew = false;
	} else if (strcmp(e->word, "out") == 0) {
		end_run(s);
		s->on = s->accepted = false;
		s->accepted_why = NULL;
		s->charged_volts = 0.0;
		s->earlier_volts = s->earlier_amps = (double)NAN;
		s->replaced = true;
		run->anew = true;
		run->volts_are_anew = false;
	} else if (strcmp(e->word, "accepted") == 0) {
		s->accepted = true;
		s->accepted_why = e->note;
	} else if (strcmp(e->word, "form") == 0 && volts > 0.0) {
		s->aim.form_volts = volts;
	}
}

/* After the supply was taken off, a meter left in place goes on: volts that fall with no current
 * say what charge is left, not how the section forms. */
static bool only_charge(const struct desk_section *s, const struct run *run, double amps,
                        double digit)
{
	return run->anew && !s->on && s->n > 0 && !(amps > digit);
}

static void begin_run(struct desk_section *s, struct run *run, double utc_s)
{
	end_run(s);
	run->anew = false;
	s->first_utc_s = utc_s;
	if (!run->volts_are_anew || !(run->volts_utc_s <= utc_s))
		run->volts_utc_s = (double)NAN;
	run->volts_are_anew = false;
	run->offset_s = isnan(run->volts_utc_s) ? -utc_s : -run->volts_utc_s;
}

static void take_reading(struct desk_section *s, struct run *run, const struct entry *e)
{
	const double volts = e->number[0], amps = e->number[1];
	const double digit = e->number[2] > 0.0 ? e->number[2] : 0.0;
	struct reform_reading *r;

	if (!isfinite(volts) || !isfinite(amps) || !isfinite(e->utc_s) || volts < 0.0 || amps < 0.0)
		return;
	s->charged_volts = volts;
	run->unread = false;
	if (only_charge(s, run, amps, digit))
		return;
	if (s->n == 0 || run->anew)
		begin_run(s, run, e->utc_s);
	if (s->n == DESK_READINGS_MAX)
		make_room(s);
	r = &s->reading[s->n];
	*r = (struct reform_reading){ e->utc_s + run->offset_s, volts, amps };
	if (s->n > 0 && !(r->seconds > r[-1].seconds)) {
		s->clock_set_back += r->seconds < r[-1].seconds - clock_slack_s ? 1 : 0;
		run->offset_s += r[-1].seconds + 0.001 - r->seconds;
		r->seconds = r[-1].seconds + 0.001;
	}
	s->on = true;
	s->n++;
	s->n_taken++;
	s->last_utc_s = e->utc_s;
	/* the finest that was written: "2 mA" between finer ones is no coarser meter */
	if (digit > 0.0)
		s->aim.floor_amps = s->aim.floor_amps > 0.0 ?
			fmin(s->aim.floor_amps, 0.5 * digit) : 0.5 * digit;
}

/* --- the section -------------------------------------------------------------------------- */

/* When the volts of the last stretch were put on: by an entry between it and the reading before. */
static void find_applied(struct desk_section *s, const struct run *run)
{
	double applied = run->volts_utc_s + run->offset_s;
	size_t first;

	s->aim.applied_told = true;
	s->aim.applied_s = (double)NAN;
	if (s->n == 0)
		return;
	first = reform_stretch(s->reading, s->n, s->aim.series_ohms);
	if (applied <= s->reading[first].seconds &&
	    (first == 0 || applied >= s->reading[first - 1].seconds))
		s->aim.applied_s = applied;
}

static void begin(struct desk_section *s, const struct profile_capacitor *capacitor)
{
	memset(s, 0, sizeof *s);
	s->capacitor = capacitor;
	s->aim.part = (struct reform_part){ capacitor->farad.value, capacitor->volts.value };
	s->aim.form_volts = s->aim.part.volts;
	s->aim.limit_amps = (double)NAN;
	s->first_utc_s = s->last_utc_s = s->earlier_volts = s->earlier_amps = (double)NAN;
	for (int i = 0; i < REFORM_RULES; i++)
		s->limits[i] = reform_limit_amps((enum reform_rule)i, &s->aim.part);
	/* the older rule does not cover every part */
	s->aim.rule = isnan(s->limits[REFORM_OLDER]) ? REFORM_CV_3 : REFORM_OLDER;
}

static void finish(struct desk_section *s, const struct run *run)
{
	if (s->aim.rule != REFORM_RULES)
		s->aim.limit_amps = s->limits[s->aim.rule];
	if (!s->supply_told)
		s->supply_volts = s->aim.form_volts;
	if (!s->series_told)
		s->series_ohms = reform_series_advised(s->supply_volts, &s->series_watts);
	s->series = reform_series_at(s->supply_volts, s->series_ohms, s->series_watts,
	                             s->aim.limit_amps);
	s->aim.series_ohms = s->series_told ? s->series_ohms : 0.0;
	find_applied(s, run);
	s->must_discharge = !s->on && s->charged_volts > reform_safe_volts;
	s->discharge = reform_discharge_of(s->aim.part.farad, s->charged_volts);
	s->state = s->n > 0 ? DESK_FORMING : DESK_UNTOUCHED;
	s->blocks = true;
}

static void take(struct desk_section *s, struct run *run, const struct entry *e)
{
	if (e->kind == ENTRY_CAP_EVENT && strcmp(e->word, "metered") == 0)
		s->metered = concerns(s, e);
	else if (e->kind == ENTRY_CAP_EVENT && strcmp(e->word, "unmetered") == 0)
		s->metered = false;
	else if (!concerns(s, e))
		return;
	else if (e->kind == ENTRY_CAP_SET)
		set_up(s, e);
	else if (e->kind == ENTRY_CAP_READING)
		take_reading(s, run, e);
	else if (e->kind == ENTRY_CAP_EVENT)
		happen(s, run, e);
}

void desk_section_make(struct desk_section *ret, const struct profile *profile, int index,
                       const struct entry *entries, size_t n)
{
	struct run run = { .volts_utc_s = (double)NAN, .volts_told = (double)NAN };

	begin(ret, &profile->capacitors[index]);
	for (size_t i = 0; i < n; i++)
		take(ret, &run, &entries[i]);
	finish(ret, &run);
}

size_t desk_runs(struct desk_section *work, const struct profile *profile, int index,
                 const struct entry *entries, size_t n, size_t *ret, size_t max)
{
	struct run run = { .volts_utc_s = (double)NAN, .volts_told = (double)NAN };
	size_t runs = 0;

	begin(work, &profile->capacitors[index]);
	for (size_t i = 0; i <= n; i++) {
		const size_t earlier = work->n_earlier;

		if (i < n)
			take(work, &run, &entries[i]);
		else
			end_run(work);
		if (work->n_earlier == earlier)
			continue;
		if (runs >= max)
			memmove(ret, ret + 1, (max - 1) * sizeof *ret);
		ret[runs < max ? runs : max - 1] = i;
		runs++;
	}
	return runs;
}

/* --- readings from a meter ---------------------------------------------------------------- */

bool desk_keeps(const struct desk_section *s, double utc_s, double volts, double amps)
{
	/* some forty in an e-fold of time; and never a quarter of an hour without */
	static const double fold = 1.0 / 40.0, longest_s = 900.0;
	static const double volts_share = 0.02, spell_s = 60.0;
	const double slack = fmax(2.0 * s->aim.floor_amps,
	                          s->aim.limit_amps > 0.0 ? 0.01 * s->aim.limit_amps : 0.0);
	const struct reform_reading *last = s->n > 0 ? &s->reading[s->n - 1] : NULL;
	double peak = 0.0, since, start;

	if (!isfinite(utc_s) || !isfinite(volts) || !isfinite(amps) || volts < 0.0 || amps < 0.0)
		return false;
	if (!last)
		return true;
	if (!s->on) /* what charge is left, or the supply is on again */
		return amps > slack || fabs(volts - s->charged_volts) >
			fmax(volts_share * s->charged_volts, 1.0);
	since = utc_s - s->last_utc_s;
	if (since < 0.0 || since >= longest_s ||
	    fabs(volts - last->volts) > fmax(volts_share * last->volts, 1.0))
		return true;
	/* a rise, unless this minute has seen as much; and what comes behind one */
	for (size_t i = s->n; i > 0 && last->seconds - s->reading[i - 1].seconds < spell_s; i--)
		peak = fmax(peak, s->reading[i - 1].amps);
	peak = since < spell_s ? fmax(peak, last->amps) : last->amps;
	if (amps > (1.0 + jump_share) * peak + slack)
		return true;
	if (s->n > 1 && since >= 0.5 && last->amps > (1.0 + jump_share) * last[-1].amps + slack &&
	    last->amps > (1.0 + jump_share) * amps)
		return true;
	start = s->reading[reform_stretch(s->reading, s->n, s->aim.series_ohms)].seconds;
	return log((last->seconds + since - start + 1.0) / (last->seconds - start + 1.0)) >= fold &&
		since >= 0.5;
}
