/*
 * core/band_cache.h - bands that were worked out already
 *
 * Layer: core; pure.  A meter gives volts in steps, so the same volts come again and again, in a
 * soak for hours.  A band costs some hundred solves; looking one up costs nothing.  What is judged
 * does not depend on whether it was there.
 *
 * The step is a millivolt: a meter that tells more digits than that would never give the same volts
 * twice.  Between two steps the watts of a unit of 30 W move by some 0.0005 W.
 */
#ifndef MAINSTAIR_CORE_BAND_CACHE_H
#define MAINSTAIR_CORE_BAND_CACHE_H

#include "mainstair/core/envelope.h"

/* Without two in one place: every tenth of a volt up to 400 V, or every hundredth of some 80 V, or
 * every thousandth of 16 V, which is what the line wanders over while the variac stands. */
enum { BAND_CACHE_SLOTS = 16384 };

/* Zeroed is empty.  Large (44 MB, of which only what is used is ever touched): calloc() it. */
struct band_cache {
	bool filled[BAND_CACHE_SLOTS];
	struct band bands[BAND_CACHE_SLOTS];
};

/** Forget all: the unit, its rule or the meter have changed. */
void band_cache_clear(struct band_cache *cache);

/** envelope_at() at the nearest millivolt (below 1000 V), through the cache; ret->volts are
 *  line_volts all the same.  All calls on one cache must name the same unit, rule and meter.
 *  cache NULL: nothing is kept, and the result is the same. */
void band_cache_at(struct band_cache *cache, const struct network *net,
                   const struct abort_rule *rule, const struct meter_accuracy *meter,
                   double line_volts, struct load_start *start, struct band *ret);

#endif
