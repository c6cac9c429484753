/*
 * core/probe.h - volts of a rail or a winding, as a voltmeter should find them
 *
 * Layer: core; pure.  The counterpart of the band of watts (core/envelope.h) for a clip-on
 * voltmeter: behind a tube rectifier it sees a short or a leak stages before the watts do.
 */
#ifndef MAINSTAIR_CORE_PROBE_H
#define MAINSTAIR_CORE_PROBE_H

#include "mainstair/core/judge.h"
#include "mainstair/core/suspects.h"

/* Between low and high lie about 99 of 100 healthy units, read with a voltmeter that is right to 1
 * per cent.  Where next to nothing flows, volts hang on leakage, and the limits lie far apart. */
struct probe_band {
	double low, expected, high; /* V; of a negative rail without its sign */
};

/** Volts of rail or winding `index` (`what`: OBSERVED_RAIL_VOLTS or OBSERVED_WINDING_VOLTS) of a
 *  unit that has settled at line_volts (> 0): every tolerance of the network and the voltmeter's,
 *  by their covariance (as in suspects_rank()).  Costs one settled solve for each parameter and
 *  side.  False, and *ret untouched, where the model does not settle. */
bool probe_band_at(const struct network *net, double line_volts, enum observed what, int index,
                   struct probe_band *ret);

/** VERDICT_IN_BAND, VERDICT_UNDER or VERDICT_OVER; VERDICT_UNKNOWN when volts is no number. */
enum verdict probe_judge(const struct probe_band *band, double volts);

#endif
