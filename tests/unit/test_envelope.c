/*
 * The band of healthy watts and the abort line above it.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lib/text_unit.h"
#include "mainstair/core/envelope.h"

TestSuite(envelope, .timeout = 100);

/* A receiver of which everything is told, none of it with a tolerance of its own. */
#define INSTRUMENT "[instrument]\nname = receiver\nline_volts = 117\nline_hz = 60\n"
#define TUBES \
	"[tubes]\nV1 = 6BE6 on heater\nV2 = 6BA6 on heater\nV3 = 6AQ5 on heater\n" \
	"V4 = 6X4 on heater\n"
#define WINDINGS \
	"[winding heater]\nvolts = 6.3\nohms = 0.07\n" \
	"[winding plate]\nvolts = 250-0-250\nohms = 360\n"
#define RAILS \
	"[rail main]\nwinding = plate\nrectifier = V4\nform = full-wave\nreservoir = 20 uF\n" \
	"draw = 50 mA at 270 V by V3\n" \
	"[rail screen]\nfrom = main\nthrough = 5k6\nreservoir = 20 uF\n" \
	"draw = 15 mA at 190 V by V1 V2\n"
#define TRANSFORMER "[transformer]\nprimary = 9 ohm\nidle_watts = 3.5\nidle_amps = 0.1\n"

static const char told[] = INSTRUMENT TUBES TRANSFORMER WINDINGS RAILS;

static struct band band_with(const struct text_unit *unit, const struct meter_accuracy *meter,
                             double volts)
{
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct band band;

	envelope_at(&unit->net, &rule, meter, volts, NULL, &band, NULL);
	cr_assert(band.at.converged);
	return band;
}

static struct band band_of(const char *text, double volts)
{
	struct text_unit *unit = text_unit(text);
	const struct band band = band_with(unit, &meter_accuracy_default, volts);

	free(unit);
	return band;
}

static double width(const struct band *band)
{
	return band->high - band->low;
}

Test(envelope, edges_in_order)
{
	const char *file;

	for (int k = 0; (file = shipped_profile(k)); k++) {
		struct text_unit *unit = shipped_unit(file);
		const double line = unit->net.line_volts;

		for (double share = 0.05; share < 1.21; share += 0.05) {
			const struct band b =
			        band_with(unit, &meter_accuracy_default, share * line);

			cr_assert(b.low >= 0 && b.low <= b.expected && b.expected <= b.high &&
			          b.high < b.abort_watts, "%s, %g V: %g %g %g %g", file, b.volts,
			          b.low, b.expected, b.high, b.abort_watts);
			cr_assert(fabs(b.expected - b.at.watts) < 1e-12);
			/* the meter alone: as the default says */
			const double by_meter = meter_accuracy_default.reading_share * b.expected +
				meter_accuracy_default.offset_watts;

			cr_assert(b.high - b.expected >= by_meter - 1e-9);
			cr_assert(b.expected - b.low >= fmin(by_meter, b.expected) - 1e-9);
			cr_assert(b.emission_share >= 0 && b.emission_share <= 1);
			/* without emission it is narrower by what emission adds, and by nothing
			 * else */
			const double rest = b.rest_high - b.expected, all = b.high - b.expected;

			cr_assert(rest >= by_meter - 1e-9 && b.rest_low <= b.expected);
			cr_assert(rest <= all + 1e-9 && b.rest_low >= b.low - 1e-9);
			cr_assert(b.emission_share > 1e-4 || rest > 0.99 * all, "%s, %g V: %g of %g",
			          file, b.volts, rest, all);
			cr_assert(b.emission_share < 0.9 || rest < 0.9 * all || b.high < 1);
		}
		free(unit);
	}
}

/* Nothing in, nothing out, but for what the meter shows of nothing. */
Test(envelope, no_volts)
{
	struct text_unit *unit = text_unit(told);
	const struct band b = band_with(unit, &meter_accuracy_default, 0);

	cr_assert(!(b.expected > 0) && !(b.low > 0));
	cr_assert(fabs(b.high - 0.05) < 1e-9 && fabs(b.abort_watts - 0.55) < 1e-9);
	free(unit);
}

/* "A measured primary resistance narrows the band": each number that is told with a tolerance of
 * its own, beside the same number without. */
