#include "mainstair/core/suspects.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "suspect_fit.h"
#include "suspect_words.h"

enum { SIZES_MAX = 11, REFINEMENTS = 4 };

/* How often it is this, of a hundred faults in a unit that has stood for decades: what dries, leaks
 * and shorts is capacitors, then tubes; copper seldom, and the meter hardly ever (common practice,
 * no source).  Shared evenly by all the places where a kind can be. */
static double of_a_hundred(enum suspect_kind kind)
{
	switch (kind) {
	case SUSPECT_RAIL_LEAK:
		return 30;
	case SUSPECT_HEATER_OPEN:
		return 20;
	case SUSPECT_MAINS_SHUNT:
	case SUSPECT_RAIL_LOAD:
		return 10;
	case SUSPECT_RAIL_DEAD:
		return 9;
	case SUSPECT_WINDING_SHORT:
		return 8;
	case SUSPECT_SHORTED_TURN:
		return 6;
	case SUSPECT_PLATE_SHORT:
		return 5;
	case SUSPECT_LINE_HIGHER:
		return 2;
	case SUSPECT_HEALTHY:
		break;
	}
	return 0;
}

/* Odds of three are the least worth the name (Jeffreys, Theory of Probability, app. B). */
static const double least_odds = 3.0;
/* A misfit this much above the least is out of the question; so no more is worked out of it. */
static const double hopeless = 60.0;

