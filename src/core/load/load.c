/*
 * core/load/load.c - the settled solve
 *
 * Four parts hang together: the heaters' temperatures, the dc side behind the reservoirs
 * (rail_tree.c), the waveform of one line cycle (cycle.c) and the periodic state of every
 * reservoir.  Each sweep of the iteration takes the heaters from the last emf, the load lines
 * from the last mean rail volts, solves one cycle, and moves the reservoirs by a Newton step
 * (cycle.c gives the slope of end against start).  The couplings between the parts are weak (a
 * few per cent of regulation), so six to nine sweeps settle it from cold, one to three from near.
 */
#include "mainstair/core/load.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "cycle.h"
#include "mainstair/core/emission.h"
#include "mainstair/core/heater.h"
#include "rail_tree.h"

static const double root2 = 1.41421356237309504880;

enum { SWEEPS_MAX = 600, FREE_SWEEPS = 6, NEWTON_SWEEPS = 15, RUN_SWEEPS = 45 };
static const double reservoirs_close = 1e-5; /* of a rail's peak volts, a span */
static const double step_weight = 0.01; /* of a Newton step, beside a span's own change */
static const double emf_close = 1e-6;
/* Watts alone are good sooner: what the emf still moves by comes back in them tenfold reduced. */
static const double watts_emf_close = 1e-5;
static const double storing_close = 1e-5; /* of the watts, into or out of reservoirs */
static const double least_amps = 1e-7; /* in an input choke: less is none */
/* A regulator strikes before all has settled if it stands over its strike volts by so many times
 * what the volts still move by, and by this share beside. */
static const double strike_moves = 10.0, strike_beyond = 0.002;

/* Everything that one solve carries from sweep to sweep. */
struct solve {
	const struct network *net;
	double line_volts;
	bool settle_heaters;
	bool watts_alone;
	struct heater_law laws[3];
	double u[NET_HEATERS_MAX];
	double heater_ohms[NET_HEATERS_MAX];
	double winding_siemens[NET_WINDINGS_MAX]; /* heaters and shorts on a winding */
	double string_ohms;
	double emf_rms, emf_move; /* and its last step */
	double emf_lead;          /* phase of the emf against the line, rad */
	struct rail_tree tree;
	struct cycle cycle;
	struct cycle_state state;
	struct cycle_end end;
	/* volts at which a reservoir was seen to gain and to lose over a span */
	double gains_at[CYCLE_CAPS_MAX], loses_at[CYCLE_CAPS_MAX];
	double ran[CYCLE_CAPS_MAX]; /* volts gained over the span before */
	/* a source rail's mean volts: how far off they were, and how far they were moved */
	double mean_move[NET_RAILS_MAX], mean_step[NET_RAILS_MAX];
	int n_sweeps;
	int rail_cap[NET_RAILS_MAX];   /* first reservoir of a source rail, or -1 */
	int cap_rail[CYCLE_CAPS_MAX];
	int path_rail[CYCLE_PATHS_MAX];
	struct cycle_wave wave; /* last: all before it starts from nought, of this only its size */
};

static double ohms_of(const struct net_heater *h)
{
	return h->volts / h->amps;
}

/* A winding that heats: its volts at the heaters for 1 V of emf. */
static double winding_divide(const struct solve *s, int w)
{
	const struct net_winding *winding = &s->net->windings[w];

	return winding->ratio / (1.0 + winding->ohms * s->winding_siemens[w]);
}

/* What hangs on each winding with the heaters as hot as they are. */
static void load_windings(struct solve *s)
{
	const struct network *net = s->net;

	for (int w = 0; w < net->n_windings; w++)
		s->winding_siemens[w] = net->windings[w].short_siemens;
	for (int h = 0; h < net->n_heaters; h++) {
		const struct net_heater *heater = &net->heaters[h];

		if (heater->winding < 0)
			continue;
		s->heater_ohms[h] = ohms_of(heater) *
			heater_resistance(&s->laws[heater->kind], s->u[h]);
		if (!heater->open)
			s->winding_siemens[heater->winding] += 1.0 / s->heater_ohms[h];
	}
}

static void heaters_of_windings(struct solve *s)
{
	const struct network *net = s->net;
	int last = -1;

	for (int h = 0; h < net->n_heaters; h++) {
		const struct net_heater *heater = &net->heaters[h];
		const struct net_heater *before = last >= 0 ? &net->heaters[last] : NULL;

		if (heater->winding < 0)
			continue;
		if (s->settle_heaters) {
			/* tubes of one rating on one winding are equally hot */
			if (before && before->winding == heater->winding &&
			    before->kind == heater->kind && !(before->volts < heater->volts) &&
			    !(before->volts > heater->volts)) {
				s->u[h] = s->u[last];
			} else {
				const double volts = s->emf_rms * winding_divide(s, heater->winding);

				s->u[h] = heater_settled_volts(&s->laws[heater->kind],
				                               volts / heater->volts, s->u[h]);
			}
		}
		last = h;
	}
	load_windings(s);
}

