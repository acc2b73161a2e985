/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_TRACKER_H
#define AMBO_WEIGHING_TRACKER_H

#include <stdbool.h>
#include <stdint.h>

/* Mass and rate while something moves: an alpha-beta filter with the gains of
 * the tracking index (P. R. Kalata, "The tracking index", IEEE Trans. AES-20,
 * 1984, p. 174):
 *   L = T^2 sd_a / sd_v,  r = (4 + L - sqrt(8 L + L^2)) / 4,
 *   alpha = 1 - r^2,  beta = 2 (2 - alpha) - 4 sqrt(1 - alpha).
 * Innovations are clipped, so that a knock shakes it only a little; a run of
 * clipped ones to one side is real, and it starts again there, with the rate of
 * the newest samples: a load put down stands still, a sudden stream runs on. */

#define TRACKER_RECENT 4u /* samples: a rate to start again with after a step */

struct track {
	double mass_g; /* as the converter gives it: its filter's delay behind */
	double rate_g_per_s;
	int64_t t_us;
	int32_t run;                    /* clipped innovations in a row, signed by their side */
	int32_t steps;                  /* one soon after the other, signed by their side */
	uint32_t step_n;                /* samples fed by the last */
	uint32_t n;                     /* samples fed so far */
	int64_t fed_us[TRACKER_RECENT]; /* the newest of them, the slot being n modulo its size */
	double fed_g[TRACKER_RECENT];
};

struct tracker {
	struct track now, before; /* before: without the newest sample */
	double period_s, noise_g; /* what the gains below were worked out for */
	double alpha, beta, clip_g;
	double mass_sd_g, rate_sd_g_per_s; /* noise only, of the extrapolated mass */
};

void tracker_init(struct tracker *tracker, int64_t t_us, double mass_g);

/* Start again from a known mass and rate, as when rest ends. */
void tracker_restart(struct tracker *tracker, double mass_g, double rate_g_per_s);

/* Work out the gains for a noise and a period, both > 0; cheap when unchanged. */
void tracker_tune(struct tracker *tracker, double noise_g, double period_s);

/* Feed a good sample, in order of time. True when a step made it start again. */
bool tracker_feed(struct tracker *tracker, int64_t t_us, double mass_g);

/* The newest sample was no good after all. Once after a feed. */
void tracker_take_back(struct tracker *tracker);

/* Where the next sample is expected at @t_us. */
double tracker_predicted_g(const struct tracker *tracker, int64_t t_us);

/* The mass now: the filter's group delay of two sample periods is extrapolated. */
double tracker_mass_g(const struct tracker *tracker);

#endif
