#include "mainstair/core/suspects.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { VOLTS_MAX = 8, SIZES_MAX = 14 };

/* How often it is this, of a hundred faults in a unit that has stood for decades: what dries, leaks
 * and shorts is capacitors, then tubes; copper seldom, and the meter hardly ever (common practice,
 * no source).  Shared evenly by all the places where a kind can be. */
static const double of_a_hundred[] = {
	[SUSPECT_MAINS_SHUNT] = 10, [SUSPECT_SHORTED_TURN] = 6, [SUSPECT_WINDING_SHORT] = 8,
	[SUSPECT_RAIL_LEAK] = 30, [SUSPECT_PLATE_SHORT] = 5, [SUSPECT_RAIL_LOAD] = 10,
	[SUSPECT_HEATER_OPEN] = 20, [SUSPECT_RAIL_DEAD] = 9, [SUSPECT_LINE_HIGHER] = 2,
};

/* A hypothesis before it is fitted: the sizes to look at, from slight to gross. */
struct hypothesis {
	enum suspect_kind kind;
	int index;
	double from, to; /* sizes; equal: no freedom of size */
	int steps;
	int places;      /* that one name stands for: heaters of one rating in one role */
};

/* Readings sorted by line volts, with what a healthy unit gives and how the unknowns move it. */
struct evidence {
	int n;
	struct observation obs[OBSERVATIONS_MAX];
	int at[OBSERVATIONS_MAX]; /* index into volts[] */
	double volts[VOLTS_MAX];
	int n_volts;
	struct load_start start[VOLTS_MAX];
	double healthy[OBSERVATIONS_MAX];
	double chol[OBSERVATIONS_MAX][OBSERVATIONS_MAX]; /* lower, of the covariance */
};

void suspect_apply(struct network *net, enum suspect_kind kind, int index, double size)
{
	switch (kind) {
	case SUSPECT_HEALTHY:
		break;
	case SUSPECT_MAINS_SHUNT:
		net->line_shunt_siemens += 1.0 / size;
		break;
	case SUSPECT_SHORTED_TURN:
		net->turn_siemens += size / (net->emf_rated * net->emf_rated);
		break;
	case SUSPECT_WINDING_SHORT:
		net->windings[index].short_siemens += 1.0 / size;
		break;
	case SUSPECT_RAIL_LEAK:
		net->rails[index].leak_siemens += 1.0 / size;
		break;
	case SUSPECT_PLATE_SHORT:
		net->rails[index].plate_short_siemens += 1.0 / size;
		break;
	case SUSPECT_RAIL_LOAD:
		net->rails[index].load_factor *= size;
		break;
	case SUSPECT_HEATER_OPEN:
		net->heaters[index].open = true;
		break;
	case SUSPECT_RAIL_DEAD:
		net->rails[index].dead = true;
		break;
	case SUSPECT_LINE_HIGHER:
		break; /* the readings' volts, not the network: see predict() */
	}
}

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

/* What the n observations would read on *net.  False when a solve does not come back. */
static bool predict(const struct network *net, struct evidence *e, double line_factor, double *ret)
{
	for (int v = 0; v < e->n_volts; v++) {
		struct load_start start = e->start[v];
		struct load_result at;

		load_settled(net, e->volts[v] * line_factor, &start, &at);
		if (!at.converged)
			load_settled(net, e->volts[v] * line_factor, NULL, &at);
		if (!at.converged)
			return false;
		for (int i = 0; i < e->n; i++)
			if (e->at[i] == v)
				ret[i] = observed_in(&at, &e->obs[i]);
	}
	return true;
}

/* r' C^-1 r by forward substitution. */
static double misfit(const struct evidence *e, const double *predicted)
{
	double y[OBSERVATIONS_MAX], sum = 0.0;

	for (int i = 0; i < e->n; i++) {
		double r = e->obs[i].value - predicted[i];

		for (int k = 0; k < i; k++)
			r -= e->chol[i][k] * y[k];
		y[i] = r / e->chol[i][i];
		sum += y[i] * y[i];
	}
	return sum;
}