/* One current through everything in the string; volts of the string are the emf node's. */
static void heaters_of_string(struct solve *s)
{
	const struct network *net = s->net;
	bool any = false, broken = false;
	double amps = 0.0;

	for (int h = 0; h < net->n_heaters; h++)
		if (net->heaters[h].winding < 0) {
			any = true;
			broken = broken || net->heaters[h].open;
			amps = net->heaters[h].amps;
		}
	s->string_ohms = (double)INFINITY;
	if (!any)
		return;
	if (!s->settle_heaters || broken) {
		double ohms = net->dropper_ohms;

		for (int h = 0; h < net->n_heaters; h++) {
			const struct net_heater *heater = &net->heaters[h];

			if (heater->winding >= 0)
				continue;
			if (s->settle_heaters)
				s->u[h] = s->laws[heater->kind].ambient;
			s->heater_ohms[h] = ohms_of(heater) *
				heater_resistance(&s->laws[heater->kind], s->u[h]);
			ohms += s->heater_ohms[h];
		}
		if (!broken)
			s->string_ohms = ohms;
		return;
	}
	/* volts of the string rise faster than in proportion with the current: secant from below,
	 * with the resistance at the last current, converges like a fixed point of slope < 1 */
	double ohms = net->dropper_ohms;
	for (int i = 0; i < 60; i++) {
		double slope = net->dropper_ohms; /* dv/di */

		ohms = net->dropper_ohms;
		for (int h = 0; h < net->n_heaters; h++) {
			const struct net_heater *heater = &net->heaters[h];

			if (heater->winding >= 0)
				continue;
			const struct heater_law *law = &s->laws[heater->kind];
			const double share = amps / heater->amps;
			s->u[h] = heater_settled_amps(law, share, s->u[h]);
			s->heater_ohms[h] = ohms_of(heater) * heater_resistance(law, s->u[h]);
			ohms += s->heater_ohms[h];
			/* R ~ i^(about 0.8): only the pace of the iteration hangs on it */
			slope += 1.8 * s->heater_ohms[h];
		}
		const double step = (s->emf_rms - amps * ohms) / slope;
		amps += step;
		if (amps < 0.0)
			amps = 0.0;
		if (fabs(step) < 1e-11 * (amps + 1e-6))
			break;
	}
	s->string_ohms = ohms;
}

static double core_siemens(const struct network *net, double emf_rms)
{
	if (net->core_watts <= 0.0 || emf_rms <= 0.0)
		return 0.0;
	return net->core_watts * pow(emf_rms / net->emf_rated, net->core_exponent) /
		(emf_rms * emf_rms);
}

/* Peak magnetising currents such that the rms at the rated emf is mag_amps:
 * mean cos^2 = 1/2, cos^10 = 63/256, cos^18 = 12155/65536. */
static void magnetising(const struct network *net, double emf_rms, double *linear, double *ninth)
{
	const double s = net->mag_share, l = 1.0 - s;
	const double mean_square = l * l / 2.0 + 2.0 * l * s * 63.0 / 256.0 +
		s * s * 12155.0 / 65536.0;
	const double peak = net->mag_amps / sqrt(mean_square);
	const double x = emf_rms / net->emf_rated;
	const double x3 = x * x * x;

	*linear = peak * l * x;
	*ninth = peak * s * x3 * x3 * x3;
}

