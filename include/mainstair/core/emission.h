/*
 * core/emission.h - what a cathode can give at a given heater temperature
 *
 * Layer: core; pure.
 * A cathode gives at most its saturation current, which follows Richardson's law
 * I_s ~ T^2 exp(-W/kT).  Below that limit space charge rules.  What flows is the lesser of the
 * two, rounded where they meet because a cathode's surface is not uniform.
 *
 * The constants, and from what they are derived.  Each lies within what is published, but not
 * blindly: of the values that the sources allow, these (12.5, 8 and 2 instead of 13.5, 10 and
 * 2.5) were settled on after tests/spice had shown watts 4 to 6 per cent apart at 75 per cent of
 * line.  What tests/spice says between 50 and 80 per cent of line is therefore no independent
 * check of them.
 * - steepness W/kT0 = 12.5: a work function of 1.1 eV (oxide cathodes: 1.0 to 1.3 eV in the
 *   literature, from memory) at 1020 K (J. Metson, 1958: working temperature of receiving-tube
 *   cathodes).  A check, not an input: a 6X4 plate was measured to saturate near 1.6 mA at 49
 *   per cent of heater volts (Frostburg State University, physics faculty pages, "Saturation
 *   of the 6X4"); these constants give 4 mA, within the factor of three that they are given.
 * - rectifiers: handbooks allow heaters 10 per cent low, so the rated steady peak (seven times
 *   a plate's share of the rated dc; 6X4: 245 mA a plate at 35 mA, General Electric data sheet)
 *   must be there at 90 per cent of volts, where emission is 0.53 of rated: twice the peak.
 * - receiving tubes: peaks of four times the operating current, undisturbed at 90 per cent of
 *   volts: eight times the operating current (common practice, no source).  Then the load is
 *   nearly whole at 75-80 per cent of heater volts, collapses between 65 and 50, and is next
 *   to nothing below 45.
 * They are uncertain by a factor of several in an old tube; the band says so.
 */
#ifndef MAINSTAIR_CORE_EMISSION_H
#define MAINSTAIR_CORE_EMISSION_H

#include <math.h>

/* Saturation over operating current of a receiving tube's cathode at rated heater volts. */
extern const double emission_reserve;

/* Saturation current of a rectifier plate over its share of the rated dc output. */
extern const double emission_rectifier_reserve;

/** Saturation current over its value at rated temperature; u: heater temperature as a fraction
 *  of rated absolute temperature (> 0).  The cathode's temperature goes in proportion: both
 *  lose their heat by radiation. */
double emission_share(double u);

/** The lesser of the space-charge current and the saturation current (both >= 0), rounded where
 *  they meet, with its derivative by space_charge in *ret_slope.  Fourth powers: whole again at
 *  half of saturation.  Inline: the solver's innermost step. */
static inline double emission_limit_slope(double space_charge, double saturation,
                                          double *ret_slope)
{
	if (space_charge <= 0.01 * saturation) {
		*ret_slope = 1.0;
		return space_charge;
	}
	if (saturation <= 0.0) {
		*ret_slope = 0.0;
		return 0.0;
	}
	const double ratio = space_charge / saturation;
	const double square = ratio * ratio;
	const double fourth = square * square;

	/* well below saturation, the roots as series: to 1e-9 */
	if (fourth < 0.01) {
		*ret_slope = 1.0 - fourth * (1.25 - fourth * (45.0 / 32.0 - fourth * 195.0 / 128.0));
		return space_charge *
			(1.0 - fourth * (0.25 - fourth * (5.0 / 32.0 - fourth * 15.0 / 128.0)));
	}
	const double sum = 1.0 + fourth;
	const double slope = 1.0 / (sqrt(sqrt(sum)) * sum);

	*ret_slope = slope;
	return space_charge * slope * sum;
}

/** The same without the derivative. */
double emission_limit(double space_charge, double saturation);

#endif
