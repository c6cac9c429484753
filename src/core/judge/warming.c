#include "mainstair/core/warming.h"

#include <math.h>
#include <string.h>

#include "mainstair/core/emission.h"
#include "mainstair/core/heater.h"

/* Heat capacity as seconds: rated absolute temperature times capacity over rated watts.  Solved
 * from published warm-up times: heaters on constant volts 6.7 s to 90 and 13.3 s to 99 per cent
 * (Harper, "Kindness to Filaments"), between 8 s (controlled warm-up, 11 s; RETMA, from memory)
 * and 15 s; a 5U4G filament 2 s to first current, 7 s to full (Emission Labs data sheet); mains
 * lamps settle in 0.1 s. */
static const double capacity_s[] = {
	[HEATER_INDIRECT] = 12.0,
	[HEATER_FILAMENT] = 5.0,
	[HEATER_LAMP] = 0.12,
};
/* Types differ (8 to 15 s), and large cathodes are half as slow again. */
#define LEAST_CAPACITY 0.65
#define MOST_CAPACITY 1.6

/* The volts have been moved when two readings differ by more than this share of nameplate. */
static const double moved_share = 0.02;
/* Nobody soaks a unit for longer without a look: after such a silence it may have been off. */
static const double longest_silence_s = 1800.0;
/* Nobody turns a unit off and on again between two looks that are no further apart. */
static const double shortest_silence_s = 5.0;
/* No heater takes longer to settle, however low the volts. */
static const double longest_doubt_s = 600.0;
/* A reading is a mean: plug-in meters average over a quarter of a second to two seconds (common
 * practice, no source), so what it shows may be as old as that. */
static const double shortest_mean_s = 0.25, longest_mean_s = 2.0;

/* Settled: watts within 2 per cent of final.  Near rest a node takes in watts as u^-1.2 and loses
 * them as u^4, so what it takes in lies 1.2/5.2 of its unbalance from where it will end. */
static const double settled_unrest = 0.02 * 5.2 / 1.2;
/* … or within a thousandth of rated watts: no meter that takes the whole unit shows less. */
static const double least_watts = 0.001 / 0.02;

/* Steps of the integration, as a share of the time constant, and when to stop stepping. */
static const double step_share = 0.04;
enum { STEPS_MAX = 4000 };

struct laws {
	struct heater_law law[3];
};

static struct laws laws_of(const struct network *net)
{
	struct laws l;

	for (int k = 0; k < 3; k++)
		l.law[k] = heater_law((enum heater_kind)k, net->heater_conduction);
	return l;
}

/* One implicit step: u1 = u + (share^2/r(u1) - loss(u1)) dt/tau. */
static double node_step(const struct heater_law *law, double u, double share, double dt_over_tau)
{
	double next = u;

	for (int i = 0; i < 40; i++) {
		const double r = heater_resistance(law, next);
		const double slope_r = law->rho[1] + next * (2.0 * law->rho[2] + next * 3.0 * law->rho[3]);
		const double slope_loss = 4.0 * law->radiation_gain * next * next * next +
			law->conduction_gain;
		const double f = next - u - dt_over_tau * (share * share / r - heater_loss(law, next));
		const double slope = 1.0 + dt_over_tau * (share * share * slope_r / (r * r) + slope_loss);
		double to = next - f / slope;

		if (to < law->ambient)
			to = law->ambient;
		if (fabs(to - next) < 1e-10)
			return to;
		next = to;
	}
	return next;
}

double warming_node(enum heater_kind kind, double conduction, double capacity_factor, double u,
                    double share, double dt_s)
{
	const struct heater_law law = heater_law(kind, conduction);

	return node_step(&law, u, share, dt_s / (capacity_s[kind] * capacity_factor));
}

/* Ohms of every heater for the temperatures in *t, those of one winding and of the string added up,
 * and the rms volts where windings and string begin, for 1 V of line. */
struct spread {
	double ohms[NET_HEATERS_MAX];
	double siemens[NET_WINDINGS_MAX];
	double string_ohms;
	double emf, string_volts;
};

static void spread(const struct network *net, const struct laws *l, const struct load_thermal *t,
                   struct spread *ret)
{
	bool string = false, broken = false;

