/*
 * What cathodes give at less than rated heater volts.
 */
#include <criterion/criterion.h>
#include <math.h>

#include "mainstair/core/emission.h"
#include "mainstair/core/heater.h"

TestSuite(emission, .timeout = 20);

static double heater_at(double volts)
{
	const struct heater_law law = heater_law(HEATER_INDIRECT, 0.06);

	return heater_settled_volts(&law, volts, 1);
}

/* Share of its rated current that a receiving tube draws at full rail volts, its heater at
 * `volts` of rated. */
static double load_share(double volts)
{
	return emission_limit(1, emission_reserve * emission_share(heater_at(volts)));
}

/* Common practice, no source: nearly whole at 75-80 % of heater volts, a collapse between 65 and
 * 50, nothing that matters below 45. */
Test(emission, receiving_tubes)
{
	cr_assert(load_share(1) > 0.999);
	cr_assert(load_share(0.80) > 0.95);
	cr_assert(load_share(0.75) > 0.90);
	cr_assert(load_share(0.65) < 0.75 && load_share(0.65) > 0.3);
	cr_assert(load_share(0.50) < 0.15);
	cr_assert(load_share(0.65) - load_share(0.50) > 0.4);
	cr_assert(load_share(0.45) < 0.05);
	cr_assert(load_share(0.35) < 0.01);
	/* and on the way nothing but up */
	for (double v = 0.2; v < 1.2; v += 0.01)
		cr_assert(load_share(v + 0.01) > load_share(v));
}

/* Saturation of one plate of a 6X4 near 1.6 mA with 3.09 V on its heater (49 %): Frostburg State
 * University, physics faculty pages, "Saturation of the 6X4".  One tube: within a factor of 3. */
Test(emission, a_6x4_at_half_its_heater_volts)
{
	const double plate_dc = 0.070 / 2; /* rated 70 mA, two plates */
	const double saturation = emission_rectifier_reserve * plate_dc *
		emission_share(heater_at(3.09 / 6.3));

	cr_assert(saturation > 1.6e-3 / 3 && saturation < 1.6e-3 * 3, "%g A", saturation);
}

/* "Tolerable": +-10 % of heater volts (J. Broskie's column, Tube CAD Journal, October 2000,
 * p. 26).  Peaks of a capacitor-input rectifier run to seven times its plate's share of the dc
 * (6X4: 245 mA steady peak a plate, General Electric data sheet), so that much must be there. */
Test(emission, ten_per_cent_low_is_tolerable)
{
	const double left = emission_share(heater_at(0.9));

	cr_assert(left < 1);
	cr_assert(emission_rectifier_reserve * left > 0.245 / 0.035);
	cr_assert(emission_limit(1, emission_reserve * left) > 0.99);
}

/* Richardson's law itself, T^2 exp(-W/kT), worked apart: the saturation currents of an oxide
 * cathode with a work function of 1.0 to 1.1 eV at 1050 K stand in these ratios. */
Test(emission, richardson)
{
	static const double rows[][3] = { /* heater volts, from, to */
		{ 0.9, 0.53, 0.58 }, { 0.8, 0.25, 0.31 }, { 0.7, 0.10, 0.15 },
		{ 0.6, 0.034, 0.06 }, { 0.5, 0.008, 0.02 },
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		const double share = emission_share(heater_at(rows[i][0]));

		cr_assert(share >= rows[i][1] && share <= rows[i][2], "%g: %g", rows[i][0], share);
	}
	cr_assert(fabs(emission_share(1) - 1) < 1e-12);
	cr_assert(emission_share(300.0 / 1450) < 1e-12, "a cold cathode gives nothing");
	cr_assert(!(emission_share(0.01) > 0) && !(emission_share(0.01) < 0));
}

/* The lesser of the two, whole when there is plenty, smooth in between. */
Test(emission, limit)
{
	cr_assert(!(emission_limit(0, 1) > 0) && !(emission_limit(1, 0) > 0));
	cr_assert(fabs(emission_limit(0.5, 1) - 0.5) < 0.01);
	cr_assert(fabs(emission_limit(1, INFINITY) - 1) < 1e-12);
	cr_assert(fabs(emission_limit(100, 1) - 1) < 1e-6);
	for (double sc = 0.001; sc < 50; sc *= 1.1) {
		double slope, ignored;
		const double amps = emission_limit_slope(sc, 0.7, &slope), d = 1e-6 * sc;
		const double more = emission_limit_slope(sc + d, 0.7, &ignored);

		cr_assert(amps <= fmin(sc, 0.7) * (1 + 1e-12));
		cr_assert(amps > 0.8 * fmin(sc, 0.7), "rounded, not halved: %g", amps);
		cr_assert(slope > 0 && slope <= 1);
		/* where the linear part ends there is a step of 2.5e-9 of the current */
		cr_assert(fabs((more - amps) / d - slope) < 1e-4, "%g: %g against %g", sc,
		          (more - amps) / d, slope);
	}
}

/* Its series and its roots are the same: 1/I^4 = 1/Isc^4 + 1/Isat^4. */
Test(emission, limit_is_the_law_it_states)
{
	for (double sc = 0.011; sc < 20; sc *= 1.003) {
		double slope;
		const double amps = emission_limit_slope(sc, 1, &slope), sum = 1 + pow(sc, 4);

		cr_assert(fabs(amps / (sc * pow(sum, -0.25)) - 1) < 3e-9, "%g", sc);
		cr_assert(fabs(slope - pow(sum, -1.25)) < 3e-8, "%g", sc);
	}
}