/* Keep the last VOLTS_MAX distinct line volts and what was read at them. */
static void gather(struct evidence *e, const struct observation *obs, int n)
{
	e->n = e->n_volts = 0;
	for (int i = n - 1; i >= 0 && e->n < OBSERVATIONS_MAX; i--) {
		int v = -1;

		for (int k = 0; k < e->n_volts; k++)
			if (fabs(e->volts[k] - obs[i].line_volts) < 0.005 * obs[i].line_volts)
				v = k;
		if (v < 0 && e->n_volts < VOLTS_MAX) {
			v = e->n_volts++;
			e->volts[v] = obs[i].line_volts;
		}
		/* one reading of a kind at each voltage: repeats are not independent evidence */
		for (int k = 0; v >= 0 && k < e->n; k++)
			if (e->at[k] == v && e->obs[k].what == obs[i].what &&
			    (obs[i].what == OBSERVED_WATTS || e->obs[k].index == obs[i].index))
				v = -1;
		if (v < 0)
			continue;
		e->at[e->n] = v;
		e->obs[e->n++] = obs[i];
	}
}

/* A rail that next to nothing flows through stands where leakage, a few stray electrons and the time
 * since the last stage put it: its volts say little while its cathodes are cold. */
static double undefined_volts(const struct network *net, const struct load_result *at,
                              const struct observation *o)
{
	const double trickle_amps = 1e-3;
	int source = o->index;

	if (o->what != OBSERVED_RAIL_VOLTS)
		return 0.0;
	while (net->rails[source].source == RAIL_FROM_RAIL)
		source = net->rails[source].parent;
	const double flow = fmin(at->rail_amps[o->index], at->rail_amps[source]);
	if (net->rails[source].saturation_amps <= 0.0 || flow > trickle_amps)
		return 0.0;
	return 0.1 * at->line_volts + 0.5 * at->rail_volts[o->index];
}

/* Covariance: the meter's on the diagonal, and every unknown of the unit, which moves all readings
 * together.  Limits of a rectangular error over root 3 are its standard deviation. */
static bool weigh(struct evidence *e, const struct network *net, const struct meter_accuracy *meter)
{
	double cov[OBSERVATIONS_MAX][OBSERVATIONS_MAX] = { { 0 } };
	struct network scratch = *net;
	double moved[OBSERVATIONS_MAX], undefined[OBSERVATIONS_MAX];

	for (int v = 0; v < e->n_volts; v++) {
		struct load_result at;

		load_settled(net, e->volts[v], &e->start[v], &at);
		if (!at.converged)
			return false;
		for (int i = 0; i < e->n; i++)
			if (e->at[i] == v) {
				e->healthy[i] = observed_in(&at, &e->obs[i]);
				undefined[i] = undefined_volts(net, &at, &e->obs[i]);
			}
	}
	for (int i = 0; i < e->n; i++) {
		/* a hand-held voltmeter: 1 per cent, and half a volt of clip and patience on a rail,
		 * three digits of its 20 V range on a heater (common practice, no source) */
		const double limit = e->obs[i].what == OBSERVED_WATTS ?
			meter->reading_share * e->healthy[i] + meter->offset_watts :
			0.01 * e->healthy[i] + (e->obs[i].what == OBSERVED_RAIL_VOLTS ? 0.5 : 0.03);
		/* and what the model itself is not better than */
		const double model = 0.01 * e->healthy[i];

		cov[i][i] = (limit * limit + model * model) / 3.0 + 1e-12 +
			undefined[i] * undefined[i];
	}
	for (int k = 0; k < net->n_params; k++) {
		const struct param *p = &net->params[k];
		double wide[OBSERVATIONS_MAX] = { 0 };

		/* the side that moves most, each reading for itself: knees are not straight */
		for (int side = 0; side < 2; side++) {
			const double factor = side == 0 ? 1.0 + p->up : 1.0 - p->down;

			if (side == 1 && p->up < 0.21)
				break;
			network_scale(&scratch, k, factor);
			const bool ok = predict(&scratch, e, 1.0, moved);
			network_scale(&scratch, k, 1.0 / factor);
			for (int i = 0; ok && i < e->n; i++)
				if (fabs(moved[i] - e->healthy[i]) > fabs(wide[i]))
					wide[i] = (side == 0 ? 1.0 : -1.0) * (moved[i] - e->healthy[i]);
		}
		for (int i = 0; i < e->n; i++)
			for (int j = 0; j <= i; j++)
				cov[i][j] += wide[i] * wide[j] / 3.0;
	}
	for (int i = 0; i < e->n; i++)
		for (int j = 0; j <= i; j++) {
			double sum = cov[i][j];

			for (int k = 0; k < j; k++)
				sum -= e->chol[i][k] * e->chol[j][k];
			if (i == j) {
				if (!(sum > 0.0))
					return false;
				e->chol[i][i] = sqrt(sum);
			} else {
				e->chol[i][j] = sum / e->chol[j][j];
			}
		}
	return true;
}