	ret->string_ohms = net->dropper_ohms;
	memset(ret->siemens, 0, sizeof ret->siemens);
	for (int h = 0; h < net->n_heaters; h++) {
		const struct net_heater *heater = &net->heaters[h];

		ret->ohms[h] = heater->volts / heater->amps *
			heater_resistance(&l->law[heater->kind], t->u[h]);
		if (heater->winding < 0) {
			string = true;
			broken = broken || heater->open;
			ret->string_ohms += ret->ohms[h];
		} else if (!heater->open) {
			ret->siemens[heater->winding] += 1.0 / ret->ohms[h];
		}
	}
	double line = net->line_shunt_siemens +
		(string && !broken ? 1.0 / ret->string_ohms : 0.0);
	double load = net->turn_siemens +
		(net->core_watts > 0.0 ? net->core_watts / (net->emf_rated * net->emf_rated) : 0.0);

	for (int w = 0; w < net->n_windings; w++) {
		const struct net_winding *n = &net->windings[w];

		ret->siemens[w] += n->short_siemens;
		load += n->ratio * n->ratio * ret->siemens[w] / (1.0 + n->ohms * ret->siemens[w]);
	}
	if (net->transformer)
		line += load / (1.0 + net->primary_ohms * load);
	ret->string_volts = 1.0 / (1.0 + net->source_ohms * line);
	ret->emf = net->transformer ? ret->string_volts / (1.0 + net->primary_ohms * load) :
		ret->string_volts;
	if (broken)
		ret->string_volts = 0.0;
}

/* Share of rated volts at every heater for the temperatures in *t; `line_volts` are those that the
 * heaters would see without the rails (see struct warming). */
static void shares(const struct network *net, const struct laws *l, const struct load_thermal *t,
                   double line_volts, double *share)
{
	struct spread s;

	spread(net, l, t, &s);
	for (int h = 0; h < net->n_heaters; h++) {
		const struct net_heater *heater = &net->heaters[h];

		if (heater->winding < 0) {
			share[h] = line_volts * s.string_volts * s.ohms[h] / s.string_ohms /
				heater->volts;
		} else {
			const struct net_winding *n = &net->windings[heater->winding];

			share[h] = heater->open ? 0.0 : line_volts * s.emf * n->ratio /
				(1.0 + n->ohms * s.siemens[heater->winding]) / heater->volts;
		}
	}
}

/* Largest miss of any node's watts against its loss, as a share of the larger of the two. */
static double unrest(const struct network *net, const struct laws *l, const struct load_thermal *t,
                     double line_volts)
{
	double share[NET_HEATERS_MAX], worst = 0.0;

	shares(net, l, t, line_volts, share);
	for (int h = 0; h < net->n_heaters; h++) {
		const struct heater_law *law = &l->law[net->heaters[h].kind];
		const double in = share[h] * share[h] / heater_resistance(law, t->u[h]);
		const double out = heater_loss(law, t->u[h]);
		const double scale = fmax(fmax(in, out), least_watts);

		worst = fmax(worst, fabs(in - out) / scale);
	}
	return worst;
}

/* Temperatures as they end at constant volts, and what the rails take off the volts by then. */
static double settle(const struct network *net, const struct laws *l, double line_volts,
                     struct load_thermal *t)
{
	struct load_result at;
	struct spread s;

	load_settled(net, line_volts, NULL, &at);
	for (int h = 0; h < net->n_heaters; h++)
		t->u[h] = heater_settled_volts(&l->law[net->heaters[h].kind], at.heater_share[h], 1.0);
	spread(net, l, t, &s);
	const double sag = line_volts > 0.0 && at.converged ? at.emf / (s.emf * line_volts) : 1.0;

	return sag < 1.0 ? sag : 1.0;
}

/* Heat capacity of a heater while it warms and while it cools, times the usual. */
struct pace {
	double warming, cooling;
};

/* The histories as warm and as cold as can be: soon warm and slow to cool, and the reverse. */
static const struct pace warmest = { LEAST_CAPACITY, MOST_CAPACITY };
static const struct pace coldest = { MOST_CAPACITY, LEAST_CAPACITY };
/* What was off and on again while nobody looked did both with the same heaters. */
static const struct pace paces[WARMING_PACES] = {
	{ LEAST_CAPACITY, LEAST_CAPACITY }, { 1.0, 1.0 }, { MOST_CAPACITY, MOST_CAPACITY },
};

