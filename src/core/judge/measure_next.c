#include "mainstair/core/measure_next.h"

#include <math.h>

/* What a multimeter or a good wattmeter leaves of a tolerance, once a number was measured
 * (common practice, no source). */
static const double measured_tol = 0.02;

/* A gain too small to fetch a meter for. */
static const double least_gain = 0.01;

/* Independent errors add in quadrature (core/judge/envelope.c), each side of the band by itself, the
 * meter's error with them.  What measuring leaves of one is its tolerance cut to measured_tol. */
static double gain_of(const struct network *net, const struct sensitivity *all, int k,
                      double by_meter)
{
	const struct param *p = &net->params[k];
	double up = by_meter * by_meter, down = up;
	double up_left = p->up > measured_tol ? measured_tol / p->up : 1.0;
	double down_left = p->down > measured_tol ? measured_tol / p->down : 1.0;

	if (!p->measure[0] || p->origin == ORIGIN_MEASURED)
		return 0.0;
	for (int i = 0; i < net->n_params; i++) {
		up += all[i].up * all[i].up;
		down += all[i].down * all[i].down;
	}
	double before = sqrt(up) + sqrt(down);

	up -= all[k].up * all[k].up * (1.0 - up_left * up_left);
	down -= all[k].down * all[k].down * (1.0 - down_left * down_left);
	return before > 0.0 ? 1.0 - (sqrt(fmax(up, 0.0)) + sqrt(fmax(down, 0.0))) / before : 0.0;
}

static double meter_error(const struct meter_accuracy *meter, const struct band *band)
{
	return meter->reading_share * band->expected + meter->offset_watts;
}

int measure_next(const struct network *net, const struct meter_accuracy *meter,
                 const struct band *band, const struct sensitivity *all,
                 struct measure_gain *ret, int max)
{
	const double by_meter = meter_error(meter, band);
	int n = 0;

	for (int k = 0; k < net->n_params; k++) {
		const double gain = gain_of(net, all, k, by_meter);
		int at = n;

		if (gain < least_gain)
			continue;
		while (at > 0 && ret[at - 1].gain < gain)
			at--;
		if (at == max)
			continue;
		for (int i = n < max ? n : max - 1; i > at; i--)
			ret[i] = ret[i - 1];
		ret[at] = (struct measure_gain){ k, gain };
		n += n < max;
	}
	return n;
}

int measure_next_both(const struct network *net, const struct abort_rule *rule,
                      const struct meter_accuracy *meter, const double volts[2],
                      struct measure_gain_both *ret, int max)
{
	struct sensitivity all[2][NET_PARAMS_MAX];
	struct band band[2];
	int n = 0;

	for (int i = 0; i < 2; i++) {
		envelope_at(net, rule, meter, volts[i], NULL, &band[i], all[i]);
		if (!band[i].at.converged)
			return 0;
	}
	for (int k = 0; k < net->n_params; k++) {
		const struct measure_gain_both g = { k, {
			gain_of(net, all[0], k, meter_error(meter, &band[0])),
			gain_of(net, all[1], k, meter_error(meter, &band[1])) } };
		int at = n;

		if (g.gain[0] < least_gain && g.gain[1] < least_gain)
			continue;
		while (at > 0 && ret[at - 1].gain[0] + ret[at - 1].gain[1] < g.gain[0] + g.gain[1])
			at--;
		if (at == max)
			continue;
		for (int i = n < max ? n : max - 1; i > at; i--)
			ret[i] = ret[i - 1];
		ret[at] = g;
		n += n < max;
	}
	return n;
}
