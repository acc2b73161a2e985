/* SPDX-License-Identifier: MIT */
#include "random.h"

#include <math.h>

double random_uniform(struct random *random)
{
	uint64_t z = (random->state += 0x9e3779b97f4a7c15u);

	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
	z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
	return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

double random_between(struct random *random, double low, double high)
{
	return low + (high - low) * random_uniform(random);
}

double random_normal(struct random *random)
{
	double u = 1.0 - random_uniform(random), v = random_uniform(random);

	return sqrt(-2.0 * log(u)) * cos(2.0 * acos(-1.0) * v);
}
