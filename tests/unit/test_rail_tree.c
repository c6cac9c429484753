/*
 * The dc side behind the reservoirs, seen through whole solves: currents add up at every rail,
 * loads follow their laws, regulators strike and hold.
 */
#include <criterion/criterion.h>
#include <math.h>

#include "bench_units.h"
#include "lib/text_unit.h"
#include "mainstair/core/emission.h"
#include "mainstair/core/heater.h"

TestSuite(rail_tree, .timeout = 60);

/* A stiff dc rail: silicon, no drop, a reservoir that hardly ripples; sqrt(2) times the line. */
static struct net_rail *stiff_rail(struct network *net)
{
	struct net_rail *rail = unit_rail(net, "source", RAIL_FROM_LINE);

	rail->form = FORM_BRIDGE;
	rail->farad[0] = 10e-3;
	return rail;
}

static struct net_rail *child(struct network *net, const char *name, int parent, double ohms)
{
	struct net_rail *rail = unit_rail(net, name, RAIL_FROM_RAIL);

	rail->parent = parent;
	rail->series_ohms = ohms;
	return rail;
}

static struct load_result solve(const struct network *net, double volts)
{
	struct load_result at;

	load_settled(net, volts, NULL, &at);
	cr_assert(at.converged, "%g V", volts);
	return at;
}

static double temperature(const struct network *net, const struct load_result *at, int heater)
{
	const struct heater_law law =
		heater_law(net->heaters[heater].kind, net->heater_conduction);

	return heater_settled_volts(&law, at->heater_share[heater], 1);
}

/* What rail r draws by itself, worked out again from its volts: the laws of core/network.h. */
static double own_amps(const struct network *net, const struct load_result *at, int r)
{
	const struct net_rail *rail = &net->rails[r];
	const double v = at->rail_volts[r];
	double amps = rail->leak_siemens * v;

	if (rail->bleeder_ohms > 0)
		amps += v / rail->bleeder_ohms;
	if (rail->regulator == REGULATOR_GAS && at->regulator_lit[r])
		amps += fmax(0, (v - rail->hold_volts) / rail->regulator_ohms);
	for (int d = 0; d < rail->n_draws; d++) {
		const struct net_draw *draw = &rail->draws[d];
		double share = 0;

		switch (draw->kind) {
		case DRAW_RESISTIVE:
			amps += draw->amps * v / draw->volts;
			break;
		case DRAW_CONSTANT:
			amps += draw->amps * emission_limit(v / (draw->knee * draw->volts), 1);
			break;
		case DRAW_SPACE_CHARGE:
			for (int i = 0; i < draw->n_by; i++)
				share += emission_share(temperature(net, at, draw->by[i])) /
					draw->n_by;
			if (draw->n_by == 0)
				share = 1;
			amps += emission_limit(draw->amps * pow(v / draw->volts, 1.5),
			                       draw->emission * draw->amps * share);
			break;
		}
	}
	return amps;
}

/* Kirchhoff: what comes into a rail is what it draws and hands on; Ohm: between rails lie their
 * filters.  In every shipped unit. */
Test(rail_tree, currents_add_up)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const struct network *net = &unit->net;

		for (double share = 0.2; share < 1.11; share += 0.1) {
			const struct load_result at = solve(net, share * net->line_volts);

			for (int r = 0; r < net->n_rails; r++) {
				const struct net_rail *rail = &net->rails[r];
				double out = own_amps(net, &at, r);

				for (int q = 0; q < net->n_rails; q++)
					if (net->rails[q].source == RAIL_FROM_RAIL &&
					    net->rails[q].parent == r)
						out += at.rail_amps[q];
				cr_assert(fabs(at.rail_amps[r] - out) < 2e-3 * out + 2e-6,
				          "%s, %g V, rail %s: %g A in, %g A out", file,
				          at.line_volts, rail->name, at.rail_amps[r], out);
				if (rail->source != RAIL_FROM_RAIL ||
				    rail->regulator == REGULATOR_SERIES_PASS)
					continue;
				const double drop = at.rail_volts[rail->parent] - at.rail_volts[r];

				cr_assert(fabs(drop - at.rail_amps[r] * rail->series_ohms) <
				          1e-3 * at.rail_volts[rail->parent] + 1e-3,
				          "%s, %g V, rail %s: %g V across %g ohm at %g A", file,
				          at.line_volts, rail->name, drop, rail->series_ohms,
				          at.rail_amps[r]);
			}
		}
		free(unit);
	}
}

