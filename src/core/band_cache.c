#include "mainstair/core/band_cache.h"

#include <math.h>
#include <string.h>

void band_cache_clear(struct band_cache *cache)
{
	memset(cache->filled, 0, sizeof cache->filled);
}

void band_cache_at(struct band_cache *cache, const struct network *net,
                   const struct abort_rule *rule, const struct meter_accuracy *meter,
                   double line_volts, struct load_start *start, struct band *ret)
{
	const bool keepable = cache && line_volts >= 0.0 && line_volts < 1000.0;
	const size_t k = keepable ? (size_t)lround(line_volts * 10.0) % BAND_CACHE_SLOTS : 0;

	/* The very same volts: a difference of nought, without comparing floats for equality. */
	if (keepable && cache->filled[k] && !(fabs(cache->bands[k].volts - line_volts) > 0.0)) {
		*ret = cache->bands[k];
		return;
	}
	envelope_at(net, rule, meter, line_volts, start, ret, NULL);
	if (keepable) {
		cache->bands[k] = *ret;
		cache->filled[k] = true;
	}
}
