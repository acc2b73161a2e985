/* SPDX-License-Identifier: MIT */
#include "cubic.h"

#include <math.h>
#include <stdbool.h>

double cubic_at(const struct cubic *cubic, double s)
{
	return (1.0 - s) * cubic->y0 + s * (cubic->y1 + (1.0 - s) * (cubic->c + s * cubic->d));
}

static void better(const struct cubic *cubic, double s, double *best, double *best_s)
{
	double y;

	if (!(s > 0.0 && s < 1.0))
		return;
	y = cubic_at(cubic, s);
	if (y > *best) {
		*best = y;
		*best_s = s;
	}
}

/* The slope is b + 2 (d - c) s - 3 d s2 with b = y1 - y0 + c. */
double cubic_max(const struct cubic *cubic, double *ret_s)
{
	double b = cubic->y1 - cubic->y0 + cubic->c, half = cubic->d - cubic->c;
	double under = half * half + 3.0 * cubic->d * b;
	double best = fmax(cubic->y0, cubic->y1);

	*ret_s = cubic->y1 >= cubic->y0 ? 1.0 : 0.0;
	if (under >= 0.0) {
		/* Without cancellation: the two roots multiply to -b / (3 d). */
		double q = half + copysign(sqrt(under), half);

		better(cubic, q / (3.0 * cubic->d), &best, ret_s);
		better(cubic, -b / q, &best, ret_s);
	}
	return best;
}

double cubic_passes(const struct cubic *cubic, double level)
{
	double low = 0.0, high = 1.0;
	bool rising = cubic->y0 < level;

	/* Bisection: 53 halvings are all a double has, and this runs once an event. */
	for (int i = 0; i < 53; i++) {
		double middle = 0.5 * (low + high);

		if ((cubic_at(cubic, middle) < level) == rising)
			low = middle;
		else
			high = middle;
	}
	return high;
}
