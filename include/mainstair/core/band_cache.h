/*
 * core/band_cache.h - bands that were worked out already
 *
 * Layer: core; pure.  A meter gives volts in steps, so the same volts come again and again, in a
 * soak for hours.  A band costs some hundred solves; looking one up costs nothing.  Only the
 * very same volts find it: what is judged does not depend on whether it was there.
 */
#ifndef MAINSTAIR_CORE_BAND_CACHE_H
#define MAINSTAIR_CORE_BAND_CACHE_H

#include "mainstair/core/envelope.h"

/* Room for every tenth of a volt up to 400 V without two in one place. */
enum { BAND_CACHE_SLOTS = 4096 };

/* Zeroed is empty.  Large (11 MB, of which only what is used is ever touched): calloc() it. */
struct band_cache {
	bool filled[BAND_CACHE_SLOTS];
	struct band bands[BAND_CACHE_SLOTS];
};

/** Forget all: the unit, its rule or the meter have changed. */
void band_cache_clear(struct band_cache *cache);

/** envelope_at() through the cache.  All calls on one cache must name the same unit, rule and
 *  meter.  cache NULL: nothing is kept. */
void band_cache_at(struct band_cache *cache, const struct network *net,
                   const struct abort_rule *rule, const struct meter_accuracy *meter,
                   double line_volts, struct load_start *start, struct band *ret);

#endif
