/*
 * core/envelope.h - the band in which a healthy unit's watts lie, and the abort line above it
 *
 * Layer: core; pure.  Coverage of the band is meant to be about 99 per cent of healthy units
 * built to this profile and read with this meter.
 */
#ifndef MAINSTAIR_CORE_ENVELOPE_H
#define MAINSTAIR_CORE_ENVELOPE_H

#include "mainstair/core/load.h"

/* What the meter adds.  A reading w carries +-(reading_share * w + offset_watts). */
struct meter_accuracy {
	double reading_share; /* fraction of reading */
	double offset_watts;  /* range term and half a step of its resolution */
};
/* A common plug-in meter: 1 % of reading and half a step of 0.1 W (common practice, no source). */
extern const struct meter_accuracy meter_accuracy_default;

/* Where the abort line lies above the band's high edge. */
struct abort_rule {
	double rated_amps; /* envelope_rated_amps() */
	double share;     /* of rated current, carried at the present volts (default 0.15) */
	double floor_watts; /* default 0.5 W */
	double watts_at_line; /* > 0: instead of share: this excess at full line, scaled with
	                         volts */
	double fuse_amps; /* > 0: the line never lies above fuse_amps * volts */
};

struct band {
	double volts;
	double low, expected, high; /* W at the meter, its accuracy included */
	double abort_watts;
	double rest_low, rest_high; /* W: the edges if every cathode's emission were just as
	                               rated */
	struct load_result at;      /* the nominal solve behind it */
	double emission_share;      /* part of (high-low)^2 due to cathode emission, 0..1 */
};

/* How far each parameter moves the watts at one voltage; for "what to measure next". */
struct sensitivity {
	int param;         /* index into net->params */
	double up, down;   /* W above / below expected when it is at its limits, both >= 0 */
};

/** Abort rule of a unit (its [limits] and fuse) with the defaults filled in. */
struct abort_rule abort_rule_of(const struct profile *profile, const struct network *net);

/** Band at line_volts.  `start` as in load_settled(); `ret_sens` may be NULL, else room for
 *  net->n_params entries, filled in parameter order. */
void envelope_at(const struct network *net, const struct abort_rule *rule,
                 const struct meter_accuracy *meter, double line_volts,
                 struct load_start *start, struct band *ret, struct sensitivity *ret_sens);

/** Expected watts at nameplate volts over nameplate volts, A. */
double envelope_rated_amps(const struct network *net);

#endif