static void add_path(struct solve *s, int r, int cap, int polarity, bool faulty)
{
	const struct network *net = s->net;
	const struct net_rail *rail = &net->rails[r];
	struct cycle *c = &s->cycle;
	struct cycle_path *p = &c->paths[c->n_paths++];

	memset(p, 0, sizeof *p);
	p->cap = cap;
	p->polarity = polarity;
	p->surge_ohms = rail->surge_ohms;
	p->winding = -1;
	if (rail->source == RAIL_FROM_LINE) {
		p->ratio = 1.0;
		p->on_line = net->transformer;
	} else {
		const struct net_winding *w = &net->windings[rail->winding];
		const bool across = rail->form == FORM_BRIDGE || rail->form == FORM_DOUBLER;
		const bool half = w->centre_tapped && !across;

		p->winding = rail->winding;
		p->ratio = w->centre_tapped && across ? 2.0 * w->ratio : w->ratio;
		p->winding_ohms = half ? w->ohms / 2.0 : w->ohms;
		p->idle_half = half && polarity == 0;
	}
	if (rail->drop_amps > 0.0) {
		double emission = 1.0, alive = 1.0;

		if (rail->n_rectifier_by > 0) {
			int n = 0;

			emission = 0.0;
			for (int i = 0; i < rail->n_rectifier_by; i++)
				if (!net->heaters[rail->rectifier_by[i]].open) {
					emission += emission_share(s->u[rail->rectifier_by[i]]);
					n++;
				}
			emission /= rail->n_rectifier_by;
			alive = (double)n / rail->n_rectifier_by;
		}
		p->perveance = alive * rail->drop_amps / (rail->drop_volts * sqrt(rail->drop_volts));
		if (alive <= 0.0) { /* pulled or burnt out: not a path at all */
			s->cycle.n_paths--;
			return;
		}
		p->saturation = rail->saturation_amps > 0.0 ?
			rail->saturation_amps * emission : (double)INFINITY;
	} else {
		p->drop_volts = rail->drop_volts;
		p->saturation = (double)INFINITY;
	}
	if (faulty)
		p->short_siemens = rail->plate_short_siemens;
	/* a path must have some resistance: a silicon rectifier straight on the line has the
	 * cord's and its own, about a tenth of an ohm */
	if (p->winding_ohms + p->surge_ohms < 0.1)
		p->surge_ohms = 0.1 - p->winding_ohms;
	s->path_rail[c->n_paths - 1] = r;
}

/* Ahead of a choke the plates meet without a reservoir: a shorted one closes the whole winding on
 * itself through the other plate every other half cycle, and the choke is left with next to
 * nothing. */
static void add_plate_loop(struct solve *s, int r)
{
	const struct net_rail *rail = &s->net->rails[r];
	const int n = s->cycle.n_paths;

	add_path(s, r, -1, -1, false);
	if (s->cycle.n_paths == n)
		return;
	struct cycle_path *p = &s->cycle.paths[n];

	if (rail->form == FORM_FULL_WAVE) { /* both halves of the winding, both surge resistors */
		p->ratio *= 2.0;
		p->winding_ohms *= 2.0;
		p->surge_ohms *= 2.0;
	}
	p->surge_ohms += 1.0 / rail->plate_short_siemens;
	s->cycle.whole = true;
}

/* The paths of every source rail; only the heaters' temperatures change them between sweeps. */
static void lay_paths(struct solve *s)
{
	const struct network *net = s->net;
	struct cycle *c = &s->cycle;

	c->n_paths = c->n_caps = 0;
	c->whole = false;
	for (int r = 0; r < net->n_rails; r++) {
		const struct net_rail *rail = &net->rails[r];

		s->rail_cap[r] = -1;
		if (rail->source == RAIL_FROM_RAIL)
			continue;
		const int cap = c->n_caps;
		const bool shorted = rail->plate_short_siemens > 0.0;
		const bool doubler = rail->form == FORM_DOUBLER;

		s->rail_cap[r] = cap;
		for (int k = 0; k < (doubler ? 2 : 1); k++) {
			struct cycle_cap *q = &c->caps[c->n_caps];

			memset(q, 0, sizeof *q);
			q->farad = rail->farad[k];
			q->twin = doubler ? cap + 1 - k : -1;
			if (rail->choke_input) {
				q->choke_henry = rail->choke_henry;
				q->choke_ohms = rail->series_ohms;
			}
			s->cap_rail[c->n_caps++] = r;
		}
		if (rail->dead)
			continue;
		if (shorted && rail->choke_input) {
			if (rail->form != FORM_HALF_WAVE) /* that one has no other plate */
				add_plate_loop(s, r);
			continue;
		}
		switch (rail->form) {
		case FORM_HALF_WAVE:
			add_path(s, r, cap, 1, shorted);
			c->whole = true;
			break;
		case FORM_FULL_WAVE:
		case FORM_BRIDGE:
			if (!shorted) {
				add_path(s, r, cap, 0, false);
				break;
			}
			/* one leg of a tapped winding conducts both ways; in a bridge the shorted
			 * leg closes the winding on itself every other half cycle */
			add_path(s, r, cap, 1, false);
			add_path(s, r, rail->form == FORM_BRIDGE ? -1 : cap, -1, true);
			c->whole = true;
			break;
		case FORM_DOUBLER:
			add_path(s, r, cap, 1, shorted);
			add_path(s, r, cap + 1, -1, false);
			c->whole = true;
			break;
		}
	}
}