static bool same_rating(const struct net_heater *a, const struct net_heater *b)
{
	return a->winding == b->winding && fabs(a->amps - b->amps) < 1e-6 &&
		fabs(a->volts - b->volts) < 1e-6;
}

static bool among(const int *by, int n, int heater)
{
	for (int i = 0; i < n; i++)
		if (by[i] == heater)
			return true;
	return false;
}

/* Is the one's heater missed wherever the other's would be? */
static bool same_role(const struct network *net, int a, int b)
{
	for (int r = 0; r < net->n_rails; r++) {
		const struct net_rail *rail = &net->rails[r];

		if (among(rail->rectifier_by, rail->n_rectifier_by, a) !=
		    among(rail->rectifier_by, rail->n_rectifier_by, b) ||
		    among(rail->regulator_by, rail->n_regulator_by, a) !=
		    among(rail->regulator_by, rail->n_regulator_by, b))
			return false;
		for (int d = 0; d < rail->n_draws; d++)
			if (among(rail->draws[d].by, rail->draws[d].n_by, a) !=
			    among(rail->draws[d].by, rail->draws[d].n_by, b))
				return false;
	}
	return true;
}

/* One hypothesis for all heaters that nothing here can tell apart. */
static int list_heaters(const struct network *net, struct hypothesis *h, int n)
{
	for (int i = 0; i < net->n_heaters && n < SUSPECTS_MAX - 2; i++) {
		const bool string = net->heaters[i].winding < 0;
		int alike = 0, first = net->n_heaters;

		for (int k = 0; k < net->n_heaters; k++) {
			/* any gap in a string stops it whole */
			const bool same = string ? net->heaters[k].winding < 0 :
				same_rating(&net->heaters[i], &net->heaters[k]) &&
				same_role(net, i, k);

			alike += same;
			if (same && k < first)
				first = k;
		}
		if (first == i)
			h[n++] = (struct hypothesis){ SUSPECT_HEATER_OPEN, i, 0.0, 0.0, 1, alike };
	}
	return n;
}

static int list_hypotheses(const struct network *net, struct hypothesis *h)
{
	double rated = 0.0;
	struct load_result at;
	int n = 0;

	load_settled(net, net->line_volts, NULL, &at);
	rated = at.watts;
	const double unit_ohms = net->line_volts * net->line_volts / rated;
	h[n++] = (struct hypothesis){ SUSPECT_MAINS_SHUNT, -1, 10.0 * unit_ohms, 0.1 * unit_ohms, 9, 1 };
	if (net->transformer)
		h[n++] = (struct hypothesis){ SUSPECT_SHORTED_TURN, -1, 0.05 * rated, 3.0 * rated, 9, 1 };
	for (int w = 0; w < net->n_windings; w++) {
		const double volts = net->windings[w].rated_volts;

		if (volts > 0.0)
			h[n++] = (struct hypothesis){ SUSPECT_WINDING_SHORT, w,
				volts * volts / (0.1 * rated), volts * volts / (20.0 * rated), 9, 1 };
	}
	for (int r = 0; r < net->n_rails && n < SUSPECTS_MAX - 4; r++) {
		const double volts = at.rail_volts[r], amps = fmax(at.rail_amps[r], 1e-4);

		if (!(volts > 1.0))
			continue;
		/* down to a dead short, which on a low rail of much current is under an ohm */
		h[n++] = (struct hypothesis){ SUSPECT_RAIL_LEAK, r, 8.0 * volts / amps,
			fmin(10.0, 0.02 * volts / amps), 12, 1 };
		if (net->rails[r].source != RAIL_FROM_RAIL)
			h[n++] = (struct hypothesis){ SUSPECT_PLATE_SHORT, r, 30.0, 0.3, 5, 1 };
		if (net->rails[r].n_draws > 0)
			h[n++] = (struct hypothesis){ SUSPECT_RAIL_LOAD, r, 1.3, 5.0, 6, 1 };
		h[n++] = (struct hypothesis){ SUSPECT_RAIL_DEAD, r, 0.0, 0.0, 1, 1 };
	}
	n = list_heaters(net, h, n);
	h[n++] = (struct hypothesis){ SUSPECT_LINE_HIGHER, -1, 1.03, 1.15, 5, 1 };
	return n;
}

