/*
 * The plan of stages: where it stops, what it asks, what a good reading at each stage rules out;
 * and how it follows a number measured on the unit.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lib/text_unit.h"
#include "mainstair/core/plan.h"

TestSuite(plan, .timeout = 100);

static const struct meter_accuracy meter = { .reading_share = 0.01, .offset_watts = 0.1 };

static void assert_same_texts(const struct stage *a, const struct stage *b)
{
	cr_assert(a->n_looks == b->n_looks && a->n_proved == b->n_proved &&
	          a->n_not_proved == b->n_not_proved);
	for (int i = 0; i < a->n_looks; i++)
		cr_assert_str_eq(a->looks[i], b->looks[i]);
	for (int i = 0; i < a->n_proved; i++)
		cr_assert_str_eq(a->proved[i], b->proved[i]);
	for (int i = 0; i < a->n_not_proved; i++)
		cr_assert_str_eq(a->not_proved[i], b->not_proved[i]);
}

Test(plan, refreshed_without_a_change_it_is_the_same)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct plan *plan = calloc(1, sizeof *plan), *before = calloc(1, sizeof *before);

	plan_make(plan, &unit->net, &unit->profile, &rule, &meter, 0);
	plan_prove(plan, &unit->net);
	*before = *plan;
	plan_refresh(plan, &unit->net, &rule, &meter);
	cr_assert_eq(plan->n_stages, before->n_stages);
	for (int i = 0; i < plan->n_stages; i++) {
		const struct stage *now = &plan->stages[i], *was = &before->stages[i];

		cr_assert_float_eq(now->volts, was->volts, 0);
		cr_assert_float_eq(now->hold_s, was->hold_s, 0);
		cr_assert_float_eq(now->band.expected, was->band.expected, 1e-6);
		cr_assert_float_eq(now->band.high, was->band.high, 1e-6);
		assert_same_texts(now, was);
	}
	free(plan);
	free(before);
	free(unit);
}

Test(plan, a_measured_number_narrows_every_band_and_moves_no_stage)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct plan *plan = calloc(1, sizeof *plan), *before = calloc(1, sizeof *before);
	struct err err;

	plan_make(plan, &unit->net, &unit->profile, &rule, &meter, 0);
	plan_prove(plan, &unit->net);
	*before = *plan;
	cr_assert(network_measure(&unit->net, "idle 3.1 W", &err) == 0, "%s", err.text);
	rule = abort_rule_of(&unit->profile, &unit->net);
	plan_refresh(plan, &unit->net, &rule, &meter);
	for (int i = 0; i < plan->n_stages; i++) {
		const struct band *now = &plan->stages[i].band, *was = &before->stages[i].band;

		cr_assert_float_eq(plan->stages[i].volts, before->stages[i].volts, 0);
		cr_assert_float_eq(now->volts, was->volts, 0);
		cr_assert(now->high - now->low < was->high - was->low, "stage %d", i + 1);
		cr_assert(plan->stages[i].n_proved + plan->stages[i].n_not_proved ==
		          before->stages[i].n_proved + before->stages[i].n_not_proved);
	}
	free(plan);
	free(before);
	free(unit);
}

/* ---- computed plans ---- */

/* The plan of a unit whose profile has no [stages].  free() it. */
static struct plan *computed(struct text_unit *unit, double bench_line_volts)
{
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct plan *plan = calloc(1, sizeof *plan);

	cr_assert_not_null(plan);
	unit->profile.n_stages = 0;
	plan_make(plan, &unit->net, &unit->profile, &rule, &meter, bench_line_volts);
	plan_prove(plan, &unit->net);
	cr_assert(plan->n_stages >= 3 && plan->n_stages <= PLAN_STAGES_MAX && !plan->from_profile);
	return plan;
}

static const struct stage *stage_because(const struct plan *plan, const char *why)
{
	for (int i = 0; i < plan->n_stages; i++)
		if (strstr(plan->stages[i].why, why))
			return &plan->stages[i];
	return NULL;
}

static double rails_watts(const struct network *net, const struct load_result *at)
{
	double sum = 0;

	for (int r = 0; r < net->n_rails; r++)
		sum += at->split_rail[r];
	return sum;
}

static bool has_tube_rectifier(const struct network *net)
{
	for (int r = 0; r < net->n_rails; r++)
		if (net->rails[r].source != RAIL_FROM_RAIL && net->rails[r].saturation_amps > 0)
			return true;
	return false;
}

