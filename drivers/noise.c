/* SPDX-License-Identifier: MIT */
#include "noise.h"

#include <math.h>

#define TWO_PI 6.283185307179586

static uint64_t splitmix64(uint64_t *state)
{
	uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return z ^ (z >> 31);
}

void random_seed(struct random *random, uint64_t seed)
{
	for (int i = 0; i < 4; i++)
		random->s[i] = splitmix64(&seed);
}

static uint64_t rotate(uint64_t x, int k)
{
	return (x << k) | (x >> (64 - k));
}

uint64_t random_bits(struct random *random)
{
	uint64_t *s = random->s, result = rotate(s[1] * 5, 7) * 9, t = s[1] << 17;

	s[2] ^= s[0];
	s[3] ^= s[1];
	s[1] ^= s[2];
	s[0] ^= s[3];
	s[2] ^= t;
	s[3] = rotate(s[3], 45);
	return result;
}

double random_uniform(struct random *random)
{
	return ((double)(random_bits(random) >> 11) + 0.5) * 0x1p-53;
}

double random_gauss(struct random *random)
{
	/* Two statements: C does not say which of two calls in one comes first. */
	double radius = sqrt(-2.0 * log(random_uniform(random)));

	return radius * cos(TWO_PI * random_uniform(random));
}

double random_exponential(struct random *random)
{
	return -log(random_uniform(random));
}

/* Coefficients of ((1 + x + ... + x^9) / 10)^4, in ten-thousandths: the number of ways
 * in which four digits sum to i. */
static const uint16_t kernel[SINC4_LENGTH] = {
        1,   4,   10,  20,  35,  56,  84,  120, 165, 220, 282, 348, 415,
        480, 540, 592, 633, 660, 670, 660, 633, 592, 540, 480, 415, 348,
        282, 220, 165, 120, 84,  56,  35,  20,  10,  4,   1,
};
#define KERNEL_SUM 10000.0

void sinc4_init(struct sinc4 *filter, double value)
{
	for (int i = 0; i < SINC4_LENGTH; i++)
		filter->ring[i] = value;
	filter->next = 0;
}

void sinc4_push(struct sinc4 *filter, double value)
{
	filter->ring[filter->next] = value;
	filter->next = (filter->next + 1) % SINC4_LENGTH;
}

double sinc4_value(const struct sinc4 *filter)
{
	double sum = 0.0;

	/* The kernel is symmetric, so the direction in the ring does not matter. */
	for (uint32_t i = 0; i < SINC4_LENGTH; i++)
		sum += kernel[i] * filter->ring[(filter->next + i) % SINC4_LENGTH];
	return sum / KERNEL_SUM;
}

double sinc4_noise_gain(void)
{
	double sum = 0.0;

	for (int i = 0; i < SINC4_LENGTH; i++)
		sum += (double)kernel[i] * kernel[i];
	return sqrt(sum) / KERNEL_SUM;
}
