#include "mainstair/core/limiter.h"

#include <math.h>

#include "mainstair/core/heater.h"

/* Filament of a mains lamp: 2800 K gives the published ratio of 15 hot to cold. */
static const double filament_kelvin = 2800.0;
static const double light_exponent = 3.4;

void limiter_solve(const struct network *net, const struct series_lamp *lamp, double line_volts,
                   struct limited *ret)
{
	const double rated_amps = lamp->watts / lamp->volts;
	const double hot_ohms = lamp->volts / rated_amps;
	const struct heater_law law = heater_law_at(filament_kelvin, 0.0);
	struct network with = *net;
	struct load_start start = { 0 };
	struct load_result at = { 0 };
	double ohms = hot_ohms, u = 1.0;

	*ret = (struct limited){ 0 };
	if (!(line_volts > 0.0)) {
		ret->converged = true;
		return;
	}
	for (int i = 0; i < 100; i++) {
		with.source_ohms = net->source_ohms + ohms;
		load_settled(&with, line_volts, &start, &at);
		if (!at.converged)
			return;
		u = heater_settled_amps(&law, at.amps / rated_amps, u);
		const double next = hot_ohms * heater_resistance(&law, u);

		/* more lamp is less current, which is less lamp: half way is stable */
		if (fabs(next - ohms) < 1e-5 * hot_ohms) {
			ret->converged = true;
			break;
		}
		ohms = 0.5 * (ohms + next);
	}
	ret->total_watts = at.watts;
	ret->lamp_watts = at.amps * at.amps * ohms;
	ret->unit_watts = at.watts - ret->lamp_watts;
	ret->unit_volts = at.node_volts;
	ret->lamp_share = at.amps * ohms / lamp->volts;
	ret->brightness = pow(ret->lamp_share, light_exponent);
}

static void at_amps(const struct heater_law *law, const struct series_lamp *lamp, double line_volts,
                    double watts, double amps, struct limited *ret)
{
	const double rated_amps = lamp->watts / lamp->volts;
	const double u = heater_settled_amps(law, amps / rated_amps, 1.0);
	const double lamp_volts = amps * lamp->volts / rated_amps * heater_resistance(law, u);
	const double factor = amps > 0.0 ? fmin(watts / (line_volts * amps), 1.0) : 1.0;
	const double along = line_volts - lamp_volts * factor;
	const double across = lamp_volts * sqrt(1.0 - factor * factor);

	ret->total_watts = watts;
	ret->lamp_watts = fmin(amps * lamp_volts, watts);
	ret->unit_watts = watts - ret->lamp_watts;
	ret->unit_volts = along > 0.0 ? hypot(along, across) : across;
	ret->lamp_share = lamp_volts / lamp->volts;
	ret->brightness = pow(ret->lamp_share, light_exponent);
}

void limiter_split(const struct network *net, const struct series_lamp *lamp, double line_volts,
                   double watts, double amps, struct limited *ret)
{
	const struct heater_law law = heater_law_at(filament_kelvin, 0.0);
	double unit_volts = line_volts;

	*ret = (struct limited){ .converged = true };
	if (isfinite(amps)) {
		at_amps(&law, lamp, line_volts, watts, amps, ret);
		return;
	}
	/* The lamp does work with all of its current, so the volt-amperes that do none are the
	 * unit's. */
	for (int i = 0; i < 100; i++) {
		struct load_result at;

		load_settled(net, unit_volts, NULL, &at);
		const double va = at.converged ? unit_volts * at.amps : at.watts;
		const double idle = sqrt(fmax(va * va - at.watts * at.watts, 0.0));

		at_amps(&law, lamp, line_volts, watts, hypot(watts, idle) / line_volts, ret);
		if (fabs(ret->unit_volts - unit_volts) < 1e-4 * line_volts)
			return;
		unit_volts = 0.5 * (unit_volts + ret->unit_volts);
	}
	ret->converged = false;
}

double limiter_meter_error(const struct network *net, const struct series_lamp *lamp)
{
	static const double lamp_tol = 0.05;
	struct limited at;

	limiter_solve(net, lamp, net->line_volts, &at);
	return lamp_tol * at.lamp_watts;
}

double limiter_line_volts(const struct network *net, const struct series_lamp *lamp,
                          double unit_volts, double most_line_volts, struct limited *ret)
{
	static const double close_volts = 0.1;
	double low = unit_volts, high = most_line_volts; /* a lamp never adds volts */

	limiter_solve(net, lamp, high, ret);
	if (!ret->converged || ret->unit_volts < unit_volts - close_volts)
		return (double)NAN;
	double line = high;
	for (int i = 0; i < 20 && fabs(ret->unit_volts - unit_volts) > close_volts; i++) {
		if (ret->unit_volts > unit_volts)
			high = line;
		else
			low = line;
		line = 0.5 * (low + high);
		limiter_solve(net, lamp, line, ret);
		if (!ret->converged)
			return (double)NAN;
	}
	return line;
}

struct series_lamp limiter_choose(const struct network *net, double share)
{
	static const double sizes[] = { 15.0, 25.0, 40.0, 60.0, 75.0, 100.0, 150.0, 200.0 };
	const double volts = net->line_volts < 160.0 ? 120.0 : 230.0;

	for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
		const struct series_lamp lamp = { sizes[i], volts };
		struct limited at;

		limiter_solve(net, &lamp, net->line_volts, &at);
		if (at.converged && at.unit_volts >= share * net->line_volts)
			return lamp;
	}
	return (struct series_lamp){ 0.0, volts };
}