Test(plan, rises_in_small_steps)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		struct plan *plan = computed(unit, 0);
		double before = 0;

		for (int i = 0; i < plan->n_stages; i++) {
			const struct stage *st = &plan->stages[i];
			const bool last = i == plan->n_stages - 1;

			cr_assert(st->volts > before, "%s: %g V after %g V", file, st->volts,
			          before);
			/* a fifth of the line, and a volt or two of rounding */
			cr_assert(st->volts - before < 0.24 * unit->net.line_volts, "%s: %g V",
			          file, st->volts);
			before = st->volts;
			cr_assert(st->band.at.converged && fabs(st->band.volts - st->volts) < 1e-9);
			cr_assert(st->hold_s >= 30);
			cr_assert(last ? !(st->longest_s > 0) : st->longest_s >= st->hold_s);
			cr_assert(st->why[0] && st->n_looks > 0 && st->n_looks <= PLAN_LOOKS_MAX);
		}
		free(plan);
		free(unit);
	}
}

/* First stage: a bolted short on any winding, or on any rail, draws less than the unit is rated
 * for; and no more than the fuse carries. */
Test(plan, first_stage_is_survivable)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		struct network *net = &unit->net;
		struct plan *plan = computed(unit, 0);
		const double volts = plan->stages[0].volts;
		const double rated = envelope_rated_amps(net) * net->line_volts;
		struct load_result at;

		cr_assert(volts <= 0.16 * net->line_volts, "%s: %g V", file, volts);
		for (int w = 0; w < net->n_windings; w++) {
			net->windings[w].short_siemens = 1e4;
			load_settled(net, volts, NULL, &at);
			net->windings[w].short_siemens = 0;
			cr_assert(at.converged && at.watts < rated, "%s, %s: %g W", file,
			          net->windings[w].name, at.watts);
			if (net->fuse_amps > 0)
				cr_assert(at.amps < 2 * net->fuse_amps, "%s, %s: %g A", file,
				          net->windings[w].name, at.amps);
		}
		for (int r = 0; r < net->n_rails; r++) {
			net->rails[r].leak_siemens = 1;
			load_settled(net, volts, NULL, &at);
			net->rails[r].leak_siemens = 0;
			cr_assert(at.converged && at.watts < rated, "%s, rail %s: %g W", file,
			          net->rails[r].name, at.watts);
		}
		free(plan);
		free(unit);
	}
}

/* Behind a tube rectifier: one stop at which nothing emits yet, one where the rails wake up, in
 * this order.  "About half of line voltage", says the trade (common practice, no source). */
Test(plan, below_emission_then_where_the_rectifier_begins)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const struct network *net = &unit->net;
		struct plan *plan = computed(unit, 0);
		struct load_result full;

		load_settled(net, net->line_volts, NULL, &full);
		if (has_tube_rectifier(net)) {
			const struct stage *cold = stage_because(plan, "below emission");
			const struct stage *begins = stage_because(plan, "the rectifier begins");

			cr_assert(cold && begins && cold->volts < begins->volts, "%s", file);
			cr_assert(rails_watts(net, &cold->band.at) < 0.015 * cold->band.expected,
			          "%s, %g V: %g W on rails", file, cold->volts,
			          rails_watts(net, &cold->band.at));
			/* a tenth of what they come to, less a volt of rounding */
			cr_assert(rails_watts(net, &begins->band.at) >
			                  0.08 * rails_watts(net, &full),
			          "%s, %g V", file, begins->volts);
			cr_assert(begins->volts > 0.4 * net->line_volts &&
			          begins->volts < 0.75 * net->line_volts, "%s, %g V", file,
			          begins->volts);
		} else if (net->n_tube_heaters > 0) {
			/* silicon and selenium: the rails are up before the cathodes are */
			const struct stage *cold = stage_because(plan, "below emission");
			const struct stage *emits = stage_because(plan, "cathodes begin to emit");

			cr_assert(cold && emits && cold->volts < emits->volts, "%s", file);
			cr_assert(cold->band.at.heater_share[0] < 0.5 &&
			          emits->band.at.heater_share[0] > 0.5, "%s", file);
		}
		free(plan);
		free(unit);
	}
}

/* Every regulator that is lit at the last stage has a stop at which it is, and is asked for there.
 */
