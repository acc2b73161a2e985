/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_DRAW_H
#define AMBO_CASTING_DRAW_H

#include <stdint.h>

/* Points spread evenly over a box, the same for the same seed on every machine: an
 * additive recurrence by the square roots of the first primes (Richtmyer 1951; from
 * memory), shifted by the seed. Evener than random points, so that 300 of them tell a
 * percentile as well as thousands would. */

#define DRAW_DIMENSIONS 6

struct draw {
	double shift[DRAW_DIMENSIONS];
	double stride[DRAW_DIMENSIONS];
};

void draw_init(struct draw *draw, uint64_t seed);

/* Coordinate dimension of point i, in [0, 1). */
double draw_uniform(const struct draw *draw, unsigned i, unsigned dimension);

double draw_between(double uniform, double low, double high);
double draw_log_between(double uniform, double low, double high);

#endif
