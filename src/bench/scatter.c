/*
 * bench/scatter.c - one unit out of many built to the same network
 */
#include "bench/bench.h"

#include "bench/random.h"

/* Limits of the as-built scatter, fractions. */
static const double heater_amps = 0.05;
static const double core_loss = 0.20;
static const double draw_amps = 0.15;
static const double ohms = 0.10;

static void scatter(struct random *r, double *value, double limit)
{
	*value *= 1 + limit * random_even(r);
}

void bench_scatter(struct network *net, uint64_t seed)
{
	struct random r = { seed };

	if (seed == 0)
		return;
	for (int k = 0; k < net->n_heaters; k++)
		scatter(&r, &net->heaters[k].amps, heater_amps);
	scatter(&r, &net->core_watts, core_loss);
	scatter(&r, &net->primary_ohms, ohms);
	scatter(&r, &net->dropper_ohms, ohms);
	for (int k = 0; k < net->n_windings; k++)
		scatter(&r, &net->windings[k].ohms, ohms);
	for (int k = 0; k < net->n_rails; k++) {
		struct net_rail *rail = &net->rails[k];
		scatter(&r, &rail->surge_ohms, ohms);
		scatter(&r, &rail->series_ohms, ohms);
		scatter(&r, &rail->bleeder_ohms, ohms);
		for (int d = 0; d < rail->n_draws; d++)
			scatter(&r, &rail->draws[d].amps, draw_amps);
	}
}
