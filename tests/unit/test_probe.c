/* Volts that a voltmeter should find: against the virtual bench, which shares nothing of the
 * settled solver; units that ngspice simulated are in tests/watch. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "bench/bench.h"
#include "lib/text_unit.h"
#include "mainstair/core/probe.h"
#include "mainstair/core/session.h"

TestSuite(probe, .timeout = 120);

enum { RAIL_MAIN = 0 };

static struct bench *warm(const struct network *net, uint64_t seed, const char *fault, double volts)
{
	const struct bench_options o = { .seed = seed, .start_volts = volts };
	struct err err;
	struct bench *b = bench_new(net, &o, &err);

	cr_assert_not_null(b);
	if (fault)
		cr_assert_eq(bench_fault(b, fault, &err), 0, "%s", err.text);
	bench_advance(b, 120);
	return b;
}

Test(probe, healthy_units_read_within_and_shorted_ones_under)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct network *net = &unit->net;

	cr_assert_str_eq(net->rails[RAIL_MAIN].name, "main");
	for (uint64_t seed = 1; seed <= 3; seed++) {
		const double volts = 60 + 19 * (double)seed;
		struct bench *well = warm(net, seed, NULL, volts);
		struct bench *sick = warm(net, seed, "rail main short", volts);

		for (int r = 0; r < net->n_rails; r++) {
			struct probe_band band;

			cr_assert(probe_band_at(net, volts, OBSERVED_RAIL_VOLTS, r, &band));
			const double read = bench_rail_volts(well, net->rails[r].name);

			cr_assert_eq(probe_judge(&band, read), VERDICT_IN_BAND,
			             "rail %s at %g V: %g, %g..%g", net->rails[r].name, volts, read,
			             band.low, band.high);
			cr_assert(band.low < band.expected && band.expected < band.high);
			if (r != RAIL_MAIN)
				continue;
			cr_assert_eq(probe_judge(&band, bench_rail_volts(sick, "main")),
			             VERDICT_UNDER);
			cr_assert_eq(probe_judge(&band, 1.5 * band.high), VERDICT_OVER);
			cr_assert_eq(probe_judge(&band, -band.expected), VERDICT_IN_BAND,
			             "a probe held the other way round");
			cr_assert_eq(probe_judge(&band, NAN), VERDICT_UNKNOWN);
		}
		bench_free(well);
		bench_free(sick);
	}
	free(unit);
}

/* Nothing flows behind a cold rectifier: what stands there hangs on leakage, and is not judged. */
Test(probe, a_cold_rail_may_stand_anywhere)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct probe_band cold, warm_rail;

	cr_assert(probe_band_at(&unit->net, 35, OBSERVED_RAIL_VOLTS, RAIL_MAIN, &cold));
	cr_assert(probe_band_at(&unit->net, 117, OBSERVED_RAIL_VOLTS, RAIL_MAIN, &warm_rail));
	cr_assert(!(cold.low > 0), "%g", cold.low);
	cr_assert(warm_rail.low > 0.8 * warm_rail.expected);
	free(unit);
}

/* A gas regulator's rail, at volts where one tube has struck and another has not. */
Test(probe, a_regulator_that_may_have_struck)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct network *net = &unit->net;
	int steady = -1;
	double struck = 0;
	struct load_result at;
	struct probe_band band;

	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].regulator == REGULATOR_GAS)
			steady = r;
	cr_assert(steady >= 0);
	for (double volts = 60; volts < 117 && !(struck > 0); volts += 1) {
		load_settled(net, volts, NULL, &at);
		if (at.regulator_lit[steady])
			struck = volts;
	}
	cr_assert(struck > 61);
	load_settled(net, struck, NULL, &at); /* a volt lower it is dark, yet may be lit */
	cr_assert(probe_band_at(net, struck - 1, OBSERVED_RAIL_VOLTS, steady, &band));
	cr_assert_eq(probe_judge(&band, at.rail_volts[steady]), VERDICT_IN_BAND, "%g, %g..%g",
	             at.rail_volts[steady], band.low, band.high);
	free(unit);
}

/* --- in a power-up ----------------------------------------------------------------------------- */

struct power_up {
	struct text_unit *unit;
	struct plan plan;
	struct abort_rule rule;
	struct session session;
};

static struct event reading(const struct power_up *p, double seconds, double volts)
{
	struct band band;

	envelope_at(&p->unit->net, &p->rule, &meter_accuracy_default, volts, NULL, &band, NULL);
	return (struct event){ .seconds = seconds, .kind = EVENT_READING, .stage = -1, .volts = volts,
		               .watts = band.expected, .amps = NAN, .power_factor = NAN };
}

static struct event probe(double seconds, const char *what, double volts)
{
	struct event ev = { .seconds = seconds, .kind = EVENT_RAIL, .stage = -1, .volts = volts,
		            .watts = NAN, .amps = NAN, .power_factor = NAN };

	snprintf(ev.note, sizeof ev.note, "%s", what);
	return ev;
}

