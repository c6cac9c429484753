/*
 * The settled solver on whole units: the books balance, the limits hold, published sets draw what
 * their makers wrote down.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "lib/text_unit.h"
#include "mainstair/core/envelope.h"

TestSuite(load, .timeout = 100);

/* Adds up to rounding; what a unit that draws nothing is off by is no matter. */
static void assert_balanced(const struct network *net, const struct load_result *at,
                            const char *what)
{
	cr_assert(fabs(split_sum(net, at) - at->watts) <= 1e-9 * at->watts + 1e-12,
	          "%s, %g V: parts %.12g W, input %.12g W", what, at->line_volts,
	          split_sum(net, at), at->watts);
}

static void assert_sane(const struct network *net, const struct load_result *at, const char *what)
{
	cr_assert(at->converged, "%s, %g V", what, at->line_volts);
	cr_assert(at->watts >= 0 && isfinite(at->watts), "%s, %g V", what, at->line_volts);
	cr_assert(fabs(at->va - at->amps * at->line_volts) <= 1e-9 * at->va);
	cr_assert(at->power_factor >= 0 && at->power_factor <= 1 + 1e-9, "%s, %g V: %g", what,
	          at->line_volts, at->power_factor);
	cr_assert(fabs(at->split_storing) <= 2e-4 * at->watts + 1e-6, "%s, %g V: %g W of %g",
	          what, at->line_volts, at->split_storing, at->watts);
	for (int r = 0; r < net->n_rails; r++)
		cr_assert(isfinite(at->rail_volts[r]) && isfinite(at->rail_amps[r]));
	assert_balanced(net, at, what);
}

Test(load, energy_balances_in_every_shipped_unit)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const double line = unit->net.line_volts;
		struct load_start start = { 0 };
		struct load_result at;

		load_settled(&unit->net, 1, &start, &at);
		assert_sane(&unit->net, &at, file);
		for (double volts = 0.01 * line; volts < 1.201 * line; volts += 0.0073 * line) {
			load_settled(&unit->net, volts, &start, &at);
			assert_sane(&unit->net, &at, file);
			cr_assert(at.split_heaters >= 0 && at.split_lamps >= 0 &&
			                  at.split_core >= 0 && at.split_copper >= 0 &&
			                  at.split_rectifier >= -1e-9 && at.split_dropper >= 0 &&
			                  !(fabs(at.split_fault) > 0),
			          "%s, %g V", file, volts);
			/* a rail that only hands on has nothing, to the solver's last digits */
			for (int r = 0; r < unit->net.n_rails; r++)
				cr_assert(at.split_rail[r] >= -5e-5 * at.watts, "%s, %g V: %g W",
				          file, volts, at.split_rail[r]);
		}
		load_settled(&unit->net, 1.2 * line, NULL, &at);
		assert_sane(&unit->net, &at, file);
		free(unit);
	}
}

/* More volts, more watts, more amps, more on every winding: in a unit without a fault nothing
 * falls as the variac goes up (a series-pass rail holds, a struck regulator steps down its rail).
 */
Test(load, rises_with_the_line)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		struct load_start start = { 0 };
		struct load_result at, before = { 0 };

		for (double share = 0; share < 1.3; share += 0.004) {
			load_settled(&unit->net, share * unit->net.line_volts, &start, &at);
			cr_assert(at.watts >= before.watts, "%s, %g V: %g W after %g W", file,
			          at.line_volts, at.watts, before.watts);
			cr_assert(at.amps >= before.amps, "%s, %g V", file, at.line_volts);
			for (int h = 0; h < unit->net.n_heaters; h++)
				cr_assert(at.heater_share[h] >= before.heater_share[h]);
			before = at;
		}
		free(unit);
	}
}

/* The quick solve against the whole one, with every parameter at both its ends. */
Test(load, watts_alone_are_those_of_the_whole_solve)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);

		for (double share = 0.15; share < 1.1; share += 0.23) {
			const double volts = share * unit->net.line_volts;
			struct load_start near = { 0 };
			struct load_result at;

			load_settled(&unit->net, volts, &near, &at);
			for (int side = 0; side < 2 * unit->net.n_params; side++) {
				const struct param *p = &unit->net.params[side / 2];
				const double factor = side % 2 ? 1.0 + p->up : 1.0 - p->down;

				network_scale(&unit->net, side / 2, factor);
				load_settled(&unit->net, volts, NULL, &at);
				const double quick = load_watts(&unit->net, volts, &near);
				network_scale(&unit->net, side / 2, 1.0 / factor);
				cr_assert(fabs(quick - at.watts) <= 1e-4 * at.watts,
				          "%s, %g V, %s: %g against %g W", file, volts, p->name,
				          quick, at.watts);
			}
		}
		cr_assert(!(fabs(load_watts(&unit->net, 0.0, NULL)) > 0.0));
		free(unit);
	}
}

