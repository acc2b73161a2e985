/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

/* A pour has a slope: the integral of the rate explains the gain. A thing put down
 * has none: the tracker restarts at its new place with rate 0. */

#define POUR_FASTEST_G_PER_S 50.0 /* what changes faster is set down, not poured */
#define POUR_FREE_GAIN_G     1.0  /* drips, and splashes too short for a rate */
#define POUR_LATE_S          0.5  /* of flow the tracker may miss at each end */
#define POUR_LEAST_SHARE     0.5  /* of the gain that the integral must reach */

#define PROGRESS_G 1.0 /* a pour rises by this in HAND_US; a hand does not, for long */
#define SWING_G    1.0 /* past both ends: it was knocked */

/* Cue: see physics, "what a person can see, hear and do". */
#define REACTION_S      0.23 /* simple reaction, by ear (handbook, from memory) */
#define OUTPUT_DELAY_S  0.02
#define HALF_TIP_BACK_S 0.125
#define DRIP_G          0.05

double pour_doubt_g(const struct guide *guide)
{
	return fmax(2.0 * sqrt(2.0) * guide->u_g, guide->recipe.interval_g);
}

double pour_floor_g(const struct guide *guide)
{
	return fmax(0.3, 6.0 * guide->u_g);
}

bool pour_settled(const struct guide *guide)
{
	return guide->reading.known && guide->reading.state == READING_SETTLED;
}

bool pour_rested(const struct guide *guide)
{
	return pour_settled(guide) &&
	       guide->reading.t_us - guide->reading.still_since_us >= REST_US;
}

static void feed_period(struct guide *guide, int64_t step_us)
{
	if (step_us <= 0 || step_us > US_PER_S)
		return;
	if (guide->period_us <= 0.0)
		guide->period_us = (double)step_us;
	guide->period_us += ((double)step_us - guide->period_us) / 16.0;
}

void pour_feed(struct guide *guide, const struct reading *before)
{
	const struct reading *now = &guide->reading;
	struct guide_rest *rest = &guide->rest;
	int64_t step_us = before->known ? now->t_us - before->t_us : 0;

	feed_period(guide, step_us);
	if (!now->known || now->state == READING_FAULT)
		return;
	if (now->state != READING_UNSETTLED)
		rest->still_g = now->gross_g;
	if (now->state == READING_SETTLED) {
		rest->progress_us = guide->t_us;
	} else if (now->gross_g > rest->peak_g + PROGRESS_G) {
		rest->peak_g = now->gross_g;
		rest->progress_us = guide->t_us;
	}
	/* The first rate after a rest is the change test's guess: at ten samples a second
	 * a thing set down shows tens of grams a second there, for one sample. */
	rest->trough_g = fmin(rest->trough_g, now->gross_g);
	if (now->held || now->state != READING_UNSETTLED || before->state != READING_UNSETTLED ||
	    step_us <= 0)
		return;
	/* Signed, so that a knock's swing adds up to nothing. */
	if (fabs(now->rate_g_per_s) <= POUR_FASTEST_G_PER_S) {
		rest->flow_g += now->rate_g_per_s * fmin((double)step_us * 1e-6, 0.5);
		rest->fastest_g_per_s = fmax(rest->fastest_g_per_s, now->rate_g_per_s);
	}
}

bool pour_swung(const struct guide *guide)
{
	double now_g = guide->reading.gross_g, was_g = guide->rest.gross_g;

	return guide->rest.peak_g > fmax(now_g, was_g) + SWING_G &&
	       guide->rest.trough_g < fmin(now_g, was_g) - SWING_G;
}

static bool is_explained(const struct guide *guide, double gain_g)
{
	const struct guide_rest *rest = &guide->rest;
	double slack_g = POUR_FREE_GAIN_G + 0.15 * gain_g + POUR_LATE_S * rest->fastest_g_per_s;

	return gain_g <= POUR_FREE_GAIN_G ||
	       (rest->flow_g >= POUR_LEAST_SHARE * gain_g && rest->flow_g >= gain_g - slack_g);
}

enum pan_change pour_change(const struct guide *guide)
{
	const struct guide_rest *rest = &guide->rest;
	double gain_g;

	if (!pour_settled(guide) || !rest->known)
		return CHANGE_UNTOLD;
	gain_g = guide->reading.gross_g - rest->gross_g;
	if (gain_g < -pour_floor_g(guide))
		return CHANGE_LOSS;
	if (fabs(gain_g) <= pour_doubt_g(guide))
		return CHANGE_NONE;
	if (is_explained(guide, gain_g))
		return CHANGE_POUR;
	return CHANGE_GAIN;
}

void pour_accept(struct guide *guide)
{
	guide->rest = (struct guide_rest){
	        .known = true,
	        .gross_g = guide->reading.gross_g,
	        .peak_g = guide->reading.gross_g,
	        .trough_g = guide->reading.gross_g,
	        .still_g = guide->reading.gross_g,
	        .progress_us = guide->t_us,
	};
}

bool pour_flowing(const struct guide *guide)
{
	const struct reading *now = &guide->reading;
	double gain_g = now->gross_g - guide->rest.gross_g, floor_g = pour_floor_g(guide);

	return now->known && now->state == READING_UNSETTLED && guide->rest.known &&
	       now->rate_g_per_s > 0.0 && gain_g > floor_g && guide->rest.flow_g > floor_g &&
	       is_explained(guide, gain_g);
}

bool pour_stopped(const struct guide *guide)
{
	return guide->reading.state != READING_UNSETTLED ||
	       fabs(guide->reading.gross_g - guide->rest.still_g) <= pour_floor_g(guide);
}

bool pour_lifted(const struct guide *guide)
{
	const struct reading *now = &guide->reading;
	double was_g;

	if (!guide->pan_known || !guide->cup_known || !now->known || now->state == READING_FAULT ||
	    now->state == READING_UNSETTLED)
		return false;
	was_g = fmax(guide->cup_g + ledger_contents_g(guide),
	             guide->rest.known ? guide->rest.gross_g - guide->pan_g : 0.0);
	return now->gross_g - guide->pan_g < 0.3 * was_g;
}

bool pour_hand(const struct guide *guide)
{
	return guide->reading.known && guide->rest.known && !pour_settled(guide) &&
	       guide->t_us - guide->rest.progress_us > HAND_US;
}

double pour_predicted_g(const struct guide *guide)
{
	const struct reading *now = &guide->reading;
	double late_s = REACTION_S + OUTPUT_DELAY_S + 0.5e-6 * guide->period_us + HALF_TIP_BACK_S;

	if (now->state != READING_UNSETTLED || now->rate_g_per_s <= 0.0)
		return now->gross_g;
	return now->gross_g + now->rate_g_per_s * late_s + DRIP_G;
}
