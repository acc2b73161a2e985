/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

/* Held: something must be cleared up. What undoes itself resumes by itself; the rest
 * is asked, and the answer is recorded. */

void hold_for(struct guide *guide, struct message reason)
{
	if (guide->step != GUIDE_HELD) {
		guide->resume_step = guide->step;
		guide_go(guide, GUIDE_HELD, guide->phase);
	}
	guide->held = reason;
	guide->tip_back = false;
}

static bool is_over(enum message_id id)
{
	return id == MESSAGE_HELD_BY_HAND || id == MESSAGE_STORE_FAILED;
}

void hold_over(struct guide *guide, struct message reason)
{
	struct message under = guide->step != GUIDE_HELD ? say(MESSAGE_NONE)
	                       : is_over(guide->held.id) ? guide->held_under
	                                                 : guide->held;

	if (guide->held.id == MESSAGE_STORE_FAILED && reason.id == MESSAGE_HELD_BY_HAND)
		return; /* held already, and for a better reason */
	hold_for(guide, reason);
	guide->held_under = under;
}

void hold_leave(struct guide *guide)
{
	if (is_over(guide->held.id) && guide->held_under.id != MESSAGE_NONE) {
		guide->held = guide->held_under;
		guide->held_under = say(MESSAGE_NONE);
		guide->touched_us = guide->t_us;
		return;
	}
	guide_go(guide, guide->resume_step, guide->phase);
	guide->held = say(MESSAGE_NONE);
	guide->rest.progress_us = guide->t_us;
	guide->touched_us = guide->t_us;
}

/* Reasons that stay until they are answered, whatever the pan does. */
static bool waits_for_answer(const struct guide *guide)
{
	switch (guide->held.id) {
	case MESSAGE_HELD_BY_HAND:
	case MESSAGE_STORE_FAILED:
	case MESSAGE_ABANDONED:
	case MESSAGE_STILL_FLOWING:
		return true;
	case MESSAGE_BOTTLE_WRONG:
		return guide->bottle_since_us < 0; /* by its code: it is not on the pan */
	default:
		return false;
	}
}

static bool is_fault(enum message_id id)
{
	return id == MESSAGE_SCALE_SILENT || id == MESSAGE_SCALE_RAIL || id == MESSAGE_OVERLOAD;
}

static bool is_bottle(enum message_id id)
{
	return id == MESSAGE_BOTTLE_KNOWN || id == MESSAGE_BOTTLE_WRONG ||
	       id == MESSAGE_BOTTLE_UNKNOWN || id == MESSAGE_BOTTLE_DISAGREES;
}

bool hold_fault(struct guide *guide)
{
	const struct reading *now = &guide->reading;
	enum message_id id = now->overload ? MESSAGE_OVERLOAD
	                     : now->silent ? MESSAGE_SCALE_SILENT
	                                   : MESSAGE_SCALE_RAIL;

	if (now->state != READING_FAULT && !now->overload) {
		guide->fault_since_us = -1;
		return false;
	}
	if (guide->fault_since_us < 0)
		guide->fault_since_us = guide->t_us;
	/* A corrupt read or two is no fault of the scale. */
	if (guide->t_us - guide->fault_since_us < FAULT_US)
		return true;
	if (guide->step != GUIDE_HELD || !waits_for_answer(guide))
		hold_for(guide, say(id));
	return true;
}

void hold_thing(struct guide *guide)
{
	double mass_g = guide->reading.gross_g - guide->rest.gross_g;
	struct message reason =
	        say_mass(pour_swung(guide) ? MESSAGE_BUMPED : MESSAGE_NOT_RESIN, mass_g);

	bottle_recognise(guide, mass_g, &reason);
	hold_for(guide, reason);
}

/* What the pan says now, once it is still; the reason follows it. */
static void look_again(struct guide *guide)
{
	double more_g = guide->reading.gross_g - guide->rest.gross_g;
	enum message_id id = guide->held.id;

	switch (pour_change(guide)) {
	case CHANGE_UNTOLD:
		return;
	case CHANGE_NONE:
	case CHANGE_POUR:
		if (id == MESSAGE_BOTTLE_DISAGREES)
			return; /* asked until answered */
		hold_leave(guide);
		return;
	case CHANGE_GAIN:
		if (id == MESSAGE_NOT_RESIN || id == MESSAGE_BUMPED)
			guide->held.mass_g = more_g;
		else if (!is_bottle(id))
			hold_thing(guide);
		return;
	case CHANGE_LOSS:
		if (id == MESSAGE_LOST_MASS || id == MESSAGE_BUMPED)
			guide->held.mass_g = -more_g;
		else
			hold_for(guide, say_mass(MESSAGE_LOST_MASS, -more_g));
		return;
	}
}

/* After a fault, a restart or a lifted cup only the same mass goes on by itself. */
static void compare(struct guide *guide, enum message_id ask)
{
	double differs_g = guide->reading.gross_g - guide->rest.gross_g;

	if (!pour_settled(guide))
		return;
	if (!guide->rest.known || fabs(differs_g) <= pour_doubt_g(guide)) {
		hold_leave(guide);
		if (guide->rest.known)
			pour_accept(guide);
		return;
	}
	hold_for(guide, say_mass(ask, differs_g));
}

