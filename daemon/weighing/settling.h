/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_SETTLING_H
#define AMBO_WEIGHING_SETTLING_H

#include "reading.h"

#include <stdbool.h>
#include <stdint.h>

/* Is it still, since when, and how much is it then?
 *
 *             no stream of 0.9 g/s              no stream of 0.2 g/s
 *   UNSETTLED ────────────────────► PROVISIONAL ────────────────────► SETTLED
 *       ▲                                │                               │
 *       └────────────────────────────────┴───────── the change test ─────┘
 *
 * Still means: some straight line through the newest samples is so level that
 * the slowest stream to be told from rest is excluded, and the samples scatter
 * about it no more than the noise. Short lines decide early when they can,
 * longer ones later; how long they must be follows from noise and period. The
 * value is the mean of everything since; a two-sided cumulative sum of its
 * clipped residuals finds the next change. Its limit is that of coloured noise:
 * what is usual for white noise cries wolf. A rest that ended slowly, without a
 * pour, was a trickle: the next has to exclude half the stream. */

#define SETTLING_RING 256u /* samples */

struct rest {
	enum reading_state state; /* never READING_FAULT */
	double mean_g;            /* while provisional or settled */
	double drift_g_per_s;     /* of the zero: followed, and kept from rest to rest */
	double level_g, level_n;  /* what the change test compares with, and its worth */
	double n;                 /* samples the mean is worth */
	double up, down;          /* the cumulative sums, in sd */
	int64_t since_us;         /* the oldest sample in the mean */
	bool trickling;           /* the last rest ended slowly, and not after a pour */
	bool poured;              /* the next line is set */
	int64_t poured_us;        /* when it last ran faster than a trickle */
	double slope_g_per_s;     /* of a short line, when a rest ended */
};

struct settling {
	struct rest rest, before; /* before: without the newest sample */
	uint32_t fill, next;
	int64_t t_us[SETTLING_RING];
	double mass_g[SETTLING_RING];
};

void settling_init(struct settling *settling);

/* Feed a good sample, in order of time. @noise_g: sd of one; @noise_upper_g: as
 * much as it may be, which the change test assumes; @period_s; all > 0. True when
 * this sample ended a rest. */
bool settling_feed(struct settling *settling, int64_t t_us, double mass_g, double noise_g,
                   double noise_upper_g, double period_s);

/* The newest sample was no good after all. Once after a feed. */
void settling_take_back(struct settling *settling);

/* Rest has ended, as is known from elsewhere (a sudden load). */
void settling_disturb(struct settling *settling);

#endif
