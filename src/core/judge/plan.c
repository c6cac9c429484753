#include "mainstair/core/plan.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* A step up may not be larger than this share of the nameplate volts. */
static const double largest_step = 0.22;
/* First stage, at most. */
static const double first_share = 0.15;
/* Seconds: heaters need a minute to come near their new temperature, more when they are cold
 * and dark (Harper: 13 s to 99 per cent at rated volts; an indirectly heated cathode at 30 per
 * cent of volts takes 45 s to half its final emission). */
static const double hold_low_s = 90.0, hold_s = 60.0, hold_last_s = 300.0;
/* Half-warm cathodes under plate volts suffer; cold ones do not (common practice, no source). */
static const double longest_half_warm_s = 900.0, longest_cold_s = 3600.0;

static void say(char *to, size_t size, const char *format, ...)
	__attribute__((format(printf, 3, 4)));
static void say(char *to, size_t size, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(to, size, format, ap);
	va_end(ap);
}

static double settled_watts(const struct network *net, double volts, struct load_start *start,
                            struct load_result *at)
{
	load_settled(net, volts, start, at);
	return at->watts;
}

/* Mean share of rated heater volts, weighted by rated watts; NAN without tube heaters. */
static double heater_share(const struct network *net, const struct load_result *at)
{
	double sum = 0.0, weight = 0.0;

	for (int h = 0; h < net->n_tube_heaters; h++) {
		const double watts = net->heaters[h].volts * net->heaters[h].amps;

		sum += watts * at->heater_share[h];
		weight += watts;
	}
	return weight > 0.0 ? sum / weight : (double)NAN;
}

/* Line volts at which the heaters stand at `share` of rated; the nameplate's when there are
 * none. */
static double volts_for_heaters(const struct network *net, double share)
{
	double low = 0.0, high = 1.3 * net->line_volts;
	struct load_start start = { 0 };
	struct load_result at;

	(void)settled_watts(net, net->line_volts, &start, &at);
	if (isnan(heater_share(net, &at)))
		return share * net->line_volts;
	for (int i = 0; i < 24; i++) {
		const double mid = 0.5 * (low + high);

		(void)settled_watts(net, mid, &start, &at);
		if (heater_share(net, &at) < share)
			low = mid;
		else
			high = mid;
	}
	return 0.5 * (low + high);
}

/* dc watts that flow behind rectifiers. */
static double rails_watts(const struct network *net, const struct load_result *at)
{
	double sum = 0.0;

	for (int r = 0; r < net->n_rails; r++)
		sum += at->split_rail[r];
	return sum;
}

static bool any_tube_rectifier(const struct network *net)
{
	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].source != RAIL_FROM_RAIL && net->rails[r].saturation_amps > 0.0)
			return true;
	return false;
}

struct sketch {
	double volts;
	char why[160];
};

static void add_stop(struct sketch *s, int *n, double volts, const char *format, ...)
	__attribute__((format(printf, 4, 5)));
static void add_stop(struct sketch *s, int *n, double volts, const char *format, ...)
{
	va_list ap;

	if (*n >= PLAN_STAGES_MAX)
		return;
	s[*n].volts = volts;
	va_start(ap, format);
	(void)vsnprintf(s[*n].why, sizeof s[*n].why, format, ap);
	va_end(ap);
	(*n)++;
}

/* The volts at which a dead short on any winding would draw no more than the unit is built for:
 * between line and short lie the primary and, referred to it, about as much again. */
static double survivable_volts(const struct network *net, double rated_watts)
{
	double volts = first_share * net->line_volts;

	if (net->transformer) {
		const double ohms = 2.0 * net->primary_ohms;

		volts = fmin(volts, sqrt(rated_watts * ohms));
		if (net->fuse_amps > 0.0)
			volts = fmin(volts, net->fuse_amps * ohms);
	}
	return fmax(volts, 0.05 * net->line_volts);
}

static double round_volts(double volts, double step)
{
	return floor(volts / step + 0.5) * step;
}

