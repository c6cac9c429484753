/*
 * bench/random.h - repeatable chance: the same seed, the same numbers, on every machine
 *
 * Layer: bench; libc only.  SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable
 * pseudorandom number generators", OOPSLA 2014).
 */
#ifndef MAINSTAIR_BENCH_RANDOM_H
#define MAINSTAIR_BENCH_RANDOM_H

#include <stdint.h>

struct random {
	uint64_t state;
};

/** The next 64 bits. */
uint64_t random_bits(struct random *r);

/** Evenly within -1..1. */
double random_even(struct random *r);

/** Bell-shaped, mean 0, standard deviation 1 (sum of twelve even ones: within -6..6). */
double random_bell(struct random *r);

#endif