/* Natural logarithm of what is thought of it before any reading, against healthy: a unit that has
 * stood for decades is as likely to have a fault as not. */
static double prior_log_odds(const struct hypothesis *all, int n, const struct hypothesis *one)
{
	int places = 0;

	for (int i = 0; i < n; i++)
		if (all[i].kind == one->kind)
			places += all[i].places;
	return log(0.01 * of_a_hundred[one->kind] * one->places / places);
}

static double fit_at(const struct network *net, struct network *scratch, struct evidence *e,
                     const struct hypothesis *h, double size)
{
	double predicted[OBSERVATIONS_MAX];

	*scratch = *net;
	suspect_apply(scratch, h->kind, h->index, size);
	return predict(scratch, e, h->kind == SUSPECT_LINE_HIGHER ? size : 1.0, predicted) ?
		misfit(e, predicted) : (double)INFINITY;
}

/* Best size: a coarse walk in equal ratios, then the parabola's lowest point between the
 * neighbours (in the logarithm of the size). */
static void fit(const struct network *net, struct network *scratch, struct evidence *e,
                const struct hypothesis *h, struct suspect *ret)
{
	double chi[SIZES_MAX] = { 0 }, size[SIZES_MAX] = { 0 };
	const int steps = h->steps < SIZES_MAX ? h->steps : SIZES_MAX;
	int best = 0;

	for (int i = 0; i < steps; i++) {
		size[i] = steps > 1 ? h->from * pow(h->to / h->from, (double)i / (steps - 1)) : h->from;
		chi[i] = fit_at(net, scratch, e, h, size[i]);
		if (chi[i] < chi[best])
			best = i;
		/* past a clear valley it only gets worse */
		if (i > best + 2 && chi[i] > chi[best] + 30.0)
			break;
	}
	*ret = (struct suspect){ .kind = h->kind, .index = h->index };
	ret->size = size[best];
	ret->chi_square = chi[best];
	if (best > 0 && best < steps - 1 && isfinite(chi[best - 1]) && isfinite(chi[best + 1])) {
		const double left = chi[best - 1] - chi[best], right = chi[best + 1] - chi[best];

		if (left + right > 0.0) {
			const double shift = 0.5 * (left - right) / (left + right);
			const double between = size[best] *
				pow(size[best + 1] / size[best], shift);
			const double at = fit_at(net, scratch, e, h, between);

			if (at < ret->chi_square) {
				ret->size = between;
				ret->chi_square = at;
			}
		}
	}
}

static void ohms_words(char *to, size_t n, double ohms)
{
	if (ohms >= 1e6)
		(void)snprintf(to, n, "%.2g Mohm", ohms / 1e6);
	else if (ohms >= 1e3)
		(void)snprintf(to, n, "%.2g kohm", ohms / 1e3);
	else if (ohms >= 100.0)
		(void)snprintf(to, n, "%.0f ohm", 10.0 * floor(ohms / 10.0 + 0.5));
	else
		(void)snprintf(to, n, "%.2g ohm", ohms);
}