Test(plan, regulators_strike)
{
	const char *file;
	int regulators = 0;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		struct plan *plan = computed(unit, 0);
		const struct load_result *last = &plan->stages[plan->n_stages - 1].band.at;

		for (int r = 0; r < unit->net.n_rails; r++) {
			const char *name = unit->net.rails[r].name;
			char why[80], glows[80];
			bool asked = false;

			if (unit->net.rails[r].regulator != REGULATOR_GAS)
				continue;
			regulators++;
			cr_assert(last->regulator_lit[r], "%s, rail %s", file, name);
			(void)snprintf(why, sizeof why,
			               "the regulator of rail %s should have struck", name);
			(void)snprintf(glows, sizeof glows, "regulator of rail %s glows?", name);
			const struct stage *st = stage_because(plan, why);

			cr_assert(st && st->band.at.regulator_lit[r], "%s, rail %s", file, name);
			for (int i = 0; i < st->n_looks; i++)
				asked = asked || strncmp(st->looks[i], glows, strlen(glows)) == 0;
			cr_assert(asked, "%s, %g V: nobody looks at rail %s", file, st->volts,
			          name);
		}
		free(plan);
		free(unit);
	}
	cr_assert(regulators >= 4, "%d", regulators);
}

/* Last stage: rated heater volts, never above nameplate, never above the line there is.  117 V gear
 * on a 125 V line stops short of it. */
Test(plan, last_stage_gives_rated_heater_volts)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const double nameplate = unit->net.line_volts;

		for (double line = 0.8; line < 1.15; line += 0.05) {
			struct plan *plan = computed(unit, line * nameplate);
			const struct stage *last = &plan->stages[plan->n_stages - 1];

			cr_assert(last->volts <= nameplate && last->volts <= line * nameplate,
			          "%s, %g V on a line of %g V", file, last->volts,
			          line * nameplate);
			cr_assert(last->volts > fmin(1, line) * nameplate - 2.01,
			          "%s, %g V on a line of %g V", file, last->volts,
			          line * nameplate);
			for (int h = 0; line > 0.99 && h < unit->net.n_tube_heaters; h++)
				cr_assert(last->band.at.heater_share[h] > 0.92 &&
				          last->band.at.heater_share[h] < 1.04, "%s, %s: %g", file,
				          unit->net.heaters[h].place,
				          last->band.at.heater_share[h]);
			free(plan);
		}
		free(unit);
	}
}

/* ---- proofs ---- */

/* The fault that a proof speaks of, put into *net as the plan does. */
static void apply_proof(struct network *net, const char *words, double rated)
{
	char name[80];

	if (strncmp(words, "a short across the mains side", 29) == 0) {
		net->line_shunt_siemens = rated / (net->line_volts * net->line_volts);
	} else if (strncmp(words, "a shorted turn", 14) == 0) {
		net->turn_siemens = 0.5 * rated / (net->emf_rated * net->emf_rated);
	} else if (sscanf(words, "a shorted winding %79[^:]", name) == 1) {
		struct net_winding *w = &net->windings[unit_winding_named(net, name)];

		w->short_siemens = 1 / fmax(w->ohms, 1e-3);
	} else if (sscanf(words, "a dead short on rail %79[^:]", name) == 1) {
		net->rails[unit_rail_named(net, name)].leak_siemens = 1 / 50.0;
	} else {
		cr_assert_fail("%s", words);
	}
}

/* Over the band's high edge with that fault? */
static bool shows(const struct network *net, const struct stage *st, const char *words)
{
	struct network *sick = malloc(sizeof *sick);
	const double rated = envelope_rated_amps(net) * net->line_volts;
	struct load_result at;

	cr_assert_not_null(sick);
	*sick = *net;
	apply_proof(sick, words, rated);
	load_settled(sick, st->volts, NULL, &at);
	free(sick);
	return at.converged && at.watts > st->band.high;
}

static bool listed(const char list[][120], int n, const char *words)
{
	const size_t name = strcspn(words, ":");

	for (int i = 0; i < n; i++)
		if (strncmp(list[i], words, name + 1) == 0)
			return true;
	return false;
}

/* What is proved once stays proved, everything tried is told at every stage once, and a fault that
 * is ruled out would have shown. */
