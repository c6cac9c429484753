#include "mainstair/core/probe.h"

#include <math.h>

#include "suspect_fit.h"

/* Two sides of a normal distribution that hold 99 per cent. */
static const double normal_99 = 2.5758;

bool probe_band_at(const struct network *net, double line_volts, enum observed what, int index,
                   struct probe_band *ret)
{
	const struct observation asked = { line_volts, what, index, 0.0 };
	struct evidence e;

	if (!evidence_weigh(&e, net, &meter_accuracy_default, &asked, 1))
		return false;
	const double half = normal_99 * sqrt(e.own[0]);

	ret->expected = fabs(e.healthy[0]);
	ret->low = fmax(0.0, ret->expected - half);
	ret->high = ret->expected + half;
	return true;
}

enum verdict probe_judge(const struct probe_band *band, double volts)
{
	if (isnan(volts))
		return VERDICT_UNKNOWN;
	if (fabs(volts) > band->high)
		return VERDICT_OVER;
	return fabs(volts) < band->low ? VERDICT_UNDER : VERDICT_IN_BAND;
}