/* A divider: nothing but ohms. */
Test(rail_tree, a_divider)
{
	struct network *net = unit_empty(100, 60);
	stiff_rail(net);
	struct net_rail *rail = child(net, "half", 0, 10e3);

	rail->bleeder_ohms = 10e3;
	const struct load_result at = solve(net, 100);

	cr_assert(fabs(at.rail_volts[0] - 100 * sqrt(2)) < 1);
	cr_assert(fabs(at.rail_volts[1] - at.rail_volts[0] / 2) < 1e-3);
	/* a rail is never quite without load: a microamp */
	cr_assert(fabs(at.rail_amps[1] - at.rail_volts[1] / 10e3) < 1e-6);
	cr_assert(fabs(at.split_rail[1] - at.rail_volts[0] * at.rail_amps[1]) < 1e-6);
	free(net);
}

/* Loads at other volts than they are stated at, each alone behind a millohm. */
Test(rail_tree, loads_follow_their_laws)
{
	static const enum draw_kind kinds[] = { DRAW_RESISTIVE, DRAW_SPACE_CHARGE, DRAW_CONSTANT };

	for (size_t k = 0; k < 3; k++)
		for (double volts = 20; volts < 200; volts *= 1.4) {
			struct network *net = unit_empty(100, 60);
			stiff_rail(net);
			struct net_rail *rail = child(net, "load", 0, 1e-3);
			struct net_draw *draw = unit_draw(rail, kinds[k], 0.010, 100);

			draw->emission = INFINITY;
			const struct load_result at = solve(net, volts);
			const double x = at.rail_volts[1] / 100;
			const double amps = kinds[k] == DRAW_RESISTIVE ? 0.010 * x :
				kinds[k] == DRAW_SPACE_CHARGE ? 0.010 * pow(x, 1.5) : 0.010;

			/* transistor stages come up about a fifth of their volts */
			const double near = kinds[k] != DRAW_CONSTANT || x > 0.8 ? 2e-3 :
				x > 0.4 ? 0.02 : 0.15;

			cr_assert(fabs(at.rail_amps[1] / amps - 1) < near,
			          "kind %d at %g V: %g A against %g", kinds[k], x * 100,
			          at.rail_amps[1], amps);
			free(net);
		}
}

/* A constant load starves in proportion below its knee, wherever that lies: a stage behind a
 * regulator of its own follows the volts from near its full volts on. */
Test(rail_tree, a_constant_load_starves_below_its_knee)
{
	for (double knee = 0.05; knee < 0.85; knee *= 2) {
		struct network *net = unit_empty(100, 60);
		stiff_rail(net);
		struct net_rail *rail = child(net, "load", 0, 1e-3);
		struct net_draw *draw = unit_draw(rail, DRAW_CONSTANT, 0.010, 400);

		draw->knee = knee;
		const struct load_result at = solve(net, 0.1 * knee * 400);
		const double x = at.rail_volts[1] / (knee * 400);

		cr_assert(x < 0.2 && fabs(at.rail_amps[1] / (0.010 * x) - 1) < 0.02, "%g: %g A", knee,
		          at.rail_amps[1]);
		free(net);
	}
}

/* A load of k times its current, a dead rail, a leak. */
Test(rail_tree, faults_of_a_rail)
{
	struct network *net = unit_empty(100, 60);
	stiff_rail(net);
	struct net_rail *rail = child(net, "load", 0, 100);
	unit_draw(rail, DRAW_RESISTIVE, 0.010, 100);
	child(net, "below", 1, 1e3)->bleeder_ohms = 50e3;

	const struct load_result healthy = solve(net, 100);

	net->rails[1].load_factor = 3;
	struct load_result at = solve(net, 100);

	cr_assert(fabs((at.rail_amps[1] - at.rail_amps[2]) / at.rail_volts[1] - 3e-4) < 1e-8);
	cr_assert(at.watts > healthy.watts);
	net->rails[1].load_factor = 1;
	net->rails[1].leak_siemens = 1 / 20e3;
	at = solve(net, 100);
	cr_assert(fabs(at.split_fault - at.rail_volts[1] * at.rail_volts[1] / 20e3) < 1e-6);
	cr_assert(fabs(at.watts - healthy.watts - at.split_fault) < 0.05 * at.split_fault);
	net->rails[1].leak_siemens = 0;
	net->rails[1].dead = true;
	at = solve(net, 100);
	cr_assert(fabs(at.rail_volts[1]) < 1e-6 && fabs(at.rail_volts[2]) < 1e-6);
	cr_assert(at.watts < 0.01 * healthy.watts);
	free(net);
}

/* ---- gas regulators ---- */

/* An 0A2: strikes at 185 V at most, runs at 150 V (data sheets, from memory; 0A2 strike 185 V also
 * in "VR tubes", amperatube.fr), 80 to 300 ohm of slope. */