/* Let `seconds` pass at constant volts. */
static void pass(const struct network *net, const struct laws *l, struct load_thermal *t,
                 double line_volts, double seconds, struct pace pace)
{
	for (int step = 0; seconds > 0.0; step++) {
		double share[NET_HEATERS_MAX];
		/* the longest step any heater allows; lamps follow at once */
		double dt = fmin(seconds, step_share * capacity_s[HEATER_FILAMENT]);

		if (step % 32 == 31 && unrest(net, l, t, line_volts) < 0.01 * settled_unrest)
			return;
		if (step >= STEPS_MAX) /* hours without coming to rest: do not step on for ever */
			dt = seconds;
		shares(net, l, t, line_volts, share);
		for (int h = 0; h < net->n_heaters; h++) {
			const enum heater_kind kind = net->heaters[h].kind;
			const struct heater_law *law = &l->law[kind];
			const bool warms = share[h] * share[h] / heater_resistance(law, t->u[h]) >
				heater_loss(law, t->u[h]);
			const double capacity = warms ? pace.warming : pace.cooling;

			t->u[h] = node_step(law, t->u[h], share[h], dt / (capacity_s[kind] * capacity));
		}
		seconds -= dt;
	}
}

void warming_init(struct warming *w, const struct network *net)
{
	memset(w, 0, sizeof *w);
	const struct laws l = laws_of(net);
	for (int h = 0; h < net->n_heaters; h++)
		w->early.u[h] = w->late.u[h] = l.law[net->heaters[h].kind].ambient;
	w->silence_end_s = -1.0;
	w->excused_until_s = (double)NAN;
}

static bool has_reservoirs(const struct network *net)
{
	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].farad[0] > 0.0)
			return true;
	return false;
}

static bool rests(const struct network *net, const struct laws *l, const struct load_thermal *hot,
                  const struct load_thermal *cold, double line_volts, double sag)
{
	return unrest(net, l, cold, sag * line_volts) < settled_unrest &&
		unrest(net, l, hot, line_volts) < settled_unrest;
}

/* Each node where it is coldest. */
static struct load_thermal coldest_of(const struct network *net, const struct load_thermal *list,
                                      int n)
{
	struct load_thermal t = list[0];

	for (int h = 0; h < net->n_heaters; h++)
		for (int k = 1; k < n; k++)
			t.u[h] = fmin(t.u[h], list[k].u[h]);
	return t;
}

/* What may have been while nobody looked; before the two that trust are taken on. */
static void doubt(struct warming *w, const struct network *net, const struct laws *l,
                  double seconds, double line_volts, bool moved)
{
	const double passed = fmax(seconds - w->seconds, 0.0);
	const double most = fmax(line_volts, w->line_volts);
	const bool silent = passed > shortest_silence_s, anew = silent && (!w->doubt || w->believed);
	const double least = silent || moved ? 0.0 : w->sag * fmin(line_volts, w->line_volts);

	if (moved)
		w->excused_until_s = (double)NAN;
	if (anew)
		w->hot = w->early;
	for (int k = 0; k < WARMING_PACES && anew; k++)
		w->cold[k] = w->late;
	if (silent) {
		w->doubt = true;
		w->silence_end_s = seconds;
	}
	if (!w->doubt)
		return;
	pass(net, l, &w->hot, silent ? fmax(most, net->line_volts) : most, passed, warmest);
	for (int k = 0; k < WARMING_PACES; k++)
		pass(net, l, &w->cold[k], least, passed, paces[k]);
	const struct load_thermal cold = coldest_of(net, w->cold, WARMING_PACES);

	w->doubt = !(seconds >= w->excused_until_s) &&
		((seconds - w->silence_end_s < longest_mean_s && has_reservoirs(net)) ||
		 !rests(net, l, &w->hot, &cold, line_volts, w->sag));
}

/* Keep the late history as it is now, in quarters of the time that a mean reaches back, and of what
 * is older than that the newest. */