static double peak_of(const struct solve *s, int cap)
{
	double ratio = 0.0;

	for (int p = 0; p < s->cycle.n_paths; p++)
		if (s->cycle.paths[p].cap == cap)
			ratio = s->cycle.paths[p].ratio;
	return root2 * ratio * s->line_volts;
}

static void start_solve(struct solve *s, const struct load_start *start)
{
	const struct network *net = s->net;
	const bool warm = start && start->warm && start->line_volts > 0.0;
	const double scale = warm ? s->line_volts / start->line_volts : 0.0;

	s->emf_rms = warm ? start->emf_rms * scale : 0.97 * s->line_volts;
	s->emf_lead = warm ? start->emf_lead : 0.0;
	if (s->settle_heaters)
		for (int h = 0; h < net->n_heaters; h++)
			s->u[h] = warm ? start->u[h] : 1.0;
	load_windings(s);
	lay_paths(s);
	for (int r = 0; r < net->n_rails; r++) {
		if (s->rail_cap[r] < 0) {
			s->tree.volts[r] = warm ? start->mean[r] * scale : 0.0;
			s->tree.lit[r] = warm && start->lit[r];
			continue;
		}
		const bool doubler = net->rails[r].form == FORM_DOUBLER;
		const double guess = (net->rails[r].choke_input ? 0.6 : 0.8) * peak_of(s, s->rail_cap[r]);

		s->tree.lit[r] = warm && start->lit[r];
		s->tree.volts[r] = warm ? start->mean[r] * scale : (doubler ? 2.0 : 1.0) * guess;
		for (int k = 0; k < (doubler ? 2 : 1); k++)
			s->state.volts[s->rail_cap[r] + k] =
				warm ? start->reservoir[r][k] * scale : guess;
		s->state.amps[s->rail_cap[r]] = warm ? start->choke_amps[r] * scale : 0.0;
	}
	/* children of a cold start: below their parents */
	if (!warm) {
		rail_tree_prepare(&s->tree, net, s->u);
		for (int k = 0; k < net->n_rails; k++) {
			const int r = s->tree.order[k];

			if (net->rails[r].source == RAIL_FROM_RAIL)
				s->tree.volts[r] = 0.8 * s->tree.volts[net->rails[r].parent];
		}
	}
}

/* Newton's next volts of reservoir k, kept between where it was seen to gain and to lose: the
 * charging curve has a knee at the peak, and a cold rectifier next to none but the knee. */
static double keep_between(struct solve *s, int k, double before, double change, double next,
                           double peak)
{
	double *gains = &s->gains_at[k], *loses = &s->loses_at[k];

	if (fabs(next - before) < 1e-6 * peak) /* there: its sign is rounding */
		return next;
	if (change > 0.0)
		*gains = before;
	else
		*loses = before;
	/* emf and load lines move under it: a bracket that closed on nothing is opened again */
	if (*loses > 1.01 * peak)
		*loses = 1.01 * peak;
	/* only into a short does half of a doubler charge the wrong way round */
	const double lowest = s->cycle.caps[k].twin >= 0 ? -peak : 0.0;
	if (*gains < lowest)
		*gains = lowest;
	if (*gains >= *loses - 1e-7 * peak) {
		*gains = change > 0.0 ? before : lowest;
		*loses = change > 0.0 ? 1.01 * peak : before;
	}
	if (next < lowest)
		next = lowest;
	if (next >= *gains && next < *loses)
		return next;
	const double middle = 0.5 * (*gains + *loses);
	/* A bound that Newton contradicts was perhaps seen at another emf: at first it holds only
	 * once.  Should that go in circles, the bounds stay and halving ends it. */
	if (s->n_sweeps < FREE_SWEEPS && fabs(s->emf_move) > 1e-5 * s->line_volts) {
		if (next <= *gains)
			*gains = -(double)INFINITY;
		else
			*loses = (double)INFINITY;
	}
	return middle;
}

/* How far a sweep found things from where they stay. */
struct miss {
	double emf;        /* of line volts; its phase; the volts that load lines were drawn at */
	double reservoirs; /* of their peak volts, made comparable with emf */
	double rails;      /* Newton's step of a reservoir, or of a load line, of all its volts */
	double watts;      /* into and out of reservoirs and chokes: no less may the watts be off */
};

static struct miss sweep(struct solve *s)
{
	const struct network *net = s->net;
	struct cycle *c = &s->cycle;
	struct miss miss = { 0 };

