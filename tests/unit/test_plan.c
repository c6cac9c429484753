/* Plans that follow a number measured on the unit. */
#include <criterion/criterion.h>
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
