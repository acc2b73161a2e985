/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

/* The message follows from the state alone, so that it can never contradict it. */

#define RESTING_SHARE 0.02

bool life_over(const struct guide *guide)
{
	return guide->life_start_us >= 0 && guide->t_us >= guide->life_end_us;
}

static bool pour_soon(const struct guide *guide)
{
	int64_t life_us = guide->life_end_us - guide->life_start_us;

	return guide->life_start_us >= 0 &&
	       (double)(guide->t_us - guide->life_start_us) >= GUIDE_POUR_SOON_SHARE * (double)life_us;
}

static double seconds_left(int64_t now_us, int64_t end_us)
{
	return end_us > now_us ? (double)(end_us - now_us) * 1e-6 : 0.0;
}

static int64_t stir_end_us(const struct guide *guide)
{
	return guide->stir_start_us + (int64_t)(guide->recipe.stir_s * (double)US_PER_S);
}

static struct message say_cup(const struct guide *guide)
{
	const struct reading *now = &guide->reading;
	bool empty = fabs(now->gross_g) < CUP_LEAST_G;
	double load_g = now->gross_g - guide->pan_g;

	if (guide->phase == PHASE_PAN) {
		if (!now->known || empty)
			return say(MESSAGE_WAIT_SETTLE);
		return say_mass(MESSAGE_CLEAR_THE_PAN, now->gross_g);
	}
	if (load_g < CUP_LEAST_G)
		return say(MESSAGE_PLACE_CUP);
	if (now->gross_g + guide->recipe.total_g * (1.0 + guide->recipe.tint_pct / 100.0) >
	    guide->recipe.max_g)
		return say_mass(MESSAGE_CUP_TOO_HEAVY, load_g);
	if (guide->drying_g_per_min > 0.0)
		return say_mass(MESSAGE_CUP_DRYING, guide->drying_g_per_min);
	return say(MESSAGE_WAIT_SETTLE);
}

/* Near enough, and the flow has stopped: nothing is to be done but wait. */
static bool is_resting(const struct guide *guide, const struct charge_target *target)
{
	double near_g = fmax(pour_doubt_g(guide), RESTING_SHARE * target->target_g);

	return guide->first_gram_us >= 0 && pour_stopped(guide) &&
	       target->dispensed_g >= target->low_g &&
	       target->target_g - target->dispensed_g < near_g;
}

/* What is left is less than the scale can tell; short of the band at rest, it is asked
 * for all the same. */
static bool is_nought(const struct guide *guide, double remaining_g)
{
	return guide->first_gram_us >= 0 && remaining_g <= pour_doubt_g(guide) &&
	       !pour_rested(guide);
}

static struct message say_live(const struct guide *guide)
{
	struct charge_target target;
	struct message message;
	double remaining_g;

	charge_target(guide, &target);
	remaining_g = fmax(0.0, target.target_g - target.dispensed_g);
	if (guide->dilution_pct > 0.0) {
		message = say_dose(MESSAGE_DILUTION, guide->wanted, remaining_g);
		message.has |= MESSAGE_HAS_PCT;
		message.pct = guide->dilution_pct;
	} else if (charge_is_powder(guide)) {
		message = say_dose(MESSAGE_ADD_POWDER, guide->wanted, remaining_g);
	} else if (is_resting(guide, &target)) {
		message = say(MESSAGE_WAIT_SETTLE);
	} else if (guide->tip_back) {
		message = say_component(MESSAGE_TIP_BACK, guide->wanted);
	} else if (is_nought(guide, remaining_g)) {
		message = say(MESSAGE_WAIT_SETTLE);
	} else if (guide->step == GUIDE_TOP_UP ||
	           (guide->step == GUIDE_HELD && guide->resume_step == GUIDE_TOP_UP)) {
		message = say_dose(MESSAGE_TOP_UP, guide->wanted, remaining_g);
		message.has |= MESSAGE_HAS_OTHER_MASS_G;
		message.other_mass_g = guide->top_up.total_g;
	} else {
		message = say_dose(MESSAGE_ADD, guide->wanted, remaining_g);
	}
	return message;
}