/* Where a solve starts from is for speed alone. */
Test(load, start_does_not_show_in_the_result)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const double line = unit->net.line_volts;
		struct load_start up = { 0 }, down = { 0 };
		struct load_result cold, warm;

		for (double share = 0.05; share < 1.2; share += 0.05) {
			load_settled(&unit->net, share * line, NULL, &cold);
			load_settled(&unit->net, share * line, &up, &warm);
			cr_assert(fabs(warm.watts - cold.watts) < 1e-4 * cold.watts + 1e-5,
			          "%s, %g V: %g against %g W", file, share * line, warm.watts,
			          cold.watts);
			/* from far away, and from above: regulators that were lit must not stay lit
			 * by memory */
			load_settled(&unit->net, 1.2 * line, &down, &warm);
			load_settled(&unit->net, share * line, &down, &warm);
			cr_assert(fabs(warm.watts - cold.watts) < 1e-4 * cold.watts + 1e-5,
			          "%s, %g V from above: %g against %g W", file, share * line,
			          warm.watts, cold.watts);
			for (int r = 0; r < unit->net.n_rails; r++) {
				cr_assert(warm.regulator_lit[r] == cold.regulator_lit[r],
				          "%s, %g V", file, share * line);
				/* what a cold rectifier feeds into a cold load is anybody's guess:
				 * the volts hang on a handful of microamps */
				if (cold.rail_amps[r] < 1e-3)
					continue;
				cr_assert(fabs(warm.rail_volts[r] - cold.rail_volts[r]) <
				          0.003 * line, "%s, %g V, rail %s: %g against %g V", file,
				          share * line, unit->net.rails[r].name,
				          warm.rail_volts[r], cold.rail_volts[r]);
			}
		}
		free(unit);
	}
}

/* V to 0: everything goes to nothing, heaters as the plain resistors that they are when cold. */
Test(load, next_to_no_volts)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		struct load_result none, at, half;

		load_settled(&unit->net, 0, NULL, &none);
		assert_sane(&unit->net, &none, file);
		cr_assert(!(none.watts > 0) && !(none.amps > 0) && !(none.va > 0));
		for (int r = 0; r < unit->net.n_rails; r++)
			cr_assert(!(none.rail_volts[r] > 0) && !none.regulator_lit[r]);
		load_settled(&unit->net, 0.02, NULL, &at);
		assert_sane(&unit->net, &at, file);
		cr_assert(at.watts < 1e-3, "%s: %g W", file, at.watts);
		load_settled(&unit->net, 0.01, NULL, &half);
		assert_sane(&unit->net, &half, file);
		/* ohms that stay: a quarter of the watts at half the volts; the core's exponent is
		 * 1.9, rectifiers are none yet */
		cr_assert(at.watts / half.watts > 3.6 && at.watts / half.watts < 4.2, "%s: %g",
		          file, at.watts / half.watts);
		free(unit);
	}
}

/* Every tube and lamp pulled and every load off: the idle watts and amps of the profile, which is
 * how they are defined. */
Test(load, no_load_is_the_idle_reading)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct load_result at;

	for (int h = 0; h < unit->net.n_heaters; h++)
		unit->net.heaters[h].open = true;
	for (int r = 0; r < unit->net.n_rails; r++)
		unit->net.rails[r].bleeder_ohms = 0;
	load_settled(&unit->net, 117, NULL, &at);
	assert_sane(&unit->net, &at, "idle");
	cr_assert(fabs(at.watts / 2.6 - 1) < 0.01, "%g W", at.watts);
	cr_assert(fabs(at.amps / 0.075 - 1) < 0.01, "%g A", at.amps);
	free(unit);
}

/* A short of 1 ohm on each rail, at any stage.  Behind silicon and selenium it reads a multiple of
 * healthy at once, behind a tube rectifier nothing at all at the low stages (from circuit
 * simulations of many sets: 2 to 30 times; 1.00 times at 15 and 30 %, at most 1.1 at 60 %, 1.6
 * to 2.9 at 90 %). */