	if (net->transformer)
		heaters_of_windings(s);
	heaters_of_string(s);
	lay_paths(s);
	rail_tree_prepare(&s->tree, net, s->u);
	rail_tree_solve(&s->tree, net);
	for (int k = 0; k < c->n_caps; k++) {
		const int r = s->cap_rail[k];

		c->caps[k].load_siemens = s->tree.siemens[r];
		/* a reservoir that its load empties within a sample is none: a dead short */
		if (c->caps[k].twin < 0 && c->caps[k].farad * 4.0 * CYCLE_HALF_SAMPLES *
		    net->line_hz < s->tree.siemens[r])
			c->caps[k].farad = 0.0;
		c->caps[k].load_amps = s->tree.amps[r] - s->tree.siemens[r] * s->tree.volts[r];
	}
	c->line_peak = root2 * s->line_volts;
	c->line_hz = net->line_hz;
	c->transformer = net->transformer;
	c->line_ohms = net->source_ohms;
	c->primary_ohms = net->primary_ohms;
	c->emf_siemens = 0.0;
	c->line_siemens = net->line_shunt_siemens;
	c->mag_peak_linear = c->mag_peak_ninth = 0.0;
	if (net->transformer) {
		c->emf_siemens = core_siemens(net, s->emf_rms) + net->turn_siemens;
		for (int w = 0; w < net->n_windings; w++)
			if (s->winding_siemens[w] > 0.0)
				c->emf_siemens += net->windings[w].ratio * winding_divide(s, w) *
					s->winding_siemens[w];
		magnetising(net, s->emf_rms, &c->mag_peak_linear, &c->mag_peak_ninth);
		c->emf_lead = s->emf_lead;
		if (s->string_ohms < (double)INFINITY)
			c->line_siemens += 1.0 / s->string_ohms;
	} else if (s->string_ohms < (double)INFINITY) {
		c->emf_siemens = 1.0 / s->string_ohms;
	}

	double before[CYCLE_CAPS_MAX], before_amps[CYCLE_CAPS_MAX];
	memcpy(before, s->state.volts, sizeof before);
	memcpy(before_amps, s->state.amps, sizeof before_amps);
	cycle_solve(c, &s->state, &s->wave, &s->end);

