/* SPDX-License-Identifier: MIT */
#include "beam.h"

#include <math.h>

/* From the middle in notches for x half-bands: the slope is the same on both sides of
 * the notch. */
static double bent(double x, double k)
{
	return x <= 1.0 || k <= 0.0 ? x : 1.0 + k * log1p((x - 1.0) / k);
}

/* The k that brings x_start half-bands to `full` notches; 0 where linear does. */
static double find_k(double x_start, double full)
{
	double low = 1e-6, high = 1e6;

	if (x_start <= full)
		return 0.0;
	for (int i = 0; i < 80; i++) {
		double middle = sqrt(low * high);

		if (bent(x_start, middle) < full)
			low = middle;
		else
			high = middle;
	}
	return low;
}

void beam_scale_begin(enum beam_side side, double target_g, double low_g, double high_g,
                      double full_mm, struct beam_scale *ret)
{
	struct beam_scale scale = {.known = true,
	                           .side = side,
	                           .full_mm = fmax(full_mm, BEAM_NOTCHES_MM),
	                           .notch_mm = BEAM_NOTCHES_MM / 2.0 + 1.0};
	double least_g = target_g * 1e-4;

	scale.half_low_g = fmax(least_g, fmin(target_g - low_g, target_g));
	scale.half_high_g = fmax(least_g, fmin(high_g - target_g, target_g));
	scale.k = find_k(target_g / scale.half_low_g, scale.full_mm / scale.notch_mm);
	*ret = scale;
}

double beam_pointer_mm(const struct beam_scale *scale, double remaining_g)
{
	double half_g = remaining_g >= 0.0 ? scale->half_low_g : scale->half_high_g;
	double away = scale->notch_mm * bent(fabs(remaining_g) / half_g, scale->k);
	double towards_other = copysign(fmin(away, scale->full_mm), remaining_g);

	return scale->side == BEAM_A ? towards_other : -towards_other;
}

double beam_doubt_mm(const struct beam_scale *scale, double remaining_g, double doubt_g)
{
	double one = beam_pointer_mm(scale, remaining_g - doubt_g);
	double other = beam_pointer_mm(scale, remaining_g + doubt_g);

	return fabs(other - one) / 2.0;
}

double beam_tilt_rad(const struct beam_scale *scale, double remaining_g)
{
	return BEAM_TILT_RAD * beam_pointer_mm(scale, remaining_g) / scale->full_mm;
}

double beam_arm_a_share(double ratio_b_to_a)
{
	double r = ratio_b_to_a > 0.0 && isfinite(ratio_b_to_a) ? ratio_b_to_a : 1.0;

	return fmin(0.8, fmax(0.2, r / (1.0 + r)));
}