void hold_reading(struct guide *guide)
{
	struct message was = guide->held;

	if (!guide_on_pan(guide) || waits_for_answer(guide))
		return;
	if (pour_lifted(guide)) {
		if (was.id != MESSAGE_CUP_LIFTED)
			hold_for(guide, say(MESSAGE_CUP_LIFTED));
		return;
	}
	if (is_fault(was.id) || was.id == MESSAGE_RESUME_CHECK) {
		compare(guide, MESSAGE_RESUME_CHECK);
	} else if (was.id == MESSAGE_CUP_LIFTED || was.id == MESSAGE_CUP_CHANGED) {
		compare(guide, MESSAGE_CUP_CHANGED);
	} else {
		look_again(guide);
		if (guide->step != GUIDE_HELD && is_bottle(was.id)) {
			pour_accept(guide);
			bottle_gone(guide, &was);
		}
	}
}

/* The difference was poured: it counts as what is being dispensed. */
static void take(struct guide *guide, uint32_t accepted)
{
	guide->accepted |= accepted;
	pour_accept(guide);
	hold_leave(guide);
	if (guide->phase == PHASE_LIVE)
		charge_first_gram(guide);
	else if (guide->phase != PHASE_BY_EYE)
		judge_rested(guide);
}

static void lose(struct guide *guide)
{
	hold_leave(guide);
	charge_lose(guide);
}

static bool nothing_poured(const struct guide *guide)
{
	return guide->n_dispenses == 0 && guide->first_gram_us < 0;
}

/* A difference small enough to be a drip or a smear, not another cup. */
static bool is_small(const struct guide *guide)
{
	return fabs(guide->held.mass_g) <= fmax(2.0, 0.02 * ledger_contents_g(guide));
}

static void another_cup(struct guide *guide)
{
	guide->n_points = 1;
	guide->cup_known = false;
	guide->slope_known = false;
	guide->start_fresh = false;
	guide->rest.known = false;
	guide->resume_step = GUIDE_CUP;
	guide->phase = PHASE_PLACE;
	hold_leave(guide);
}

static bool difference_known(const struct guide *guide)
{
	return (guide->held.has & MESSAGE_HAS_MASS_G) != 0;
}

enum press_meaning hold_press_meaning(const struct guide *guide)
{
	switch (guide->held.id) {
	case MESSAGE_HELD_BY_HAND:
	case MESSAGE_STORE_FAILED:
	case MESSAGE_ABANDONED:
		return PRESS_GO_ON;
	case MESSAGE_STILL_FLOWING:
		return PRESS_GO_ON;
	case MESSAGE_NOT_RESIN:
	case MESSAGE_BUMPED:
		return guide->reading.gross_g > guide->rest.gross_g ? PRESS_IS_RESIN : PRESS_ACCEPT;
	case MESSAGE_LOST_MASS:
	case MESSAGE_BOTTLE_DISAGREES:
		return PRESS_ACCEPT;
	case MESSAGE_RESUME_CHECK:
		return difference_known(guide) ? PRESS_ACCEPT : PRESS_NOTHING;
	case MESSAGE_CUP_CHANGED:
		return nothing_poured(guide) || is_small(guide) ? PRESS_ACCEPT : PRESS_NOTHING;
	case MESSAGE_BOTTLE_WRONG:
		return guide->bottle_since_us < 0 ? PRESS_GO_ON : PRESS_NOTHING;
	default:
		return PRESS_NOTHING;
	}
}

void hold_press(struct guide *guide)
{
	enum press_meaning meaning = hold_press_meaning(guide);
	bool more = guide->reading.gross_g > guide->rest.gross_g;
	enum message_id id = guide->held.id;

	if (meaning == PRESS_NOTHING)
		return;
	if (meaning == PRESS_GO_ON && id != MESSAGE_STILL_FLOWING) {
		hold_leave(guide);
		return;
	}
	if (!pour_settled(guide)) {
		guide->waiting = WAITING_PRESS;
		return;
	}
	if (id == MESSAGE_STILL_FLOWING) {
		charge_tail(guide, true);
		hold_leave(guide);
	} else if (id == MESSAGE_BOTTLE_DISAGREES) {
		guide->accepted |= ACCEPTED_BOTTLE;
		guide->held.id = MESSAGE_BOTTLE_KNOWN; /* pauses until it is off the pan */
	} else if (id == MESSAGE_CUP_CHANGED && nothing_poured(guide)) {
		another_cup(guide);
	} else if (more) {
		take(guide, meaning == PRESS_IS_RESIN ? ACCEPTED_NOT_RESIN : ACCEPTED_DIFFERENCE);
	} else {
		lose(guide);
	}
}

void hold_other_part(struct guide *guide)
{
	if (guide->held.id != MESSAGE_STILL_FLOWING)
		return;
	charge_tail(guide, false);
	hold_leave(guide);
	charge_first_gram(guide);
}
