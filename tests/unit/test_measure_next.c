/* What to measure next: the ranking does what it says when the number is then measured. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>

#include "lib/text_unit.h"
#include "mainstair/core/measure_next.h"

TestSuite(measure_next, .timeout = 100);

static const struct meter_accuracy meter = { .reading_share = 0.01, .offset_watts = 0.1 };

/* Take the advice: the band shrinks by the share promised.  Only the tolerance changes, as when the
 * reading confirms the number.  The watts are no straight line in it, so not to the last per
 * cent. */
Test(measure_next, measured_the_band_shrinks_by_the_share_promised)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
		struct sensitivity *all = calloc(NET_PARAMS_MAX, sizeof *all);
		struct measure_gain gains[NET_PARAMS_MAX];
		struct band before, after;

		envelope_at(&unit->net, &rule, &meter, unit->net.line_volts, NULL, &before, all);
		const int n = measure_next(&unit->net, &meter, &before, all, gains, NET_PARAMS_MAX);
		for (int i = 1; i < n; i++)
			cr_assert(gains[i - 1].gain >= gains[i].gain);
		for (int i = 0; i < n && i < 3; i++) {
			struct network *known = malloc(sizeof *known);

			*known = unit->net;
			struct param *p = &known->params[gains[i].param];
			cr_assert(p->measure[0] && p->origin != ORIGIN_MEASURED, "%s", file);
			p->up = fmin(p->up, 0.02);
			p->down = fmin(p->down, 0.02);
			envelope_at(known, &rule, &meter, unit->net.line_volts, NULL, &after, NULL);
			const double shrunk = 1 - (after.high - after.low) /
			                          (before.high - before.low);
			cr_assert(fabs(shrunk - gains[i].gain) < 0.05, "%s, %s: %.3f, promised %.3f",
			          file, p->name, shrunk, gains[i].gain);
			free(known);
		}
		free(all);
		free(unit);
	}
}

Test(measure_next, a_short_list_has_the_best_and_what_was_measured_is_not_asked_for_again)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	const double volts[2] = { 50, unit->net.line_volts };
	struct measure_gain_both many[NET_PARAMS_MAX], few[3];
	struct err err;

	const int n = measure_next_both(&unit->net, &rule, &meter, volts, many, NET_PARAMS_MAX);
	cr_assert(n > 1);
	cr_assert_eq(measure_next_both(&unit->net, &rule, &meter, volts, few, 3), n < 3 ? n : 3);
	for (int i = 0; i < n && i < 3; i++)
		cr_assert_eq(few[i].param, many[i].param);
	for (int i = 1; i < n; i++)
		cr_assert(many[i - 1].gain[0] + many[i - 1].gain[1] >=
		          many[i].gain[0] + many[i].gain[1]);

	int asked = 0;
	for (int i = 0; i < n; i++)
		asked += unit->net.params[many[i].param].kind == PARAM_CORE_WATTS;
	cr_assert_eq(asked, 1);
	cr_assert(network_measure(&unit->net, "idle 3.1 W", &err) == 0, "%s", err.text);
	const int left = measure_next_both(&unit->net, &rule, &meter, volts, many, NET_PARAMS_MAX);
	for (int i = 0; i < left; i++)
		cr_assert(unit->net.params[many[i].param].kind != PARAM_CORE_WATTS);
	free(unit);
}
