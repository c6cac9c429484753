/* A lamp in series: circuit laws that must hold, and the trade's figures for a dead short. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>

#include "lib/text_unit.h"
#include "mainstair/core/limiter.h"

TestSuite(limiter, .timeout = 60);

/* A plain resistor across the line. */
static struct network *resistor(double ohms)
{
	struct network *net = calloc(1, sizeof *net);

	cr_assert_not_null(net);
	net->line_volts = 120;
	net->line_hz = 60;
	net->line_shunt_siemens = 1 / ohms;
	return net;
}

Test(limiter, volts_and_watts_add_up_on_a_resistor)
{
	struct network *net = resistor(500);
	const struct series_lamp lamp = { 60, 120 };
	struct limited at;

	limiter_solve(net, &lamp, 120, &at);
	cr_assert(at.converged);
	cr_assert_float_eq(at.unit_volts + at.lamp_share * 120, 120, 1e-3);
	cr_assert_float_eq(at.unit_watts, at.unit_volts * at.unit_volts / 500, 1e-3);
	cr_assert_float_eq(at.total_watts, at.unit_watts + at.lamp_watts, 1e-9);
	free(net);
}

/* A dead short lights the lamp at full power: 60 W 120 V passes 0.5 A and no more (the trade's
 * "dim bulb" pages; common practice). */
Test(limiter, a_dead_short_gets_the_lamps_rating_and_no_more)
{
	struct network *net = resistor(0.01);
	const struct series_lamp lamp = { 60, 120 };
	struct limited at;

	limiter_solve(net, &lamp, 120, &at);
	cr_assert(at.converged);
	cr_assert(fabs(at.lamp_watts - 60) < 0.3, "%g", at.lamp_watts);
	cr_assert(at.brightness > 0.98);
	cr_assert(at.unit_volts < 0.01);
	free(net);
}

/* 100 W 120 V: 144 ohm hot, 9.5 ohm cold (published lamp measurement): a light load sees the cold
 * end, so nearly all the volts are left to it. */
Test(limiter, a_light_load_hardly_notices_the_lamp)
{
	struct network *net = resistor(10000);
	const struct series_lamp lamp = { 100, 120 };
	struct limited at;

	limiter_solve(net, &lamp, 120, &at);
	cr_assert(at.converged);
	cr_assert((120 - at.unit_volts) / (at.unit_volts / 10000) < 11, "cold lamp: near 9.5 ohm");
	cr_assert(at.brightness < 1e-6);
	free(net);
}

Test(limiter, a_larger_lamp_leaves_more_and_nothing_is_nothing)
{
	struct network *net = resistor(300);
	double last = 0;

	for (double watts = 25; watts <= 200; watts *= 2) {
		const struct series_lamp lamp = { watts, 120 };
		struct limited at;

		limiter_solve(net, &lamp, 120, &at);
		cr_assert(at.converged && at.unit_volts > last);
		last = at.unit_volts;
		limiter_solve(net, &lamp, 0, &at);
		cr_assert(at.converged);
		cr_assert_float_eq(at.total_watts, 0, 1e-12);
	}
	const struct series_lamp best = limiter_choose(net, 0.8);
	struct limited at;
	limiter_solve(net, &best, 120, &at);
	cr_assert(best.watts > 0 && at.unit_volts >= 96);
	free(net);
}

Test(limiter, the_variac_for_so_many_volts_at_the_unit)
{
	struct network *net = resistor(400);
	const struct series_lamp lamp = { 60, 120 };
	struct limited at, check;

	for (double volts = 20; volts < 61; volts += 20) {
		const double line = limiter_line_volts(net, &lamp, volts, 120, &at);

		cr_assert(line > volts && line <= 120, "%g V: %g", volts, line);
		cr_assert(fabs(at.unit_volts - volts) <= 0.1);
		limiter_solve(net, &lamp, line, &check);
		cr_assert(fabs(check.unit_volts - at.unit_volts) < 1e-9);
	}
	cr_assert(isnan(limiter_line_volts(net, &lamp, 119, 120, &at)));
	cr_assert(at.converged && at.unit_volts < 119 && at.unit_volts > 20);
	free(net);
}

/* A meter ahead of the lamp reads both; split, it is what limiter_solve() says of each, with the
 * amps read and without. */
Test(limiter, a_meter_ahead_is_split)
{
	struct text_unit *unit = shipped_unit("transformer-radio.ini");
	const struct series_lamp lamp = { 60, 120 };

	for (double line = 20; line <= 120; line += 20) {
		struct network with = unit->net;
		struct limited at, split;
		struct load_result both;

		limiter_solve(&unit->net, &lamp, line, &at);
		with.source_ohms = at.lamp_watts > 0 ? at.lamp_share * at.lamp_share * lamp.volts *
			lamp.volts / at.lamp_watts : 0;
		load_settled(&with, line, NULL, &both);
		for (int told = 0; told < 2; told++) {
			limiter_split(&unit->net, &lamp, line, both.watts, told ? both.amps : NAN, &split);
			cr_assert(split.converged);
			cr_assert(fabs(split.unit_watts - at.unit_watts) < 0.02 * at.unit_watts + 0.02,
			          "%g V line: %g W, %g", line, split.unit_watts, at.unit_watts);
			cr_assert(fabs(split.unit_volts - at.unit_volts) < 0.02 * line,
			          "%g V line: %g V, %g", line, split.unit_volts, at.unit_volts);
		}
	}
	free(unit);
}

/* A dead short behind it: the lamp has it all. */
Test(limiter, a_dead_short_behind_the_lamp_is_the_lamps)
{
	struct text_unit *unit = shipped_unit("transformer-radio.ini");
	const struct series_lamp lamp = { 60, 120 };
	struct limited split;

	limiter_split(&unit->net, &lamp, 120, 60, 0.5, &split);
	cr_assert(split.unit_watts < 0.3 && split.unit_volts < 1);
	limiter_split(&unit->net, &lamp, 120, 60, NAN, &split);
	cr_assert(split.converged && split.unit_watts < 3 && split.unit_volts < 12, "%g W %g V",
	          split.unit_watts, split.unit_volts);
	free(unit);
}
