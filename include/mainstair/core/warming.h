/*
 * core/warming.h - the model in time: how warm every heater is now, and the band of this second
 *
 * Layer: core; pure: time is an argument.
 * Each heater and lamp is one thermal node, C dT/dt = v^2/R(T) - loss(T), integrated over the
 * line volts as they were read.  Rails follow their rectifiers' heaters within a few cycles and
 * are taken as settled at every instant (core/load.h, load_instant_watts()).
 *
 * What is not known is kept as two bounding histories instead of one: the `early` one is as warm
 * as can be (volts rose right after the last reading, heat capacities small), the `late` one as
 * cold as can be (volts rose only just now, heat capacities large).  A unit that was already on
 * when the run began lies between them as well.  They meet as time goes by; when both are within
 * 2 per cent of their settled watts, the unit has settled.
 *
 * Two readings at about the same volts are taken to say that the volts stayed in between.  That is
 * a guess when nobody looked for a while: the unit may have been off, or at full line, and back.
 * Such a silence leaves a doubt, kept as more histories, one `hot` and some `cold`.  It never makes
 * the band wider, so a healthy reading passes at once; but what lies outside while the doubt lasts
 * is to be read again (warming_excuse()), and the abort line stays above what a unit that was off
 * would draw now.  The doubt is over when those have settled as well, or when another reading still
 * lies outside after as long as that would have taken.
 */
#ifndef MAINSTAIR_CORE_WARMING_H
#define MAINSTAIR_CORE_WARMING_H

#include <stdbool.h>

#include "mainstair/core/envelope.h"
#include "mainstair/core/judge.h"

enum { WARMING_PAST_MAX = 6, WARMING_PACES = 3 };

struct warming {
	bool begun;             /* a reading has been told */
	double seconds;         /* of the last reading */
	double line_volts;      /* at the last reading */
	struct load_thermal early, late;
	struct load_thermal past[WARMING_PAST_MAX]; /* the late one as it was, oldest first: a
	                                               meter's mean of now reaches back as far as
	                                               the oldest, 2 s or little more */
	double past_s[WARMING_PAST_MAX];
	int n_past;
	double moved_s;         /* when the volts last moved, and from where; 0 V where that is
	                           not */
	double moved_from;      /* known to the reservoirs */
	double sag, sag_volts;  /* what the rails leave of the emf that heaters alone would see,
	                           once settled at sag_volts: the late history has it, the early one
	                           not */
	bool blurred;           /* the last reading came after a silence and at other volts: perhaps
	                           the mean of a moment in which they rose */
	bool doubt;             /* hot and cold have not met yet */
	bool believed;          /* the last reading was as expected: the next silence is the only
	                           one */
	struct load_thermal hot, cold[WARMING_PACES]; /* the cold one for quick, usual and slow
	                                                 heaters: who cools soon warms up soon */
	double silence_end_s;   /* of the last silence; < 0: none */
	double excused_until_s; /* until then what lies outside may come from a silence; NAN:
	                           none */
};

/** A unit of which nothing is known yet: cold, or warm from full line. */
void warming_init(struct warming *w, const struct network *net);

/** A reading of `line_volts` (>= 0) at `seconds` (monotonic, not before the last): both histories
 *  are taken there.  Gaps of any length are fine. */
void warming_reading(struct warming *w, const struct network *net, double seconds,
                     double line_volts);

/** True when both histories are within 2 per cent of their settled watts at the last volts. */
bool warming_settled(const struct warming *w, const struct network *net);

/** Seconds until the late history settles if the volts stay; 0: settled.  At most `limit`. */
double warming_seconds_left(const struct warming *w, const struct network *net, double limit);

/** What becomes of a verdict on the last reading (by the band of this moment): over and under are
 *  VERDICT_SETTLING while the doubt lasts (until w->excused_until_s if the volts stay), all else is
 *  returned as it is. */
enum verdict warming_excuse(struct warming *w, const struct network *net, enum verdict verdict);

/** The band of this moment from the settled one at the same volts (envelope_at()): its edges spread
 *  over both histories and both extremes of cathode emission, the high one by what charges
 *  reservoirs after a rise, the abort line moved along with it.  Settled and no doubt: *band is
 *  left as it is; a doubt moves the abort line alone. */
void warming_band(const struct warming *w, const struct network *net, const struct abort_rule *rule,
                  const struct meter_accuracy *meter, struct band *band);

/** One node's change over dt_s at `share` of its rated volts held constant: implicit Euler, so any
 *  dt_s is safe and a few per cent of the time constant are accurate.  For tests and benches. */
double warming_node(enum heater_kind kind, double conduction, double capacity_factor, double u,
                    double share, double dt_s);

#endif