Test(envelope, measuring_narrows)
{
	static const char *const measured[] = {
		"[transformer]\nprimary = 9 ohm +/- 2%\nidle_watts = 3.5\nidle_amps = 0.1\n",
		"[transformer]\nprimary = 9 ohm\nidle_watts = 3.5 +/- 3%\nidle_amps = 0.1\n",
	};
	char text[2000];

	for (size_t i = 0; i < 2; i++)
		for (double volts = 30; volts < 120; volts += 29) {
			(void)snprintf(text, sizeof text, "%s%s", INSTRUMENT TUBES WINDINGS RAILS,
			               measured[i]);
			const struct band rated = band_of(told, volts), sure = band_of(text, volts);

			cr_assert(width(&sure) < width(&rated), "%zu, %g V: %g against %g", i,
			          volts, width(&sure), width(&rated));
			cr_assert(fabs(sure.expected - rated.expected) < 1e-3 * rated.expected);
		}
	/* its rail loads measured: at full line they are most of what is uncertain */
	const struct band rated = band_of(told, 117);
	const struct band sure = band_of(
		INSTRUMENT TUBES TRANSFORMER WINDINGS
		"[rail main]\nwinding = plate\nrectifier = V4\nform = full-wave\n"
		"reservoir = 20 uF\ndraw = 50 mA +/- 3% at 270 V by V3\n"
		"[rail screen]\nfrom = main\nthrough = 5k6\nreservoir = 20 uF\n"
		"draw = 15 mA +/- 3% at 190 V by V1 V2\n", 117);

	cr_assert(width(&sure) < 0.85 * width(&rated), "%g against %g", width(&sure),
	          width(&rated));
}

/* What the profile leaves out is estimated, and the band says so. */
Test(envelope, silence_widens)
{
	static const char no_transformer[] = INSTRUMENT TUBES WINDINGS RAILS;
	static const char no_ohms[] = INSTRUMENT TUBES RAILS
		"[winding heater]\nvolts = 6.3\n[winding plate]\nvolts = 250-0-250\n";
	static const char tubes_alone[] =
		INSTRUMENT "[tubes]\nV1 = 6BE6\nV2 = 6BA6\nV3 = 6AQ5\nV4 = 6X4\n";

	for (double volts = 40; volts < 120; volts += 19.25) {
		const struct band all = band_of(told, volts);
		const struct band some = band_of(no_transformer, volts);
		const struct band less = band_of(no_ohms, volts);
		const struct band least = band_of(tubes_alone, volts);
		const double share = width(&all) / all.expected;

		if (all.emission_share > 0.5) /* what nobody can tell rules here anyhow */
			continue;
		cr_assert(width(&some) / some.expected > 1.02 * share, "%g V", volts);
		cr_assert(width(&less) / less.expected > 1.02 * share, "%g V", volts);
		cr_assert(width(&least) / least.expected > 1.3 * share, "%g V", volts);
	}
	/* with nothing but tubes and line volts it is wide indeed */
	const struct band bare = band_of(tubes_alone, 117);

	cr_assert(width(&bare) > 0.4 * bare.expected, "%g of %g", width(&bare), bare.expected);
}

/* A better meter narrows the band, a worse one widens it, and neither moves what is expected. */
Test(envelope, the_meter_counts)
{
	static const struct meter_accuracy good = { 0.001, 0.005 }, poor = { 0.05, 1 };
	struct text_unit *unit = text_unit(told);

	for (double volts = 15; volts < 120; volts += 34) {
		const struct band a = band_with(unit, &good, volts);
		const struct band b = band_with(unit, &meter_accuracy_default, volts);
		const struct band c = band_with(unit, &poor, volts);

		cr_assert(width(&a) < width(&b) && width(&b) < width(&c));
		cr_assert(fabs(a.expected - c.expected) < 1e-12);
		/* independent of what is unsure of the unit: in quadrature */
		const double up = b.high - b.expected;
		const double unit_up = sqrt(up * up - pow(meter_accuracy_default.reading_share * b.expected +
				meter_accuracy_default.offset_watts, 2));

		cr_assert(fabs(c.high - c.expected -
		               hypot(unit_up, 0.05 * c.expected + 1)) < 1e-6);
	}
	free(unit);
}

/* Emission is the least known number, and rules where rails wake up: relative to what is expected
 * the band is narrow, wide, narrow along the stages (circuit simulations moved by under half a per
 * cent below 40 % of line, by tens of per cent between 60 and 90, by a few at full line). */
