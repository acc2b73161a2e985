/* SPDX-License-Identifier: MIT */
#include "tint.h"

#include <errno.h>
#include <math.h>

#include "daemon/weighing/uncertainty.h"

double tint_max_pct(const struct resin_system *system)
{
	return system->tint_max_pct > 0.0 ? system->tint_max_pct : TINT_MAX_PCT;
}

double tint_dose_g(double mixed_g, double share_pct)
{
	if (!isfinite(mixed_g) || mixed_g <= 0.0 || !isfinite(share_pct) || share_pct < 0.0)
		return 0.0;
	return mixed_g * share_pct / 100.0;
}

double tint_share_pct(double tint_g, double mixed_g)
{
	if (!isfinite(mixed_g) || mixed_g <= 0.0 || !isfinite(tint_g) || tint_g < 0.0)
		return 0.0;
	return 100.0 * tint_g / mixed_g;
}

double tint_smallest_dose_g(double u_reading_g, double interval_g, double relative_pct)
{
	return uncertainty_minimum_mass_g(sqrt(2.0) * u_reading_g, interval_g, relative_pct);
}

static int above_zero(double value)
{
	return isfinite(value) && value > 0.0;
}

int tint_dilution(double dose_g, double smallest_dose_g, double carrier_max_g, double part_g,
                  struct tint_dilution *ret)
{
	double weighed_g, total_g;

	if (!above_zero(dose_g) || !above_zero(smallest_dose_g) || !above_zero(carrier_max_g) ||
	    !above_zero(part_g))
		return -EINVAL;
	if (dose_g >= smallest_dose_g)
		return -EALREADY;
	weighed_g = sqrt(3.0) * smallest_dose_g;
	total_g = weighed_g / dose_g * weighed_g; /* portion : total = dose : tint */
	if (!isfinite(total_g) || total_g - weighed_g > carrier_max_g ||
	    weighed_g - dose_g > part_g)
		return -ERANGE;
	*ret = (struct tint_dilution){
	        .tint_g = weighed_g,
	        .carrier_g = total_g - weighed_g,
	        .share_pct = 100.0 * dose_g / weighed_g,
	        .portion_g = weighed_g,
	        .portion_carrier_g = weighed_g - dose_g,
	        .left_over_g = total_g - weighed_g,
	};
	return 0;
}