static int sketch_stops(const struct network *net, struct sketch *s, double last)
{
	const double nameplate = net->line_volts;
	const double step = nameplate < 160.0 ? 1.0 : 2.0;
	const double coarse = nameplate < 160.0 ? 5.0 : 10.0;
	struct load_start start = { 0 };
	struct load_result full, at;
	int n = 0;

	const double rated = settled_watts(net, nameplate, &start, &full);
	const double first = fmax(step, round_volts(survivable_volts(net, rated) - 0.3 * coarse, coarse));
	add_stop(s, &n, first < step ? step : first, "%s", net->transformer ?
	         "low enough to survive a dead short: even then no winding carries more than "
	         "the unit is built for" :
	         "low enough that a short shows as watts and does no harm");

	/* walk up once and find where things begin */
	double cold = NAN, begins = NAN, struck[NET_RAILS_MAX];
	for (int r = 0; r < net->n_rails; r++)
		struck[r] = NAN;
	for (double volts = 0.1 * nameplate; volts <= last; volts += 0.015 * nameplate) {
		(void)settled_watts(net, volts, &start, &at);
		if (rails_watts(net, &at) < 0.01 * at.watts)
			cold = volts;
		if (isnan(begins) && rails_watts(net, &at) > 0.1 * rails_watts(net, &full))
			begins = volts;
		for (int r = 0; r < net->n_rails; r++)
			if (isnan(struck[r]) && at.regulator_lit[r])
				struck[r] = volts;
	}
	const bool tubes = net->n_tube_heaters > 0;
	if (tubes && any_tube_rectifier(net)) {
		if (!isnan(cold) && cold > first + coarse)
			add_stop(s, &n, round_volts(cold - 0.4 * coarse, coarse),
			         "still below emission: %sheaters and lamps alone; nothing behind a tube "
			         "rectifier shows yet", net->transformer ? "transformer, " : "");
		if (!isnan(begins) && begins < last)
			add_stop(s, &n, round_volts(begins + 0.4 * coarse, coarse),
			         "the rectifier begins: what hides behind it starts to show");
	} else if (tubes) {
		add_stop(s, &n, round_volts(volts_for_heaters(net, 0.40), coarse),
		         "below emission, but the rails are up: compare their volts");
		add_stop(s, &n, round_volts(volts_for_heaters(net, 0.62), coarse),
		         "cathodes begin to emit: the loads come on");
	}
	for (int r = 0; r < net->n_rails; r++)
		if (!isnan(struck[r]) && struck[r] < last)
			add_stop(s, &n, round_volts(fmin(struck[r] * 1.02, last - step) +
			                            0.4 * step, step),
			         "the regulator of rail %s should have struck", net->rails[r].name);
	add_stop(s, &n, last, "%s", tubes ? "rated heater volts: full line for this unit" :
	         "full line for this unit");
	return n;
}

static void sort_stops(struct sketch *s, int n)
{
	for (int i = 1; i < n; i++)
		for (int k = i; k > 0 && s[k].volts < s[k - 1].volts; k--) {
			const struct sketch swap = s[k];

			s[k] = s[k - 1];
			s[k - 1] = swap;
		}
}

/* Merge stops that lie together (the later reason goes after the first), fill wide gaps. */
static int tidy_stops(struct sketch *s, int n, double nameplate)
{
	struct sketch out[PLAN_STAGES_MAX];
	int m = 0;

	sort_stops(s, n);
	for (int i = 0; i < n; i++) {
		if (m > 0 && s[i].volts - out[m - 1].volts < 0.045 * nameplate) {
			/* the last stage and the first keep their volts */
			if (i == n - 1 || m > 1)
				out[m - 1].volts = s[i].volts;
			const size_t used = strlen(out[m - 1].why);
			if (strcmp(out[m - 1].why, s[i].why) != 0)
				say(out[m - 1].why + used, sizeof out[m - 1].why - used, "; %s", s[i].why);
			continue;
		}
		const double from = m > 0 ? out[m - 1].volts : 0.0;
		const int parts = (int)ceil((s[i].volts - from) / (largest_step * nameplate) - 1e-9);
		for (int p = 1; m > 0 && p < parts && m < PLAN_STAGES_MAX - 1; p++) {
			out[m].volts = round_volts(from + (s[i].volts - from) * p / parts,
			                           nameplate < 160.0 ? 1.0 : 2.0);
			say(out[m].why, sizeof out[m].why, "no step larger than a fifth of the line");
			m++;
		}
		if (m < PLAN_STAGES_MAX)
			out[m++] = s[i];
	}
	memcpy(s, out, sizeof out);
	return m;
}

