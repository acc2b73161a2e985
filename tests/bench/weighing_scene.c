/* SPDX-License-Identifier: MIT */
#include "weighing_scene.h"

#include <math.h>
#include <string.h>

#define PI       3.14159265358979323846
#define KERNEL   (4u * (SCENE_SUB - 1u) + 1u) /* four boxcars of SCENE_SUB, convolved */
#define FINE_MAX (SCENE_SAMPLES_MAX * SCENE_SUB)
#define LIP_S    0.02 /* the stream leaves the lip at 0.2 m/s: v / g */

/* splitmix64 (public domain, S. Vigna): any seed is a good one. */
static uint64_t next_random(uint64_t *state)
{
	uint64_t z = (*state += UINT64_C(0x9E3779B97F4A7C15));

	z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
	return z ^ (z >> 31);
}

static double uniform(uint64_t *state, double low, double high)
{
	return low + (high - low) * ((double)(next_random(state) >> 11) + 0.5) * 0x1p-53;
}

/* A pair of standard normals (Marsaglia's polar method), one at a time. */
static double normal(uint64_t *state, double *spare)
{
	double u, v, s;

	if (!isnan(*spare)) {
		u = *spare;
		*spare = (double)NAN;
		return u;
	}
	do {
		u = uniform(state, -1.0, 1.0);
		v = uniform(state, -1.0, 1.0);
		s = u * u + v * v;
	} while (s >= 1.0);
	s = sqrt(-2.0 * log(s) / s);
	*spare = v * s;
	return u * s;
}

static void make_kernel(double kernel[KERNEL], double *ret_norm)
{
	double next[KERNEL] = {0};
	uint32_t length = SCENE_SUB;

	memset(kernel, 0, KERNEL * sizeof(*kernel));
	for (uint32_t i = 0; i < SCENE_SUB; i++)
		kernel[i] = 1.0 / SCENE_SUB;
	for (int order = 1; order < 4; order++) {
		memset(next, 0, sizeof(next));
		for (uint32_t i = 0; i < length; i++)
			for (uint32_t j = 0; j < SCENE_SUB; j++)
				next[i + j] += kernel[i] / SCENE_SUB;
		length += SCENE_SUB - 1;
		memcpy(kernel, next, sizeof(next));
	}
	*ret_norm = 0.0;
	for (uint32_t i = 0; i < KERNEL; i++)
		*ret_norm += kernel[i] * kernel[i];
	*ret_norm = sqrt(*ret_norm);
}

static double clip01(double x)
{
	return fmax(0.0, fmin(1.0, x));
}

static double ringing(double t, double start, double amplitude)
{
	const double u = t - start;

	return u > 0.0 ? amplitude * exp(-u / 0.1) * sin(2.0 * PI * 18.0 * u) : 0.0;
}

struct hand {
	double stop_s, start_s, rate, phase, knock_s, drip_s[2];
	bool touches;
};

static struct hand draw_hand(uint64_t *state)
{
	struct hand hand;

	hand.stop_s = uniform(state, 4.5, 5.5);
	hand.start_s = uniform(state, 1.0, 1.3);
	hand.rate = 15.0 * uniform(state, 0.85, 1.0);
	hand.phase = uniform(state, 0.0, 1.0);
	hand.knock_s = hand.stop_s - uniform(state, 1.5, 3.0);
	hand.touches = uniform(state, 0.0, 1.0) < 0.3;
	for (int i = 0; i < 2; i++)
		hand.drip_s[i] = hand.stop_s + 0.2 - 0.5 * log(uniform(state, 0.0, 1.0));
	return hand;
}

static double hand_rate(const struct hand *hand, double t)
{
	const double taper = clip01((hand->stop_s - 1.55 - t) / 1.2 + 1.0);
	const double wobble = 1.0 + 0.06 * sin(2.0 * PI * (1.3 * t + hand->phase));

	return (2.0 + (hand->rate - 2.0) * taper) * clip01((t - hand->start_s) / 0.4) *
	       clip01((hand->stop_s - t) / 0.15) * wobble;
}

void scene_make(const struct scene_config *config, uint64_t seed, struct scene *ret)
{
	static double sensed[FINE_MAX], white[FINE_MAX + KERNEL];
	const double period_s = 1.0 / config->rate_hz, fine_s = period_s / SCENE_SUB;
	const uint32_t n = (uint32_t)fmin(config->duration_s * config->rate_hz, SCENE_SAMPLES_MAX);
	double kernel[KERNEL], norm, mass_g = 0.0, spare = (double)NAN;
	uint64_t state = seed * UINT64_C(0xD1342543DE82EF95) + 1;
	const struct hand hand = draw_hand(&state);
	uint32_t lost = 0;

	make_kernel(kernel, &norm);
	ret->n = 0;
	ret->stop_s = hand.stop_s;
	for (uint32_t i = 0; i < n * SCENE_SUB + KERNEL; i++)
		white[i] = normal(&state, &spare);
	for (uint32_t i = 0; i < n * SCENE_SUB; i++) {
		const double t = (double)i * fine_s;
		const double rate = config->kind == SCENE_POUR     ? hand_rate(&hand, t)
		                    : config->kind == SCENE_STREAM ? config->stream_g_per_s
		                                                   : 0.0;
		double dripped = 0.0, force;

		mass_g += rate * fine_s;
		for (int d = 0; d < 2; d++)
			dripped +=
			        config->kind == SCENE_POUR && config->drips && t >= hand.drip_s[d]
			                ? 0.03
			                : 0.0;
		force = mass_g + dripped + rate * LIP_S;
		sensed[i] = force;
		if (config->kind == SCENE_POUR && config->knocks)
			sensed[i] += ringing(t, hand.knock_s, 20.0) +
			             (hand.touches ? ringing(t, hand.stop_s + 0.05, 10.0) : 0.0);
		ret->final_g = mass_g + dripped;
		if (i % SCENE_SUB == SCENE_SUB - 1) {
			struct scene_sample *sample = &ret->sample[ret->n];
			double z = 0.0, e = 0.0;
			int64_t raw;

			for (uint32_t k = 0; k < KERNEL; k++) {
				z += kernel[k] * sensed[i >= k ? i - k : 0];
				e += kernel[k] * white[i + KERNEL - k];
			}
			z += config->noise_g * e / norm;
			raw = llround(z * SCENE_COUNTS_PER_G + SCENE_ZERO_COUNTS);
			if (lost > 0) {
				lost--;
				continue;
			}
			*sample = (struct scene_sample){.t_us = llround((t + fine_s) * 1e6),
			                                .right_counts = (int32_t)raw,
			                                .truth_g = mass_g + dripped,
			                                .force_g = force,
			                                .rate_g_per_s = rate};
			sample->corrupt = uniform(&state, 0.0, 1.0) < config->corrupt;
			if (sample->corrupt) {
				/* The true leading bits, then ones. */
				raw |= (INT64_C(1) << (int)uniform(&state, 9.0, 24.0)) - 1;
				lost = config->gaps ? 3 : 0;
			}
			sample->counts = (int32_t)raw;
			ret->n++;
		}
	}
}
