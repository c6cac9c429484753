/* Ohms before volts: what a multimeter should read, by hand calculation and published limits. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lib/text_unit.h"
#include "mainstair/core/ohms.h"

TestSuite(ohms, .timeout = 30);

static struct ohms_list *list_of(const struct text_unit *unit)
{
	struct ohms_list *list = calloc(1, sizeof *list);

	cr_assert_not_null(list);
	ohms_list_make(list, &unit->net, &unit->profile);
	return list;
}

static const struct ohms_check *find(const struct ohms_list *list, enum ohms_kind kind,
                                     const char *what)
{
	for (int i = 0; i < list->n; i++)
		if (list->check[i].kind == kind && strstr(list->check[i].what, what))
			return &list->check[i];
	cr_assert_fail("no reading of kind %d: %s", (int)kind, what);
	return NULL;
}

static bool none(const struct ohms_list *list, enum ohms_kind kind)
{
	for (int i = 0; i < list->n; i++)
		if (list->check[i].kind == kind)
			return false;
	return true;
}

static bool near(double a, double b, double share)
{
	return fabs(a - b) <= share * fabs(b);
}

/* --- limits of standards ------------------------------------------------------------------ */

/* DIN VDE 0701-0702, summary at scribd 621463142 (second hand): 0.3 ohm to 5 m, 0.1 more for each
 * further 7.5 m, 1.0 at most; its worked values. */
Test(ohms, bond_limit_grows_with_the_cord)
{
	static const double rows[][2] = {
		{ 1, 0.3 }, { 5, 0.3 }, { 12.5, 0.4 }, { 20, 0.5 }, { 57.5, 1.0 }, { 200, 1.0 },
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		cr_assert(near(ohms_bond_limit(rows[i][0]), rows[i][1], 1e-9), "%g m", rows[i][0]);
	cr_assert(isnan(ohms_bond_limit(0)) && isnan(ohms_bond_limit(NAN)) &&
	          isnan(ohms_bond_limit(INFINITY)));
}

/* The same standard in testers' manuals (second hand): class I 1.0 Mohm, class II and unbonded
 * parts of class I 2.0 Mohm.  A live chassis: makers' cold check of exposed metal, 1 to 5.2 Mohm
 * with a return path to the chassis (read). */
Test(ohms, insulation_limits)
{
	cr_assert(near(ohms_insulation_limit(CHASSIS_EARTHED), 1e6, 1e-9));
	cr_assert(near(ohms_insulation_limit(CHASSIS_TWO_WIRE), 2e6, 1e-9));
	cr_assert(near(ohms_insulation_limit(CHASSIS_UNKNOWN), 2e6, 1e-9), "the stricter");
	cr_assert(near(ohms_insulation_limit(CHASSIS_LIVE), 1e6, 1e-9));
}

/* --- a transformer set -------------------------------------------------------------------- */

static const char oscillator[] =
	"[instrument]\nname = T\nline_volts = 117\nchassis = earthed\nfuse = 1 A slow\n"
	"[tubes]\nV1 = 6AU6\nV2 = 6X4\nV3 = 0A2\n"
	"[transformer]\nprimary = 17 ohm +/- 2%\n"
	"[winding heater]\nvolts = 6.3\nohms = 0.07\n"
	"[winding plate]\nvolts = 250-0-250\nohms = 360\n"
	"[rail main]\nwinding = plate\nrectifier = V2\nform = full-wave\nreservoir = 20 uF\n"
	"[rail screen]\nfrom = main\nthrough = 3k3\nreservoir = 20 uF\nbleeder = 100k\n"
	"draw = 2 mA at 200 V resistive\n"
	"[rail steady]\nfrom = screen\nthrough = 4k7\nregulator = V3\n"
	"draw = 5 mA at 150 V by V1\n"
	"[capacitors]\nC1 = 20 uF 450 V on main\nC2 = 20 uF 450 V on screen\n";

Test(ohms, plug_chassis_and_fuse)
{
	struct text_unit *unit = text_unit(oscillator);
	struct ohms_list *list = list_of(unit);
	const struct ohms_check *c = find(list, OHMS_BOND, "earth pin");

	cr_assert(ohms_judge(c, 0.2) == OHMS_PASS && ohms_judge(c, 0.4) == OHMS_HIGH);
	cr_assert(ohms_blocks(c, OHMS_HIGH) && ohms_blocks(c, OHMS_UNKNOWN) &&
	          !ohms_blocks(c, OHMS_PASS));
	c = find(list, OHMS_INSULATION, "joined, to chassis");
	cr_assert(ohms_judge(c, 0.9e6) == OHMS_LOW && ohms_judge(c, INFINITY) == OHMS_PASS);
	cr_assert(ohms_blocks(c, OHMS_LOW));
	/* a fuse maker's 5x20 time-lag series: 1 A, 0.117 ohm (read) */
	c = find(list, OHMS_FUSE, "fuse");
	cr_assert(near(c->expected, 0.117, 1e-9));
	cr_assert(ohms_judge(c, 0.2) == OHMS_PASS && ohms_judge(c, INFINITY) == OHMS_HIGH);
	free(list);
	free(unit);
}

/* and the same series at 2 A, 0.044 ohm: the power law through both */
Test(ohms, fuse_of_two_amps)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = T\nline_volts = 117\nfuse = 2 A slow\n[tubes]\nV1 = 6X4\n");
	struct ohms_list *list = list_of(unit);

	cr_assert(near(find(list, OHMS_FUSE, "fuse")->expected, 0.044, 0.01));
	free(list);
	free(unit);
}

