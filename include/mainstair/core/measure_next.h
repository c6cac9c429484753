/*
 * core/measure_next.h - which number to measure on the unit, so that the band gets narrower
 *
 * Layer: core; pure.
 */
#ifndef MAINSTAIR_CORE_MEASURE_NEXT_H
#define MAINSTAIR_CORE_MEASURE_NEXT_H

#include "mainstair/core/envelope.h"

/* A number worth measuring, and the share of the band's width that goes away with it. */
struct measure_gain {
	int param;   /* index into net->params; its `measure` says how */
	double gain; /* 0..1 */
};

/** The numbers that a meter can tell and that were not measured yet, by what a measurement to 2 per
 *  cent would take off the band's width, most first, nothing below 1 per cent.  `band` and `all`:
 *  as envelope_at() gave them.  At most `max` (NET_PARAMS_MAX is always enough); returns how
 *  many. */
int measure_next(const struct network *net, const struct meter_accuracy *meter,
                 const struct band *band, const struct sensitivity *all,
                 struct measure_gain *ret, int max);

/* The same for two line voltages together. */
struct measure_gain_both {
	int param;
	double gain[2]; /* at each of the two */
};

/** Ranked by the sum of both.  Solves two envelopes, some ten milliseconds each.  Returns how many,
 *  at most `max`; 0 also when the model does not settle there. */
int measure_next_both(const struct network *net, const struct abort_rule *rule,
                      const struct meter_accuracy *meter, const double volts[2],
                      struct measure_gain_both *ret, int max);

#endif
