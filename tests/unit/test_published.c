/*
 * What published sets draw, and what their rails stand at, against what the model makes of their
 * tubes and line volts alone: line-ups of which nothing else is told, as a new user would.
 *
 * Sources, by the letter in the row:
 *   G  G. Tel, "Gerard's Radio Corner" (Utrecht University), one catalogue page a set: tubes, and
 *      the watts of its type plate, or as measured by the author; 220 V 50 Hz
 *   H  service manual of model 440 of The Gramophone Company (Australia), about 1940: 200-250 V
 *   W  wa2ise, "Running All American Five radios on 240 V": "about 30 W", 120 V, two line-ups
 *   Q  last user booklet of a 15 W amplifier of 1953-67, as tabulated by K. Snook: 200-250 V
 *   S  assembly manual of a 17.5 + 17.5 W stereo amplifier kit, 1963: 120 V
 * A type plate says what a set may draw at most; the one of G that was measured as well as read had
 * 27 W for 30.
 *
 * How independent they are: G was found with the rules of estimation as they had been, and lay in
 * their bands (but for a rectifier the tables did not know); H lay over its.  Then rules were made
 * for lamps that no profile tells, for what tubes take of their typical current, for the filter of
 * an assumed rail, and for a winding that gives its rail's volts; each from its own source, told
 * beside it, but with these rows in sight.  Only the last one was found after that.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lib/text_unit.h"
#include "mainstair/core/envelope.h"

TestSuite(published, .timeout = 60);

struct set {
	const char *source, *tubes;
	double line_volts, line_hz;
	bool string;
	double watts;
};

static const struct set sets[] = {
	{ "H", "6A8G 6G8G EL3NG 5Y3G", 225, 50, false, 56 },
	{ "W", "12SA7 12SK7 12SQ7 50L6GT 35Z5GT", 120, 60, true, 30 },
	{ "W", "12BE6 12BA6 12AV6 50C5 35W4", 117, 60, true, 30 },
	{ "Q", "EF86 EF86 KT66 KT66 GZ32", 225, 50, false, 90 },
	{ "S", "7247 7247 6BQ5 6BQ5 6BQ5 6BQ5", 120, 60, false, 100 },
	{ "G, 1953", "ECH81 EBF80 EBC41 EL84 AZ41", 220, 50, false, 45 },
	{ "G, 1954", "ECH81 EBF80 EBC41 EL84 AZ1", 220, 50, false, 43 },
	{ "G, 1959", "ECH81 EF89 EBC81 EL84 EZ80 DM71", 220, 50, false, 40 },
	{ "G, 1948", "ECH21 EAF42 EAF42 EBL21 AZ1", 220, 50, false, 50 },
	{ "G, 1965, measured", "ECH81 EBF89 ECL86", 220, 50, false, 27 },
	{ "G, 1961, measured 41 to 43", "UCH81 UBF80 UCL82 UY89", 220, 50, true, 42 },
	{ "G, 1964", "UCH81 UBF89 UCL82 UY89", 220, 50, true, 43 },
	{ "G, 1951", "UCH42 UF41 UBC41 UL41 UY41", 220, 50, true, 43 },
	{ "G, 1955", "UF41 UCH42 UBF80 UAF42 UL41 UY41 UM4", 220, 50, true, 50 },
	{ "G, 1962, found later", "ECC85 ECH81 EF89 EBF89 EAA91 ECC83 EL84 EL84 EZ81 EM80", 220, 50,
	  false, 75 },
};
enum { N_SETS = sizeof sets / sizeof *sets };

/* Tubes and line volts, and that it is a string set where it is one: nothing else. */
static struct text_unit *tubes_alone(const struct set *set)
{
	char text[600], list[120], *at = list, *type;
	int n = 0, used;

	used = snprintf(text, sizeof text, "[instrument]\nname = set\nline_volts = %g\n"
	                "line_hz = %g\n%s[tubes]\n", set->line_volts, set->line_hz,
	                set->string ? "supply = series-string\n" : "");
	(void)snprintf(list, sizeof list, "%s", set->tubes);
	while ((type = strtok_r(at, " ", &at)) != NULL)
		used += snprintf(text + used, sizeof text - (size_t)used, "V%d = %s\n", ++n, type);
	return text_unit(text);
}

static struct band band_of(const struct text_unit *unit, double line_volts)
{
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct band band;

	envelope_at(&unit->net, &rule, &meter_accuracy_default, line_volts, NULL, &band, NULL);
	cr_assert(band.at.converged);
	return band;
}

Test(published, consumption_lies_in_the_band_of_the_tubes_alone)
{
	for (int i = 0; i < N_SETS; i++) {
		struct text_unit *unit = tubes_alone(&sets[i]);
		const struct band band = band_of(unit, sets[i].line_volts);

		cr_assert(band.low < sets[i].watts && sets[i].watts < band.high,
		          "%s: %s: %g W published, band %.1f to %.1f W", sets[i].source,
		          sets[i].tubes, sets[i].watts, band.low, band.high);
		free(unit);
	}
}

/* And no systematic lean: the mean of all is right to a tenth, each to a quarter. */
Test(published, consumption_is_expected_without_a_lean)
{
	double lean = 0;

	for (int i = 0; i < N_SETS; i++) {
		struct text_unit *unit = tubes_alone(&sets[i]);
		const double off = band_of(unit, sets[i].line_volts).expected / sets[i].watts - 1;

		cr_assert(fabs(off) < 0.25, "%s: %s: %+.0f %%", sets[i].source, sets[i].tubes,
		          100 * off);
		lean += off / N_SETS;
		free(unit);
	}
	cr_assert(fabs(lean) < 0.10, "%+.1f %%", 100 * lean);
}

