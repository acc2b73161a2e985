/* SPDX-License-Identifier: MIT */
#include "listen.h"

#include <math.h>

#define TWO_PI 6.283185307179586

size_t listen_notes(const float *samples, size_t n, double rate_hz, double threshold, double gap_s,
                    struct heard *ret, size_t max)
{
	size_t found = 0, gap = (size_t)(gap_s * rate_hz), last = 0;

	for (size_t i = 0; i < n; i++) {
		if (fabs((double)samples[i]) <= threshold)
			continue;
		if (found == 0 || i - last > gap) {
			if (found < max)
				ret[found].begin = i;
			found++;
		}
		if (found <= max)
			ret[found - 1].end = i + 1;
		last = i;
	}
	return found;
}

/* |X(f)|^2 of the plain sum. */
static double square(const float *samples, size_t n, double turns)
{
	double c = 2.0 * cos(TWO_PI * turns), s1 = 0.0, s2 = 0.0;

	for (size_t i = 0; i < n; i++) {
		double s0 = (double)samples[i] + c * s1 - s2;

		s2 = s1;
		s1 = s0;
	}
	return s1 * s1 + s2 * s2 - c * s1 * s2;
}

double listen_power(const float *samples, size_t n, double rate_hz, double hz)
{
	return 2.0 * square(samples, n, hz / rate_hz) / ((double)n * (double)n);
}

double listen_pitch(const float *samples, size_t n, double rate_hz, double from_hz, double to_hz)
{
	double best = -1.0, best_hz = from_hz;

	for (double hz = from_hz; hz <= to_hz; hz += 2.0) {
		double power = listen_power(samples, n, rate_hz, hz);

		if (power > best) {
			best = power;
			best_hz = hz;
		}
	}
	return best_hz;
}

/* Parseval: the energy is the sum over all n bins, each but two of which come twice. */
double listen_share(const float *samples, size_t n, double rate_hz, double from_hz, double to_hz)
{
	double energy = 0.0, within = 0.0;

	for (size_t i = 0; i < n; i++)
		energy += (double)samples[i] * (double)samples[i];
	for (size_t k = 0; 2 * k < n; k++) {
		double hz = (double)k * rate_hz / (double)n;

		if (hz >= from_hz && hz <= to_hz)
			within += 2.0 * square(samples, n, (double)k / (double)n) / (double)n;
	}
	return energy > 0.0 ? within / energy : 0.0;
}

double listen_step(const float *samples, size_t n)
{
	double step = 0.0;

	for (size_t i = 1; i < n; i++)
		step = fmax(step, fabs((double)samples[i] - (double)samples[i - 1]));
	return step;
}
