/*
 * core/after/like.c - a power-up laid under another: what an earlier record leads to expect
 */
#include "mainstair/core/compare.h"

#include <math.h>
#include <string.h>

#include "mainstair/base/text.h"

/* Volts nearer than this are the same stage. */
static const double same_volts = 0.02;
/* Heaters, lamps and transformers together: about this power of the volts, where one point is all
 * there is and it serves for its own volts only. */
static const double usual_power = 1.6;

const char like_noted[] = "laid under: ";

void like_init(struct like_curve *c, const char *name, const struct meter_accuracy *meter)
{
	memset(c, 0, sizeof *c);
	(void)text_show(c->name, sizeof c->name, name, strlen(name));
	c->meter = *meter;
}

bool like_add(struct like_curve *c, double volts, double watts)
{
	int at = 0;

	if (!(volts > 0 && isfinite(volts)) || !(watts > 0 && isfinite(watts)))
		return true;
	while (at < c->n && c->volts[at] < volts * (1 - same_volts))
		at++;
	if (at < c->n && c->volts[at] <= volts * (1 + same_volts)) {
		c->volts[at] = volts;
		c->watts[at] = watts;
		/* it may have come near the next one */
		if (at + 1 < c->n && c->volts[at + 1] <= volts) {
			c->n--;
			memmove(c->volts + at + 1, c->volts + at + 2,
			        (size_t)(c->n - at - 1) * sizeof c->volts[0]);
			memmove(c->watts + at + 1, c->watts + at + 2,
			        (size_t)(c->n - at - 1) * sizeof c->watts[0]);
		}
		return true;
	}
	if (c->n == LIKE_POINTS_MAX)
		return false;
	memmove(c->volts + at + 1, c->volts + at, (size_t)(c->n - at) * sizeof c->volts[0]);
	memmove(c->watts + at + 1, c->watts + at, (size_t)(c->n - at) * sizeof c->watts[0]);
	c->volts[at] = volts;
	c->watts[at] = watts;
	c->n++;
	return true;
}

static double squared(double x)
{
	return x * x;
}

/* What a meter may be off by at w watts: a limit, so a rectangle's standard uncertainty. */
static double variance_of(const struct meter_accuracy *meter, double w)
{
	return squared(meter->reading_share * w + meter->offset_watts) / 3;
}

void like_at(const struct like_curve *c, const struct meter_accuracy *meter, double line_volts,
             struct like_band *ret)
{
	int at = 0, from;
	double power = usual_power, straight = NAN;

	*ret = (struct like_band){.low = NAN, .expected = NAN, .high = NAN, .expanded = NAN};
	if (c->n == 0 || !(line_volts >= c->volts[0] * (1 - same_volts)) ||
	    !(line_volts <= c->volts[c->n - 1] * (1 + same_volts)))
		return;
	while (at + 2 < c->n && line_volts > c->volts[at + 1])
		at++;
	if (c->n > 1) {
		power = log(c->watts[at + 1] / c->watts[at]) / log(c->volts[at + 1] / c->volts[at]);
		straight = c->watts[at] + (line_volts - c->volts[at]) *
		                                  (c->watts[at + 1] - c->watts[at]) /
		                                  (c->volts[at + 1] - c->volts[at]);
	}
	/* from the nearer point, so that each point gives its own watts, to the last digit */
	from = c->n > 1 && line_volts * line_volts > c->volts[at] * c->volts[at + 1] ? at + 1 : at;
	ret->expected = c->watts[from] * pow(line_volts / c->volts[from], power);
	if (c->n == 1)
		straight = ret->expected;
	ret->expanded =
	        2 * sqrt(variance_of(&c->meter, ret->expected) + variance_of(meter, ret->expected) +
	                 squared(straight - ret->expected) / 3);
	ret->low = fmax(ret->expected - ret->expanded, 0);
	ret->high = ret->expected + ret->expanded;
	ret->have = true;
}

void like_judge(const struct like_band *band, double watts, struct compare_result *ret)
{
	if (!band->have) {
		compare_values(watts, NAN, NAN, NAN, NAN, ret);
		return;
	}
	compare_difference(watts - band->expected, band->expanded, band->expected,
	                   compare_matters(UNIT_WATT, band->expected, compare_matters_share), ret);
}