Test(load, dead_shorts)
{
	static const double shares[] = { 0.15, 0.3, 0.45, 0.6, 0.75, 0.9, 1.0, 1.15 };
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);

		for (int r = 0; r < unit->net.n_rails; r++) {
			struct net_rail *rail = &unit->net.rails[r];
			const bool source = rail->source != RAIL_FROM_RAIL;
			const bool cold = rail->saturation_amps > 0;

			for (size_t i = 0; i < sizeof shares / sizeof *shares; i++) {
				const double volts = shares[i] * unit->net.line_volts;
				struct load_result healthy, sick;

				load_settled(&unit->net, volts, NULL, &healthy);
				rail->leak_siemens = 1;
				load_settled(&unit->net, volts, NULL, &sick);
				rail->leak_siemens = 0;
				cr_assert(sick.converged, "%s, rail %s shorted, %g V", file,
				          rail->name, volts);
				assert_balanced(&unit->net, &sick, file);
				cr_assert(sick.watts > healthy.watts * (1 - 1e-5),
				          "%s, rail %s, %g V", file, rail->name, volts);
				cr_assert(fabs(sick.rail_volts[r]) < 0.1 * unit->net.line_volts,
				          "%s, rail %s: %g V", file, rail->name,
				          sick.rail_volts[r]);
				if (!source)
					continue;
				if (!cold)
					cr_assert(sick.watts > 1.9 * healthy.watts, "%s, rail %s, "
					          "%g V: %g times", file, rail->name, volts,
					          sick.watts / healthy.watts);
				else if (shares[i] < 0.31)
					cr_assert(sick.watts < 1.01 * healthy.watts, "%s, rail %s, "
					          "%g V: %g times", file, rail->name, volts,
					          sick.watts / healthy.watts);
				else if (shares[i] > 0.89)
					cr_assert(sick.watts > 1.01 * healthy.watts, "%s, rail %s, "
					          "%g V: %g times", file, rail->name, volts,
					          sick.watts / healthy.watts);
			}
		}
		free(unit);
	}
}

/* Faults on the mains side are simple sums. */
Test(load, faults_at_the_primary)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct load_result healthy, sick;

	load_settled(&unit->net, 60, NULL, &healthy);
	unit->net.line_shunt_siemens = 1 / 200.0;
	load_settled(&unit->net, 60, NULL, &sick);
	cr_assert(fabs(sick.watts - healthy.watts - 60 * 60 / 200.0) < 1e-3);
	cr_assert(fabs(sick.split_fault - 60 * 60 / 200.0) < 1e-6);
	unit->net.line_shunt_siemens = 0;
	unit->net.turn_siemens = 15 / (unit->net.emf_rated * unit->net.emf_rated);
	load_settled(&unit->net, 117, NULL, &sick);
	assert_sane(&unit->net, &sick, "turn");
	cr_assert(fabs(sick.split_fault / 15 - pow(sick.emf / unit->net.emf_rated, 2)) < 1e-3);
	free(unit);
}

/* ---- published consumption of whole sets ----
 *
 * The figures are what a maker wrote on the plate or into the manual, at an unknown line voltage
 * within the tap and for an unknown level of sound: upper limits for a set that idles.  What the
 * sources leave open (plate windings, transformers) is estimated by the program itself, so the
 * published figure has to lie inside its band and near what it expects. */

static void check_set(const char *what, const char *text, double published, double near)
{
	struct text_unit *unit = text_unit(text);
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct band band;

	envelope_at(&unit->net, &rule, &meter_accuracy_default, unit->net.line_volts, NULL, &band,
	            NULL);
	cr_assert(band.at.converged);
	cr_assert(band.low < published && published < band.high, "%s: %g W not in %g..%g", what,
	          published, band.low, band.high);
	cr_assert(fabs(band.expected / published - 1) < near, "%s: %g W against %g", what,
	          band.expected, published);
	free(unit);
}

/* The Gramophone Company (Australia), service manual of model 440, about 1940: 56 W on 200-250 V
 * 40-50 Hz; 6A8G, 6G8G, EL3NG, 5Y3G; a field coil of 1500 ohm as the choke.  340 V a plate: what an
 * output tube at 250 V behind that coil needs. */
