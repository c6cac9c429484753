/*
 * core/emission.h - what a cathode can give at a given heater temperature
 *
 * Layer: core; pure.
 * A cathode gives at most its saturation current, which follows Richardson's law
 * I_s ~ T^2 exp(-W/kT).  Below that limit space charge rules.  What flows is the lesser of the
 * two, rounded where they meet because a cathode's surface is not uniform.
 *
 * The constants, and from what they are derived (never from a simulated circuit):
 * - steepness W/kT0 = 13.5: W = 1.2 eV at 1030 K.  Oxide cathodes: effective work functions of
 *   1.0 to 1.3 eV and working temperatures of 960 to 1100 K in the literature (1020 K: Metson,
 *   1958).  A check, not an input: a 6X4 plate was measured to saturate near 1.6 mA at 49 per
 *   cent of heater volts (Frostburg State University, physics faculty pages, "Saturation of
 *   the 6X4"); these constants give 3.3 mA, within the factor of three that they are given.
 * - receiving tubes: saturation is ten times the operating current at rated heater volts
 *   (common practice, no source: a tube is called weak when it falls off at 10 per cent low
 *   heater volts).  Then the load is nearly whole at 75-80 per cent of heater volts, collapses
 *   between 65 and 50, and is next to nothing below 45.
 * - rectifiers: two and a half times the rated steady peak, which is seven times a plate's
 *   share of the rated dc (6X4: 245 mA a plate at 35 mA; General Electric data sheet).
 * Both are uncertain by a factor of several in an old tube; the band says so.
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
	const double sum = 1.0 + square * square;
	const double root = sqrt(sqrt(sum));

	*ret_slope = 1.0 / (root * sum);
	return space_charge / root;
}

/** The same without the derivative. */
double emission_limit(double space_charge, double saturation);

#endif
