#include "rail_tree.h"

#include <math.h>

#include "mainstair/core/emission.h"

/* A rail is never quite without load: keeps the load line's slope off zero. */
static const double least_siemens = 1e-9;

/* Mean emission of the heated ones among n cathodes, and their share: a pulled or burnt-out tube
 * takes its part of the load with it. */
static double emission_of(const struct network *net, const int *by, int n_by, const double *u,
                          double *ret_alive)
{
	double sum = 0.0;
	int alive = 0;

	*ret_alive = 1.0;
	if (n_by == 0)
		return 1.0;
	for (int i = 0; i < n_by; i++)
		if (!net->heaters[by[i]].open) {
			sum += emission_share(u[by[i]]);
			alive++;
		}
	*ret_alive = (double)alive / n_by;
	return alive > 0 ? sum / alive : 0.0;
}

void rail_tree_prepare(struct rail_tree *t, const struct network *net, const double *u)
{
	int placed = 0;
	bool done[NET_RAILS_MAX] = { false };

	/* Rails may stand in any order in a profile; parents never form a ring. */
	while (placed < net->n_rails) {
		const int before = placed;

		for (int r = 0; r < net->n_rails; r++) {
			const struct net_rail *rail = &net->rails[r];

			if (done[r] || (rail->source == RAIL_FROM_RAIL && !done[rail->parent]))
				continue;
			done[r] = true;
			t->order[placed++] = r;
		}
		if (placed == before)
			break;
	}
	for (int r = 0; r < net->n_rails; r++) {
		const struct net_rail *rail = &net->rails[r];

		for (int d = 0; d < rail->n_draws; d++) {
			const struct net_draw *draw = &rail->draws[d];

			double *alive = &t->draw_alive[r][d];

			*alive = 1.0;
			t->draw_saturation[r][d] = draw->kind == DRAW_SPACE_CHARGE ?
				draw->emission * draw->amps *
				emission_of(net, draw->by, draw->n_by, u, alive) : (double)INFINITY;
			if (draw->kind == DRAW_SPACE_CHARGE)
				t->draw_saturation[r][d] *= *alive;
		}
		double *alive = &t->pass_alive[r];

		*alive = 1.0;
		t->pass_saturation[r] = rail->regulator == REGULATOR_SERIES_PASS ?
			rail->pass_saturation_amps *
			emission_of(net, rail->regulator_by, rail->n_regulator_by, u, alive) * *alive :
			(double)INFINITY;
	}
}

/* What a rail itself draws at v, and the slope. */
static double own_amps(const struct rail_tree *t, const struct network *net, int r, double v,
                       double *ret_slope, double *ret_leak_amps)
{
	const struct net_rail *rail = &net->rails[r];
	double amps = least_siemens * v, slope = least_siemens;

	if (v < 0.0)
		v = 0.0;
	for (int d = 0; d < rail->n_draws; d++) {
		const struct net_draw *draw = &rail->draws[d];
		const double full = draw->amps * rail->load_factor * t->draw_alive[r][d];
		double bend, x;

		switch (draw->kind) {
		case DRAW_SPACE_CHARGE:
			x = v / draw->volts;
			amps += emission_limit_slope(full * x * sqrt(x),
			                             t->draw_saturation[r][d], &bend);
			slope += bend * full * 1.5 * sqrt(x) / draw->volts;
			break;
		case DRAW_RESISTIVE:
			amps += full * v / draw->volts;
			slope += full / draw->volts;
			break;
		case DRAW_CONSTANT:
			x = v / (draw->knee * draw->volts);
			amps += full * emission_limit_slope(x, 1.0, &bend);
			slope += full * bend / (draw->knee * draw->volts);
			break;
		}
	}
	if (rail->bleeder_ohms > 0.0) {
		amps += v / rail->bleeder_ohms;
		slope += 1.0 / rail->bleeder_ohms;
	}
	*ret_leak_amps = rail->leak_siemens * v;
	amps += *ret_leak_amps;
	slope += rail->leak_siemens;
	if (rail->regulator == REGULATOR_GAS && t->lit[r] && v > rail->hold_volts) {
		amps += (v - rail->hold_volts) / rail->regulator_ohms;
		slope += 1.0 / rail->regulator_ohms;
	}
	*ret_slope = slope;
	return amps;
}