static void remember(struct warming *w, double seconds)
{
	while (w->n_past > 1 && seconds - w->past_s[1] >= longest_mean_s) {
		w->n_past--;
		memmove(&w->past[0], &w->past[1], (size_t)w->n_past * sizeof w->past[0]);
		memmove(&w->past_s[0], &w->past_s[1], (size_t)w->n_past * sizeof w->past_s[0]);
	}
	if (w->n_past > 0 && seconds - w->past_s[w->n_past - 1] < 0.25 * longest_mean_s)
		return;
	w->past[w->n_past] = w->late;
	w->past_s[w->n_past++] = seconds;
}

void warming_reading(struct warming *w, const struct network *net, double seconds,
                     double line_volts)
{
	const struct laws l = laws_of(net);
	const double before = w->line_volts, passed = fmax(seconds - w->seconds, 0.0);
	const bool moved = fabs(line_volts - before) > moved_share * net->line_volts;

	if (!w->begun || moved || fabs(line_volts - w->sag_volts) > moved_share * line_volts) {
		struct load_thermal settled;

		w->sag = settle(net, &l, line_volts, &settled);
		w->sag_volts = line_volts;
	}
	if (!w->begun) {
		/* it may have been at full line for hours */
		(void)settle(net, &l, fmax(line_volts, net->line_volts), &w->early);
	} else {
		doubt(w, net, &l, seconds, line_volts, moved);
		w->believed = false;
		pass(net, &l, &w->early, fmax(line_volts, before), passed, warmest);
		/* nobody saw how moved volts got there, perhaps by way of nought */
		pass(net, &l, &w->late, moved || passed > longest_silence_s ? 0.0 :
		     w->sag * fmin(line_volts, before), passed, coldest);
	}
	w->blurred = !w->begun || (moved && passed > shortest_silence_s);
	if (!w->begun || moved) {
		w->moved_s = seconds;
		/* reservoirs run empty while nobody looks */
		w->moved_from = w->begun && passed <= longest_mean_s ? before : 0.0;
	}
	if (!w->begun || moved || passed > longest_mean_s)
		w->n_past = 0;
	remember(w, seconds);
	w->begun = true;
	w->seconds = seconds;
	w->line_volts = line_volts;
}

/* Could a reading of now hold reservoirs that charge, or still stand above their rectifier? */
static bool reservoirs_move(const struct warming *w, const struct network *net)
{
	return w->seconds - w->moved_s < longest_mean_s && has_reservoirs(net);
}

/* What the reservoirs can take of a square volt of line, J; all, or those behind tube
 * rectifiers. */
static double reservoirs(const struct network *net, const struct load_result *at, double line_volts,
                         bool all)
{
	double joule = 0.0;

	for (int r = 0; r < net->n_rails; r++) {
		const struct net_rail *rail = &net->rails[r];
		int source = r;

		while (net->rails[source].source == RAIL_FROM_RAIL)
			source = net->rails[source].parent;
		if (!all && !(net->rails[source].drop_amps > 0.0))
			continue;
		/* a doubler's rail stands on both */
		const double share = at->rail_volts[r] / line_volts /
			(rail->form == FORM_DOUBLER ? 2.0 : 1.0);

		joule += (rail->farad[0] + rail->farad[1]) * share * share;
	}
	return joule;
}

/* Watts that charging from `from` volts adds to a reading of now at most.  It takes C V^2 from the
 * line, within half a cycle or more after a rise of the volts.  A mean that holds all of it spreads
 * it over its whole length; one that ends right after the rise has only a part of the rise in its
 * volts as well, so that half a cycle and the volts as read bound it too. */
static double rise_watts(const struct network *net, const struct load_result *at, double volts,
                         double from)
{
	const double most = fmax(net->line_volts, volts);

	from = fmin(from, volts);
	return reservoirs(net, at, volts, true) *
		fmin((volts * volts - from * from) * 2.0 * net->line_hz,
		     (most * most - from * from) / shortest_mean_s);
}

/* … and behind a tube rectifier it waits for the cathode, which wakes over seconds. */
static double charging_watts(const struct warming *w, const struct network *net,
                             const struct load_result *at)
{
	const double volts = w->line_volts;

	return reservoirs_move(w, net) ? rise_watts(net, at, volts, w->moved_from) :
		reservoirs(net, at, volts, false) * volts * volts / longest_mean_s;
}

