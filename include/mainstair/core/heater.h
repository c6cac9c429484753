/*
 * core/heater.h - how heaters and lamps behave away from their rated volts
 *
 * Layer: core; pure.  A heater or lamp is one tungsten node: its resistance follows its
 * temperature, its loss is radiation plus a little conduction.  The well-known settled law
 * I ~ V^0.5..0.6 follows from this; it is not put in.
 * Temperatures are fractions u of the rated absolute temperature, watts are fractions of rated.
 *
 * Sources: resistivity of tungsten 300-3000 K, Jones and Langmuir, General Electric Review 30
 * (1927), values as reprinted in handbooks (from memory there; the same 34 figures stand in two
 * public tables); here a cubic through them, within 1 per cent.  Loss as a sum of a T^4 and a
 * linear term: Carla, Am. J. Phys. 81 (2013).  Ratios hot to cold that follow: 6.9 (heater),
 * 11.4 (pilot lamp), 15 (mains lamp); published: heaters 5-10 (Gano and Sandy, IRE Trans. EC,
 * March 1958), mains lamps about 15.
 */
#ifndef MAINSTAIR_CORE_HEATER_H
#define MAINSTAIR_CORE_HEATER_H

#include "mainstair/core/network.h"

/* The law of one kind of heater; heater_law() fills it once per solve. */
struct heater_law {
	double ambient;      /* u of the room: 300 K over the rated temperature */
	double rho[4];       /* R/R_rated = rho0 + rho1 u + rho2 u^2 + rho3 u^3 */
	double conduction;   /* share of the rated loss that is conduction, 0..1 */
	double radiation_gain, conduction_gain; /* derived */
};

/** Law of a kind.  `conduction` as struct network's heater_conduction (lamps take half of it:
 *  their supports are thinner for their watts). */
struct heater_law heater_law(enum heater_kind kind, double conduction);

/** The law of any tungsten filament by its rated temperature, K, and its conducted share. */
struct heater_law heater_law_at(double kelvin, double conduction);

/** R over rated R at temperature u (> 0). */
double heater_resistance(const struct heater_law *law, double u);

/** Loss over rated watts at temperature u; 0 at ambient, negative below it. */
double heater_loss(const struct heater_law *law, double u);

/** Settled temperature at `share` of rated volts (>= 0).  `guess` > 0 starts the iteration
 *  (1.0 if unknown). */
double heater_settled_volts(const struct heater_law *law, double share, double guess);

/** Settled temperature at `share` of rated amps: the case of a series string. */
double heater_settled_amps(const struct heater_law *law, double share, double guess);

#endif
