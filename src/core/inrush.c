#include "mainstair/core/inrush.h"

#include <math.h>

#include "mainstair/core/heater.h"

void inrush_heaters(const struct network *net, double line_volts, struct load_thermal *ret)
{
	struct load_result at;

	load_settled(net, line_volts, NULL, &at);
	for (int i = 0; i < NET_HEATERS_MAX; i++)
		ret->u[i] = 1.0;
	for (int i = 0; i < net->n_heaters; i++) {
		const struct heater_law law = heater_law(net->heaters[i].kind,
		                                         net->heater_conduction);

		ret->u[i] = line_volts > 0.0 && at.converged ?
			heater_settled_volts(&law, at.heater_share[i], 1.0) : law.ambient;
	}
}

void inrush_allow(const struct network *net, const struct load_thermal *before,
                  struct band *band)
{
	const double fuse_watts = net->fuse_amps * band->volts;
	struct load_result at;
	double most;

	if (!(band->volts > 0.0) || !(band->expected > 0.0))
		return;
	load_instant(net, band->volts, before, NULL, &at);
	if (!at.converged)
		return;
	most = at.watts * band->high / band->expected + (band->abort_watts - band->high);
	if (fuse_watts > 0.0)
		most = fmin(most, fuse_watts);
	band->abort_watts = fmax(band->abort_watts, most);
}