bool warming_settled(const struct warming *w, const struct network *net)
{
	const struct laws l = laws_of(net);

	return w->begun && !reservoirs_move(w, net) &&
		rests(net, &l, &w->early, &w->late, w->line_volts, w->sag);
}

/* Until both have settled if the volts stay; they are taken there.  At most `limit`. */
static double seconds_to_rest(const struct warming *w, const struct network *net,
                              struct load_thermal *hot, struct load_thermal *cold,
                              double seconds, double limit)
{
	const struct laws l = laws_of(net);

	pass(net, &l, cold, w->sag * w->line_volts, seconds, coldest);
	pass(net, &l, hot, w->line_volts, seconds, warmest);
	while (seconds < limit && !rests(net, &l, hot, cold, w->line_volts, w->sag)) {
		pass(net, &l, cold, w->sag * w->line_volts, 1.0, coldest);
		pass(net, &l, hot, w->line_volts, 1.0, warmest);
		seconds += 1.0;
	}
	return fmin(seconds, limit);
}

double warming_seconds_left(const struct warming *w, const struct network *net, double limit)
{
	struct load_thermal late = w->late, early = w->early;

	return seconds_to_rest(w, net, &early, &late, reservoirs_move(w, net) ?
	                       w->moved_s + longest_mean_s - w->seconds : 0.0, limit);
}

enum verdict warming_excuse(struct warming *w, const struct network *net, enum verdict verdict)
{
	struct load_thermal hot = w->hot, cold = coldest_of(net, w->cold, WARMING_PACES);

	w->believed = verdict == VERDICT_IN_BAND;
	if (w->believed)
		w->excused_until_s = (double)NAN;
	if (!w->doubt || (verdict != VERDICT_OVER && verdict != VERDICT_UNDER &&
	                  verdict != VERDICT_SETTLING))
		return verdict;
	if (isnan(w->excused_until_s))
		w->excused_until_s = w->seconds + seconds_to_rest(w, net, &hot, &cold,
		                                                  longest_mean_s, longest_doubt_s);
	return VERDICT_SETTLING;
}

/* From a cold start each time: the answer hangs on the temperatures alone, not on what was solved
 * before, so that a replay gives the very same. */
static double instant_watts(const struct network *net, double line_volts,
                            const struct load_thermal *t)
{
	return load_instant_watts(net, line_volts, t);
}

/* All cathodes at one end of what is known of them: factor > 1 strong, < 1 weak. */
static void scale_emission(struct network *net, bool strong)
{
	for (int k = 0; k < net->n_params; k++)
		if (net->params[k].kind == PARAM_CATHODE_EMISSION ||
		    net->params[k].kind == PARAM_RECTIFIER_EMISSION)
			network_scale(net, k, strong ? 1.0 + net->params[k].up :
			              1.0 - net->params[k].down);
}

/* Cathodes as the late history has them, for a solve at the temperatures of the early one. */
static void hold_emission_back(struct network *net, const struct warming *w)
{
	double held[NET_HEATERS_MAX];

	for (int h = 0; h < net->n_heaters; h++)
		held[h] = fmin(1.0, emission_share(w->late.u[h]) /
		               fmax(emission_share(w->early.u[h]), 1e-30));
	for (int r = 0; r < net->n_rails; r++) {
		struct net_rail *rail = &net->rails[r];
		double least = 1.0;

		for (int i = 0; i < rail->n_rectifier_by; i++)
			least = fmin(least, held[rail->rectifier_by[i]]);
		rail->saturation_amps *= least;
		for (int d = 0; d < rail->n_draws; d++) {
			least = 1.0;
			for (int i = 0; i < rail->draws[d].n_by; i++)
				least = fmin(least, held[rail->draws[d].by[i]]);
			rail->draws[d].emission *= least;
		}
	}
}

/* The late history over as long as a reading may reach back, each node where it was coldest. */
static struct load_thermal late_of_mean(const struct warming *w, const struct network *net)
{
	const struct load_thermal both[2] = { w->late, coldest_of(net, w->past, w->n_past) };

	return coldest_of(net, both, 2);
}

