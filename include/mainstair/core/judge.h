/*
 * core/judge.h - is this reading right?
 *
 * Layer: core; pure.  Unknown never counts as good: NaN, negative or missing watts give
 * VERDICT_UNKNOWN, from which nothing may go on.
 */
#ifndef MAINSTAIR_CORE_JUDGE_H
#define MAINSTAIR_CORE_JUDGE_H

#include "mainstair/core/envelope.h"

enum verdict {
	VERDICT_UNKNOWN,  /* no believable reading */
	VERDICT_SETTLING, /* outside the settled band, but the step up is recent: wait */
	VERDICT_IN_BAND,
	VERDICT_UNDER,
	VERDICT_OVER,     /* hold here, do not step up */
	VERDICT_ABORT     /* variac to zero, plug out */
};

/** "unknown", "settling", "in-band", "under", "over", "abort": the words of files and screens. */
const char *verdict_word(enum verdict v);
/** The reverse; -1 when `word` is none of them. */
int verdict_from_word(const char *word);

/** Judge settled watts (amps may be NAN) against a band.  Fuse amps crossed is an abort too
 *  (fuse_amps 0: not known), read on the ammeter or implied by watts over volts.  A band whose
 *  solve did not converge judges nothing but the fuse. */
enum verdict judge_settled(const struct band *band, double fuse_amps, double watts, double amps);

/** Judge a reading that may still be settling: `settled` false turns OVER and UNDER into
 *  SETTLING and lets twice the fuse's amps pass (a cold unit's surge); an abort is an abort at
 *  any time. */
enum verdict judge_reading(const struct band *band, double fuse_amps, double watts, double amps,
                           bool settled);

enum { JUDGE_WHY_MAX = 128 };

/** Can a healthy or a broken unit for nameplate_volts give this at all, or is it a slip or a
 *  garbled meter?  Volts or watts not told (NAN; watts may be missing beside amps: VA is all that
 *  such a meter gives, and its verdict stays unknown) or infinite, volts below nought, above 300 or
 *  above 1.5 times nameplate, watts below -zero_watts (how far below nought the meter may read
 *  with nothing connected), amps below -0.05, watts far above volts times amps (beyond 0.05 A
 *  of resolution, 1 W and 30 per cent), a power factor beyond 1.1: no.  amps and power_factor
 *  may be NAN: not told.  Returns true when it can be; else false with the reason in `why`. */
bool judge_possible(double nameplate_volts, double zero_watts, double volts, double watts,
                    double amps, double power_factor, char why[JUDGE_WHY_MAX]);

#endif
