/*
 * bench/thermal.h - a heater or lamp as it warms and cools
 *
 * Layer: bench; includes core/.  Pure.
 * One thermal node: what the volts put in, less what heater_loss() takes out, over its heat
 * capacity.  Capacity is stated as seconds: rated absolute temperature times capacity over
 * rated watts.  From published warm-up times (the node's own equation, solved for the capacity):
 * - heater of an indirectly heated cathode, 12 s: a heater on constant volts reached 90 % of its
 *   temperature after 6.7 s and 99 % after 13.3 s (Harper, "Kindness to Filaments"), which is
 *   14.7 s; the 11 s of the controlled warm-up test (80 % of heater volts when 4 times rated volts
 *   are applied through 3 times the hot resistance; RETMA, from memory) is 8.2 s;
 * - directly heated filament, 5 s: first current after 2 s, full after 7 s (Emission Labs, data
 *   sheet of a 5U4G);
 * - lamp, 0.12 s: current settled after 0.10 s (mains lamps, encyclopaedia).
 */
#ifndef MAINSTAIR_BENCH_THERMAL_H
#define MAINSTAIR_BENCH_THERMAL_H

#include "mainstair/core/heater.h"

struct thermal {
	struct heater_law law;
	double seconds;    /* heat capacity, see above */
	double rated_ohms; /* hot, at rated volts */
	double rated_watts;
	double u;          /* temperature over rated absolute temperature */
	double ohms;       /* at u */
};

/** A node at room temperature.  volts, amps: rated, both > 0. */
void thermal_init(struct thermal *t, enum heater_kind kind, double volts, double amps,
                  double conduction);

/** Change of the rated current (a network was scattered or mended); the temperature stays. */
void thermal_rate(struct thermal *t, double volts, double amps);

/** Let dt_s (well under a tenth of `seconds`) pass at a mean electrical power of `watts`. */
void thermal_step(struct thermal *t, double watts, double dt_s);

#endif
