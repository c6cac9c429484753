/*
 * Which fault fits, on readings that the network itself gives: what goes in must come out, with its
 * size, and what cannot be known must not be claimed.  (Against circuit simulation:
 * tests/watch/ranking.c.)
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lib/text_unit.h"
#include "mainstair/core/suspects.h"

TestSuite(suspects, .timeout = 60);

static const double shares[] = { 0.2, 0.5, 0.75, 0.9 };
enum { STAGES = sizeof shares / sizeof shares[0] };

/* Readings of a unit with that fault: watts, and rail and winding volts where asked for. */
static int observe(const struct network *net, enum suspect_kind kind, int index, double size,
                   int stages, bool volts, struct observation *obs)
{
	struct network *sick = malloc(sizeof *sick);
	int n = 0;

	*sick = *net;
	suspect_apply(sick, kind, index, size);
	for (int k = 0; k < stages; k++) {
		const double line = shares[k] * net->line_volts;
		struct load_result at;

		load_settled(sick, line, NULL, &at);
		cr_assert(at.converged);
		obs[n++] = (struct observation){ line, OBSERVED_WATTS, -1, at.watts };
		for (int r = 0; volts && r < net->n_rails; r++)
			obs[n++] = (struct observation){ line, OBSERVED_RAIL_VOLTS, r, at.rail_volts[r] };
		for (int w = 0; volts && w < net->n_windings; w++)
			if (!net->windings[w].feeds_rail)
				obs[n++] = (struct observation){ line, OBSERVED_WINDING_VOLTS, w,
					                         at.winding_volts[w] };
	}
	free(sick);
	return n;
}

static struct suspicion *ranked(const struct network *net, const struct observation *obs, int n)
{
	struct suspicion *s = malloc(sizeof *s);

	suspects_rank(net, &meter_accuracy_default, obs, n, s);
	for (int i = 0; i < s->n; i++) {
		cr_assert(isfinite(s->list[i].log_odds) && s->list[i].words[0]);
		cr_assert(i == 0 || s->list[i].log_odds <= s->list[i - 1].log_odds, "best first");
	}
	return s;
}

Test(suspects, nothing_read_nothing_claimed)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct suspicion *s = ranked(&unit->net, NULL, 0);

	cr_assert(s->n == 1 && s->list[0].kind == SUSPECT_HEALTHY);
	cr_assert_not(s->can_tell);
	free(s);
	free(unit);
}

Test(suspects, healthy_units_are_healthy)
{
	for (int k = 0; shipped_profile(k); k++) {
		struct text_unit *unit = shipped_unit(shipped_profile(k));
		struct observation obs[OBSERVATIONS_MAX];
		const int n = observe(&unit->net, SUSPECT_HEALTHY, -1, 0, STAGES, false, obs);
		struct suspicion *s = ranked(&unit->net, obs, n);

		cr_assert(s->list[0].kind == SUSPECT_HEALTHY, "%s", s->list[0].words);
		cr_assert_not(s->poor_fit);
		cr_assert_str_empty(s->separate);
		free(s);
		free(unit);
	}
}

/* Gross faults with every voltmeter reading: first, and about the size that was put in. */
Test(suspects, what_goes_in_comes_out)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const int main = unit_rail_named(&unit->net, "main"), screen = unit_rail_named(&unit->net, "screen");
	const int heater = unit_winding_named(&unit->net, "heater");
	const struct {
		enum suspect_kind kind;
		int index;
		double size;
	} faults[] = {
		{ SUSPECT_WINDING_SHORT, heater, 0.5 }, { SUSPECT_RAIL_LEAK, main, 3000 },
		{ SUSPECT_RAIL_LEAK, screen, 3000 }, { SUSPECT_RAIL_DEAD, main, 0 },
		{ SUSPECT_RAIL_DEAD, screen, 0 }, { SUSPECT_PLATE_SHORT, main, 3 },
	};

	for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
		struct observation obs[OBSERVATIONS_MAX];
		const int n = observe(&unit->net, faults[i].kind, faults[i].index, faults[i].size,
		                      STAGES, true, obs);
		struct suspicion *s = ranked(&unit->net, obs, n);

		cr_assert(s->list[0].kind == faults[i].kind && s->list[0].index == faults[i].index,
		          "%s", s->list[0].words);
		cr_assert(s->can_tell);
		cr_assert_not(s->poor_fit);
		if (faults[i].kind == SUSPECT_WINDING_SHORT || faults[i].kind == SUSPECT_RAIL_LEAK)
			cr_assert(fabs(log(s->list[0].size / faults[i].size)) < log(1.3), "%s",
			          s->list[0].words);
		free(s);
	}
	free(unit);
}

