/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

/* What a client may show: step, message and verdict as they stand, the rest from the
 * newest reading. */

#define NEAR_SHARE 0.20
#define NEAR_S     3.0

static enum press_meaning charge_press_meaning(const struct guide *guide)
{
	switch (guide->phase) {
	case PHASE_BY_EYE:
	case PHASE_RESTED:
		return PRESS_NEXT;
	case PHASE_TOO_MUCH:
		return guide->top_up.fits ? PRESS_TOP_UP : PRESS_NOTHING;
	case PHASE_STUCK:
		return PRESS_ACCEPT;
	case PHASE_VERDICT:
		return PRESS_STIR;
	case PHASE_NONE:
	case PHASE_PAN:
	case PHASE_PLACE:
	case PHASE_LIVE:
	case PHASE_SPILL:
	case PHASE_STIRRING:
	case PHASE_POURING:
	case PHASE_EMPTIED:
	case PHASE_COUNT:
		break;
	}
	return PRESS_NOTHING;
}

/* A tap that comes twice, or for what the pan has just answered by itself: nobody has
 * stirred or poured so soon. */
static bool is_same_press(const struct guide *guide)
{
	return guide->t_us - guide->touched_us < SAME_PRESS_US;
}

enum press_meaning guide_press_meaning(const struct guide *guide)
{
	if (guide->message.id == MESSAGE_LIFE_OVER)
		return PRESS_ACCEPT;
	switch (guide->step) {
	case GUIDE_READY:
		return PRESS_START;
	case GUIDE_CHARGE:
	case GUIDE_TOP_UP:
		return charge_press_meaning(guide);
	case GUIDE_STIR:
		if (guide->phase == PHASE_SPILL)
			return PRESS_ACCEPT;
		return is_same_press(guide) ? PRESS_NOTHING : PRESS_STIRRED;
	case GUIDE_POUR:
		return is_same_press(guide) ? PRESS_NOTHING : PRESS_POURED;
	case GUIDE_HELD:
		return hold_press_meaning(guide);
	case GUIDE_CUP:
	case GUIDE_DONE:
	case GUIDE_DISCARDED:
		break;
	}
	return PRESS_NOTHING;
}

static enum cue live_cue(const struct guide *guide, const struct charge_target *target)
{
	double remaining_g = target->target_g - target->dispensed_g;
	double rate = guide->reading.state == READING_UNSETTLED
	                      ? fmax(0.0, guide->reading.rate_g_per_s)
	                      : 0.0;

	if (guide->tip_back)
		return CUE_TIP_BACK;
	if (remaining_g <= fmax(NEAR_SHARE * target->target_g, NEAR_S * rate))
		return CUE_NEAR;
	return CUE_POUR;
}

static enum cue charge_cue(const struct guide *guide, const struct charge_target *target)
{
	switch (guide->phase) {
	case PHASE_LIVE:
	case PHASE_BY_EYE:
		return live_cue(guide, target);
	case PHASE_RESTED:
		return pour_flowing(guide) ? live_cue(guide, target) : CUE_IN_BAND;
	case PHASE_VERDICT:
		return guide->verdict == VERDICT_WITHIN || guide->verdict == VERDICT_NONE
		               ? CUE_IN_BAND
		               : CUE_TOO_MUCH;
	case PHASE_TOO_MUCH:
	case PHASE_STUCK:
		return CUE_TOO_MUCH;
	case PHASE_NONE:
	case PHASE_PAN:
	case PHASE_PLACE:
	case PHASE_SPILL:
	case PHASE_STIRRING:
	case PHASE_POURING:
	case PHASE_EMPTIED:
	case PHASE_COUNT:
		break;
	}
	return CUE_NONE;
}

static enum cue find_cue(const struct guide *guide, const struct charge_target *target)
{
	if (guide->message.id == MESSAGE_LIFE_OVER)
		return CUE_HAZARD;
	switch (guide->step) {
	case GUIDE_HELD:
		return guide->reading.state == READING_FAULT ||
		                       guide->held.id == MESSAGE_SCALE_SILENT
		               ? CUE_SILENT
		               : CUE_HELD;
	case GUIDE_CHARGE:
	case GUIDE_TOP_UP:
		return charge_cue(guide, target);
	case GUIDE_STIR:
		return guide->phase == PHASE_SPILL ? CUE_HELD : CUE_NONE;
	case GUIDE_READY:
	case GUIDE_CUP:
	case GUIDE_POUR:
	case GUIDE_DONE:
	case GUIDE_DISCARDED:
		break;
	}
	return CUE_NONE;
}

static double seconds_left(int64_t now_us, int64_t end_us)
{
	return end_us > now_us ? (double)(end_us - now_us) * 1e-6 : 0.0;
}

static void look_at_charge(const struct guide *guide, const struct charge_target *target,
                           struct guide_view *ret)
{
	/* Nothing remains once all is in: the cup may already be on its way up. */
	if (guide->phase == PHASE_STUCK || guide->phase == PHASE_VERDICT)
		return;
	ret->has |= VIEW_HAS_TARGET | VIEW_HAS_DISPENSED;
	ret->target_g = target->target_g;
	ret->dispensed_g = target->dispensed_g;
	ret->remaining_g = target->target_g - target->dispensed_g;
	ret->band_low_g = target->low_g;
	ret->band_high_g = target->high_g;
	if (guide->reading.state != READING_FAULT) {
		ret->has |= VIEW_HAS_PREDICTED;
		ret->predicted_g =
		        pour_predicted_g(guide) - guide->point[guide->start_point].gross_g;
	}
}

void guide_look(const struct guide *guide, struct guide_view *ret)
{
	bool held = guide->step == GUIDE_HELD;
	enum guide_step step = held ? guide->resume_step : guide->step;
	bool charging = step == GUIDE_CHARGE || step == GUIDE_TOP_UP;
	struct charge_target target = {0};
	struct ratio ratio;

	*ret = (struct guide_view){
	        .step = guide->step,
	        .charge = guide->charge,
	        .component = guide->wanted,
	        .message = guide->message,
	        .verdict = guide->verdict,
	        .provisional = guide->provisional,
	        .press = guide_press_meaning(guide),
	};
	if (charging && guide->cup_known && guide->reading.known) {
		charge_target(guide, &target);
		look_at_charge(guide, &target, ret);
	}
	ret->cue = find_cue(guide, &target);
	if ((charging ? ledger_ratio_live(guide, guide->reading.gross_g, &ratio)
	              : ledger_ratio(guide, &ratio)) == 0 &&
	    ratio.hardener_g > 0.0 && ratio.resin_g > 0.0) {
		ret->has |= VIEW_HAS_DEVIATION;
		ret->deviation_pct = ratio.deviation_pct;
		ret->u_deviation_pct = ratio.u_deviation_pct;
	}
	if (guide->life_start_us >= 0) {
		ret->has |= VIEW_HAS_LIFE;
		ret->working_life_left_s = seconds_left(guide->t_us, guide->life_end_us);
	}
	if (step == GUIDE_STIR) {
		ret->has |= VIEW_HAS_STIR;
		ret->stir_left_s = seconds_left(
		        guide->t_us,
		        guide->stir_start_us + (int64_t)(guide->recipe.stir_s * (double)US_PER_S));
	}
}