/* G, the set of 1951: a capacitor in place of its ballast resistor saves "about 12 W" at 220 V.
 * The estimated dropper leaves out the 8 V or so of the dial lamp, so a quarter either way. */
Test(published, a_ballast_resistor_burns_what_its_removal_saved)
{
	struct text_unit *unit = tubes_alone(&sets[12]);
	const struct load_result at = band_of(unit, 220).at;

	cr_assert(fabs(at.split_dropper / 12 - 1) < 0.25, "%g W", at.split_dropper);
	free(unit);
}

/* Two battery portables of about 1955 with 1R5, 1T4, 1S5 and 3S4 (UQ Physics Museum, catalogue):
 * 250 mA of filaments side by side at 1.5 V; 50 mA in one row at 7.5 V.  Battery sets are not
 * modelled; the ratings of the table are. */
Test(published, filaments_of_two_portables_add_up)
{
	struct text_unit *unit = text_unit(
		"[instrument]\nname = filaments\nline_volts = 117\n[tubes]\nV1 = 1R5 on a\n"
		"V2 = 1T4 on a\nV3 = 1S5 on a\nV4 = 3S4 on a\nV5 = 1R5 on b\nV6 = 1T4 on b\n"
		"V7 = 1S5 on b\nV8 = 3S4 on c\n[winding a]\nvolts = 1.4\n[winding b]\nvolts = 1.4\n"
		"[winding c]\nvolts = 2.8\n");
	double amps = 0, volts = 0;

	for (int h = 0; h < unit->net.n_heaters; h++) {
		const struct net_heater *heater = &unit->net.heaters[h];

		if (heater->winding == unit_winding_named(&unit->net, "a"))
			amps += heater->amps;
		else
			cr_assert(fabs(heater->amps - 0.050) < 1e-9, "%s: %g A", heater->type,
			          heater->amps);
		if (heater->winding != unit_winding_named(&unit->net, "a"))
			volts += heater->volts;
	}
	cr_assert(fabs(amps - 0.250) < 1e-9, "%g A", amps);
	/* the battery is 7.5 V when fresh */
	cr_assert(volts > 0.9 * 7.5 && volts < 7.5, "%g V", volts);
	free(unit);
}

/* Factory drawings with printed voltage charts, values +-20 per cent on a meter to ground, as
 * transcribed in the "Circuit Codex": a 5 W amplifier, drawing 5F1 (K-EE, 1958-64), and a
 * 22 W one, drawing AB763 (1964-67).  What the tubes draw follows from printed volts and
 * resistors (5F1: 18 V on 470 ohm, 45 V on 10 k, 45 V on 22 k; AB763: 90 V on 10 k); the idle
 * current of its output pair is from memory, 50 to 70 mA.  The windings' volts are those of the
 * transformers' descriptions; their copper is our estimate. */
Test(published, rails_of_two_amplifiers_stand_where_the_charts_say)
{
	static const struct {
		const char *text;
		struct {
			const char *rail;
			double volts;
		} chart[3];
	} rows[] = {
		{ "[instrument]\nname = 5F1\nline_volts = 117\n[tubes]\nV1 = 12AX7\nV2 = 6V6GT\n"
		  "V3 = 5Y3GT\n[lamps]\nI1 = 47\n[winding plate]\nvolts = 325-0-325\n"
		  "[rail main]\nwinding = plate\nrectifier = V3\nreservoir = 16 uF\n"
		  "draw = 35.8 mA at 322 V by V2\n"
		  "[rail screen]\nfrom = main\nthrough = 10k\nreservoir = 8 uF\n"
		  "draw = 2.5 mA at 277 V by V2\n"
		  "[rail pre]\nfrom = screen\nthrough = 22k\nreservoir = 8 uF\n"
		  "draw = 2 mA at 250 V by V1\n",
		  { { "main", 340 }, { "screen", 295 }, { "pre", 250 } } },
		{ "[instrument]\nname = AB763\nline_volts = 117\n[tubes]\nV1 = 12AX7\nV2 = 12AX7\n"
		  "V3 = 12AT7\nV4 = 12AX7\nV5 = 12AX7\nV6 = 12AT7\nV7 = 6V6GT\nV8 = 6V6GT\n"
		  "V9 = GZ34\n[lamps]\nI1 = 47\n[winding plate]\nvolts = 330-0-330\n"
		  "[rail main]\nwinding = plate\nrectifier = V9\nreservoir = 32 uF\n"
		  "draw = 60 mA at 420 V by V7 V8\n"
		  "[rail screen]\nfrom = main\nthrough = 100 ohm\nreservoir = 16 uF\n"
		  "draw = 9 mA at 415 V by V3 V7 V8\n"
		  "[rail inverter]\nfrom = screen\nthrough = 10k\nreservoir = 16 uF\n"
		  "draw = 9 mA at 325 V by V1 V2 V4 V5 V6\n",
		  { { "main", 420 }, { "screen", 415 }, { "inverter", 325 } } },
	};

	for (int i = 0; i < 2; i++) {
		struct text_unit *unit = text_unit(rows[i].text);
		const struct load_result at = band_of(unit, 117).at;

		for (int k = 0; k < 3; k++) {
			const int r = unit_rail_named(&unit->net, rows[i].chart[k].rail);

			/* the chart's own tolerance, halved: no tube of ours is 20 per cent off */
			cr_assert(fabs(at.rail_volts[r] / rows[i].chart[k].volts - 1) < 0.10,
			          "%s, %s: %g V, chart %g V", unit->profile.name,
			          rows[i].chart[k].rail, at.rail_volts[r], rows[i].chart[k].volts);
		}
		free(unit);
	}
}