/* Both together: what is said of the ratio wherever it is said. */
static struct message say_ratio(const struct guide *guide, enum message_id id)
{
	struct message message = say(id);
	struct ratio ratio;

	if (ledger_ratio(guide, &ratio) < 0)
		return message;
	message.has = MESSAGE_HAS_PCT | MESSAGE_HAS_OTHER_PCT;
	message.pct = ratio.deviation_pct;
	message.other_pct = 2.0 * ratio.u_deviation_pct;
	return message;
}

static struct message say_too_much(const struct guide *guide)
{
	struct charge_target target;
	struct message message;
	struct ratio ratio;

	charge_target(guide, &target);
	message = say_dose(MESSAGE_TOO_MUCH, guide->wanted,
	                   target.dispensed_g - (target.judged ? target.target_g : target.high_g));
	if (!target.judged && charge_is_reactive(guide->wanted))
		return message;
	if (ledger_ratio(guide, &ratio) == 0) {
		message.has |= MESSAGE_HAS_PCT;
		message.pct = ratio.deviation_pct;
	}
	if (!charge_is_reactive(guide->wanted)) {
		/* Found only after a later charge: the part that is too much. */
		message.component = charge_other(charge_of_part(guide->top_up.part));
		message.mass_g =
		        fmax(0.0, message.component == charge_of_part(guide->recipe.system.hardener)
		                          ? ratio.hardener_g - ratio.resin_g * guide->recipe.ratio
		                          : ratio.resin_g - ratio.hardener_g / guide->recipe.ratio);
	}
	return message;
}

static struct message say_stuck(const struct guide *guide)
{
	struct message message;

	if (guide->top_up.reason != TOP_UP_NO_ROOM && guide->top_up.reason != TOP_UP_NO_STOCK)
		return say_ratio(guide, guide->verdict == VERDICT_OUTSIDE ? MESSAGE_RATIO_OUTSIDE
		                                                          : MESSAGE_CANNOT_TELL);
	message = say_dose(MESSAGE_TOP_UP_WONT_FIT, charge_of_part(guide->top_up.part),
	                   guide->top_up.mass_g);
	message.has |= MESSAGE_HAS_OTHER_MASS_G;
	message.other_mass_g = guide->top_up.short_of_g;
	return message;
}

static struct message say_verdict(const struct guide *guide)
{
	switch (guide->verdict) {
	case VERDICT_WITHIN:
		return say_ratio(guide, MESSAGE_RATIO_WITHIN);
	case VERDICT_OUTSIDE:
		return say_ratio(guide, MESSAGE_RATIO_OUTSIDE);
	case VERDICT_CANNOT_TELL:
		return say_ratio(guide, MESSAGE_CANNOT_TELL);
	case VERDICT_NONE:
		break;
	}
	return (struct message){.id = MESSAGE_LIFT_AND_STIR,
	                        .has = MESSAGE_HAS_SECONDS,
	                        .seconds = guide->recipe.stir_s};
}

static struct message say_charge(const struct guide *guide)
{
	const struct recipe_charge *next = charge_following(guide);
	struct message message;

	switch (guide->phase) {
	case PHASE_BY_EYE:
		message = say_live(guide);
		message.id = MESSAGE_BY_EYE;
		return message;
	case PHASE_RESTED:
		message = say_component(MESSAGE_CHARGE_DONE, guide->wanted);
		if (next != NULL) {
			message.has |= MESSAGE_HAS_OTHER;
			message.other = next->component;
		}
		return message;
	case PHASE_TOO_MUCH:
		return say_too_much(guide);
	case PHASE_STUCK:
		return say_stuck(guide);
	case PHASE_VERDICT:
		if (pour_soon(guide))
			return (struct message){
			        .id = MESSAGE_POUR_SOON,
			        .has = MESSAGE_HAS_SECONDS,
			        .seconds = seconds_left(guide->t_us, guide->life_end_us)};
		return say_verdict(guide);
	case PHASE_LIVE:
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
	return say_live(guide);
}

static struct message say_spill(const struct guide *guide)
{
	struct message message =
	        say_mass(guide->residue_g > 0.0 ? MESSAGE_SPILL_ASK : MESSAGE_PAN_LIGHTER,
	                 fabs(guide->residue_g));

