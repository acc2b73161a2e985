/* SPDX-License-Identifier: MIT */
#include "hum.h"

#include <math.h>

#define TWO_PI 6.283185307179586
/* Grids keep within a few tenths of their nominal frequency; the block resolves 0.3 Hz. */
#define AROUND_HZ 0.4
#define STEP_HZ   0.1

void hum_init(struct hum *hum)
{
	*hum = (struct hum){0};
}

void hum_break(struct hum *hum)
{
	hum->fill = 0;
}

static double seconds(const struct hum *hum, uint32_t i)
{
	return (double)(hum->t_us[i] - hum->t_us[0]) * 1e-6;
}

/* Takes the line through the block off; returns the sum of squares that is left. */
static double detrend(const struct hum *hum, double *left)
{
	double mean_t = 0.0, mean = 0.0, tt = 0.0, ty = 0.0, squares = 0.0;

	for (uint32_t i = 0; i < HUM_BLOCK; i++) {
		mean_t += seconds(hum, i) / HUM_BLOCK;
		mean += hum->mass_g[i] / HUM_BLOCK;
	}
	for (uint32_t i = 0; i < HUM_BLOCK; i++) {
		const double t = seconds(hum, i) - mean_t;

		tt += t * t;
		ty += t * (hum->mass_g[i] - mean);
	}
	for (uint32_t i = 0; i < HUM_BLOCK; i++) {
		left[i] = hum->mass_g[i] - mean - ty / tt * (seconds(hum, i) - mean_t);
		squares += left[i] * left[i];
	}
	return squares;
}

/* The greatest amplitude of a line near hz. */
static double line_g(const struct hum *hum, const double *left, double hz)
{
	double greatest = 0.0;

	for (double f = hz - AROUND_HZ; f <= hz + AROUND_HZ + 1e-9; f += STEP_HZ) {
		double c = 0.0, s = 0.0;

		for (uint32_t i = 0; i < HUM_BLOCK; i++) {
			const double phase = TWO_PI * f * seconds(hum, i);

			c += left[i] * cos(phase);
			s += left[i] * sin(phase);
		}
		greatest = fmax(greatest, 2.0 / HUM_BLOCK * sqrt(c * c + s * s));
	}
	return greatest;
}

static void look(struct hum *hum)
{
	static const double mains_hz[] = {50.0, 60.0};
	double left[HUM_BLOCK];
	const double squares = detrend(hum, left);

	hum->hz = hum->amplitude_g = hum->share = 0.0;
	for (int i = 0; i < 2 && squares > 0.0; i++) {
		const double amplitude_g = line_g(hum, left, mains_hz[i]);
		const double share = 0.5 * amplitude_g * amplitude_g * HUM_BLOCK / squares;

		if (share <= hum->share)
			continue;
		hum->share = share;
		hum->hz = share > HUM_SHARE ? mains_hz[i] : 0.0;
		hum->amplitude_g = share > HUM_SHARE ? amplitude_g : 0.0;
	}
}

bool hum_feed(struct hum *hum, int64_t t_us, double mass_g, double rate_hz)
{
	if (!(rate_hz >= HUM_RATE_MIN_HZ)) {
		hum_init(hum);
		return false;
	}
	hum->t_us[hum->fill] = t_us;
	hum->mass_g[hum->fill++] = mass_g;
	if (hum->fill < HUM_BLOCK)
		return false;
	look(hum);
	hum->fill = 0;
	return true;
}