	/* Newton: start + (1 - slope)^-1 (end - start) */
	double shift[NET_RAILS_MAX] = { 0 };
	for (int k = 0; k < c->n_caps; k++) {
		const double peak = peak_of(s, k);
		const double dv = s->state.volts[k] - before[k], di = s->state.amps[k] - before_amps[k];
		const double a = 1.0 - s->end.slope[k][0][0], b = -s->end.slope[k][0][1];
		const double p = -s->end.slope[k][1][0], q = 1.0 - s->end.slope[k][1][1];
		double step, amps_step = 0.0;

		if (c->caps[k].farad <= 0.0)
			continue;
		const double det = a * q - b * p;
		/* A choke without current at either end has no state of its own.  Where its current
		 * breaks off here or there from sweep to sweep, Newton goes in circles: then the
		 * circuit itself is left to run for a while, which always comes nearer, before
		 * Newton tries again. */
		const bool newton = s->n_sweeps % (NEWTON_SWEEPS + RUN_SWEEPS) < NEWTON_SWEEPS;
		const bool choke = c->caps[k].choke_henry > 0.0 &&
			(before_amps[k] > least_amps || s->state.amps[k] > least_amps) &&
			det > 1e-9 && newton;
		if (choke) {
			step = (q * dv - b * di) / det;
			amps_step = (a * di - p * dv) / det;
		} else if (c->caps[k].choke_henry > 0.0 && !newton) {
			/* its volts come nearer by the same share each span: now and then, go where
			 * that leads */
			const double ratio = fabs(s->ran[k]) > 0.0 ? dv / s->ran[k] : 0.0;

			step = s->n_sweeps % 8 == 7 && ratio > 0.5 && ratio < 0.998 ?
				dv / (1.0 - ratio) : dv;
		} else {
			step = dv / (a > 1e-12 ? a : 1e-12);
		}
		double next = before[k] + step;
		if (net->rails[s->cap_rail[k]].plate_short_siemens > 0.0)
			; /* ac through a shorted rectifier: nearly linear, and of either sign */
		else if (c->caps[k].choke_henry <= 0.0)
			next = keep_between(s, k, before[k], dv, next, peak);
		else if (next > peak || next < 0.0)
			next = 0.5 * (before[k] + (next > peak ? peak : 0.0));
		s->state.volts[k] = next;
		if (choke) {
			s->state.amps[k] = before_amps[k] + amps_step;
			if (s->state.amps[k] < 0.0)
				s->state.amps[k] = 0.0;
		}
		s->ran[k] = dv;
		shift[s->cap_rail[k]] += next - before[k];
		if (peak > 0.0 && fabs(dv) > miss.reservoirs * peak)
			miss.reservoirs = fabs(dv) / peak;
		/* a reservoir that hardly loses may still be far from where it will stand */
		if (peak > 0.0 && fabs(next - before[k]) * step_weight > miss.reservoirs * peak)
			miss.reservoirs = fabs(next - before[k]) * step_weight / peak;
		if (peak > 0.0)
			miss.rails = fmax(miss.rails, fabs(next - before[k]) / peak);
		miss.watts += (c->caps[k].farad * fabs(before[k] * dv) +
		               c->caps[k].choke_henry * fabs(before_amps[k] * di)) *
			net->line_hz * (c->whole ? 1.0 : 2.0);
	}
	miss.reservoirs *= emf_close / reservoirs_close;
	for (int r = 0; r < net->n_rails; r++)
		if (s->rail_cap[r] >= 0) {
			const int cap = s->rail_cap[r];
			const bool doubler = net->rails[r].form == FORM_DOUBLER;
			const double mean = s->end.cap_volts[cap] +
				(doubler ? s->end.cap_volts[cap + 1] : 0.0);
			const double rms = sqrt(s->end.cap_volts_squared[cap]) +
				(doubler ? sqrt(s->end.cap_volts_squared[cap + 1]) : 0.0);
			double move = fmax(0.0, mean + shift[r]) - s->tree.volts[r];

			const double off = fabs(mean - s->tree.volts[r]) / (1.0 + rms);

			miss.rails = fmax(miss.rails, off);
			miss.emf = fmax(miss.emf, 0.01 * off);
			/* A shorted plate leaves ac and next to no mean; near none a load's slope
			 * hangs on its last millivolt, and small steps are the sure ones. */
			const double found = move;

			if (rms > 2.0 * fabs(mean) && fabs(move) < 0.1 * rms)
				move *= found * s->mean_move[r] < 0.0 ? /* gone past: the secant */
					s->mean_step[r] / (s->mean_move[r] - found) : 0.2;
			s->mean_move[r] = found;
			s->mean_step[r] = move;
			s->tree.volts[r] += move;
		}
	const double emf = sqrt(s->end.emf_squared);
	miss.emf = fmax(miss.emf, fabs(emf - s->emf_rms) / s->line_volts);
	/* Where emission rules a heavy load, a sag cools the heaters and calms the very load that
	 * caused it: the emf then swings about its value, and Aitken's step stops that. */
	const double move = emf - s->emf_rms;
	const double ratio = fabs(s->emf_move) > 0.0 ? move / s->emf_move : 0.0;
	const double step = ratio < -0.5 && ratio > -3.0 ? move / (1.0 - ratio) : move;
	s->emf_rms += step;
	const double lead = atan2(s->end.emf_cos, s->end.emf_sin);
	miss.emf = fmax(miss.emf, 0.1 * fabs(lead - s->emf_lead));
	s->emf_lead = lead;
	s->emf_move = step;
	return miss;
}

/* Between where a reservoir loses and where it would not lie the watts of both; so where the watts
 * alone are asked for, it need not be known how high one stands that hardly anything loads. */
static bool close_enough(const struct solve *s, const struct miss *miss)
{
	const bool close = s->watts_alone ? miss->emf < watts_emf_close :
		miss->emf < emf_close && miss->reservoirs < emf_close;

	return close && miss->watts <= storing_close * fabs(cycle_watts(&s->cycle, &s->wave));
}

/* Sweep until all has settled, or until a regulator strikes.  False: it does not settle. */
static bool iterate(struct solve *s, bool *ret_struck)
{
	*ret_struck = false;
	for (int k = 0; k < CYCLE_CAPS_MAX; k++) {
		s->gains_at[k] = -(double)INFINITY;
		s->loses_at[k] = (double)INFINITY;
	}
	for (s->n_sweeps = 0; s->n_sweeps < SWEEPS_MAX; s->n_sweeps++) {
		const struct miss miss = sweep(s);

		const bool close = close_enough(s, &miss);
		const double factor = close ? 1.0 :
			1.0 + strike_beyond + strike_moves * fmax(miss.emf, miss.rails);

		*ret_struck = rail_tree_strike(&s->tree, s->net, factor);
		if (close || *ret_struck)
			return true;
	}
	return false;
}