Test(plan, proofs_grow_and_are_true)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const struct network *net = &unit->net;
		struct plan *plan = computed(unit, 0);
		const int tried = 1 + net->transformer + net->n_windings + net->n_rails;

		for (int i = 0; i < plan->n_stages; i++) {
			const struct stage *st = &plan->stages[i];
			const struct stage *before = i > 0 ? st - 1 : NULL;

			cr_assert(st->n_proved + st->n_not_proved == tried,
			          "%s, %g V: %d + %d of %d", file, st->volts, st->n_proved,
			          st->n_not_proved, tried);
			for (int p = 0; before && p < before->n_proved; p++)
				cr_assert(listed(st->proved, st->n_proved, before->proved[p]),
				          "%s, %g V: %s", file, st->volts, before->proved[p]);
			for (int p = 0; p < st->n_proved; p++) {
				cr_assert(!listed(st->not_proved, st->n_not_proved, st->proved[p]));
				cr_assert(shows(net, st, st->proved[p]), "%s, %g V: %s", file,
				          st->volts, st->proved[p]);
			}
			for (int p = 0; p < st->n_not_proved; p++) {
				bool always = true;

				/* it may show here by chance, but not from here on */
				for (int q = i; q < plan->n_stages; q++)
					always = always && shows(net, &plan->stages[q],
					                         st->not_proved[p]);
				cr_assert(!always, "%s, %g V: %s", file, st->volts,
				          st->not_proved[p]);
			}
		}
		free(plan);
		free(unit);
	}
}

/* "Nothing happened at 30 V" clears nothing behind a tube rectifier, but everything behind silicon
 * or selenium that is shorted dead (circuit simulations of many sets: 2 to 30 times the watts). */
Test(plan, a_tube_rectifier_hides_what_is_behind_it)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const struct network *net = &unit->net;
		struct plan *plan = computed(unit, 0);

		for (int i = 0; i < plan->n_stages; i++) {
			const struct stage *st = &plan->stages[i];
			const double share = st->volts / net->line_volts;

			for (int r = 0; r < net->n_rails; r++) {
				char words[80];

				if (net->rails[r].source == RAIL_FROM_RAIL)
					continue;
				(void)snprintf(words, sizeof words, "a dead short on rail %s:",
				               net->rails[r].name);
				const bool proved = listed(st->proved, st->n_proved, words);

				if (net->rails[r].saturation_amps > 0 && share < 0.46)
					cr_assert(!proved, "%s, %g V: %s", file, st->volts, words);
				if (!(net->rails[r].saturation_amps > 0) && share > 0.2)
					cr_assert(proved, "%s, %g V: %s", file, st->volts, words);
			}
		}
		free(plan);
		free(unit);
	}
}

/* ---- plans from the profile, and the stage that a reading belongs to ---- */

Test(plan, stages_of_the_profile_are_kept)
{
	static const double volts[] = { 20, 35, 50, 70, 90, 105, 117 };
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct plan *plan = calloc(1, sizeof *plan);

	plan_make(plan, &unit->net, &unit->profile, &rule, &meter, 0);
	cr_assert(plan->from_profile && plan->n_stages == 7);
	for (int i = 0; i < 7; i++) {
		cr_assert(fabs(plan->stages[i].volts - volts[i]) < 1e-12);
		cr_assert(fabs(plan->stages[i].hold_s - 60) < 1e-12);
	}
	free(plan);
	free(unit);
}

Test(plan, stage_at)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct plan *plan = calloc(1, sizeof *plan);

	plan_make(plan, &unit->net, &unit->profile, &rule, &meter, 0);
	/* 20, 35, 50, 70, 90, 105, 117; 4 % of the last is 4.7 V */
	cr_assert(plan_stage_at(plan, 20) == 0 && plan_stage_at(plan, 24) == 0);
	cr_assert(plan_stage_at(plan, 50) == 2 && plan_stage_at(plan, 54) == 2);
	cr_assert(plan_stage_at(plan, 117) == 6 && plan_stage_at(plan, 121) == 6);
	cr_assert(plan_stage_at(plan, 60) == -1 && plan_stage_at(plan, 130) == -1);
	cr_assert(plan_stage_at(plan, 0) == -1 && plan_stage_at(plan, 9) == -1);
	free(plan);
	free(unit);
}

static int looks_with(const struct plan *plan, const char *part)
{
	int n = 0;

	for (int s = 0; s < plan->n_stages; s++)
		for (int i = 0; i < plan->stages[s].n_looks; i++)
			n += strstr(plan->stages[s].looks[i], part) != NULL;
	return n;
}