/* The one heater, or its rating and one that has it where nothing tells which. */
static void word_heater(const struct network *net, struct suspect *s)
{
	const struct net_heater *h = &net->heaters[s->index];
	int alike = 0;

	for (int i = 0; i < net->n_heaters; i++)
		alike += same_rating(&net->heaters[i], h) &&
			(s->one_of_rating || same_role(net, i, s->index));
	if (h->winding < 0)
		(void)snprintf(s->words, sizeof s->words, "the heater string is open");
	else if (alike > 1)
		(void)snprintf(s->words, sizeof s->words,
		               "an open heater of %.2g A: %s or another like it", h->amps, h->place);
	else
		(void)snprintf(s->words, sizeof s->words, "an open heater: %s", h->place);
}

static void word(const struct network *net, struct suspect *s)
{
	char ohms[32];

	ohms_words(ohms, sizeof ohms, s->size);
	switch (s->kind) {
	case SUSPECT_HEALTHY:
		(void)snprintf(s->words, sizeof s->words, "healthy");
		break;
	case SUSPECT_MAINS_SHUNT:
		(void)snprintf(s->words, sizeof s->words, "about %s across the mains", ohms);
		break;
	case SUSPECT_SHORTED_TURN:
		(void)snprintf(s->words, sizeof s->words,
		               "a shorted turn taking about %.2g W at full line", s->size);
		break;
	case SUSPECT_WINDING_SHORT:
		(void)snprintf(s->words, sizeof s->words, "about %s across winding %s", ohms,
		               net->windings[s->index].name);
		break;
	case SUSPECT_RAIL_LEAK:
		(void)snprintf(s->words, sizeof s->words, "about %s from rail %s to chassis", ohms,
		               net->rails[s->index].name);
		break;
	case SUSPECT_PLATE_SHORT:
		(void)snprintf(s->words, sizeof s->words, "a shorted rectifier plate of rail %s",
		               net->rails[s->index].name);
		break;
	case SUSPECT_RAIL_LOAD:
		(void)snprintf(s->words, sizeof s->words,
		               "the loads of rail %s draw about %.1f times their current",
		               net->rails[s->index].name, s->size);
		break;
	case SUSPECT_HEATER_OPEN:
		word_heater(net, s);
		break;
	case SUSPECT_RAIL_DEAD:
		(void)snprintf(s->words, sizeof s->words, "rail %s dead",
		               net->rails[s->index].name);
		break;
	case SUSPECT_LINE_HIGHER:
		(void)snprintf(s->words, sizeof s->words,
		               "the line is about %.0f %% higher than read",
		               100.0 * (s->size - 1.0));
		break;
	}
}

/* The reading that lies furthest apart under the two best explanations, at the last volts. */
static void separate(const struct network *net, struct network *scratch, struct evidence *e,
                     struct suspicion *ret)
{
	struct load_result at[2];
	const int v = 0; /* gathered from the last reading backwards */
	double best = 0.0;

	for (int k = 0; k < 2; k++) {
		const struct suspect *s = &ret->list[k];
		const double factor = s->kind == SUSPECT_LINE_HIGHER ? s->size : 1.0;

		*scratch = *net;
		suspect_apply(scratch, s->kind, s->index, s->size);
		load_settled(scratch, e->volts[v] * factor, NULL, &at[k]);
	}
	for (int r = 0; r < net->n_rails; r++) {
		const double a = at[0].rail_volts[r], b = at[1].rail_volts[r];
		const double apart = fabs(a - b) / (0.5 + 0.02 * (a + b));

		if (apart > best && apart > 2.0) {
			best = apart;
			(void)snprintf(ret->separate, sizeof ret->separate,
			               "volts on rail %s at %.0f V line: %.0f V if the first, %.0f V if "
			               "the second", net->rails[r].name, e->volts[v], a, b);
		}
	}
	for (int w = 0; w < net->n_windings; w++) {
		const double a = at[0].winding_volts[w], b = at[1].winding_volts[w];
		const double apart = fabs(a - b) / (0.02 + 0.02 * (a + b));

		if (apart > best && apart > 2.0) {
			best = apart;
			(void)snprintf(ret->separate, sizeof ret->separate,
			               "volts on winding %s at %.0f V line: %.2f V if the first, %.2f V "
			               "if the second", net->windings[w].name, e->volts[v], a, b);
		}
	}
	if (best <= 0.0)
		(void)snprintf(ret->separate, sizeof ret->separate,
		               "no voltmeter tells these two apart at %.0f V: plug out, discharge, and "
		               "take ohms of both", e->volts[v]);
}

