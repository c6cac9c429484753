/* Bands that are kept are the very ones that are worked out. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/core/band_cache.h"
#include "shunt_unit.h"

TestSuite(band_cache, .timeout = 30);

struct kept {
	struct band_cache *cache;
	struct shunt_unit *unit;
};

static struct kept begin(void)
{
	struct kept k = { calloc(1, sizeof *k.cache), shunt_unit_new(0) };

	cr_assert(k.cache && k.unit);
	return k;
}

static void end(struct kept *k)
{
	free(k->cache);
	free(k->unit);
}

static struct band at(const struct kept *k, struct band_cache *cache, double volts)
{
	const struct session *s = &k->unit->session;
	struct band band;

	memset(&band, 0, sizeof band);
	band_cache_at(cache, s->net, s->rule, s->meter, volts, NULL, &band);
	return band;
}

static struct band exact(const struct kept *k, double volts)
{
	const struct session *s = &k->unit->session;
	struct band band;

	memset(&band, 0, sizeof band);
	envelope_at(s->net, s->rule, s->meter, volts, NULL, &band, NULL);
	return band;
}

static bool same(const struct band *a, const struct band *b)
{
	const double pairs[][2] = {
		{ a->volts, b->volts },       { a->low, b->low },
		{ a->expected, b->expected }, { a->high, b->high },
		{ a->abort_watts, b->abort_watts }, { a->at.amps, b->at.amps },
		{ a->emission_share, b->emission_share }, { a->at.watts, b->at.watts },
	};

	for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
		if (memcmp(&pairs[i][0], &pairs[i][1], sizeof(double)) != 0)
			return false;
	return true;
}

/* What a meter tells to the millivolt is judged at just that. */
Test(band_cache, is_exact_at_volts_of_three_decimals)
{
	static const char *const told[] = { "0", "0.1", "20", "63.37", "116.999", "117.1", "230.005" };
	struct kept k = begin();

	for (size_t i = 0; i < sizeof told / sizeof *told; i++) {
		const double volts = strtod(told[i], NULL);
		const struct band want = exact(&k, volts), first = at(&k, k.cache, volts);
		const struct band again = at(&k, k.cache, volts), none = at(&k, NULL, volts);

		cr_assert(same(&want, &first), "%s V", told[i]);
		cr_assert(same(&want, &again), "%s V again", told[i]);
		cr_assert(same(&want, &none), "%s V without a cache", told[i]);
	}
	end(&k);
}

/* More digits than that: the nearest millivolt's, whether it was kept or not. */
Test(band_cache, takes_finer_volts_at_the_nearest_millivolt)
{
	struct kept k = begin();
	const double volts = 117.0312347;
	struct band want = exact(&k, 117.031), first = at(&k, k.cache, volts);
	struct band again = at(&k, k.cache, volts), none = at(&k, NULL, volts);

	want.volts = volts;
	cr_assert(same(&want, &first));
	cr_assert(same(&want, &again));
	cr_assert(same(&want, &none));
	cr_assert(fabs(first.high - exact(&k, volts).high) < 0.001);
	end(&k);
}

/* Two voltages that share a place put each other out, and neither is taken for the other. */
Test(band_cache, never_mistakes_one_voltage_for_another)
{
	struct kept k = begin();
	const double one = 20.0, other = 20.0 + BAND_CACHE_SLOTS / 1000.0;

	for (int i = 0; i < 3; i++) {
		const struct band a = at(&k, k.cache, one), want_a = exact(&k, one);
		const struct band b = at(&k, k.cache, other), want_b = exact(&k, other);

		cr_assert(same(&a, &want_a));
		cr_assert(same(&b, &want_b));
	}
	end(&k);
}

/* A record of many hours must not be a solve a reading: what a variac at rest gives has room. */
Test(band_cache, has_room_for_what_a_line_wanders_over)
{
	struct kept k = begin();
	size_t kept = 0;

	for (int i = 0; i < 3000; i++)
		(void)at(&k, k.cache, 105.0 + i / 100.0);
	for (size_t i = 0; i < BAND_CACHE_SLOTS; i++)
		kept += k.cache->filled[i];
	cr_assert_eq(kept, 3000);
	memset(k.cache->filled, 0, sizeof k.cache->filled);
	for (int i = 0; i < 4000; i++)
		(void)at(&k, k.cache, i / 10.0);
	kept = 0;
	for (size_t i = 0; i < BAND_CACHE_SLOTS; i++)
		kept += k.cache->filled[i];
	cr_assert_eq(kept, 4000);
	end(&k);
}

Test(band_cache, forgets_when_told)
{
	struct kept k = begin();
	const double watts = at(&k, k.cache, 117.0).at.watts;

	k.unit->net.line_shunt_siemens *= 2.0;
	cr_assert(at(&k, k.cache, 117.0).at.watts <= watts);
	band_cache_clear(k.cache);
	cr_assert(at(&k, k.cache, 117.0).at.watts > 1.5 * watts);
	end(&k);
}

/* What is no voltage of a line is never kept. */
Test(band_cache, keeps_nothing_of_what_cannot_be)
{
	struct kept k = begin();

	(void)at(&k, k.cache, 1000.0);
	(void)at(&k, k.cache, (double)NAN);
	for (size_t i = 0; i < BAND_CACHE_SLOTS; i++)
		cr_assert_not(k.cache->filled[i]);
	end(&k);
}