/* A regulator that has not been told to strike yet may have: between the volts that it runs at and
 * those that it may need, lit and dark are both healthy, and no volts are dark for sure but
 * less. */
Test(plan, a_regulator_may_be_lit_before_it_must)
{
	const char *file;
	int either = 0, dark = 0;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		struct plan *plan = computed(unit, 0);

		for (int s = 0; s < plan->n_stages; s++)
			for (int r = 0; r < unit->net.n_rails; r++) {
				const struct stage *st = &plan->stages[s];
				const struct net_rail *rail = &unit->net.rails[r];
				char said[80];

				if (rail->regulator != REGULATOR_GAS || st->band.at.regulator_lit[r])
					continue;
				for (int i = 0; i < st->n_looks; i++) {
					(void)snprintf(said, sizeof said, "regulator of rail %s: dark still",
					               rail->name);
					if (strncmp(st->looks[i], said, strlen(said)) == 0) {
						dark++;
						cr_assert(st->band.at.rail_volts[r] < 0.9 * rail->hold_volts);
					}
					(void)snprintf(said, sizeof said, "regulator of rail %s: may be lit or dark",
					               rail->name);
					either += strncmp(st->looks[i], said, strlen(said)) == 0;
				}
			}
		free(plan);
		free(unit);
	}
	cr_assert(either > 0 && dark > 0, "%d either, %d dark", either, dark);
}

/* What a set without a transformer does not have is not spoken of, and no volts are asked for that
 * nobody can know: at these stages its cathodes are cold. */
Test(plan, a_string_set_has_no_transformer)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = x\nline_volts = 230\nsupply = series-string\n"
		"[tubes]\nV1 = UCH81\nV2 = UBF89\nV3 = UCL82\nV4 = UY85\n"
		"[lamps]\nI1 = 19 V 0.1 A\nI2 = 19 V 0.1 A\n"
		"[rail main]\nwinding = line\nrectifier = V4\nreservoir = 50 uF\n");
	struct plan *plan = computed(unit, 0);

	plan_prove(plan, &unit->net);
	cr_assert_eq(looks_with(plan, "transformer"), 0);
	cr_assert_eq(looks_with(plan, "winding"), 0);
	cr_assert(looks_with(plan, "I1, I2") >= plan->n_stages - 1);
	for (int s = 0; s < plan->n_stages; s++) {
		const struct stage *st = &plan->stages[s];

		cr_assert(!strstr(st->why, "transformer") && !strstr(st->why, "winding"), "%s", st->why);
		for (int i = 0; i < st->n_looks; i++)
			cr_assert(!strstr(st->looks[i], "voltmeter on rail") ||
			          !load_rail_undefined(&unit->net, &st->band.at, 0), "%g V: %s",
			          st->volts, st->looks[i]);
	}
	free(plan);
	free(unit);
}

/* Light of a pilot lamp goes with V^3.4 (Fink and Beaty, Standard Handbook for Electrical
 * Engineers, 11th ed., 1978, p. 22-8); what is asked of it follows. */
Test(plan, pilot_lamps_are_asked_for)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct plan *plan = computed(unit, 0);
	const struct stage *first = &plan->stages[0], *last = &plan->stages[plan->n_stages - 1];
	bool dark = false, full = false;

	for (int i = 0; i < first->n_looks; i++)
		dark = dark || strcmp(first->looks[i], "pilot lamps I1, I2: dark still") == 0 ||
			strncmp(first->looks[i], "pilot lamps I1, I2 lit? a red thread", 36) == 0;
	for (int i = 0; i < last->n_looks; i++)
		full = full || strcmp(last->looks[i], "pilot lamps I1, I2 at full light?") == 0;
	cr_assert(dark && full);
	for (int s = 0; s < plan->n_stages; s++) {
		const struct stage *st = &plan->stages[s];
		int percent;

		for (int i = 0; i < st->n_looks; i++)
			if (sscanf(st->looks[i], "pilot lamps I1, I2 lit? about %d %%",
			           &percent) == 1) {
				const double share =
				        st->band.at.heater_share[unit->net.n_tube_heaters];

				cr_assert(fabs(percent - 100 * pow(share, 3.4)) < 1, "%g V: %s",
				          st->volts, st->looks[i]);
			}
	}
	free(plan);
	free(unit);
}