/* Current from parent to rail r, and its slopes by both volts. */
static double branch_amps(const struct rail_tree *t, const struct network *net, int r, double vp,
                          double vc, double *ret_by_parent, double *ret_by_child)
{
	const struct net_rail *rail = &net->rails[r];

	*ret_by_parent = *ret_by_child = 0.0;
	if (rail->dead)
		return 0.0;
	if (rail->regulator != REGULATOR_SERIES_PASS) {
		*ret_by_parent = 1.0 / rail->series_ohms;
		*ret_by_child = -*ret_by_parent;
		return (vp - vc) / rail->series_ohms;
	}
	/* Fully on, the pass tubes follow the 3/2 law; in regulation they let through what keeps
	 * the rail within half a per cent of its volts at the rated current. */
	const double across = vp > vc ? vp - vc : 0.0;
	const double x = across / rail->pass_drop_volts;
	const double full = rail->pass_amps * t->pass_alive[r];
	double bend_on, bend_set;
	const double on = emission_limit_slope(full * x * sqrt(x), t->pass_saturation[r],
	                                       &bend_on);
	const double on_slope = bend_on * full * 1.5 * sqrt(x) / rail->pass_drop_volts;
	const double gain = rail->pass_amps / (0.005 * rail->pass_volts);
	const double set = gain * (rail->pass_volts - vc);

	if (set <= 0.0) {
		/* above its volts: nothing flows; the way back there is what Newton must see */
		*ret_by_child = -gain;
		return set;
	}
	const double amps = emission_limit_slope(on, set, &bend_on);
	(void)emission_limit_slope(set, on, &bend_set);
	*ret_by_parent = bend_on * on_slope;
	*ret_by_child = -bend_on * on_slope - bend_set * gain;
	return amps;
}

/* Newton over the tree: eliminate from the leaves to the sources, then walk back. */
void rail_tree_solve(struct rail_tree *t, const struct network *net)
{
	const int n = net->n_rails;

	for (int iteration = 0; iteration < 80; iteration++) {
		double below_amps[NET_RAILS_MAX] = { 0 };  /* into the children */
		double below_slope[NET_RAILS_MAX] = { 0 }; /* and their slope after elimination */
		double below_miss[NET_RAILS_MAX] = { 0 };
		double alpha[NET_RAILS_MAX], gamma[NET_RAILS_MAX];
		const double damping = iteration < 20 ? 1.0 : 0.5;
		bool moved = false;

		for (int k = n - 1; k >= 0; k--) {
			const int r = t->order[k];
			const struct net_rail *rail = &net->rails[r];
			double slope, leak;
			const double own = own_amps(t, net, r, t->volts[r], &slope, &leak);

			t->leak_watts[r] = leak * t->volts[r];
			if (rail->source != RAIL_FROM_RAIL) {
				t->amps[r] = own + below_amps[r] + below_miss[r];
				t->siemens[r] = slope + below_slope[r];
				continue;
			}
			double by_parent, by_child;
			const double in = branch_amps(t, net, r, t->volts[rail->parent], t->volts[r],
			                              &by_parent, &by_child);
			const double pivot = slope + below_slope[r] - by_child;

			t->amps[r] = in;
			alpha[r] = by_parent / pivot;
			gamma[r] = (in - own - below_amps[r] - below_miss[r]) / pivot;
			below_amps[rail->parent] += in;
			below_slope[rail->parent] += by_parent + by_child * alpha[r];
			below_miss[rail->parent] += by_child * gamma[r];
		}
		double change[NET_RAILS_MAX] = { 0 };
		for (int k = 0; k < n; k++) {
			const int r = t->order[k];
			const struct net_rail *rail = &net->rails[r];

			if (rail->source != RAIL_FROM_RAIL)
				continue;
			change[r] = damping * (alpha[r] * change[rail->parent] + gamma[r]);
			/* no rail stands above what feeds it */
			double next = t->volts[r] + change[r];
			if (next > t->volts[rail->parent])
				next = 0.5 * (t->volts[r] + t->volts[rail->parent]);
			if (next < 0.0)
				next = 0.5 * t->volts[r];
			change[r] = next - t->volts[r];
			if (fabs(change[r]) > 1e-9 * (1.0 + t->volts[r]))
				moved = true;
			t->volts[r] = next;
		}
		if (!moved)
			break;
	}
}

bool rail_tree_strike(struct rail_tree *t, const struct network *net, double factor)
{
	/* one at a time, nearest the source first: a lit one pulls its neighbours down */
	for (int k = 0; k < net->n_rails; k++) {
		const int r = t->order[k];

		if (net->rails[r].regulator == REGULATOR_GAS && !t->lit[r] &&
		    t->volts[r] >= factor * net->rails[r].strike_volts) {
			t->lit[r] = true;
			return true;
		}
	}
	return false;
}

bool rail_tree_surely_lit(const struct rail_tree *t, const struct network *net)
{
	for (int r = 0; r < net->n_rails; r++) {
		if (net->rails[r].regulator != REGULATOR_GAS || !t->lit[r])
			continue;
		struct rail_tree without = *t;

		without.lit[r] = false;
		rail_tree_solve(&without, net);
		if (without.volts[r] < net->rails[r].strike_volts)
			return false;
	}
	return true;
}