/* Open heaters of one rating that fit about equally well are one suspect, with the odds of all. */
static void merge_heaters(const struct network *net, struct suspicion *ret)
{
	static const double apart = 2.0; /* in misfit: odds of e */

	for (int i = 0; i < ret->n; i++)
		for (int k = ret->n - 1; k > i; k--) {
			struct suspect *a = &ret->list[i], *b = &ret->list[k];

			if (a->kind != SUSPECT_HEATER_OPEN || b->kind != SUSPECT_HEATER_OPEN ||
			    !same_rating(&net->heaters[a->index], &net->heaters[b->index]) ||
			    fabs(a->chi_square - b->chi_square) > apart)
				continue;
			const double odds = fmax(a->log_odds, b->log_odds) +
				log1p(exp(-fabs(a->log_odds - b->log_odds)));

			if (b->chi_square < a->chi_square)
				*a = *b;
			a->log_odds = odds;
			a->one_of_rating = true;
			ret->list[k] = ret->list[--ret->n];
		}
}

void suspects_rank(const struct network *net, const struct meter_accuracy *meter,
                   const struct observation *obs, int n, struct suspicion *ret)
{
	struct evidence e;
	struct hypothesis h[SUSPECTS_MAX];
	struct network scratch;

	memset(ret, 0, sizeof *ret);
	memset(&e, 0, sizeof e);
	gather(&e, obs, n);
	ret->n_readings = e.n;
	struct suspect *healthy = &ret->list[ret->n++];
	*healthy = (struct suspect){ .kind = SUSPECT_HEALTHY, .index = -1 };
	word(net, healthy);
	if (e.n == 0 || !weigh(&e, net, meter))
		return;
	healthy->chi_square = misfit(&e, e.healthy);
	const double base = healthy->chi_square;

	const int n_h = list_hypotheses(net, h);
	for (int k = 0; k < n_h && ret->n < SUSPECTS_MAX; k++) {
		struct suspect *s = &ret->list[ret->n];

		fit(net, &scratch, &e, &h[k], s);
		if (!isfinite(s->chi_square))
			continue;
		/* every fault pays for being one of many, one with a size for its size as well */
		s->log_odds = 0.5 * (base - s->chi_square) + prior_log_odds(h, n_h, &h[k]) -
			(h[k].steps > 1 ? 0.5 * log((double)(e.n + 1)) : 0.0);
		ret->n++;
	}
	merge_heaters(net, ret);
	for (int i = 0; i < ret->n; i++)
		word(net, &ret->list[i]);
	for (int i = 1; i < ret->n; i++)
		for (int k = i; k > 0 && ret->list[k].log_odds > ret->list[k - 1].log_odds; k--) {
			const struct suspect swap = ret->list[k];

			ret->list[k] = ret->list[k - 1];
			ret->list[k - 1] = swap;
		}
	/* odds of three are the least worth the name (Jeffreys, Theory of Probability, app. B) */
	ret->can_tell = ret->n > 1 && ret->list[0].log_odds - ret->list[1].log_odds > log(3.0);
	if (ret->list[0].kind != SUSPECT_HEALTHY && ret->n > 1)
		separate(net, &scratch, &e, ret);
}

void suspect_odds(const struct suspect *s, char *out, size_t size)
{
	const double odds = exp(fmin(s->log_odds, 20.0));

	if (s->log_odds < -0.7)
		(void)snprintf(out, size, "less likely than healthy");
	else if (odds < 2.0)
		(void)snprintf(out, size, "even with healthy");
	else if (odds < 1e4)
		(void)snprintf(out, size, "%.0f to 1 against healthy",
		               odds < 20.0 ? odds : 10.0 * floor(odds / 10.0));
	else
		(void)snprintf(out, size, "over 10000 to 1 against healthy");
}
