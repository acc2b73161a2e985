/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_NOISE_H
#define AMBO_DRIVERS_NOISE_H

#include <stdint.h>

/* Chance and the converter's filter. Plain values: a copy goes on as the original. */

/* xoshiro256** 1.0 (Blackman and Vigna 2018, public domain), seeded by splitmix64. */
struct random {
	uint64_t s[4];
};
void random_seed(struct random *random, uint64_t seed);
uint64_t random_bits(struct random *random);
double random_uniform(struct random *random);     /* 0 < u < 1 */
double random_gauss(struct random *random);       /* mean 0, sd 1 (Box and Muller 1958) */
double random_exponential(struct random *random); /* mean 1 */

/* The converter's sinc^4 filter: four boxcars of one conversion period each, here in
 * SINC4_STEPS steps a period. It smears the force over four periods (group delay two)
 * and colours the noise: lag 1 0.493, lag 2 0.050 at one output a period. */
#define SINC4_STEPS  10
#define SINC4_LENGTH (4 * (SINC4_STEPS - 1) + 1)

struct sinc4 {
	double ring[SINC4_LENGTH];
	uint32_t next;
};
void sinc4_init(struct sinc4 *filter, double value); /* as if it had stood there for long */
void sinc4_push(struct sinc4 *filter, double value);
double sinc4_value(const struct sinc4 *filter);
/* sd of the output for white input of sd 1. */
double sinc4_noise_gain(void);

#endif
