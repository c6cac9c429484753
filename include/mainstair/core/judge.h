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

/** Judge settled watts (amps may be NAN) against a band.  Fuse amps crossed is an abort too. */
enum verdict judge_settled(const struct band *band, double fuse_amps, double watts, double amps);

/** Judge a reading that may still be settling: `settled` false turns OVER and UNDER into
 *  SETTLING; an abort is an abort at any time. */
enum verdict judge_reading(const struct band *band, double fuse_amps, double watts, double amps,
                           bool settled);

#endif