Test(ohms, primary_and_windings)
{
	struct text_unit *unit = text_unit(oscillator);
	struct ohms_list *list = list_of(unit);
	const struct ohms_check *c = find(list, OHMS_PRIMARY, "across the plug");

	cr_assert(near(c->expected, 17, 1e-9) && c->basis == BASIS_READ);
	cr_assert(ohms_judge(c, 17.4) == OHMS_PASS);
	cr_assert(ohms_judge(c, 12) == OHMS_LOW && ohms_judge(c, 25) == OHMS_HIGH);
	cr_assert(ohms_judge(c, INFINITY) == OHMS_HIGH);
	cr_assert(strstr(ohms_finding(c, OHMS_HIGH), "fuse"));
	cr_assert(ohms_blocks(c, OHMS_LOW) && !ohms_blocks(c, OHMS_HIGH), "an open one does no harm");
	c = find(list, OHMS_WINDING, "plate");
	cr_assert(near(c->expected, 360, 1e-9) && ohms_judge(c, 390) == OHMS_PASS);
	c = find(list, OHMS_HALF, "the other end");
	/* common practice, no source: halves of one winding differ by some 10 per cent */
	cr_assert(ohms_judge(c, 171) == OHMS_PASS && ohms_judge(c, 189) == OHMS_PASS);
	cr_assert(ohms_judge(c, 90) == OHMS_LOW);
	c = find(list, OHMS_BALANCE, "plate");
	cr_assert(ohms_judge(c, 189.0 / 171) == OHMS_PASS && ohms_judge(c, 1.5) == OHMS_HIGH);
	cr_assert(ohms_judge(c, 0.9) == OHMS_LOW, "the greater goes over the smaller");
	/* TM 11-6625-353-35, para 7: heater pairs below 1 ohm (read) */
	c = find(list, OHMS_HEATERS, "heater");
	cr_assert(ohms_judge(c, 0) == OHMS_PASS && ohms_judge(c, 0.5) == OHMS_PASS);
	cr_assert(ohms_judge(c, 5) == OHMS_HIGH);
	cr_assert(c->expected < 0.07 && c->expected > 0.05, "the winding, with cold heaters across");
	cr_assert(none(list, OHMS_STRING) && none(list, OHMS_DROPPER));
	free(list);
	free(unit);
}

/* By hand: screen has 100 k beside 200 V / 2 mA = 100 k, 50 k; main lies 3.3 k before it, steady
 * 4.7 k behind, its regulator not struck, cathodes cold. */
Test(ohms, rails_read_their_resistors)
{
	struct text_unit *unit = text_unit(oscillator);
	struct ohms_list *list = list_of(unit);
	const struct ohms_check *c = find(list, OHMS_RAIL, "screen to chassis");

	cr_assert(near(c->expected, 50e3, 1e-6), "%g", c->expected);
	cr_assert(near(find(list, OHMS_RAIL, "main")->expected, 53.3e3, 1e-6));
	cr_assert(near(find(list, OHMS_RAIL, "steady")->expected, 54.7e3, 1e-6));
	cr_assert(ohms_judge(c, 50e3) == OHMS_PASS && ohms_judge(c, 60e3) == OHMS_PASS);
	cr_assert(ohms_judge(c, 0) == OHMS_LOW && ohms_judge(c, 10e3) == OHMS_LOW);
	cr_assert(ohms_judge(c, 100e3) == OHMS_HIGH, "half of it is open");
	/* two capacitors that each leak four times 1.1 mA at 450 V, 102 k, beside 0.8 of 50 k; the
	 * 3.3 k between them hardly count */
	cr_assert(near(c->low, 1 / (1 / 40e3 + 2 / 102.3e3), 0.02), "%g", c->low);
	c = find(list, OHMS_FILTER, "screen");
	cr_assert(near(c->expected, 3300, 1e-6), "no way round: %g", c->expected);
	cr_assert(ohms_judge(c, 4200) == OHMS_PASS, "old carbon reads high");
	cr_assert(ohms_judge(c, 100) == OHMS_LOW && ohms_judge(c, INFINITY) == OHMS_HIGH);
	free(list);
	free(unit);
}