/* A hypothesis before it is fitted: the sizes to look at, from slight to gross. */
struct hypothesis {
	enum suspect_kind kind;
	int index;
	double from, to; /* sizes; equal: no freedom of size */
	int steps;
	int places;      /* that one name stands for: heaters of one rating in one role */
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

/* One hypothesis for all heaters that nothing here can tell apart. */
static int list_heaters(const struct network *net, struct hypothesis *h, int n)
{
	for (int i = 0; i < net->n_heaters && n < SUSPECTS_MAX - 2; i++) {
		const bool string = net->heaters[i].winding < 0;
		int alike = 0, first = net->n_heaters;

		for (int k = 0; k < net->n_heaters; k++) {
			/* any gap in a string stops it whole */
			const bool same = string ? net->heaters[k].winding < 0 :
				suspect_heaters_alike(net, i, k);

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
	h[n++] = (struct hypothesis){ SUSPECT_MAINS_SHUNT, -1, 10.0 * unit_ohms, 0.1 * unit_ohms, 7, 1 };
	if (net->transformer)
		h[n++] = (struct hypothesis){ SUSPECT_SHORTED_TURN, -1, 0.05 * rated, 3.0 * rated, 6, 1 };
	for (int w = 0; w < net->n_windings; w++) {
		const double volts = net->windings[w].rated_volts;

		if (volts > 0.0)
			h[n++] = (struct hypothesis){ SUSPECT_WINDING_SHORT, w,
				volts * volts / (0.1 * rated), volts * volts / (20.0 * rated), 7, 1 };
	}
	for (int r = 0; r < net->n_rails && n < SUSPECTS_MAX - 4; r++) {
		const double volts = at.rail_volts[r], amps = fmax(at.rail_amps[r], 1e-4);

		if (!(volts > 1.0))
			continue;
		/* down to a dead short, which on a low rail of much current is under an ohm */
		h[n++] = (struct hypothesis){ SUSPECT_RAIL_LEAK, r, 8.0 * volts / amps,
			fmin(1.0, 0.02 * volts / amps), SIZES_MAX, 1 };
		if (net->rails[r].source != RAIL_FROM_RAIL)
			h[n++] = (struct hypothesis){ SUSPECT_PLATE_SHORT, r, 30.0, 0.3, 4, 1 };
		if (net->rails[r].n_draws > 0)
			h[n++] = (struct hypothesis){ SUSPECT_RAIL_LOAD, r, 1.3, 5.0, 5, 1 };
		h[n++] = (struct hypothesis){ SUSPECT_RAIL_DEAD, r, 0.0, 0.0, 1, 1 };
	}
	n = list_heaters(net, h, n);
	h[n++] = (struct hypothesis){ SUSPECT_LINE_HIGHER, -1, 1.03, 1.15, 4, 1 };
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
	return log(0.01 * of_a_hundred(one->kind) * one->places / places);
}

/* What the hypotheses are fitted to, and the best so far. */
struct search {
	const struct network *net;
	struct network scratch;
	struct evidence e;
	double least; /* misfit of the best so far */
};

static double fit_at(struct search *s, const struct hypothesis *h, double size)
{
	s->scratch = *s->net;
	suspect_apply(&s->scratch, h->kind, h->index, size);
	const double misfit = evidence_misfit(&s->e, &s->scratch,
		h->kind == SUSPECT_LINE_HIGHER ? size : 1.0, s->least + hopeless);

	s->least = fmin(s->least, misfit);
	return misfit;
}

/* Lowest point of the parabola through three points, as a share of the way from the first to the
 * last; the middle of the wider side where one of them is out of the question. */
static double lowest(const double x[3], const double y[3])
{
	const double wider = x[1] - x[0] > x[2] - x[1] ? 0.5 * (x[0] + x[1]) : 0.5 * (x[1] + x[2]);
	const double a = (x[1] - x[0]) * (y[1] - y[2]), b = (x[1] - x[2]) * (y[1] - y[0]);
	const double at = x[1] - 0.5 * ((x[1] - x[0]) * a - (x[1] - x[2]) * b) / (a - b);
	const double near = 0.05 * (x[2] - x[0]);

	return isfinite(at) && at > x[0] && at < x[2] && fabs(at - x[1]) > near ? at : wider;
}

/* Best size: a coarse walk in equal ratios, then closer around its best, in the logarithm. */
static void fit(struct search *s, const struct hypothesis *h, struct suspect *ret)
{
	double misfit[SIZES_MAX], log_size[SIZES_MAX];
	int best = 0;

	for (int i = 0; i < h->steps; i++) {
		log_size[i] = h->steps > 1 ? log(h->from) + i * log(h->to / h->from) / (h->steps - 1) :
			0.0;
		misfit[i] = fit_at(s, h, exp(log_size[i]));
		if (misfit[i] < misfit[best])
			best = i;
	}
	const int before = best > 0 ? best - 1 : best, behind = best < h->steps - 1 ? best + 1 : best;
	const bool rising = h->from <= h->to;
	const int least = rising ? before : behind, most = rising ? behind : before;
	double x[3] = { log_size[least], log_size[best], log_size[most] };
	double y[3] = { misfit[least], misfit[best], misfit[most] };

	for (int i = 0; i < REFINEMENTS && h->steps > 1 && isfinite(y[1]); i++) {
		const double at = lowest(x, y), there = fit_at(s, h, exp(at));
		const int side = at < x[1] ? 0 : 2;

		if (there < y[1]) { /* the old middle bounds it on the other side */
			x[2 - side] = x[1];
			y[2 - side] = y[1];
			x[1] = at;
			y[1] = there;
		} else {
			x[side] = at;
			y[side] = there;
		}
	}
	*ret = (struct suspect){ .kind = h->kind, .index = h->index, .misfit = y[1],
		                 .size = h->steps > 1 ? exp(x[1]) : h->from };
}

/* What a restorer goes after in the same way: what draws alternating current, be it with every
 * rectifier pulled; what a rail loses; which heater is dark. */
enum search_for { SEARCH_ALONE, SEARCH_AC, SEARCH_RAIL, SEARCH_HEATERS };

static enum search_for search_for(enum suspect_kind kind)
{
	switch (kind) {
	case SUSPECT_MAINS_SHUNT:
	case SUSPECT_SHORTED_TURN:
	case SUSPECT_WINDING_SHORT:
	case SUSPECT_PLATE_SHORT:
		return SEARCH_AC;
	case SUSPECT_RAIL_LEAK:
	case SUSPECT_RAIL_LOAD:
		return SEARCH_RAIL;
	case SUSPECT_HEATER_OPEN:
		return SEARCH_HEATERS;
	case SUSPECT_HEALTHY:
	case SUSPECT_RAIL_DEAD:
	case SUSPECT_LINE_HIGHER:
		break;
	}
	return SEARCH_ALONE;
}

static bool same_search(const struct suspect *a, const struct suspect *b)
{
	const enum search_for what = search_for(a->kind);

	return what != SEARCH_ALONE && what == search_for(b->kind) &&
		(what != SEARCH_RAIL || a->index == b->index);
}

static void sort(struct suspicion *s)
{
	for (int i = 1; i < s->n; i++)
		for (int k = i; k > 0 && s->list[k].log_odds > s->list[k - 1].log_odds; k--) {
			const struct suspect swap = s->list[k];

			s->list[k] = s->list[k - 1];
			s->list[k - 1] = swap;
		}
}

/* One explanation of those that are looked for alike and that these readings do not tell apart,
 * with the odds of all.  The best is its name, the others stand beside. */
static void merge(struct suspicion *s)
{
	const double level = 2.0 * log(least_odds);

	for (int i = 0; i < s->n; i++) {
		struct suspect *a = &s->list[i];

		for (int k = i + 1; k < s->n;) {
			const struct suspect *b = &s->list[k];

			if (!same_search(a, b) || fabs(b->misfit - a->misfit) >= level ||
			    a->n_also == SUSPECT_ALSO_MAX) {
				k++;
				continue;
			}
			a->also[a->n_also++] = (struct suspect_name){ b->kind, b->index, b->size };
			a->log_odds += log1p(exp(b->log_odds - a->log_odds));
			s->n--;
			memmove(&s->list[k], &s->list[k + 1], (size_t)(s->n - k) * sizeof s->list[0]);
		}
	}
	sort(s);
}

/* Does even the best explanation not fit?  A reading is named as the odd one where the others may
 * come from a healthy unit, or else from the best explanation. */
static void test_best(struct search *s, struct suspicion *ret)
{
	const struct suspect *best = &ret->list[0];
	int lone, lone_healthy;

	s->scratch = *s->net;
	suspect_apply(&s->scratch, best->kind, best->index, best->size);
	ret->poor_fit = evidence_poor(&s->e, &s->scratch,
		best->kind == SUSPECT_LINE_HIGHER ? best->size : 1.0, &lone);
	if (!ret->poor_fit)
		return;
	(void)evidence_poor(&s->e, s->net, 1.0, &lone_healthy);
	if (lone_healthy >= 0)
		lone = lone_healthy;
	if (lone >= 0)
		suspect_odd(s->net, &s->e.obs[lone], ret);
}

void suspects_rank(const struct network *net, const struct meter_accuracy *meter,
                   const struct observation *obs, int n, struct suspicion *ret)
{
	struct hypothesis h[SUSPECTS_MAX];
	struct search s = { .net = net };

	memset(ret, 0, sizeof *ret);
	struct suspect *healthy = &ret->list[ret->n++];
	*healthy = (struct suspect){ .kind = SUSPECT_HEALTHY, .index = -1 };
	suspect_words(net, healthy, healthy->words, sizeof healthy->words);
	if (!evidence_weigh(&s.e, net, meter, obs, n))
		return;
	ret->n_readings = s.e.n;
	s.least = healthy->misfit = evidence_misfit(&s.e, net, 1.0, (double)INFINITY);
	const double base = healthy->misfit;

	const int n_h = list_hypotheses(net, h);
	for (int k = 0; k < n_h && ret->n < SUSPECTS_MAX; k++) {
		struct suspect *one = &ret->list[ret->n];

		fit(&s, &h[k], one);
		if (!isfinite(one->misfit))
			continue;
		/* every fault pays for being one of many, one with a size for its size as well */
		one->log_odds = 0.5 * (base - one->misfit) + prior_log_odds(h, n_h, &h[k]) -
			(h[k].steps > 1 ? 0.5 * log((double)(s.e.n + 1)) : 0.0);
		ret->n++;
	}
	sort(ret);
	merge(ret);
	test_best(&s, ret);
	for (int i = 0; i < ret->n; i++)
		suspect_words(net, &ret->list[i], ret->list[i].words, sizeof ret->list[i].words);
	ret->can_tell = ret->n > 1 && ret->list[0].log_odds - ret->list[1].log_odds > log(least_odds);
	if (ret->list[0].kind != SUSPECT_HEALTHY && ret->n > 1)
		suspect_separate(net, s.e.volts[0], ret);
}

void suspect_odds(const struct suspect *s, char *out, size_t size)
{
	const double odds = exp(fmin(s->log_odds, 20.0));

	if (s->log_odds < -0.7)
		(void)snprintf(out, size, "less likely than healthy");
	else if (odds < 2.0)
		(void)snprintf(out, size, "as likely as no fault");
	else if (odds < 1e4)
		(void)snprintf(out, size, "%.0f to 1 against healthy",
		               odds < 20.0 ? odds : 10.0 * floor(odds / 10.0));
	else
		(void)snprintf(out, size, "over 10000 to 1 against healthy");
}
