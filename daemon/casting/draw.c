/* SPDX-License-Identifier: MIT */
#include "draw.h"

#include <math.h>

/* splitmix64 (Steele, Lea and Flood 2014) */
static double next(uint64_t *state)
{
	uint64_t z = *state += 0x9E3779B97F4A7C15u;

	z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
	z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
	return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

void draw_init(struct draw *draw, uint64_t seed)
{
	static const double primes[DRAW_DIMENSIONS] = {2.0, 3.0, 5.0, 7.0, 11.0, 13.0};

	for (int i = 0; i < DRAW_DIMENSIONS; i++) {
		draw->stride[i] = sqrt(primes[i]) - floor(sqrt(primes[i]));
		draw->shift[i] = next(&seed);
	}
}

double draw_uniform(const struct draw *draw, unsigned i, unsigned dimension)
{
	double x = draw->shift[dimension] + draw->stride[dimension] * (double)(i + 1u);

	return x - floor(x);
}

double draw_between(double uniform, double low, double high)
{
	return low + uniform * (high - low);
}

double draw_log_between(double uniform, double low, double high)
{
	return low * pow(high / low, uniform);
}