static struct network *regulator(double series_ohms, double load_amps)
{
	struct network *net = unit_empty(150, 60);
	stiff_rail(net);
	struct net_rail *rail = child(net, "steady", 0, series_ohms);

	rail->regulator = REGULATOR_GAS;
	rail->strike_volts = 185;
	rail->hold_volts = 150;
	rail->regulator_ohms = 150;
	unit_draw(rail, DRAW_RESISTIVE, load_amps, 150);
	return net;
}

Test(rail_tree, a_regulator_strikes_and_holds)
{
	struct network *net = regulator(5e3, 0.005);
	double struck = 0;
	struct load_result before = { 0 };

	for (double volts = 60; volts < 200; volts += 0.5) {
		const struct load_result at = solve(net, volts);

		if (!at.regulator_lit[1]) {
			cr_assert(!(struck > 0), "out again at %g V", volts);
			cr_assert(at.rail_volts[1] < 185);
			/* below strike a divider of 5 k and 30 k */
			cr_assert(fabs(at.rail_volts[1] / at.rail_volts[0] - 30.0 / 35) < 1e-3);
		} else {
			if (!(struck > 0)) {
				struck = volts;
				/* the rail falls as it strikes, the watts step up */
				cr_assert(at.rail_volts[1] < before.rail_volts[1] - 20);
				cr_assert(at.watts > before.watts * 1.1);
			}
			cr_assert(at.rail_volts[1] > 150 && at.rail_volts[1] < 156,
			          "%g V on the line: %g V", volts, at.rail_volts[1]);
		}
		before = at;
	}
	/* divider: 185 V of strike stand on the rail when 185 * 35/30 V are ahead of it */
	cr_assert(fabs(struck * sqrt(2) * 30 / 35 - 185) < 2, "%g V", struck);
	free(net);
}

/* A load so heavy that the rail never comes to the strike volts: dark for ever. */
Test(rail_tree, a_regulator_that_cannot_strike)
{
	struct network *net = regulator(20e3, 0.010);

	for (double volts = 100; volts < 200; volts += 10)
		cr_assert(!solve(net, volts).regulator_lit[1], "%g V", volts);
	free(net);
}

/* Rule of the trade: the supply must exceed the running volts by 15 to 20 % ("Voltage-regulator
 * tube", encyclopaedia article): just above it is lit, just below dark, as the line comes up. */
Test(rail_tree, supply_a_fifth_above_the_running_volts)
{
	struct network *net = regulator(3e3, 1e-6); /* next to no load */

	cr_assert(!solve(net, 150 * 1.10 / sqrt(2)).regulator_lit[1]);
	cr_assert(solve(net, 150 * 1.27 / sqrt(2)).regulator_lit[1]);
	free(net);
}

/* ---- series pass ---- */

Test(rail_tree, a_series_pass_rail_holds)
{
	struct text_unit *unit = shipped_unit("oscilloscope.ini");
	const int steady = unit_rail_named(&unit->net, "steady");
	const struct net_rail *rail = &unit->net.rails[steady];

	cr_assert(rail->regulator == REGULATOR_SERIES_PASS);
	for (double volts = 95; volts < 130; volts += 5) {
		const struct load_result at = solve(&unit->net, volts);

		cr_assert(fabs(at.rail_volts[steady] / rail->pass_volts - 1) < 0.01, "%g V: %g",
		          volts, at.rail_volts[steady]);
	}
	/* cold, its tubes pass nothing */
	const struct load_result at = solve(&unit->net, 35);

	cr_assert(at.rail_amps[steady] < 1e-3);
	/* and it never stands above its parent */
	for (double volts = 5; volts < 140; volts += 5) {
		const struct load_result any = solve(&unit->net, volts);

		cr_assert(any.rail_volts[steady] <= any.rail_volts[rail->parent] + 1e-6);
	}
	free(unit);
}

/* Rails may stand in any order: the children first solves the same. */
Test(rail_tree, order_of_rails_does_not_matter)
{
	struct network *forward = unit_empty(100, 60), *backward = unit_empty(100, 60);

	stiff_rail(forward);
	child(forward, "a", 0, 1e3)->bleeder_ohms = 40e3;
	child(forward, "b", 1, 2e3)->bleeder_ohms = 30e3;
	child(backward, "b", 1, 2e3)->bleeder_ohms = 30e3;
	child(backward, "a", 2, 1e3)->bleeder_ohms = 40e3;
	stiff_rail(backward);
	const struct load_result f = solve(forward, 100), b = solve(backward, 100);

	for (int r = 0; r < 3; r++)
		cr_assert(fabs(f.rail_volts[r] - b.rail_volts[2 - r]) < 1e-6);
	cr_assert(fabs(f.watts - b.watts) < 1e-6);
	free(forward);
	free(backward);
}
