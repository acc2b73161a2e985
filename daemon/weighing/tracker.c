/* SPDX-License-Identifier: MIT */
#include "tracker.h"

#include "noise.h"

#include <math.h>
#include <stdlib.h>

/* A hand's change of rate, as sd of the acceleration: at 80 samples/s the whole
 * of it pays; at 10 a little less does. Found by simulation. */
#define ACCELERATION_SD      30.0 /* g/s^2 */
#define ACCELERATION_SD_SLOW 20.0
/* Innovations are clipped at this many of their own sd. At 10 samples/s a
 * bend of the pour exceeds any clip that would stop a knock. */
#define CLIP_SD            4.0
#define CLIP_SD_SLOW       25.0
#define STEP_RUN           6
#define STEP_RUN_SLOW      4
#define SLOW_PERIOD_S      0.04 /* below 25 samples/s */
#define EXTRAPOLATED_MAX_S 0.5  /* a rate says nothing about after a long silence */

/* Faster than a usual pour is a knock, or a load that a hand sets down within a quarter
 * of a second: they do not run on. A stream does, once it has made so many steps one
 * soon after the other. */
#define POUR_USUAL_G_PER_S 25.0
#define POUR_MAX_G_PER_S   100.0
#define STREAM_STEPS       3
#define STEP_AGAIN         10u /* samples */

#define GROUP_DELAY 2.0 /* periods: a sinc^4 is four long */

void tracker_init(struct tracker *tracker, int64_t t_us, double mass_g)
{
	*tracker = (struct tracker){.now = {.t_us = t_us, .mass_g = mass_g}};
	tracker->before = tracker->now;
}

void tracker_restart(struct tracker *tracker, double mass_g, double rate_g_per_s)
{
	tracker->now.mass_g = mass_g;
	tracker->now.rate_g_per_s = rate_g_per_s;
	tracker->now.run = 0;
}

/* Steady-state variances of an alpha-beta filter in white noise (Kalata 1984),
 * times the noise's colour: the filter sees little but its low frequencies. */
static void tune_sd(struct tracker *tracker)
{
	const double a = tracker->alpha, b = tracker->beta, T = tracker->period_s;
	const double lead_s = GROUP_DELAY * T;
	const double sd = NOISE_COLOUR * tracker->noise_g;
	const double denominator = a * (4.0 - 2.0 * a - b);
	const double mass = (2.0 * a * a + b * (2.0 - 3.0 * a)) / denominator;
	const double rate = 2.0 * b * b / (T * T * denominator);
	const double both = b * (2.0 * a - b) / (T * denominator);

	tracker->mass_sd_g = sd * sqrt(mass + 2.0 * lead_s * both + lead_s * lead_s * rate);
	tracker->rate_sd_g_per_s = sd * sqrt(rate);
}

void tracker_tune(struct tracker *tracker, double noise_g, double period_s)
{
	const bool slow = period_s > SLOW_PERIOD_S;
	double index, r;

	/* One part in a thousand changes nothing one could see. */
	if (fabs(noise_g - tracker->noise_g) <= 1e-3 * noise_g &&
	    fabs(period_s - tracker->period_s) <= 1e-3 * period_s)
		return;
	tracker->noise_g = noise_g;
	tracker->period_s = period_s;
	index = period_s * period_s * (slow ? ACCELERATION_SD_SLOW : ACCELERATION_SD) / noise_g;
	r = (4.0 + index - sqrt(8.0 * index + index * index)) / 4.0;
	tracker->alpha = 1.0 - r * r;
	tracker->beta = 2.0 * (2.0 - tracker->alpha) - 4.0 * r;
	tracker->clip_g = (slow ? CLIP_SD_SLOW : CLIP_SD) * noise_g / r;
	tune_sd(tracker);
}

double tracker_predicted_g(const struct tracker *tracker, int64_t t_us)
{
	const double ahead_s = (double)(t_us - tracker->now.t_us) * 1e-6;

	return tracker->now.mass_g + tracker->now.rate_g_per_s * fmin(ahead_s, EXTRAPOLATED_MAX_S);
}

/* The rate between the oldest and the newest of the recent samples. */
static double recent_rate(const struct track *track)
{
	const uint32_t newest = (track->n - 1) % TRACKER_RECENT;
	const uint32_t oldest = track->n < TRACKER_RECENT ? 0 : track->n % TRACKER_RECENT;
	const double time_s = (double)(track->fed_us[newest] - track->fed_us[oldest]) * 1e-6;
	const double rate = (track->fed_g[newest] - track->fed_g[oldest]) / fmax(time_s, 1e-6);
	const bool streams = abs(track->steps) >= STREAM_STEPS;

	return fabs(rate) <= (streams ? POUR_MAX_G_PER_S : POUR_USUAL_G_PER_S) ? rate : 0.0;
}

bool tracker_feed(struct tracker *tracker, int64_t t_us, double mass_g)
{
	const double predicted_g = tracker_predicted_g(tracker, t_us);
	const double innovation_g = mass_g - predicted_g;
	const double clipped_g = fmax(-tracker->clip_g, fmin(tracker->clip_g, innovation_g));
	const int32_t side = innovation_g > 0.0 ? 1 : -1;

	tracker->before = tracker->now;
	tracker->now.fed_us[tracker->now.n % TRACKER_RECENT] = t_us;
	tracker->now.fed_g[tracker->now.n % TRACKER_RECENT] = mass_g;
	tracker->now.n++;
	tracker->now.t_us = t_us;
	tracker->now.mass_g = predicted_g + tracker->alpha * clipped_g;
	tracker->now.rate_g_per_s += tracker->beta / tracker->period_s * clipped_g;

	if (fabs(innovation_g) <= tracker->clip_g)
		tracker->now.run = 0;
	else
		tracker->now.run = tracker->now.run * side > 0 ? tracker->now.run + side : side;
	if (tracker->now.run * side <
	    (tracker->period_s > SLOW_PERIOD_S ? STEP_RUN_SLOW : STEP_RUN))
		return false;
	if (tracker->now.steps * side < 0 || tracker->now.n - tracker->now.step_n > STEP_AGAIN)
		tracker->now.steps = 0;
	tracker->now.steps += side;
	tracker->now.step_n = tracker->now.n;
	tracker_restart(tracker, mass_g, recent_rate(&tracker->now));
	return true;
}

void tracker_take_back(struct tracker *tracker)
{
	tracker->now = tracker->before;
}

double tracker_mass_g(const struct tracker *tracker)
{
	return tracker->now.mass_g + tracker->now.rate_g_per_s * GROUP_DELAY * tracker->period_s;
}
