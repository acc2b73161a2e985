/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_ZERO_H
#define AMBO_WEIGHING_ZERO_H

#include <stdbool.h>
#include <stdint.h>

/* What is taken off a calibrated mass: zero, and tare on top of it. */
struct zero {
	double zero_g;
	double set_g; /* zero_g as last set: tracking stays near it */
	double tare_g;
	bool tracking;
	int64_t tracked_us; /* when tracking last acted; 0: not at zero */
};

#define ZERO_RANGE            0.20 /* of Max: initial zero-setting (OIML R 76-1, 4.5.1) */
#define ZERO_TRACKING_RANGE   0.04 /* of Max: zero-setting and tracking in use (4.5.1, memory) */
#define ZERO_TRACKING_D_PER_S 0.5  /* OIML R 76-1, 4.5.7, from memory */

void zero_init(struct zero *zero, bool tracking);

/* @mass_g: calibrated, settled. 0, or -ERANGE farther than 20 % of Max from the
 * calibration's zero. The pan is empty then, so the tare is cleared. */
int zero_set(struct zero *zero, double mass_g, double max_g);

/* Let zero follow a settled mass that is at zero (within half an interval), at
 * most half an interval a second. With @settled false, only note the time. */
void zero_track(struct zero *zero, int64_t t_us, double mass_g, bool settled, double max_g,
                double interval_g);

#endif