static void report(struct solve *s, struct load_result *ret)
{
	const struct network *net = s->net;
	const struct cycle *c = &s->cycle;
	const struct cycle_end *e = &s->end;
	struct cycle_means means;
	const struct cycle_means *const m = &means;

	cycle_means(c, &s->wave, &means);
	ret->watts = m->line_watts;
	ret->amps = sqrt(m->line_amps_squared);
	ret->va = ret->amps * s->line_volts;
	ret->power_factor = ret->va > 0.0 ? ret->watts / ret->va : 0.0;
	ret->emf = sqrt(e->emf_squared);
	ret->node_volts = sqrt(net->transformer ? m->line_node_squared : e->emf_squared);
	const double node_squared = net->transformer ? m->line_node_squared : e->emf_squared;
	double linear_watts = 0.0; /* what hangs on the emf as plain conductances */
	double sag[NET_WINDINGS_MAX] = { 0 }; /* of the mean square, by the pulses in the copper */

	/* heaters */
	for (int h = 0; h < net->n_heaters; h++) {
		const struct net_heater *heater = &net->heaters[h];
		double volts;

		if (heater->winding >= 0) {
			volts = ret->emf * winding_divide(s, heater->winding);
		} else {
			volts = s->string_ohms < (double)INFINITY ?
				sqrt(node_squared) * s->heater_ohms[h] / s->string_ohms : 0.0;
		}
		ret->heater_share[h] = volts / heater->volts;
		ret->heater_watts[h] = heater->open ? 0.0 : volts * volts / s->heater_ohms[h];
		if (heater->kind == HEATER_LAMP)
			ret->split_lamps += ret->heater_watts[h];
		else
			ret->split_heaters += ret->heater_watts[h];
	}
	if (s->string_ohms < (double)INFINITY)
		ret->split_dropper = node_squared * net->dropper_ohms /
			(s->string_ohms * s->string_ohms);
	ret->split_fault = net->line_shunt_siemens * m->line_node_squared;

	/* windings */
	for (int w = 0; w < net->n_windings; w++) {
		const double divided = winding_divide(s, w);
		const double volts = ret->emf * divided;
		const double amps = volts * s->winding_siemens[w];

		ret->winding_volts[w] = volts;
		ret->split_copper += amps * amps * net->windings[w].ohms;
		ret->split_fault += volts * volts * net->windings[w].short_siemens;
		linear_watts += net->windings[w].ratio * divided * s->winding_siemens[w] *
			e->emf_squared;
	}
	if (net->transformer) {
		ret->split_fault += net->turn_siemens * e->emf_squared;
		ret->split_core = (c->emf_siemens - net->turn_siemens) * e->emf_squared -
			linear_watts + m->mag_watts;
	}
	ret->split_copper += m->line_loss + m->primary_loss;

	/* rectifiers */
	for (int p = 0; p < c->n_paths; p++) {
		const struct cycle_path *path = &c->paths[p];

		ret->split_copper += path->winding_ohms * m->path_amps_squared[p];
		if (path->cap < 0)
			ret->split_fault += m->path_rectifier_watts[p];
		else
			ret->split_rectifier += m->path_rectifier_watts[p];
		if (path->winding >= 0)
			sag[path->winding] += m->path_terminal_squared[p] /
				(path->ratio * path->ratio * e->emf_squared) - 1.0;
	}
	for (int w = 0; w < net->n_windings; w++)
		if (sag[w] < 0.0 && sag[w] > -1.0)
			ret->winding_volts[w] *= sqrt(1.0 + sag[w]);
	/* rails: a source rail takes what the waveform delivers less what its children take */
	for (int k = 0; k < net->n_rails; k++) {
		const int r = s->tree.order[k];
		const struct net_rail *rail = &net->rails[r];

		ret->regulator_lit[r] = s->tree.lit[r];
		if (rail->source != RAIL_FROM_RAIL) {
			const int cap = s->rail_cap[r];
			const int n = rail->form == FORM_DOUBLER ? 2 : 1;
			double mean = 0.0, watts = 0.0, square = 0.0;

			for (int i = 0; i < n; i++) {
				mean += e->cap_volts[cap + i];
				square += e->cap_volts_squared[cap + i] -
					e->cap_volts[cap + i] * e->cap_volts[cap + i];
				watts += m->cap_load_watts[cap + i] + m->cap_choke_watts[cap + i];
				ret->split_storing += m->cap_storing_watts[cap + i];
			}
			ret->rail_volts[r] = mean;
			ret->rail_amps[r] = m->cap_load_amps[cap];
			ret->rail_ripple_volts[r] = square > 0.0 ? sqrt(square) : 0.0;
			ret->split_rail[r] = watts - s->tree.leak_watts[r];
		} else {
			const double parent = s->tree.volts[rail->parent];

			/* what comes through its filter stays in the rail but for what goes on */
			ret->rail_volts[r] = s->tree.volts[r];
			ret->rail_amps[r] = s->tree.amps[r];
			ret->split_rail[r] = parent * s->tree.amps[r] - s->tree.leak_watts[r];
			ret->split_rail[rail->parent] -= parent * s->tree.amps[r];
		}
		ret->split_fault += s->tree.leak_watts[r];
	}
}

