/* SPDX-License-Identifier: MIT */
#include "optical.h"

#include <errno.h>
#include <math.h>

int optical_eps(const struct optical_chip *chip, double *ret_eps)
{
	if (!(chip->dose_pct > 0.0 && chip->thickness_mm > 0.0) ||
	    !(chip->transmitted > 0.0 && chip->transmitted < 1.0))
		return -EINVAL;
	*ret_eps = -log10(chip->transmitted) / (chip->dose_pct * chip->thickness_mm);
	return 0;
}

int optical_eps_range(const struct optical_chip *one, const struct optical_chip *other,
                      struct optical_range *ret_eps)
{
	double a, b;

	if (one->thickness_mm == other->thickness_mm || optical_eps(one, &a) < 0 ||
	    optical_eps(other, &b) < 0)
		return -EINVAL;
	ret_eps->low = fmin(a, b);
	ret_eps->high = fmax(a, b);
	return 0;
}

struct optical_range optical_seen(const struct optical_layer *layers, size_t n, int passes)
{
	double low = 0.0, high = 0.0;

	for (size_t i = 0; i < n; i++) {
		double path = layers[i].dose_pct * layers[i].thickness_mm * passes;

		low += layers[i].eps_low * path;
		high += layers[i].eps_high * path;
	}
	return (struct optical_range){.low = pow(10.0, -high), .high = pow(10.0, -low)};
}
