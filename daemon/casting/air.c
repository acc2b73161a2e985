/* SPDX-License-Identifier: MIT */
#include "air.h"

#include <errno.h>
#include <math.h>

#define MAGNUS_A 17.62
#define MAGNUS_B 243.12

double air_dew_point_degc(double air_degc, double humidity_pct)
{
	double gamma;

	if (!(air_degc >= -45.0 && air_degc <= 60.0) ||
	    !(humidity_pct > 0.0 && humidity_pct <= 100.0))
		return (double)NAN;
	gamma = log(humidity_pct / 100.0) + MAGNUS_A * air_degc / (MAGNUS_B + air_degc);
	return MAGNUS_B * gamma / (MAGNUS_A - gamma);
}

int air_warnings(double air_degc, double humidity_pct, double surface_degc)
{
	double dew = air_dew_point_degc(air_degc, humidity_pct);
	int warnings = 0;

	if (isnan(dew) || !isfinite(surface_degc))
		return -EINVAL;
	if (humidity_pct > AIR_HUMIDITY_CLEAR_PCT)
		warnings |= AIR_BLUSH;
	if (humidity_pct >= AIR_HUMIDITY_MAX_PCT)
		warnings |= AIR_TOO_HUMID;
	if (surface_degc < dew + AIR_OVER_DEW_MIN_K)
		warnings |= AIR_NEAR_DEW;
	return warnings;
}