static void keep_start(const struct solve *s, struct load_start *start)
{
	const struct network *net = s->net;

	start->warm = true;
	start->line_volts = s->line_volts;
	start->emf_rms = s->emf_rms;
	start->emf_lead = s->emf_lead;
	memcpy(start->u, s->u, sizeof start->u);
	for (int r = 0; r < net->n_rails; r++) {
		const int cap = s->rail_cap[r];

		start->mean[r] = s->tree.volts[r];
		start->lit[r] = s->tree.lit[r];
		if (cap < 0)
			continue;
		start->reservoir[r][0] = s->state.volts[cap];
		start->choke_amps[r] = s->state.amps[cap];
		if (net->rails[r].form == FORM_DOUBLER)
			start->reservoir[r][1] = s->state.volts[cap + 1];
	}
}

/* Settle, lighting one regulator after the other.  `lit`, unless NULL, is how it settles with those
 * that it has lit, should they come to be the same ones. */
static bool come_up(struct solve *s, const struct solve *lit)
{
	for (bool struck = true; struck;) {
		if (!iterate(s, &struck))
			return false;
		if (struck && lit && memcmp(s->tree.lit, lit->tree.lit, sizeof s->tree.lit) == 0) {
			*s = *lit;
			break;
		}
	}
	return true;
}

static const double highest_share = 100.0; /* of nameplate volts */

static bool settle(struct solve *s, const struct load_start *start)
{
	/* far beyond any line the numbers run away, and every step of the search takes long */
	if (!(s->line_volts < highest_share * s->net->line_volts))
		return false;
	const struct network *net = s->net;

	for (int kind = 0; kind < 3; kind++)
		s->laws[kind] = heater_law((enum heater_kind)kind, net->heater_conduction);
	start_solve(s, start);
	if (!come_up(s, NULL))
		return false;
	if (rail_tree_surely_lit(&s->tree, net))
		return true;
	/* lit only because the start said so, perhaps: come up again from unlit */
	const struct solve lit = *s;

	memset(s->tree.lit, 0, sizeof s->tree.lit);
	return come_up(s, &lit);
}

static void solve_load(struct solve *s, struct load_start *start, struct load_result *ret)
{
	memset(ret, 0, sizeof *ret);
	ret->line_volts = s->line_volts;
	if (!(s->line_volts > 0.0)) {
		ret->converged = true;
		return;
	}
	const bool ok = settle(s, start);

	report(s, ret);
	ret->converged = ok && isfinite(ret->watts);
	if (start && ret->converged)
		keep_start(s, start);
	else if (start)
		start->warm = false;
}

static void clear(struct solve *s, const struct network *net, double line_volts)
{
	memset(s, 0, offsetof(struct solve, wave));
	s->wave.samples = 0;
	s->net = net;
	s->line_volts = line_volts;
}

static double watts_alone(struct solve *s, const struct load_start *near)
{
	s->watts_alone = true;
	const bool ok = settle(s, near);
	const double watts = cycle_watts(&s->cycle, &s->wave);

	return ok && isfinite(watts) ? watts : (double)NAN;
}

bool load_rail_undefined(const struct network *net, const struct load_result *at, int r)
{
	const double trickle_amps = 1e-3;
	int source = r;

	while (net->rails[source].source == RAIL_FROM_RAIL && !net->rails[source].dead)
		source = net->rails[source].parent;
	const struct net_rail *fed = &net->rails[source];
	bool open = fed->dead;

	for (int i = 0; i < fed->n_rectifier_by; i++)
		open = open || net->heaters[fed->rectifier_by[i]].open;
	return !open && fed->saturation_amps > 0.0 &&
		fmin(at->rail_amps[r], at->rail_amps[source]) <= trickle_amps;
}

double load_watts(const struct network *net, double line_volts, const struct load_start *near)
{
	struct solve s;

	if (!(line_volts > 0.0))
		return 0.0;
	clear(&s, net, line_volts);
	s.settle_heaters = true;
	return watts_alone(&s, near);
}

double load_instant_watts(const struct network *net, double line_volts,
                          const struct load_thermal *thermal)
{
	struct solve s;

	if (!(line_volts > 0.0))
		return 0.0;
	clear(&s, net, line_volts);
	memcpy(s.u, thermal->u, sizeof s.u);
	return watts_alone(&s, NULL);
}

void load_settled(const struct network *net, double line_volts, struct load_start *start,
                  struct load_result *ret)
{
	struct solve s;

	clear(&s, net, line_volts);
	s.settle_heaters = true;
	solve_load(&s, start, ret);
}
