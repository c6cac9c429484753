/*
 * core/limiter.h - a lamp in series with the unit, the restorer's oldest current limiter
 *
 * Layer: core; pure.  The lamp's filament is a tungsten node like any heater's (core/heater.h), so
 * what it leaves the unit at each line voltage follows from the unit's own model.
 */
#ifndef MAINSTAIR_CORE_LIMITER_H
#define MAINSTAIR_CORE_LIMITER_H

#include "mainstair/core/load.h"

struct series_lamp {
	double watts, volts; /* as marked on it: 60 W, 120 V */
};

struct limited {
	double unit_volts;   /* left at the unit, V rms */
	double unit_watts, lamp_watts, total_watts;
	double lamp_share;   /* volts at the lamp over its rated volts */
	double brightness;   /* light over its rated light, V^3.4 (Fink and Beaty, Standard Handbook
	                        for Electrical Engineers, 11th ed., 1978, p. 22-8) */
	bool converged;
};

/** Settled state of lamp and unit in series on line_volts. */
void limiter_solve(const struct network *net, const struct series_lamp *lamp, double line_volts,
                   struct limited *ret);

/** The line volts (behind the variac, ahead of the lamp) at which the lamp leaves the unit
 *  unit_volts, to a tenth of a volt, and *ret there.  NAN when not even most_line_volts leaves it
 *  that much, with *ret at most_line_volts; or when the model does not settle (ret->converged
 *  false).  Takes some ten solves of both. */
double limiter_line_volts(const struct network *net, const struct series_lamp *lamp,
                          double unit_volts, double most_line_volts, struct limited *ret);

/** What a meter ahead of the lamp read, split into lamp and unit; settled (a lamp's filament is
 *  within a tenth of a second).  amps NAN: not read; then the unit's current that does no work is
 *  taken from its model.  line_volts > 0, watts >= 0. */
void limiter_split(const struct network *net, const struct series_lamp *lamp, double line_volts,
                   double watts, double amps, struct limited *ret);

/** How far the unit's watts can be off, W, for what its lamp takes at most when it is well: a
 *  lamp's rating holds to 5 per cent (IEC 60064 allows 4 per cent and half a watt at first; from
 *  memory). */
double limiter_meter_error(const struct network *net, const struct series_lamp *lamp);

/** The smallest common lamp (of the trade's sizes for the nameplate's line) that leaves this unit
 *  at least `share` of its line volts at full line; watts 0 when even the largest does not. */
struct series_lamp limiter_choose(const struct network *net, double share);

#endif