static void look(struct stage *st, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void look(struct stage *st, const char *format, ...)
{
	va_list ap;

	if (st->n_looks >= PLAN_LOOKS_MAX)
		return;
	va_start(ap, format);
	(void)vsnprintf(st->looks[st->n_looks++], sizeof st->looks[0], format, ap);
	va_end(ap);
}

/* Light of a lamp goes with V^3.4 (Fink and Beaty, Standard Handbook for Electrical Engineers, 11th
 * ed., 1978, p. 22-8); a filament begins to show near 800 K. */
static void look_at_lamps(struct stage *st, const struct network *net)
{
	const double *share = st->band.at.heater_share;

	for (int h = net->n_tube_heaters, next; h < net->n_heaters; h = next) {
		char places[60];
		const double volts = share[h];

		/* those that follow and are as bright are asked about with it */
		say(places, sizeof places, "%s", net->heaters[h].place);
		for (next = h + 1; next < net->n_heaters && fabs(share[next] - volts) < 0.02; next++) {
			const size_t used = strlen(places);

			if (used + strlen(net->heaters[next].place) + 3 > sizeof places)
				break;
			say(places + used, sizeof places - used, ", %s", net->heaters[next].place);
		}
		const char *lamps = next > h + 1 ? "pilot lamps" : "pilot lamp";

		if (volts < 0.12)
			look(st, "%s %s: dark still", lamps, places);
		else if (volts < 0.35)
			look(st, "%s %s lit? a red thread, no light yet", lamps, places);
		else if (volts < 0.9)
			look(st, "%s %s lit? about %.0f %% of %s light", lamps, places,
			     100.0 * pow(volts, 3.4), next > h + 1 ? "their" : "its");
		else
			look(st, "%s %s at full light?", lamps, places);
	}
}

/* The most that a rail can stand at: its winding's peak, both halves of a doubler.  On the line:
 * its peak. */
static double most_rail_volts(const struct network *net, const struct load_result *at, int r)
{
	const double peak = sqrt(2.0);

	while (net->rails[r].source == RAIL_FROM_RAIL)
		r = net->rails[r].parent;
	return (net->rails[r].source == RAIL_FROM_WINDING ?
	        at->winding_volts[net->rails[r].winding] : at->line_volts) * peak *
		(net->rails[r].form == FORM_DOUBLER ||
		 (net->rails[r].form == FORM_BRIDGE && net->rails[r].source == RAIL_FROM_WINDING &&
		  net->windings[net->rails[r].winding].centre_tapped) ? 2.0 : 1.0);
}

/* The tables tell the most that a type may need to strike; healthy tubes do so anywhere from their
 * running volts up to it, which scatter by a tenth (0A2: 140 to 168 V). */
static void look_at_regulator(struct stage *st, const struct network *net, int r)
{
	const struct load_result *at = &st->band.at;
	const struct net_rail *rail = &net->rails[r];
	const double least = 0.9 * rail->hold_volts;
	const double volts = at->rail_volts[r];
	const bool unknown = load_rail_undefined(net, at, r);

	if (at->regulator_lit[r])
		look(st, "regulator of rail %s glows? it should: %.0f V", rail->name, volts);
	else if (volts >= least)
		look(st, "regulator of rail %s: may be lit or dark (about %.0f V there; it needs up to "
		     "%.0f V)", rail->name, volts, rail->strike_volts);
	else if (unknown && most_rail_volts(net, at, r) >= least)
		look(st, "regulator of rail %s: may be lit or dark (it needs up to %.0f V)", rail->name,
		     rail->strike_volts);
	else if (unknown)
		look(st, "regulator of rail %s: dark still", rail->name);
	else
		look(st, "regulator of rail %s: dark still (%.0f V there)", rail->name, volts);
}

static void looks_of(struct stage *st, const struct network *net, bool first, bool last)
{
	const struct load_result *at = &st->band.at;
	const double share = heater_share(net, at);

	st->look_dangers = 1;
	look(st, first ? "no smell, no smoke, no crackle, no hum? any of them ends it, whatever the watts say" :
	     "no smell, no louder hum, nothing hot that was not hot before?");
	look_at_lamps(st, net);
	if (!isnan(share)) {
		if (share < 0.3)
			look(st, "tube heaters: dark still");
		else if (share < 0.55)
			look(st, "heaters: a dull red in a darkened room; one that stays dark is open");
		else
			look(st, "every heater glows? a dark one is open, a bright one is shorted");
	}
	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].regulator == REGULATOR_GAS)
			look_at_regulator(st, net, r);
	if (any_tube_rectifier(net) && (isnan(share) || share > 0.55)) {
		st->look_dangers |= 1u << st->n_looks;
		look(st, "rectifier plates: no red, no blue flash? either of them ends it");
	}
	if (last)
		look(st, net->transformer ?
		     "warm to the hand in an hour, not hot in ten minutes: the transformer above all" :
		     "warm to the hand in an hour, not hot in ten minutes: chokes and capacitor cans "
		     "above all");
}