/* At 70 V, settled, held, in band: a dead short of the main rail cannot be seen in the watts. */
static struct power_up *at_70_volts(void)
{
	struct power_up *p = calloc(1, sizeof *p);
	struct session *s = &p->session;

	p->unit = shipped_unit("bench-oscillator.ini");
	p->rule = abort_rule_of(&p->unit->profile, &p->unit->net);
	plan_make(&p->plan, &p->unit->net, &p->unit->profile, &p->rule, &meter_accuracy_default, 0);
	plan_prove(&p->plan, &p->unit->net);
	session_init(s, &p->unit->net, &p->plan, &p->rule, &meter_accuracy_default, 0);
	struct event read_them = { .kind = EVENT_CAUTIONS, .stage = -1 };

	(void)session_apply(s, &read_them, NULL, 0);
	for (double t = 1; t < 400; t += 3) {
		struct event ev = reading(p, t, 70);

		(void)session_apply(s, &ev, NULL, 0);
	}
	cr_assert_eq(s->instruction, DO_LOOK);
	cr_assert(s->stages[s->stage].passed);
	return p;
}

static void power_up_free(struct power_up *p)
{
	free(p->unit);
	free(p);
}

static enum verdict apply(struct power_up *p, struct event ev)
{
	(void)session_apply(&p->session, &ev, NULL, 0);
	return ev.verdict;
}

Test(probe, a_rail_that_reads_nothing_holds_the_power_up)
{
	struct power_up *p = at_70_volts();
	struct session *s = &p->session;
	struct load_result at;
	enum observed what;
	int index = -1;

	load_settled(&p->unit->net, 70, NULL, &at);
	cr_assert_eq(apply(p, probe(401, "rail main", 0)), VERDICT_UNDER);
	cr_assert_eq(s->instruction, DO_HOLD_HERE);
	cr_assert(s->stages[s->stage].passed, "what its watts ruled out they still do");
	cr_assert(session_probe_against(s, &what, &index) == &s->rail_probes[RAIL_MAIN]);
	cr_assert(what == OBSERVED_RAIL_VOLTS && index == RAIL_MAIN);
	cr_assert_not(session_rail_is_well(s, RAIL_MAIN, s->stage));
	cr_assert_eq(s->first_finding.kind, EVENT_RAIL);
	/* watts in band do not lift it */
	cr_assert_eq(apply(p, reading(p, 403, 70)), VERDICT_IN_BAND);
	cr_assert_eq(s->instruction, DO_HOLD_HERE);
	/* the clip had slipped: read once more */
	cr_assert_eq(apply(p, probe(405, "rail main", at.rail_volts[RAIL_MAIN])), VERDICT_IN_BAND);
	cr_assert_null(session_probe_against(s, &what, &index));
	cr_assert(session_rail_is_well(s, RAIL_MAIN, s->stage));
	cr_assert_eq(s->instruction, DO_LOOK);
	/* and where the line has moved on, what was read before says nothing */
	cr_assert_eq(apply(p, probe(407, "rail main", 0)), VERDICT_UNDER);
	(void)apply(p, reading(p, 408, 50));
	cr_assert_null(session_probe_against(s, &what, &index));
	power_up_free(p);
}

/* Read while heaters warm up it is no finding, and says that it is to be read again. */
Test(probe, before_the_heaters_have_settled_it_is_no_finding)
{
	struct power_up *p = at_70_volts();
	struct session *s = &p->session;
	struct typed typed;

	(void)apply(p, reading(p, 500, 117));
	cr_assert_not(s->settled);
	cr_assert_eq(apply(p, probe(501, "rail main", 120)), VERDICT_SETTLING);
	cr_assert_neq(s->instruction, DO_HOLD_HERE);
	session_understand(s, "rail main 120", &typed);
	cr_assert(typed.kind == TYPED_RAIL && strstr(typed.echo, "read it again"), "%s", typed.echo);
	power_up_free(p);
}

Test(probe, a_typed_one_says_what_was_expected)
{
	struct power_up *p = at_70_volts();
	struct typed typed;

	session_understand(&p->session, "rail main 3", &typed);
	cr_assert(typed.kind == TYPED_RAIL && strstr(typed.echo, ": UNDER, ") &&
	          strstr(typed.echo, " V expected"), "%s", typed.echo);
	session_understand(&p->session, "heater heater 3.8", &typed);
	cr_assert(strstr(typed.echo, "in band"), "%s", typed.echo);
	power_up_free(p);
}

/* What the watts at 70 V leave open about the main rail, its volts rule out. */
Test(probe, the_plan_knows_where_volts_tell)
{
	struct power_up *p = at_70_volts();
	const struct stage *st = &p->plan.stages[p->session.stage];
	bool told = false;

	for (int i = 0; i < st->n_not_proved; i++)
		told = told || (st->volts_tell[i] == RAIL_MAIN &&
		                strstr(st->not_proved[i], "rail main"));
	cr_assert(told);
	for (int i = 0; i < p->plan.stages[0].n_not_proved; i++)
		cr_assert_eq(p->plan.stages[0].volts_tell[i], -1, "no rail is up at the first stage");
	power_up_free(p);
}