/* A way round the filter: 10 k between two rails of 30 k each to chassis; 10 k beside 60 k. */
Test(ohms, what_lies_in_parallel_counts)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = T\nline_volts = 117\n[tubes]\nV1 = 6X4\nV2 = 6C4\n"
		"[winding plate]\nvolts = 250-0-250\n"
		"[rail a]\nwinding = plate\nrectifier = V1\nform = full-wave\nbleeder = 30k\n"
		"[rail b]\nfrom = a\nthrough = 10k\nbleeder = 30k\ndraw = 5 mA at 200 V by V2\n");
	struct ohms_list *list = list_of(unit);

	cr_assert(near(find(list, OHMS_FILTER, "b")->expected, 10e3 * 60 / 70, 1e-6));
	cr_assert(find(list, OHMS_FILTER, "b")->measured_as[0] == '\0', "not its own ohms");
	cr_assert(near(find(list, OHMS_RAIL, "rail a")->expected, 30e3 * 40 / 70, 1e-6));
	cr_assert(near(find(list, OHMS_RAIL, "rail b")->expected, 30e3 * 40 / 70, 1e-6));
	free(list);
	free(unit);
}

/* No resistor to chassis: only leakage is read, and any high reading is good. */
Test(ohms, a_rail_without_a_bleeder_reads_leakage)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = T\nline_volts = 117\n[tubes]\nV1 = 6X4\nV2 = 6C4\n"
		"[winding plate]\nvolts = 250-0-250\n"
		"[rail a]\nwinding = plate\nrectifier = V1\nform = full-wave\nreservoir = 20 uF\n"
		"draw = 5 mA at 200 V by V2\n");
	struct ohms_list *list = list_of(unit);
	const struct ohms_check *c = find(list, OHMS_RAIL, "rail a");

	cr_assert(isnan(c->expected) && isinf(c->high));
	cr_assert(ohms_judge(c, INFINITY) == OHMS_PASS && ohms_judge(c, 500e3) == OHMS_PASS);
	cr_assert(ohms_judge(c, 0) == OHMS_LOW && ohms_judge(c, 20e3) == OHMS_LOW);
	cr_assert(ohms_blocks(c, OHMS_LOW) && ohms_blocks(c, OHMS_UNKNOWN));
	free(list);
	free(unit);
}

/* --- a series string ---------------------------------------------------------------------- */

/* A circuit note on the switched-off trap (next.gr, second hand): the cold heaters of such a set
 * are "of the order of 100 ohm". */
Test(ohms, a_cold_string_is_of_the_order_of_100_ohm)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = T\nline_volts = 117\nsupply = series-string\nchassis = live\n"
		"[tubes]\nV1 = 12BE6\nV2 = 12BA6\nV3 = 12AV6\nV4 = 50C5\nV5 = 35W4\n"
		"[rail main]\nwinding = line\nrectifier = V5\nform = half-wave\nreservoir = 50 uF\n"
		"draw = 44 mA at 124 V by V4\n");
	struct ohms_list *list = list_of(unit);
	const struct ohms_check *c = find(list, OHMS_STRING, "across the plug");

	cr_assert(c->expected > 80 && c->expected < 140, "%g", c->expected);
	cr_assert(ohms_judge(c, 120) == OHMS_PASS && ohms_judge(c, INFINITY) == OHMS_HIGH);
	cr_assert(ohms_judge(c, 5) == OHMS_LOW && ohms_blocks(c, OHMS_LOW));
	cr_assert(strstr(ohms_finding(c, OHMS_HIGH), "burnt-out heater"));
	c = find(list, OHMS_INSULATION, "exposed metal");
	/* 1 to 5.2 Mohm with a return path, none without */
	cr_assert(ohms_judge(c, 1.1e6) == OHMS_PASS && ohms_judge(c, 5.2e6) == OHMS_PASS &&
	          ohms_judge(c, INFINITY) == OHMS_PASS && ohms_judge(c, 0.5e6) == OHMS_LOW);
	cr_assert(strstr(find(list, OHMS_RAIL, "main")->what, "B-"));
	cr_assert(none(list, OHMS_PRIMARY) && none(list, OHMS_WINDING) && none(list, OHMS_BOND));
	free(list);
	free(unit);
}

