#include "mainstair/core/band_cache.h"

#include <math.h>
#include <string.h>

static const double steps_per_volt = 1000.0;

void band_cache_clear(struct band_cache *cache)
{
	memset(cache->filled, 0, sizeof cache->filled);
}

void band_cache_at(struct band_cache *cache, const struct network *net,
                   const struct abort_rule *rule, const struct meter_accuracy *meter,
                   double line_volts, struct load_start *start, struct band *ret)
{
	const bool steps = line_volts >= 0.0 && line_volts < 1000.0;
	const long step = steps ? lround(line_volts * steps_per_volt) : 0;
	/* volts told to the millivolt or coarser stay what they are, to the last bit */
	const double volts = steps ? (double)step / steps_per_volt : line_volts;
	const size_t k = (size_t)step % BAND_CACHE_SLOTS;

	/* The very same volts: a difference of nought, without comparing floats for equality. */
	if (cache && steps && cache->filled[k] && !(fabs(cache->bands[k].volts - volts) > 0.0)) {
		*ret = cache->bands[k];
	} else {
		envelope_at(net, rule, meter, volts, start, ret, NULL);
		if (cache && steps) {
			cache->bands[k] = *ret;
			cache->filled[k] = true;
		}
	}
	ret->volts = line_volts;
}
