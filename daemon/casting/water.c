/* SPDX-License-Identifier: MIT */
#include "water.h"

#include <math.h>

double water_density_g_per_ml(double degc)
{
	double from_max = degc - 3.983035;

	if (!(degc >= WATER_MIN_DEGC && degc <= WATER_MAX_DEGC))
		return (double)NAN;
	return 0.999974950 *
	       (1.0 - from_max * from_max * (degc + 301.797) / (522528.9 * (degc + 69.34881)));
}

double water_volume_ml(double water_g, double degc)
{
	return water_g / water_density_g_per_ml(degc);
}