Test(ohms, a_dropper_is_part_of_the_string)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = T\nline_volts = 220\nsupply = series-string\n"
		"[tubes]\nV1 = 12BE6\nV2 = 12BA6\nV3 = 12AV6\nV4 = 50C5\nV5 = 35W4\n"
		"[string]\ndropper = 650 ohm\n");
	struct ohms_list *list = list_of(unit);
	const struct ohms_check *c = find(list, OHMS_STRING, "across the plug");

	cr_assert(c->expected > 730 && c->expected < 790, "%g", c->expected);
	c = find(list, OHMS_DROPPER, "dropper");
	cr_assert(near(c->expected, 650, 1e-9) && ohms_judge(c, 100) == OHMS_LOW);
	free(list);
	free(unit);
}

/* --- every shipped profile ---------------------------------------------------------------- */

/* Ranges that can be met, sources, and what is expected within what is allowed. */
Test(ohms, every_profile_has_a_list_that_can_be_met)
{
	const char *file;

	for (int i = 0; (file = shipped_profile(i)) != NULL; i++) {
		struct text_unit *unit = shipped_unit(file);
		struct ohms_list *list = list_of(unit);

		cr_assert(list->n >= 2 && list->n < OHMS_CHECKS_MAX);
		for (int k = 0; k < list->n; k++) {
			const struct ohms_check *c = &list->check[k];

			cr_assert(c->low >= 0 && c->low < c->high, "%s: %s: %g..%g", file,
			          c->what, c->low, c->high);
			cr_assert(isnan(c->expected) || ohms_judge(c, c->expected) == OHMS_PASS,
			          "%s: %s: %g in %g..%g", file, c->what, c->expected, c->low,
			          c->high);
			cr_assert(c->what[0] && c->why[0] && c->how[0] && c->source[0]);
			cr_assert(strlen(c->what) < OHMS_WHAT_MAX - 1 &&
			          strlen(c->why) < OHMS_WHY_MAX - 1, "cut: %s: %s", c->what, c->why);
			cr_assert(ohms_judge(c, NAN) == OHMS_UNKNOWN &&
			          ohms_judge(c, -1) == OHMS_UNKNOWN);
			cr_assert(c->low <= 0 || ohms_finding(c, OHMS_LOW)[0]);
			cr_assert(isinf(c->high) || ohms_finding(c, OHMS_HIGH)[0]);
			cr_assert(ohms_finding(c, OHMS_PASS)[0] == '\0');
		}
		free(list);
		free(unit);
	}
}

/* A reading that passes flows into the model as measured. */
Test(ohms, readings_flow_into_the_model)
{
	const char *file;

	for (int i = 0; (file = shipped_profile(i)) != NULL; i++) {
		struct text_unit *unit = shipped_unit(file);
		struct ohms_list *list = list_of(unit);

		for (int k = 0; k < list->n; k++) {
			const struct ohms_check *c = &list->check[k];
			struct err err = { 0 };
			char words[200];

			if (!c->measured_as[0] || c->expected < 0.5)
				continue;
			(void)snprintf(words, sizeof words, "%s %.3f ohm", c->measured_as, c->expected);
			cr_assert(network_measure(&unit->net, words, &err) == 0, "%s: %s: %s",
			          file, words, err.text);
		}
		free(list);
		free(unit);
	}
}

/* A profile of tubes alone: everything is estimated, and says so. */
Test(ohms, guesses_are_wide_and_called_guesses)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = T\nline_volts = 117\n[tubes]\nV1 = 6V6\nV2 = 5Y3\n");
	struct ohms_list *list = list_of(unit);
	const struct ohms_check *c = find(list, OHMS_PRIMARY, "across the plug");

	cr_assert(c->basis == BASIS_PRACTICE && strstr(c->source, "estimated"));
	cr_assert(c->high > 5 * c->low);
	free(list);
	free(unit);
}