/* A fault of the list that a stage may rule out. */
enum trial_kind { TRIAL_MAINS, TRIAL_TURN, TRIAL_WINDING, TRIAL_RAIL };
struct trial {
	enum trial_kind kind;
	int index;
	char name[80];
	int shows; /* first stage at which it would be over the band's high edge, or n_stages */
	bool volts_tell[PLAN_STAGES_MAX]; /* … and where a voltmeter on the rail sees it */
};

static int list_trials(const struct network *net, struct trial *t)
{
	int n = 0;

	t[n] = (struct trial){ .kind = TRIAL_MAINS };
	say(t[n++].name, sizeof t[0].name, "a short across the mains side");
	if (net->transformer) {
		t[n] = (struct trial){ .kind = TRIAL_TURN };
		say(t[n++].name, sizeof t[0].name, "a shorted turn taking half the unit's watts");
	}
	for (int w = 0; w < net->n_windings; w++) {
		t[n] = (struct trial){ .kind = TRIAL_WINDING, .index = w };
		say(t[n++].name, sizeof t[0].name, "a shorted winding %s", net->windings[w].name);
	}
	for (int r = 0; r < net->n_rails; r++) {
		t[n] = (struct trial){ .kind = TRIAL_RAIL, .index = r };
		say(t[n++].name, sizeof t[0].name, "a dead short on rail %s", net->rails[r].name);
	}
	return n;
}

static void apply_trial(struct network *net, const struct trial *t, double rated_watts)
{
	switch (t->kind) {
	case TRIAL_MAINS:
		/* not a bolted one (the fuse answers that): what draws the rated watts again */
		net->line_shunt_siemens = rated_watts / (net->line_volts * net->line_volts);
		break;
	case TRIAL_TURN:
		net->turn_siemens = 0.5 * rated_watts / (net->emf_rated * net->emf_rated);
		break;
	case TRIAL_WINDING:
		/* a short of about the winding's own ohms */
		net->windings[t->index].short_siemens = 1.0 / fmax(net->windings[t->index].ohms, 1e-3);
		break;
	case TRIAL_RAIL:
		net->rails[t->index].leak_siemens = 1.0 / 50.0;
		break;
	}
}

/* A short behind a tube rectifier that watts do not show yet, a voltmeter often does: volts that a
 * clip-on meter reads without doubt, and a short that halves them. */
static bool volts_tell(const struct stage *st, const struct network *net, int rail,
                       const struct load_result *sick)
{
	const double healthy = st->band.at.rail_volts[rail];

	return sick->converged && healthy > 5.0 && sick->rail_volts[rail] < 0.5 * healthy &&
		!load_rail_undefined(net, &st->band.at, rail);
}

void plan_prove(struct plan *plan, const struct network *net)
{
	struct trial trials[PLAN_PROOFS_MAX];
	const int n = list_trials(net, trials);
	struct load_result at;
	const double rated = settled_watts(net, net->line_volts, NULL, &at);

	for (int t = 0; t < n; t++) {
		struct network sick = *net;
		struct load_start start = { 0 };
		bool visible = true;

		apply_trial(&sick, &trials[t], rated);
		trials[t].shows = plan->n_stages;
		for (int s = plan->n_stages - 1; s >= 0; s--) {
			struct stage *st = &plan->stages[s];
			const double watts = settled_watts(&sick, st->volts, &start, &at);

			visible = visible && at.converged && watts > st->band.high;
			if (visible)
				trials[t].shows = s;
			const int rail = trials[t].index;

			trials[t].volts_tell[s] = trials[t].kind == TRIAL_RAIL && !visible &&
				volts_tell(st, net, rail, &at);
			if (trials[t].volts_tell[s] && net->rails[rail].source != RAIL_FROM_RAIL)
				look(st, "voltmeter on rail %s: about %.0f V? a short there, which watts "
				     "cannot show yet, leaves %.0f V", net->rails[rail].name,
				     st->band.at.rail_volts[rail], at.rail_volts[rail]);
		}
	}
	for (int s = 0; s < plan->n_stages; s++) {
		struct stage *st = &plan->stages[s];

		for (int t = 0; t < n; t++) {
			st->volts_tell[st->n_not_proved] = trials[t].volts_tell[s] ?
				trials[t].index : -1;
			if (trials[t].shows <= s)
				say(st->proved[st->n_proved++], sizeof st->proved[0], "%s: ruled out",
				    trials[t].name);
			else if (trials[t].shows < plan->n_stages)
				say(st->not_proved[st->n_not_proved++], sizeof st->not_proved[0],
				    "%s: not before the %.0f V stage", trials[t].name,
				    plan->stages[trials[t].shows].volts);
			else
				say(st->not_proved[st->n_not_proved++], sizeof st->not_proved[0],
				    "%s: watts will not show it; measure the rail", trials[t].name);
		}
	}
}