/* Both edges over both histories and both ends of emission. */
static void spread_band(const struct warming *w, const struct network *net,
                        const struct network *strong, double up, double down,
                        const struct meter_accuracy *meter, struct band *band)
{
	struct network weak = *net;

	scale_emission(&weak, false);
	/* Between the histories heaters may be warm, and draw little, while cathodes are not warm
	 * enough to draw at all: the least is found with both at once. */
	hold_emission_back(&weak, w);
	if (w->line_volts < w->moved_from && reservoirs_move(w, net))
		for (int r = 0; r < net->n_rails; r++) /* no rectifier conducts yet */
			weak.rails[r].dead = weak.rails[r].source != RAIL_FROM_RAIL;
	const struct load_thermal cold = late_of_mean(w, net);
	const double watts[3] = {
		instant_watts(strong, w->line_volts, &w->early),
		instant_watts(strong, w->line_volts, &cold),
		instant_watts(&weak, w->line_volts, &w->early),
	};
	double most = band->expected, least = band->expected;

	for (int i = 0; i < 3; i++) {
		if (isnan(watts[i])) /* no number to be had: leave the settled band, abort far off */
			continue;
		most = fmax(most, watts[i]);
		least = fmin(least, watts[i]);
	}
	band->high = fmax(band->high, most * (1.0 + up)) + charging_watts(w, net, &band->at);
	band->low = fmin(band->low, fmax(0.0, least * (1.0 - down) - meter->offset_watts));
}

/* The excess over watts that a healthy unit can draw, within the fuse as far as they are. */
static double abort_above(const struct warming *w, const struct abort_rule *rule, double watts,
                          double excess)
{
	const double abort_watts = watts + fmax(excess, rule->floor_watts);

	return rule->fuse_amps > 0.0 ? fmax(watts, fmin(abort_watts, rule->fuse_amps *
	                                                w->line_volts)) : abort_watts;
}

/* The abort line stays above what a unit would draw that was off, or at full line, in the
 * silence. */
static void doubt_abort(const struct warming *w, const struct network *net,
                        const struct network *strong, const struct abort_rule *rule, double up,
                        double excess, struct band *band)
{
	double most = fmax(band->expected, 0.0);
	const struct load_thermal cold = coldest_of(net, w->cold, WARMING_PACES);
	const struct load_thermal *ends[] = { &w->hot, &cold };

	for (size_t i = 0; i < 2; i++)
		most = fmax(most, instant_watts(strong, w->line_volts, ends[i])); /* NAN: passed
		                                                                     over */
	most *= 1.0 + up;
	most += w->seconds - w->silence_end_s < longest_mean_s ?
		rise_watts(net, &band->at, w->line_volts, 0.0) :
		reservoirs(net, &band->at, w->line_volts, false) * w->line_volts * w->line_volts /
			longest_mean_s;
	band->abort_watts = fmax(band->abort_watts, abort_above(w, rule, most, excess));
}

/* A mean over a rise from nought holds as large a part of the volts behind it as of the watts,
 * which are so much more there: what a cold unit at nameplate volts takes, in proportion. */
static double blurred_watts(const struct warming *w, const struct network *net,
                            const struct network *strong)
{
	const double full = fmax(net->line_volts, w->line_volts);
	const double watts = instant_watts(strong, full, &w->late);

	return isnan(watts) ? 0.0 : watts * w->line_volts / full;
}

void warming_band(const struct warming *w, const struct network *net, const struct abort_rule *rule,
                  const struct meter_accuracy *meter, struct band *band)
{
	const bool settled = warming_settled(w, net);

	if (!w->begun || !(w->line_volts > 0.0) || (settled && !w->doubt))
		return;
	/* what the settled band allows for all but emission, in proportion; the meter's error is in
	 * it */
	const double up = band->expected > 0.0 ? band->rest_high / band->expected - 1.0 : 0.0;
	const double down = band->expected > 0.0 ? 1.0 - band->rest_low / band->expected : 0.0;
	const double excess = band->abort_watts - band->high;
	struct network strong = *net;

	scale_emission(&strong, true);
	if (!settled) {
		spread_band(w, net, &strong, up, down, meter, band);
		band->abort_watts = abort_above(w, rule, band->high, excess);
	}
	if (w->blurred)
		band->abort_watts = fmax(band->abort_watts, abort_above(w, rule, (1.0 + up) *
			blurred_watts(w, net, &strong), excess));
	if (w->doubt)
		doubt_abort(w, net, &strong, rule, up, excess, band);
}
