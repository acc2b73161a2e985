/* SPDX-License-Identifier: MIT */
#include "calibration.h"

#include <errno.h>
#include <math.h>

double calibration_mass_g(const struct calibration *calibration, double counts)
{
	double d = counts - calibration->zero_counts;

	return d * (calibration->g_per_count + calibration->g_per_count2 * d);
}

/* d of c d^2 + b d - m = 0, the root that goes to m / b as c vanishes, in the
 * form that neither cancels nor divides by c. */
double calibration_counts(const struct calibration *calibration, double mass_g)
{
	double b = calibration->g_per_count, c = calibration->g_per_count2;

	if (c == 0.0)
		return calibration->zero_counts + mass_g / b;
	return calibration->zero_counts + 2.0 * mass_g / (b + sqrt(b * b + 4.0 * c * mass_g));
}

int calibration_check(const struct calibration *calibration, double max_g)
{
	double b = calibration->g_per_count, c = calibration->g_per_count2;

	if (calibration->degree != 1 && calibration->degree != 2)
		return -EINVAL;
	if (!isfinite(calibration->zero_counts) || !isfinite(b) || !isfinite(c) || b <= 0.0)
		return -EINVAL;
	if (calibration->degree == 1 && c != 0.0)
		return -EINVAL;
	if (!isfinite(calibration->residual_sd_g) || calibration->residual_sd_g < 0.0)
		return -EINVAL;
	if (!isfinite(max_g) || max_g <= 0.0)
		return -EINVAL;
	/* The curve's slope at mass m is sqrt(b^2 + 4 c m): it must stay above 0 to
	 * either end of the pan's range, or two codes would mean the same mass. */
	if (b * b - 4.0 * fabs(c) * max_g <= 0.0)
		return -ERANGE;
	return 0;
}
