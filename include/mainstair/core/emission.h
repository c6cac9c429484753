/*
 * core/emission.h - what a cathode can give at a given heater temperature
 *
 * Layer: core; pure.
 * A cathode gives at most its saturation current, which follows Richardson's law
 * I_s ~ T^2 exp(-W/kT).  Below that limit space charge rules.  What flows is the lesser of the
 * two, rounded where they meet because a cathode's surface is not uniform.
 *
 * The two constants, and from what they are derived (never from a simulated circuit):
 * - steepness W/kT0 = 13.5 (W = 1.22 eV at 1050 K): a 6X4 plate saturates near 1.6 mA at 49 per
 *   cent of heater volts (measured: R. Latta, Frostburg State University, "Saturation of the
 *   6X4"), and at rated volts must supply its rated steady peak of 245 mA (General Electric data
 *   sheet) with a reserve of a quarter: 306 mA.  Oxide cathodes: 1.0-1.3 eV in the literature.
 * - receiving tubes: saturation is ten times the operating current at rated heater volts
 *   (common practice, no source: a tube is called weak when it falls off at 10 per cent low
 *   heater volts).  Then the load is nearly whole at 75-80 per cent of heater volts, collapses
 *   between 65 and 50, and is next to nothing below 45.
 * Both are uncertain by a factor of several in an old tube; the band says so.
 */
#ifndef MAINSTAIR_CORE_EMISSION_H
#define MAINSTAIR_CORE_EMISSION_H

/* Saturation over operating current of a receiving tube's cathode at rated heater volts. */
extern const double emission_reserve;

/* Saturation current of one rectifier path over the tube's rated dc output: a rated steady
 * peak of 3.5 times the dc (6X4: 245 mA at 70 mA, General Electric data sheet) and a quarter. */
extern const double emission_rectifier_reserve;

/** Saturation current over its value at rated temperature; u: heater temperature as a fraction
 *  of rated absolute temperature (> 0).  The cathode's temperature goes in proportion: both
 *  lose their heat by radiation. */
double emission_share(double u);

/** The lesser of the space-charge current and the saturation current (both >= 0), rounded. */
double emission_limit(double space_charge, double saturation);

/** The same with its derivative by space_charge in *ret_slope. */
double emission_limit_slope(double space_charge, double saturation, double *ret_slope);

#endif