/* What follows from the network at the stage's volts. */
static void solve_stage(struct plan *plan, int i, const struct network *net,
                        const struct abort_rule *rule, const struct meter_accuracy *meter,
                        struct load_start *start)
{
	struct stage *st = &plan->stages[i];

	envelope_at(net, rule, meter, st->volts, start, &st->band, NULL);
	st->n_looks = 0;
	looks_of(st, net, i == 0, i == plan->n_stages - 1);
}

void plan_refresh(struct plan *plan, const struct network *net, const struct abort_rule *rule,
                  const struct meter_accuracy *meter)
{
	struct load_start start = { 0 };

	for (int i = 0; i < plan->n_stages; i++) {
		solve_stage(plan, i, net, rule, meter, &start);
		plan->stages[i].n_proved = plan->stages[i].n_not_proved = 0;
	}
	plan_prove(plan, net);
}

void plan_make(struct plan *plan, const struct network *net, const struct profile *profile,
               const struct abort_rule *rule, const struct meter_accuracy *meter,
               double bench_line_volts)
{
	struct sketch s[PLAN_STAGES_MAX];
	struct load_start start = { 0 };
	int n;

	memset(plan, 0, sizeof *plan);
	plan->from_profile = profile->n_stages > 0;
	if (plan->from_profile) {
		n = profile->n_stages;
		for (int i = 0; i < n; i++) {
			s[i].volts = profile->stage_volts[i];
			say(s[i].why, sizeof s[i].why, "a stage that the profile asks for");
		}
	} else {
		/* rated heater volts, but not past the line that there is; whole volts, downwards:
		 * a little low hurts nothing */
		double last = floor(volts_for_heaters(net, 1.0) + 0.02);

		/* a set whose heaters fall short at nameplate volts is not made for more */
		last = fmin(last, net->line_volts);
		if (bench_line_volts > 0.0)
			last = fmin(last, floor(bench_line_volts));
		n = tidy_stops(s, sketch_stops(net, s, last), net->line_volts);
	}
	plan->n_stages = n;
	for (int i = 0; i < n; i++) {
		struct stage *st = &plan->stages[i];
		const bool last = i == n - 1;

		st->volts = s[i].volts;
		memcpy(st->why, s[i].why, sizeof st->why);
		solve_stage(plan, i, net, rule, meter, &start);
		const double share = heater_share(net, &st->band.at);
		st->hold_s = profile->hold_s.given ? profile->hold_s.value :
			last ? hold_last_s : !isnan(share) && share < 0.45 ? hold_low_s : hold_s;
		st->longest_s = last ? 0.0 :
			!isnan(share) && share > 0.45 && share < 0.9 ? longest_half_warm_s :
			longest_cold_s;
	}
}

int plan_stage_at(const struct plan *plan, double volts)
{
	int best = -1;

	for (int i = 0; i < plan->n_stages; i++)
		if (best < 0 || fabs(volts - plan->stages[i].volts) <
		    fabs(volts - plan->stages[best].volts))
			best = i;
	if (best < 0)
		return -1;
	/* within 4 per cent of the last stage's volts: a variac's dial is no better, and stages
	 * lie further apart than that */
	const double slack = 0.04 * plan->stages[plan->n_stages - 1].volts;
	if (fabs(volts - plan->stages[best].volts) > slack ||
	    volts < 0.5 * plan->stages[0].volts)
		return -1;
	return best;
}