Test(load, mantel_superhet_of_1940)
{
	check_set("field-coil superhet",
	          "[instrument]\nname = superhet\nline_volts = 240\nline_hz = 50\n"
	          "[tubes]\nV1 = 6A8G on heater\nV2 = 6G8G on heater\nV3 = EL3NG on heater\n"
	          "V4 = 5Y3G on rectifier\n"
	          "[winding heater]\nvolts = 6.3\n[winding rectifier]\nvolts = 5\n"
	          "[winding plate]\nvolts = 340-0-340\n"
	          "[rail main]\nwinding = plate\nrectifier = V4\nform = full-wave\n"
	          "[rail plates]\nfrom = main\nthrough = 1500 ohm\n", 56, 0.1);
}

/* "About 30 W": wa2ise, "Running All American Five radios on 240 V" (also: a 430 ohm dropper on 240
 * V burns about 30 W, so some 0.26 to 0.28 A of line current); tubes alone, 150 mA strings. */
Test(load, five_tube_table_radios)
{
	static const char *const lineups[] = {
		"V1 = 12SA7\nV2 = 12SK7\nV3 = 12SQ7\nV4 = 50L6GT\nV5 = 35Z5GT\n",
		"V1 = 12BE6\nV2 = 12BA6\nV3 = 12AV6\nV4 = 50C5\nV5 = 35W4\n",
	};

	for (size_t i = 0; i < 2; i++) {
		char text[400];
		struct load_result at;

		(void)snprintf(text, sizeof text, "[instrument]\nname = radio\nline_volts = 120\n"
		               "supply = series-string\n[tubes]\n%s", lineups[i]);
		check_set(lineups[i], text, 30, 0.1);
		struct text_unit *unit = text_unit(text);

		load_settled(&unit->net, 120, NULL, &at);
		cr_assert(at.amps > 0.25 && at.amps < 0.31, "%g A", at.amps);
		/* 122.8 V of heaters in one string at 150 mA: 18.4 W when they have it all */
		cr_assert(fabs(at.split_heaters / 18.4 - 1) < 0.04, "%g W", at.split_heaters);
		free(unit);
	}
}

/* Last user booklet of a 15 W amplifier of 1953-67 (2 EF86, 2 KT66, GZ32), as tabulated by K.
 * Snook: 90 W on 200-250 V; class A, so it idles at nearly its rated watts.  330 V and 140 mA on
 * the rail: from memory; 285 V a plate gives them. */
Test(load, class_a_amplifier)
{
	check_set("15 W amplifier",
	          "[instrument]\nname = amplifier\nline_volts = 240\nline_hz = 50\n"
	          "[tubes]\nV1 = EF86 on heater\nV2 = EF86 on heater\nV3 = KT66 on heater\n"
	          "V4 = KT66 on heater\nV5 = GZ32 on rectifier\n"
	          "[winding heater]\nvolts = 6.3\n[winding rectifier]\nvolts = 5\n"
	          "[winding plate]\nvolts = 285-0-285\n"
	          "[rail main]\nwinding = plate\nrectifier = V5\nform = full-wave\n"
	          "draw = 140 mA at 330 V by V1 V2 V3 V4\n", 90, 0.1);
}

/* Assembly manual of a 17.5 + 17.5 W stereo amplifier kit of 1963 (two 7247, four 6BQ5, silicon
 * doubler): 100 W on 120 V, not said at which level.  360 V and 150 mA: from memory; a winding of
 * 140 V gives them. */
Test(load, stereo_amplifier_with_a_doubler)
{
	check_set("stereo kit",
	          "[instrument]\nname = amplifier\nline_volts = 120\nline_hz = 60\n"
	          "[tubes]\nV1 = 7247 on heater\nV2 = 6BQ5 on heater\nV3 = 6BQ5 on heater\n"
	          "V4 = 7247 on heater\nV5 = 6BQ5 on heater\nV6 = 6BQ5 on heater\n"
	          "[winding heater]\nvolts = 6.3\n[winding plate]\nvolts = 140\n"
	          "[rail main]\nwinding = plate\nrectifier = silicon\nform = doubler\n"
	          "reservoir = 100 uF, 100 uF\ndraw = 150 mA at 360 V by V1 V2 V3 V4 V5 V6\n",
	          100, 0.15);
}

/* Common practice, no source: a bench instrument of about seven small tubes with two pilot lamps, a
 * vacuum rectifier and a regulator, some 28 W at 117 V, reads about 5 W at 50 V and 15 W at 90 V.
 */
