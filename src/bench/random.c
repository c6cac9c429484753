#include "bench/random.h"

uint64_t random_bits(struct random *r)
{
	uint64_t z = r->state += 0x9e3779b97f4a7c15u;

	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
	z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
	return z ^ (z >> 31);
}

double random_even(struct random *r)
{
	return (double)(random_bits(r) >> 11) / 4503599627370496.0 - 1; /* 2^53 values over 2^52 */
}

double random_bell(struct random *r)
{
	double sum = 0;

	for (int k = 0; k < 12; k++)
		sum += random_even(r) / 2;
	return sum;
}
