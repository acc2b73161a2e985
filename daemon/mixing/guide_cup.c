/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

/* Cup: the empty pan is read, then the cup, afresh, once it is dry and cool: the
 * slope over 5 s must lie inside its doubt. No press is needed. */

#define SLOPE_LEAST_G 0.005 /* over 5 s: below what any scale for this job can tell */

static void pan_reading(struct guide *guide)
{
	const struct reading *now = &guide->reading;

	if (!pour_settled(guide) || fabs(now->gross_g) >= CUP_LEAST_G)
		return; /* the message says to clear the pan, or to wait */
	if (ledger_point(guide, now->gross_g, guide->u_g) < 0)
		return;
	guide->pan_g = now->gross_g;
	guide->pan_known = true;
	guide_go(guide, GUIDE_CUP, PHASE_PLACE);
}

static void watch_from_now(struct guide *guide)
{
	guide->slope_known = true;
	guide->slope_us = guide->reading.t_us;
	guide->slope_gross_g = guide->reading.gross_g;
	guide->slope_sd_g = guide->reading.sd_g;
}

/* The mean of a settled value trails a slope by half: two of them 5 s apart differ
 * by at least half of what dried in between. */
static bool slope_is_told(struct guide *guide)
{
	const struct reading *now = &guide->reading;
	double moved_g = now->gross_g - guide->slope_gross_g, doubt_g, passed_s;

	if (!guide->slope_known || fabs(moved_g) >= CUP_LEAST_G) {
		guide->drying_g_per_min = 0.0; /* another cup, or the first */
		watch_from_now(guide);
		return false;
	}
	if (now->t_us - guide->slope_us < CUP_WATCH_US)
		return false;
	doubt_g = 3.0 * sqrt(now->sd_g * now->sd_g + guide->slope_sd_g * guide->slope_sd_g);
	passed_s = (double)(now->t_us - guide->slope_us) * 1e-6;
	guide->drying_g_per_min = fabs(moved_g) <= fmax(doubt_g, SLOPE_LEAST_G)
	                                  ? 0.0
	                                  : 60.0 * fabs(moved_g) / passed_s;
	watch_from_now(guide);
	return guide->drying_g_per_min == 0.0;
}

static void place_reading(struct guide *guide)
{
	const struct reading *now = &guide->reading;
	double load_g = now->gross_g - guide->pan_g;

	if (load_g < CUP_LEAST_G) {
		guide->slope_known = false;
		guide->drying_g_per_min = 0.0;
		if (pour_settled(guide) && fabs(now->gross_g) < CUP_LEAST_G)
			/* The newest empty pan counts: drift since the first is none of the cup. */
			ledger_move_point(guide, 0, now->gross_g, guide->u_g);
		guide->pan_g = guide->point[0].gross_g;
		return;
	}
	if (!pour_settled(guide))
		return;
	if (now->gross_g + guide->recipe.total_g * (1.0 + guide->recipe.tint_pct / 100.0) >
	    guide->recipe.max_g) {
		guide->slope_known = false;
		return;
	}
	if (!slope_is_told(guide) || ledger_point(guide, now->gross_g, guide->u_g) < 0)
		return;
	guide->cup_g = load_g;
	guide->cup_known = true;
	pour_accept(guide);
	guide->start_point = 1;
	charge_enter(guide, 0, guide->identity);
}

void cup_reading(struct guide *guide)
{
	if (guide->phase == PHASE_PAN)
		pan_reading(guide);
	else
		place_reading(guide);
}