Test(load, bench_oscillator_reads_as_such_sets_do)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct load_start start = { 0 };
	struct load_result at;

	load_settled(&unit->net, 50, &start, &at);
	cr_assert(fabs(at.watts / 5 - 1) < 0.15, "%g W", at.watts);
	load_settled(&unit->net, 90, &start, &at);
	cr_assert(fabs(at.watts / 15 - 1) < 0.15, "%g W", at.watts);
	load_settled(&unit->net, 117, &start, &at);
	cr_assert(fabs(at.watts / 28 - 1) < 0.10, "%g W", at.watts);
	cr_assert(at.regulator_lit[unit_rail_named(&unit->net, "steady")]);
	free(unit);
}

/* A leak of any size on a regulated rail, up to a dead short: the pass tube regulates, is fully on,
 * then gives what its rail and its cathode can.  One answer at every size, no jump, the rail never
 * higher for more leak, and never more than the cathode's saturation. */
Test(load, an_overloaded_series_regulator)
{
	struct text_unit *unit = shipped_unit("oscilloscope.ini");
	struct network *net = &unit->net;
	struct net_rail *rail = &net->rails[unit_rail_named(net, "steady")];
	const int r = (int)(rail - net->rails);

	for (double share = 0.25; share < 1.01; share += 0.25) {
		struct load_result before = { 0 };

		for (double siemens = 1e-6; siemens < 3; siemens *= 1.05) {
			struct load_result at;

			rail->leak_siemens = siemens;
			load_settled(net, share * 117, NULL, &at);
			assert_sane(net, &at, "oscilloscope");
			cr_assert(at.rail_amps[r] < rail->pass_saturation_amps);
			if (before.watts > 0) {
				cr_assert(fabs(at.watts / before.watts - 1) < 0.02, "%g S: %g W after %g",
				          siemens, at.watts, before.watts);
				cr_assert(at.rail_volts[r] < before.rail_volts[r] + 1e-6);
			}
			before = at;
		}
		/* the rail is gone, and what is left of the volts stands across the pass tube */
		cr_assert(before.rail_volts[r] < 0.01 * net->rails[r].pass_volts);
	}
	free(unit);
}

/* Whatever rectifier is shorted, and however well: there is an answer at all volts, and its books
 * balance. */
Test(load, a_shorted_plate_settles_at_all_volts)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)) != NULL; k++) {
		struct text_unit *unit = shipped_unit(file);
		struct network *net = &unit->net;

		for (int r = 0; r < net->n_rails; r++) {
			if (net->rails[r].source == RAIL_FROM_RAIL)
				continue;
			for (double ohms = 0.3; ohms < 100; ohms *= 6)
				for (double share = 0.05; share < 1.06; share += 0.05) {
					struct load_result at;

					net->rails[r].plate_short_siemens = 1 / ohms;
					load_settled(net, share * net->line_volts, NULL, &at);
					assert_sane(net, &at, file);
				}
			net->rails[r].plate_short_siemens = 0;
		}
		free(unit);
	}
}

/* Ahead of a choke a shorted plate closes the winding through the other one: nothing while that is
 * cold, hundreds of watts once it is hot, and next to no volts on the rail at any time.  Against
 * circuit simulation (tests/watch/data/receiver.csv): 4 V of 70 V line, 38 V of 117. */
Test(load, a_shorted_plate_ahead_of_a_choke)
{
	struct text_unit *unit = shipped_unit("choke-input-receiver.ini");
	const int main = unit_rail_named(&unit->net, "main");
	struct load_result whole, sick;

	cr_assert(unit->net.rails[main].choke_input);
	load_settled(&unit->net, 35, NULL, &whole);
	unit->net.rails[main].plate_short_siemens = 1;
	load_settled(&unit->net, 35, NULL, &sick);
	cr_assert(fabs(sick.watts / whole.watts - 1) < 0.05, "%g W", sick.watts);
	load_settled(&unit->net, 117, NULL, &sick);
	cr_assert(sick.watts > 150, "%g W", sick.watts);
	cr_assert(sick.rail_volts[main] < 40, "%g V", sick.rail_volts[main]);
	free(unit);
}

/* Volts that no line has: said at once, without a number. */
Test(load, volts_beyond_any_line_are_refused_at_once)
{
	struct text_unit *unit = shipped_unit("oscilloscope.ini");
	struct load_result at;

	for (double volts = 1e5; volts < 1e12; volts *= 1.5) {
		load_settled(&unit->net, volts, NULL, &at);
		cr_assert_not(at.converged);
		cr_assert(isnan(load_watts(&unit->net, volts, NULL)));
	}
	load_settled(&unit->net, INFINITY, NULL, &at);
	cr_assert_not(at.converged);
	free(unit);
}