/* From watts at one low stage a shunt, a shorted turn and a shorted winding are one. */
Test(suspects, what_cannot_be_told_is_not)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct observation obs[OBSERVATIONS_MAX];
	const int n = observe(&unit->net, SUSPECT_MAINS_SHUNT, -1, 500, 1, false, obs);
	struct suspicion *s = ranked(&unit->net, obs, n);

	cr_assert(s->list[0].kind != SUSPECT_HEALTHY);
	cr_assert(!s->can_tell || s->list[0].n_also > 0);
	cr_assert(strstr(s->list[0].words, "; or "), "%s", s->list[0].words);
	cr_assert(s->separate[0]);
	cr_assert_not(s->poor_fit);
	/* every name, once there is room */
	char all[SUSPECT_WORDS_MAX];
	int names = 1;

	suspect_words(&unit->net, &s->list[0], all, sizeof all);
	for (const char *p = all; (p = strstr(p, "; or ")); p++)
		names++;
	cr_assert_eq(names, 1 + s->list[0].n_also, "%s", all);
	cr_assert_null(strstr(all, " more"), "%s", all);
	free(s);
	free(unit);
}

/* Watts of a healthy unit, one of them read half as high again: no fault does that at one voltage
 * and at no other. */
Test(suspects, one_misread_is_told)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct observation obs[OBSERVATIONS_MAX];
	const int n = observe(&unit->net, SUSPECT_HEALTHY, -1, 0, STAGES, false, obs), misread = 2;
	char wanted[40], words[240];

	obs[misread].value *= 1.5;
	snprintf(wanted, sizeof wanted, "the one at %.0f V", obs[misread].line_volts);
	struct suspicion *s = ranked(&unit->net, obs, n);

	cr_assert(s->poor_fit, "%s", s->list[0].words);
	cr_assert_str_eq(s->odd, wanted);
	suspicion_poor(s, false, words, sizeof words);
	cr_assert(strstr(words, " again, it may be misread"), "%s", words);
	suspicion_poor(s, true, words, sizeof words);
	cr_assert_not(strstr(words, "again"), "nobody is sent back: %s", words);
	cr_assert(strstr(words, "the abort stands"), "%s", words);
	free(s);
	free(unit);
}

/* Readings that contradict each other all over are laid to no single one. */
Test(suspects, no_single_one_to_blame)
{
	static const double off[] = { 1.5, 0.6, 1.5, 0.6 };
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct observation obs[OBSERVATIONS_MAX];
	const int n = observe(&unit->net, SUSPECT_HEALTHY, -1, 0, STAGES, false, obs);

	for (int i = 0; i < n; i++)
		obs[i].value *= off[i];
	struct suspicion *s = ranked(&unit->net, obs, n);

	cr_assert(s->poor_fit, "%s", s->list[0].words);
	cr_assert_str_empty(s->odd);
	free(s);
	free(unit);
}

/* Heaters of one rating that fit alike are one suspect, and it is worded so. */
Test(suspects, open_heaters_alike_are_one)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	struct observation obs[OBSERVATIONS_MAX];
	int v2 = 0, open = 0;

	while (strcmp(unit->net.heaters[v2].place, "V2") != 0)
		v2++;
	const int n = observe(&unit->net, SUSPECT_HEATER_OPEN, v2, 0, 1, false, obs);
	struct suspicion *s = ranked(&unit->net, obs, n);

	for (int i = 0; i < s->n; i++)
		if (s->list[i].kind == SUSPECT_HEATER_OPEN && strstr(s->list[i].words, "V2")) {
			cr_assert(strstr(s->list[i].words, " or "), "%s", s->list[i].words);
			open++;
		}
	cr_assert_eq(open, 1);
	free(s);
	free(unit);
}

static int heater_at(const struct network *net, const char *place)
{
	for (int h = 0; h < net->n_heaters; h++)
		if (strcmp(net->heaters[h].place, place) == 0)
			return h;
	cr_assert_fail("no heater at %s", place);
	return -1;
}

/* The measurement that is asked for is one that can tell: nobody is sent to look for a dark heater
 * where all are dark, to read volts that are the same, or to take ohms of a shorted turn. */
Test(suspects, what_is_asked_for_can_tell)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct network *net = &unit->net;
	struct observation obs[OBSERVATIONS_MAX];

	int n = observe(net, SUSPECT_HEATER_OPEN, heater_at(net, "V6"), 0, 1, false, obs);
	struct suspicion *s = ranked(net, obs, n);
	cr_assert(strstr(s->separate, "ohms from heater pin"), "at a fifth of line: %s", s->separate);
	free(s);
	n = observe(net, SUSPECT_HEATER_OPEN, heater_at(net, "V6"), 0, STAGES, false, obs);
	s = ranked(net, obs, n);
	cr_assert(strstr(s->separate, "stays dark"), "at nine tenths: %s", s->separate);
	free(s);
	n = observe(net, SUSPECT_MAINS_SHUNT, -1, 1000, 1, true, obs);
	s = ranked(net, obs, n);
	cr_assert(s->list[0].kind == SUSPECT_MAINS_SHUNT && s->separate[0], "%s", s->list[0].words);
	cr_assert_null(strstr(s->separate, "ohms of both"), "%s", s->separate);
	free(s);
	free(unit);
}
