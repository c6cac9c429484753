#include "suspect_fit.h"

#include <math.h>
#include <string.h>

/* A rectangular error's standard deviation. */
static const double root_3 = 1.7320508;
/* What the model is not better than: of a reading, and of what a fault changes in it. */
static const double model_share = 0.01, fault_share = 0.1;
/* A parameter that moves no reading by more than this share of its meter's error is left out. */
static const double least_move = 0.05;

/* Beyond the one the readings hardly come from it; within the other they may well. */
static const double normal_999 = 3.0902, normal_95 = 1.6449;

static double observed_in(const struct load_result *at, const struct observation *o)
{
	switch (o->what) {
	case OBSERVED_WATTS:
		return at->watts;
	case OBSERVED_RAIL_VOLTS:
		return at->rail_volts[o->index];
	case OBSERVED_WINDING_VOLTS:
		return at->winding_volts[o->index];
	}
	return (double)NAN;
}

static bool same_place(const struct observation *a, const struct observation *b)
{
	return a->what == b->what && (a->what == OBSERVED_WATTS || a->index == b->index);
}

/* Which of the voltages is it?  A new one if there is room. */
static int voltage_of(struct evidence *e, double line_volts)
{
	for (int k = 0; k < e->n_volts; k++)
		if (fabs(e->volts[k] - line_volts) < 0.005 * line_volts)
			return k;
	if (e->n_volts == EVIDENCE_VOLTS_MAX)
		return -1;
	e->volts[e->n_volts] = line_volts;
	return e->n_volts++;
}

/* Keep the last distinct line volts and what was read at them.  One reading of a kind at each:
 * repeats are not independent evidence. */
static void gather(struct evidence *e, const struct observation *obs, int n)
{
	for (int i = n - 1; i >= 0 && e->n < OBSERVATIONS_MAX; i--) {
		const int v = voltage_of(e, obs[i].line_volts);
		bool known = v < 0;
		int to = e->n;

		for (int k = 0; k < e->n; k++)
			known = known || (e->at[k] == v && same_place(&e->obs[k], &obs[i]));
		if (known)
			continue;
		for (; to > 0 && e->at[to - 1] > v; to--) {
			e->at[to] = e->at[to - 1];
			e->obs[to] = e->obs[to - 1];
		}
		e->at[to] = v;
		e->obs[to] = obs[i];
		e->n++;
	}
}

/* Of a rail that next to nothing flows through, the volts say little while its cathodes are
 * cold. */
static double undefined_volts(const struct network *net, const struct load_result *at,
                              const struct observation *o)
{
	if (o->what != OBSERVED_RAIL_VOLTS || !load_rail_undefined(net, at, o->index))
		return 0.0;
	return 0.1 * at->line_volts + 0.5 * at->rail_volts[o->index];
}

/* Standard deviation of the meter that took it.  A hand-held voltmeter: 1 per cent, and half a volt
 * of clip and patience on a rail, three digits of its 20 V range on a heater (common practice, no
 * source). */
static double meter_error(const struct evidence *e, const struct observation *o, double value)
{
	const double limit = o->what == OBSERVED_WATTS ?
		e->meter->reading_share * value + e->meter->offset_watts :
		0.01 * value + (o->what == OBSERVED_RAIL_VOLTS ? 0.5 : 0.03);

	return limit / root_3;
}

/* Variance of one reading that it shares with no other. */
static double lone_variance(const struct evidence *e, int i, double predicted, double undefined)
{
	const double meter = meter_error(e, &e->obs[i], predicted);
	const double model = model_share * predicted / root_3;
	const double fault = fault_share * (predicted - e->healthy[i]);

	return meter * meter + model * model + fault * fault + undefined * undefined + 1e-12;
}

/* How much of its healthy movement a reading keeps: volts that a fault took away cannot move. */
static double kept_share(const struct evidence *e, int i, double predicted)
{
	if (e->obs[i].what == OBSERVED_WATTS || !(predicted < e->healthy[i]))
		return 1.0;
	return fmax(predicted, 0.0) / e->healthy[i];
}

/* The factorisation as far as it has come, reading by reading. */
struct triangle {
	double chol[OBSERVATIONS_MAX][OBSERVATIONS_MAX], y[OBSERVATIONS_MAX], kept[OBSERVATIONS_MAX];
	double squares, log_own; /* whitened residuals, logarithms of own variances */
};