Test(envelope, narrow_wide_narrow)
{
	static const struct meter_accuracy ideal = { 0, 0 };
	static const char *const files[] = {
		"bench-oscillator.ini", "transformer-radio.ini", "european-radio.ini",
	};

	for (size_t i = 0; i < 3; i++) {
		struct text_unit *unit = shipped_unit(files[i]);
		const double line = unit->net.line_volts;
		const struct band cold = band_with(unit, &ideal, 0.25 * line);
		const struct band full = band_with(unit, &ideal, line);
		double widest = 0, emission = 0;

		for (double share = 0.5; share < 0.95; share += 0.05) {
			const struct band b = band_with(unit, &ideal, share * line);

			widest = fmax(widest, width(&b) / b.expected);
			emission = fmax(emission, b.emission_share);
		}
		cr_assert(widest > 1.3 * width(&cold) / cold.expected, "%s: %g against %g",
		          files[i], widest, width(&cold) / cold.expected);
		cr_assert(widest > 1.3 * width(&full) / full.expected, "%s: %g against %g",
		          files[i], widest, width(&full) / full.expected);
		cr_assert(cold.emission_share < 0.01 && full.emission_share < 0.05 &&
		          emission > 0.4, "%s: %g %g %g", files[i], cold.emission_share, emission,
		          full.emission_share);
		free(unit);
	}
}

/* The sensitivities are what each number at its limits does, worked out again here. */
Test(envelope, sensitivities)
{
	struct text_unit *unit = text_unit(told);
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct sensitivity sens[NET_PARAMS_MAX];
	struct band band;
	const double volts = 90;

	envelope_at(&unit->net, &rule, &meter_accuracy_default, volts, NULL, &band, sens);
	for (int k = 0; k < unit->net.n_params; k++) {
		const struct param *p = &unit->net.params[k];
		struct network *moved = malloc(sizeof *moved);
		double up = 0, down = 0;

		cr_assert(sens[k].param == k && sens[k].up >= 0 && sens[k].down >= 0);
		for (int side = 0; side < 2; side++) {
			struct load_result at;

			*moved = unit->net;
			network_scale(moved, k, side ? 1 - p->down : 1 + p->up);
			load_settled(moved, volts, NULL, &at);
			cr_assert(at.converged);
			up = fmax(up, at.watts - band.expected);
			down = fmax(down, band.expected - at.watts);
		}
		free(moved);
		/* numbers that go nearly straight are tried on one side only */
		const double near = 0.2 * fmax(up, down) + 2e-3;

		cr_assert(fabs(sens[k].up - up) < near && fabs(sens[k].down - down) < near,
		          "%s: %g %g against %g %g", p->name, sens[k].up, sens[k].down, up, down);
	}
	free(unit);
}

/* About 99 per cent of healthy units lie inside: units drawn with every number somewhere between
 * its limits (rectangular, in the sense of the GUM, JCGM 100:2008, 4.3.7), all cathodes as the rule
 * says, read with a perfect meter. */
Test(envelope, holds_healthy_units)
{
	static const struct meter_accuracy ideal = { 0, 0 };
	static const char *const files[] = { "bench-oscillator.ini", "table-radio.ini",
	                                     "doubler-amplifier.ini", "choke-input-receiver.ini" };
	enum { UNITS = 200 };

	srand(7);
	for (size_t f = 0; f < 4; f++) {
		struct text_unit *unit = shipped_unit(files[f]);
		struct network *one = malloc(sizeof *one);

		for (double share = 0.25; share < 1.06; share += 0.1) {
			const struct band band = band_with(unit, &ideal,
			                                   share * unit->net.line_volts);
			int outside = 0;

			for (int n = 0; n < UNITS; n++) {
				struct load_result at;

				*one = unit->net;
				for (int k = 0; k < unit->net.n_params; k++) {
					const struct param *p = &unit->net.params[k];
					const double x = 2.0 * rand() / RAND_MAX - 1;

					if (p->kind != PARAM_CATHODE_EMISSION &&
					    p->kind != PARAM_RECTIFIER_EMISSION)
						network_scale(one, k,
						              1 + x * (x > 0 ? p->up : p->down));
				}
				load_settled(one, band.volts, NULL, &at);
				cr_assert(at.converged);
				if (at.watts < band.low || at.watts > band.high)
					outside++;
			}
			/* two of 200 are meant; eight come by chance once in a thousand */
			cr_assert(outside < 8, "%s, %g V: %d of %d", files[f], band.volts, outside,
			          UNITS);
		}
		free(one);
		free(unit);
	}
}

