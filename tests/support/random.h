/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_RANDOM_H
#define AMBO_TESTS_SUPPORT_RANDOM_H

#include <stdint.h>

/* Random numbers that are the same on every machine: splitmix64 (Steele, Lea and
 * Flood 2014). Seed by setting state; any value will do. */
struct random {
	uint64_t state;
};

double random_uniform(struct random *random); /* in [0, 1) */
double random_between(struct random *random, double low, double high);
double random_normal(struct random *random); /* mean 0, sd 1 (Box-Muller) */

#endif