/* Take reading i into the triangle; false where the covariance is none. */
static bool take(const struct evidence *e, struct triangle *t, int i, double predicted,
                 double undefined)
{
	double own, r = e->obs[i].value - predicted;

	t->kept[i] = kept_share(e, i, predicted);
	for (int j = 0; j < i; j++) {
		double sum = t->kept[i] * t->kept[j] * e->shared[i][j];

		for (int k = 0; k < j; k++)
			sum -= t->chol[i][k] * t->chol[j][k];
		t->chol[i][j] = sum / t->chol[j][j];
	}
	own = t->kept[i] * t->kept[i] * (e->shared[i][i] + e->bent[i]) +
		lone_variance(e, i, predicted, undefined);
	for (int k = 0; k < i; k++) {
		own -= t->chol[i][k] * t->chol[i][k];
		r -= t->chol[i][k] * t->y[k];
	}
	if (!(own > 0.0))
		return false;
	t->chol[i][i] = sqrt(own);
	t->y[i] = r / t->chol[i][i];
	t->squares += t->y[i] * t->y[i];
	t->log_own += log(own);
	return true;
}

/* All readings under *net: the triangle in *t, the misfit returned. */
static double misfit_by(const struct evidence *e, const struct network *net, double line_factor,
                        double enough, struct triangle *t)
{
	double healthy_log = 0.0;
	int i = 0;

	t->squares = t->log_own = 0.0;
	for (int v = 0; v < e->n_volts; v++) {
		struct load_start start = e->start[v];
		struct load_result at;

		load_settled(net, e->volts[v] * line_factor, &start, &at);
		if (!at.converged)
			load_settled(net, e->volts[v] * line_factor, NULL, &at);
		if (!at.converged)
			return (double)INFINITY;
		for (; i < e->n && e->at[i] == v; i++) {
			/* volts that say little of a healthy unit say as little of a faulty one */
			const double undefined = fmax(e->undefined[i],
			                              undefined_volts(net, &at, &e->obs[i]));

			if (!take(e, t, i, observed_in(&at, &e->obs[i]), undefined))
				return (double)INFINITY;
			healthy_log += log(e->own[i]);
		}
		if (t->squares + t->log_own - healthy_log + e->spare[v + 1] > enough)
			return (double)INFINITY;
	}
	return t->squares + t->log_own - healthy_log;
}

double evidence_misfit(const struct evidence *e, const struct network *net, double line_factor,
                       double enough)
{
	struct triangle t;

	return misfit_by(e, net, line_factor, enough, &t);
}

/* (Wilson and Hilferty, Proc. Nat. Acad. Sci. 17 (1931), from memory) */
double chi_square_point(double normal, int freedom)
{
	const double part = 2.0 / (9.0 * freedom), root = 1.0 - part + normal * sqrt(part);

	return freedom * root * root * root;
}

/* By how much the squares shrink when reading i is left out: the square of its residual against all
 * the others together, by their common covariance.  With that as L L', and L y the residuals, it is
 * (column i of L^-1 times y)^2 over the square of that column. */
static double squares_of(const struct triangle *t, int n, int i)
{
	double column[OBSERVATIONS_MAX], along = 0.0, length = 0.0;

	for (int k = i; k < n; k++) {
		double sum = k == i ? 1.0 : 0.0;

		for (int j = i; j < k; j++)
			sum -= t->chol[k][j] * column[j];
		column[k] = sum / t->chol[k][k];
		along += column[k] * t->y[k];
		length += column[k] * column[k];
	}
	return along * along / length;
}

bool evidence_poor(const struct evidence *e, const struct network *net, double line_factor,
                   int *lone)
{
	struct triangle t;
	double most = 0.0;
	int worst = -1;

	*lone = -1;
	if (!isfinite(misfit_by(e, net, line_factor, (double)INFINITY, &t)))
		return true;
	for (int i = 0; i < e->n; i++) {
		const double squares = squares_of(&t, e->n, i);

		if (squares > most) {
			most = squares;
			worst = i;
		}
	}
	if (!(t.squares > chi_square_point(normal_999, e->n)))
		return false;
	if (e->n > 2 && t.squares - most < chi_square_point(normal_95, e->n - 1))
		*lone = worst;
	return true;
}