/* ---- the abort line ---- */

/* "A 30 W set on 117 V: 0.6 W at 15 V, 1.9 W at 50 V, 4.5 W at full line": 15 % of the rated
 * current at the present volts, at least half a watt. */
Test(envelope, abort_excess)
{
	struct text_unit *unit = text_unit(told);
	const struct abort_rule thirty = { .rated_amps = 30.0 / 117, .share = 0.15,
	                                   .floor_watts = 0.5 };
	static const double rows[][2] = { { 15, 0.6 }, { 50, 1.9 }, { 117, 4.5 }, { 5, 0.5 } };

	for (size_t i = 0; i < 4; i++) {
		struct band b;

		envelope_at(&unit->net, &thirty, &meter_accuracy_default, rows[i][0], NULL, &b,
		            NULL);
		cr_assert(fabs(b.abort_watts - b.high - rows[i][1]) < 0.05, "%g V: %g W",
		          rows[i][0], b.abort_watts - b.high);
	}
	free(unit);
}

/* The shipped oscillator is such a set; its rule comes from its own rated current. */
Test(envelope, abort_rule_of_a_shipped_unit)
{
	struct text_unit *unit = shipped_unit("bench-oscillator.ini");
	const struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	const struct band b = band_with(unit, &meter_accuracy_default, 117);

	cr_assert(fabs(rule.rated_amps * 117 - b.expected) < 1e-3);
	cr_assert(fabs(rule.rated_amps * 117 - 30) < 3);
	cr_assert(fabs(rule.share - 0.15) < 1e-12 && fabs(rule.floor_watts - 0.5) < 1e-12);
	cr_assert(fabs(rule.fuse_amps - 0.5) < 1e-12);
	cr_assert(fabs(b.abort_watts - b.high - 0.15 * b.expected) < 1e-3);
	free(unit);
}

/* [limits] of a profile: a share of the rated current, or watts at full line. */
Test(envelope, abort_excess_from_the_profile)
{
	char text[2000];

	(void)snprintf(text, sizeof text, "%s[limits]\nabort_excess = 30 %%\n", told);
	struct band b = band_of(text, 117);

	cr_assert(fabs(b.abort_watts - b.high - 0.30 * b.expected) < 1e-3);
	(void)snprintf(text, sizeof text, "%s[limits]\nabort_excess = 8 W\n", told);
	b = band_of(text, 117);
	cr_assert(fabs(b.abort_watts - b.high - 8) < 1e-9);
	b = band_of(text, 117 / 2.0);
	cr_assert(fabs(b.abort_watts - b.high - 4) < 1e-9);
	b = band_of(text, 2);
	cr_assert(fabs(b.abort_watts - b.high - 0.5) < 1e-9, "never less than half a watt");
}

/* Never above the fuse: amps times the present volts. */
Test(envelope, fuse_caps_the_abort_line)
{
	struct text_unit *unit = text_unit(told);
	struct abort_rule rule = abort_rule_of(&unit->profile, &unit->net);
	struct band b, capped;

	for (double volts = 20; volts < 120; volts += 12) {
		rule.fuse_amps = 0;
		envelope_at(&unit->net, &rule, &meter_accuracy_default, volts, NULL, &b, NULL);
		rule.fuse_amps = 10;
		envelope_at(&unit->net, &rule, &meter_accuracy_default, volts, NULL, &capped, NULL);
		cr_assert(fabs(capped.abort_watts - b.abort_watts) < 1e-12,
		          "a big fuse is no limit");
		/* half way between the high edge and the line: the fuse is what counts */
		rule.fuse_amps = 0.5 * (b.high + b.abort_watts) / volts;
		envelope_at(&unit->net, &rule, &meter_accuracy_default, volts, NULL, &capped, NULL);
		cr_assert(fabs(capped.abort_watts - rule.fuse_amps * volts) < 1e-9);
		cr_assert(fabs(capped.high - b.high) < 1e-12 && fabs(capped.low - b.low) < 1e-12);
		/* a fuse too small for the unit: the line stands on the band, not inside it */
		rule.fuse_amps = 0.5 * b.expected / volts;
		envelope_at(&unit->net, &rule, &meter_accuracy_default, volts, NULL, &capped, NULL);
		cr_assert(fabs(capped.abort_watts - capped.high) < 1e-12);
	}
	free(unit);
}
