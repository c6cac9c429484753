#include "app/curve.h"

#include <math.h>
#include <string.h>

/* Fine enough: no gap wider than this share of the whole. */
static const double widest_share = 1.0 / 40;

static void insert(struct curve *c, const struct band *band)
{
	int at = c->n;
	if (c->n == CURVE_POINTS_MAX)
		return;
	while (at > 0 && c->points[at - 1].volts > band->volts)
		at--;
	memmove(&c->points[at + 1], &c->points[at], (size_t)(c->n - at) * sizeof *c->points);
	c->points[at] = (struct curve_point){band->volts, band->low, band->expected, band->high,
		band->abort_watts};
	c->n++;
}

void curve_init(struct curve *c, const struct run_unit *unit)
{
	const struct plan *plan = unit->plan;
	*c = (struct curve){.unit = unit};
	c->top_volts =
	        fmax(unit->network->line_volts, plan->stages[plan->n_stages - 1].volts) * 1.05;
	for (int i = 0; i < plan->n_stages; i++)
		insert(c, &plan->stages[i].band);
}

bool curve_step(struct curve *c)
{
	double from = 0, widest = 0, volts = -1;

	if (c->n == CURVE_POINTS_MAX)
		return false;
	if (c->points[0].volts > 0) {
		volts = 0; /* the ends first */
	} else if (c->points[c->n - 1].volts < c->top_volts) {
		volts = c->top_volts;
	} else {
		for (int i = 1; i < c->n; i++) {
			double gap = c->points[i].volts - c->points[i - 1].volts;
			if (gap > widest) {
				widest = gap;
				from = c->points[i - 1].volts;
			}
		}
		if (widest <= widest_share * c->top_volts)
			return false;
		volts = from + widest / 2;
	}
	struct band band;
	envelope_at(c->unit->network, c->unit->rule, c->unit->meter, volts, &c->start, &band, NULL);
	insert(c, &band);
	return true;
}
