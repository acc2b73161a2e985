/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_SETTLING_H
#define AMBO_WEIGHING_SETTLING_H

#include "reading.h"

#include <stdbool.h>
#include <stdint.h>

/* Is it still, since when, and how much is it then?
 *
 *              short window level           long window level
 *   UNSETTLED ────────────────► PROVISIONAL ───────────────► SETTLED
 *       ▲                            │                          │
 *       └────────────────────────────┴──── the change test ─────┘
 *
 * Still means: the slope of a straight line through the newest samples is too
 * small for the slowest stream that must be told from rest, and they scatter no
 * more than the noise. How long the windows are follows from the noise and the
 * period. The value is the mean of everything since; a two-sided cumulative sum
 * of its clipped residuals finds the next change. The sums' limits are those of
 * coloured noise: what is usual for white noise cries wolf. */

#define SETTLING_RING 256u /* samples */

struct settling {
	enum reading_state state; /* never READING_FAULT */
	double mean_g;            /* while provisional or settled */
	double drift_g_per_s;     /* the slow drift the mean follows once it is long */
	double n;                 /* samples the mean is worth */
	double up, down;          /* the cumulative sums, in sd */
	int64_t since_us;         /* the oldest sample in the mean */
	int64_t settled_us;       /* when it became settled */
	bool trickling;           /* rest ended slowly: ask for more before the next */
	double slope_g_per_s;     /* of the short window, while unsettled */

	uint32_t fill, next;
	int64_t t_us[SETTLING_RING];
	double mass_g[SETTLING_RING];
};

void settling_init(struct settling *settling);

/* Feed a good sample, in order of time. @noise_g: sd of one; @period_s; both > 0.
 * True when this sample ended a rest. */
bool settling_feed(struct settling *settling, int64_t t_us, double mass_g, double noise_g,
                   double period_s);

/* Rest has ended, as is known from elsewhere (a sudden load). */
void settling_disturb(struct settling *settling);

#endif