static bool solve_healthy(struct evidence *e, const struct network *net)
{
	for (int v = 0, i = 0; v < e->n_volts; v++) {
		struct load_result at;

		load_settled(net, e->volts[v], &e->start[v], &at);
		if (!at.converged)
			return false;
		for (; i < e->n && e->at[i] == v; i++) {
			e->healthy[i] = observed_in(&at, &e->obs[i]);
			e->undefined[i] = undefined_volts(net, &at, &e->obs[i]);
		}
	}
	return true;
}

/* What the readings at voltage v become when a parameter is off by `factor`; false: no solution. */
static bool move(const struct evidence *e, struct network *scratch, int param, double factor, int v,
                 double *ret)
{
	struct load_start start = e->start[v];
	struct load_result at;

	network_scale(scratch, param, factor);
	load_settled(scratch, e->volts[v], &start, &at);
	network_scale(scratch, param, 1.0 / factor);
	for (int i = 0; at.converged && i < e->n; i++)
		if (e->at[i] == v)
			ret[i] = observed_in(&at, &e->obs[i]) - e->healthy[i];
	return at.converged;
}

/* Does the parameter move anything at the highest of the voltages, or at a middle one? */
static bool matters(const struct evidence *e, const double *up, int v)
{
	for (int i = 0; i < e->n; i++)
		if (e->at[i] == v && fabs(up[i]) > least_move * meter_error(e, &e->obs[i],
		                                                            e->healthy[i]))
			return true;
	return false;
}

/* Every unknown of the unit moves all readings together.  Where its two sides differ (knees are not
 * straight) the larger one counts, and by half their sum the readings move each for itself. */
static void weigh_unknowns(struct evidence *e, const struct network *net)
{
	struct network scratch = *net;

	for (int k = 0; k < net->n_params; k++) {
		const struct param *p = &net->params[k];
		/* within narrow and even limits one side tells the other */
		const bool two_sides = !(p->up < 0.21) || p->up < p->down || p->up > p->down;
		double up[OBSERVATIONS_MAX] = { 0 }, down[OBSERVATIONS_MAX] = { 0 };
		double moved[OBSERVATIONS_MAX];
		bool any = false;

		for (int v = 0; v < e->n_volts; v++) {
			/* two quiet voltages in a row: quiet, unless it is one that wakes up
			 * late */
			if (v == 2 && !any && !two_sides)
				break;
			if (!move(e, &scratch, k, 1.0 + p->up, v, up))
				continue;
			any = any || matters(e, up, v);
			if (two_sides)
				(void)move(e, &scratch, k, 1.0 - p->down, v, down);
		}
		for (int i = 0; i < e->n; i++) {
			moved[i] = fabs(up[i]) >= fabs(down[i]) ? up[i] : -down[i];
			if (two_sides) {
				const double bent = 0.5 * (up[i] + down[i]) / root_3;

				e->bent[i] += bent * bent;
			}
		}
		for (int i = 0; i < e->n; i++)
			for (int j = 0; j <= i; j++)
				e->shared[i][j] += moved[i] * moved[j] / 3.0;
	}
}

bool evidence_weigh(struct evidence *e, const struct network *net,
                    const struct meter_accuracy *meter, const struct observation *obs, int n)
{
	struct triangle t;

	memset(e, 0, sizeof *e);
	e->meter = meter;
	gather(e, obs, n);
	if (e->n == 0 || !solve_healthy(e, net))
		return false;
	weigh_unknowns(e, net);
	t.squares = t.log_own = 0.0;
	for (int i = 0; i < e->n; i++) {
		if (!take(e, &t, i, e->healthy[i], e->undefined[i]))
			return false;
		e->own[i] = t.chol[i][i] * t.chol[i][i];
	}
	for (int v = e->n_volts - 1; v >= 0; v--) {
		e->spare[v] = e->spare[v + 1];
		for (int i = 0; i < e->n; i++)
			if (e->at[i] == v) {
				const double least = meter_error(e, &e->obs[i], 0.0);

				e->spare[v] += fmin(0.0, log(least * least / e->own[i]));
			}
	}
	return true;
}
