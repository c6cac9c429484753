#include "mainstair/core/bands.h"

#include <math.h>

/* So few are cheap enough to be exact one and all. */
enum { ALL_EXACT_MAX = 32 };

/* A line is believed when it misses the exact value in its middle by no more than this.  Both
 * passes together stay below what is promised, with room for a bend hidden in one half. */
static const double miss_expected[2] = { 0.0001, 0.0005 }; /* share, W */
static const double miss_margin[2] = { 0.0006, 0.003 };
static const double promised[2] = { 0.001, 0.005 };
/* No line is longer than this share of the nameplate volts, however well it fits... */
static const double line_max = 0.06;
/* ...and none is cut that is shorter than this: the last digit of a good meter. */
static const double line_min = 0.0001;

/* Two passes.  Expected watts cost one solve and bend most; how far the edges lie from them costs
 * a solve for each parameter and side, and is an order smaller, so its lines may be longer. */
struct along {
	const struct network *net;
	const struct abort_rule *rule;
	const struct meter_accuracy *meter;
	const double *volts;
	struct band_edges *edges; /* low, high, abort_watts: first their distance from expected */
	bool margins;             /* the pass under way */
	size_t solved;            /* whole bands */
};

void bands_exact(const struct network *net, const struct abort_rule *rule,
                 const struct meter_accuracy *meter, double volts, struct band_edges *ret)
{
	struct band band;

	envelope_at(net, rule, meter, volts, NULL, &band, NULL);
	*ret = (struct band_edges){ band.low, band.expected, band.high, band.abort_watts, 0.0,
		                    false };
	if (!band.at.converged)
		ret->low = ret->expected = ret->high = ret->abort_watts = NAN;
}

static void solve(struct along *a, size_t i)
{
	struct band_edges *e = &a->edges[i];

	if (a->margins) {
		bands_exact(a->net, a->rule, a->meter, a->volts[i], e);
		e->low -= e->expected;
		e->high -= e->expected;
		e->abort_watts -= e->expected;
		a->solved++;
	} else {
		struct load_result at;

		load_settled(a->net, a->volts[i], NULL, &at);
		e->expected = at.converged ? at.watts : (double)NAN;
		e->doubt = 0.0;
		e->jump = false;
	}
}

static double at_least(const double share_and_watts[2], double expected)
{
	return fmax(share_and_watts[0] * expected, share_and_watts[1]);
}

static double on_line(double t, double from, double to)
{
	return from + t * (to - from);
}

/* What the line from i to j says at k, of the pass under way. */
static struct band_edges line_at(const struct along *a, size_t i, size_t j, size_t k)
{
	const struct band_edges *p = &a->edges[i], *q = &a->edges[j];
	const double t = (a->volts[k] - a->volts[i]) / (a->volts[j] - a->volts[i]);
	struct band_edges line = a->edges[k];

	if (a->margins) {
		line.low = on_line(t, p->low, q->low);
		line.high = on_line(t, p->high, q->high);
		line.abort_watts = on_line(t, p->abort_watts, q->abort_watts);
	} else {
		line.expected = on_line(t, p->expected, q->expected);
	}
	return line;
}

static bool agrees(const struct along *a, const struct band_edges *line,
                   const struct band_edges *exact)
{
	const double miss = at_least(a->margins ? miss_margin : miss_expected, exact->expected);

	if (!a->margins)
		return fabs(line->expected - exact->expected) <= miss;
	return fabs(line->low - exact->low) <= miss && fabs(line->high - exact->high) <= miss &&
	       fabs(line->abort_watts - exact->abort_watts) <= miss;
}

/* What lies between i and j is on the line; `jump`: although it does not fit. */
static void fill(struct along *a, size_t i, size_t j, bool jump)
{
	const struct band_edges *p = &a->edges[i], *q = &a->edges[j];
	const double height =
	        !jump ? 0.0
	              : fmax(fabs(p->low - q->low),
	                     fmax(fabs(p->high - q->high), fabs(p->abort_watts - q->abort_watts)));

	for (size_t k = i + 1; k < j; k++) {
		a->edges[k] = line_at(a, i, j, k);
		if (!a->margins)
			continue;
		a->edges[k].jump = jump;
		a->edges[k].doubt = height + at_least(promised, a->edges[k].expected);
	}
}

/* The voltage between i and j (j - i > 1) that is nearest to the middle of theirs. */
static size_t middle(const struct along *a, size_t i, size_t j)
{
	const double at = 0.5 * (a->volts[i] + a->volts[j]);
	size_t low = i + 1, high = j - 1;

	while (low < high) {
		const size_t mid = low + (high - low) / 2;

		if (a->volts[mid] < at)
			low = mid + 1;
		else
			high = mid;
	}
	if (low > i + 1 && at - a->volts[low - 1] < a->volts[low] - at)
		low--;
	return low;
}

/* The ends i and j are solved: find what lies between.  The depth is that of halving a voltage
 * span. */
static void between(struct along *a, size_t i, size_t j)
{
	const double span = a->volts[j] - a->volts[i];
	struct band_edges line;
	size_t m;

	if (j - i < 2)
		return;
	if (a->margins && span < line_min * a->net->line_volts) {
		fill(a, i, j, true);
		return;
	}
	m = middle(a, i, j);
	line = line_at(a, i, j, m);
	solve(a, m);
	if (span <= line_max * a->net->line_volts && agrees(a, &line, &a->edges[m])) {
		fill(a, i, m, false);
		fill(a, m, j, false);
		return;
	}
	between(a, i, m);
	between(a, m, j);
}

static void pass(struct along *a, size_t n, bool margins)
{
	a->margins = margins;
	solve(a, 0);
	solve(a, n - 1);
	between(a, 0, n - 1);
}

size_t bands_along(const struct network *net, const struct abort_rule *rule,
                   const struct meter_accuracy *meter, const double *volts, size_t n,
                   struct band_edges *ret)
{
	struct along a = { .net = net, .rule = rule, .meter = meter, .volts = volts, .edges = ret };

	if (n <= ALL_EXACT_MAX) {
		for (size_t i = 0; i < n; i++)
			bands_exact(net, rule, meter, volts[i], &ret[i]);
		return n;
	}
	pass(&a, n, false);
	pass(&a, n, true);
	for (size_t i = 0; i < n; i++) {
		ret[i].low = fmax(0.0, ret[i].expected + ret[i].low);
		ret[i].high += ret[i].expected;
		ret[i].abort_watts += ret[i].expected;
	}
	return a.solved;
}
