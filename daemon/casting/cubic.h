/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CUBIC_H
#define AMBO_CASTING_CUBIC_H

/* What one value does within a step, s from 0 to 1:
 * y = (1 - s) y0 + s (y1 + (1 - s) (c + s d)). */
struct cubic {
	double y0, y1, c, d;
};

double cubic_at(const struct cubic *cubic, double s);
/* The value and its place where it is greatest in 0..1. */
double cubic_max(const struct cubic *cubic, double *ret_s);
/* An s in 0..1 where the cubic passes level; it must lie below at one end and not below
 * at the other. */
double cubic_passes(const struct cubic *cubic, double level);

#endif