	if (guide->residue_g > 0.0) {
		message.has |= MESSAGE_HAS_PCT | MESSAGE_HAS_OTHER_PCT;
		message.pct = guide->residue_a_pct;
		message.other_pct = guide->residue_b_pct;
	}
	return message;
}

static struct message say_stir(const struct guide *guide)
{
	double left_s = seconds_left(guide->t_us, stir_end_us(guide));

	if (guide->phase == PHASE_SPILL)
		return say_spill(guide);
	if (guide->lifted && !guide->pan_read && guide->t_us - guide->stir_start_us < NOTE_US)
		return say(MESSAGE_READING_PAN);
	if (left_s <= 0.0)
		return say(MESSAGE_STIR_UNCONFIRMED);
	return (struct message){.id = MESSAGE_STIR, .has = MESSAGE_HAS_SECONDS, .seconds = left_s};
}

static struct message say_pour(const struct guide *guide)
{
	struct message message;

	if (guide->phase == PHASE_EMPTIED)
		return say_mass(MESSAGE_WEIGH_BACK, guide->stayed_g);
	message = say(MESSAGE_POUR);
	if (guide->life_start_us >= 0) {
		message.has = MESSAGE_HAS_SECONDS;
		message.seconds = seconds_left(guide->t_us, guide->life_end_us);
	}
	return message;
}

static struct message say_done(const struct guide *guide)
{
	struct message message = say_ratio(guide, MESSAGE_DONE);

	message.has = (message.has & MESSAGE_HAS_PCT) | MESSAGE_HAS_MASS_G;
	message.mass_g = ledger_contents_g(guide);
	return message;
}

static struct message say_step(const struct guide *guide)
{
	switch (guide->step) {
	case GUIDE_READY:
		return say(MESSAGE_READ_BACK);
	case GUIDE_CUP:
		return say_cup(guide);
	case GUIDE_CHARGE:
	case GUIDE_TOP_UP:
		/* An answer was heard; it is taken once the pan is still. */
		if (guide->waiting != WAITING_NONE)
			return say(MESSAGE_WAIT_SETTLE);
		return say_charge(guide);
	case GUIDE_STIR:
		return say_stir(guide);
	case GUIDE_POUR:
		return say_pour(guide);
	case GUIDE_DONE:
		return say_done(guide);
	case GUIDE_HELD:
		return guide->held;
	case GUIDE_DISCARDED:
		return say(MESSAGE_DISCARDED);
	}
	return say(MESSAGE_NONE);
}

static bool on_with_it(const struct guide *guide)
{
	return guide->step != GUIDE_DONE && guide->step != GUIDE_DISCARDED;
}

void guide_say(struct guide *guide)
{
	bool on_pan = guide->step == GUIDE_CHARGE || guide->step == GUIDE_TOP_UP;

	if (on_pan && !guide->pour_soon_told && pour_soon(guide)) {
		guide->pour_soon_told = true;
		guide_note(guide, (struct message){.id = MESSAGE_POUR_SOON,
		                                   .has = MESSAGE_HAS_SECONDS,
		                                   .seconds = seconds_left(guide->t_us,
		                                                           guide->life_end_us)});
	}
	if (guide->t_us >= guide->note_until_us)
		guide->note = say(MESSAGE_NONE);
	if (on_with_it(guide) && life_over(guide) && !guide->life_acknowledged)
		guide->message = say(MESSAGE_LIFE_OVER);
	else if (guide->note.id != MESSAGE_NONE && guide->step != GUIDE_HELD && on_with_it(guide))
		guide->message = guide->note;
	else
		guide->message = say_step(guide);
}
