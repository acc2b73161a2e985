/* SPDX-License-Identifier: MIT */
#include "zero.h"

#include <errno.h>
#include <math.h>

void zero_init(struct zero *zero, bool tracking)
{
	*zero = (struct zero){.tracking = tracking};
}

int zero_set(struct zero *zero, double mass_g, double max_g)
{
	if (!(fabs(mass_g) <= ZERO_RANGE * max_g))
		return -ERANGE;
	zero->zero_g = zero->set_g = mass_g;
	zero->tare_g = 0.0;
	return 0;
}

void zero_track(struct zero *zero, int64_t t_us, double mass_g, bool settled, double max_g,
                double interval_g)
{
	const double gross_g = mass_g - zero->zero_g;
	const double range_g = ZERO_TRACKING_RANGE * max_g;
	double step_g;

	if (!zero->tracking || !settled || fabs(gross_g) > 0.5 * interval_g) {
		zero->tracked_us = 0;
		return;
	}
	if (zero->tracked_us > 0) {
		step_g = ZERO_TRACKING_D_PER_S * interval_g * (double)(t_us - zero->tracked_us) *
		         1e-6;
		zero->zero_g += fmax(-step_g, fmin(step_g, gross_g));
		zero->zero_g =
		        fmax(zero->set_g - range_g, fmin(zero->set_g + range_g, zero->zero_g));
	}
	zero->tracked_us = t_us;
}
