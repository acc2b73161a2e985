/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>
#include <string.h>

#include "tint.h"

/* Dispensing one component after the other. The next bottle is wanted by a press, a
 * bottle check or a code, never because a mass has settled. */

const struct recipe_charge *charge_following(const struct guide *guide)
{
	return guide->charge + 1 < guide->recipe.n_charges
	               ? &guide->recipe.charge[guide->charge + 1]
	               : NULL;
}

static enum part carrier_part(const struct guide *guide)
{
	return guide->recipe.system.hardener == PART_A ? PART_B : PART_A;
}

/* Too small a dose for this scale: a dilution in the resin, else by eye. */
static void enter_small_dose(struct guide *guide)
{
	struct tint_dilution dilution;
	struct charge_target target;
	double resin_g = ledger_mass_g(guide, charge_of_part(carrier_part(guide)));
	bool hardener_in =
	        ledger_mass_g(guide, charge_of_part(guide->recipe.system.hardener)) > 0.0;

	charge_target(guide, &target);
	if (guide->wanted != COMPONENT_TINT || target.target_g >= guide->recipe.smallest_tint_g)
		return;
	if (!hardener_in && !guide->divided &&
	    tint_dilution(target.target_g, guide->recipe.smallest_tint_g, resin_g, resin_g,
	                  &dilution) == 0 &&
	    dilution.portion_g * (1.0 + guide->recipe.ratio) <= charge_room_g(guide)) {
		guide->dilution_pct = dilution.share_pct;
		return;
	}
	guide->phase = PHASE_BY_EYE;
}

static void warn_of_stirring(struct guide *guide)
{
	struct message warning = {.id = MESSAGE_STIR_WONT_FIT,
	                          .has = MESSAGE_HAS_SECONDS | MESSAGE_HAS_OTHER_SECONDS,
	                          .seconds = guide->recipe.stir_s,
	                          .other_seconds = guide->recipe.working_life_s};

	if (charge_is_reactive(guide->wanted) &&
	    ledger_mass_g(guide, charge_other(guide->wanted)) > 0.0 &&
	    guide->recipe.stir_s > STIR_LIFE_SHARE * guide->recipe.working_life_s)
		guide_note(guide, warning);
}

void charge_enter(struct guide *guide, uint32_t charge, enum identity identity)
{
	guide->asks_still_flowing = guide->step == GUIDE_CHARGE;
	guide->before_change = guide->wanted;
	guide->charge = charge;
	guide->wanted = guide->recipe.charge[charge].component;
	guide->identity = identity;
	guide->change_us = guide->t_us;
	guide->tip_back = false;
	guide->dilution_pct = 0.0;
	ledger_close(guide);
	guide_go(guide, GUIDE_CHARGE, PHASE_LIVE);
	enter_small_dose(guide);
	warn_of_stirring(guide);
}

/* A dilution weighed in is tint and resin: one weighing, two rows, with a point
 * between them that nobody read. */
static void split_dilution(struct guide *guide)
{
	struct guide_dispense *row, resin;
	int between;

	if (guide->dilution_pct <= 0.0 || guide->open < 0 || !ledger_has_room(guide))
		return;
	row = &guide->dispense[guide->open];
	between = ledger_point(
	        guide, guide->point[row->after].gross_g - row->mass_g * guide->dilution_pct / 100.0,
	        guide->point[row->after].u_g);
	if (between < 0)
		return;
	resin = *row;
	resin.component = charge_of_part(carrier_part(guide));
	resin.after = (uint8_t)between;
	row->before = (uint8_t)between;
	guide->dispense[guide->n_dispenses++] = resin;
	ledger_move_point(guide, (uint32_t)between, guide->point[between].gross_g,
	                  guide->point[between].u_g);
}

void charge_next(struct guide *guide, enum identity identity)
{
	if (charge_following(guide) == NULL)
		return;
	if (guide->phase == PHASE_RESTED && guide->open >= 0)
		ledger_record(guide); /* its end is taken again, drips and all */
	judge_again(guide);
	bottle_poured(guide);
	split_dilution(guide);
	charge_enter(guide, guide->charge + 1, identity);
}

void charge_first_gram(struct guide *guide)
{
	bool second = charge_is_reactive(guide->wanted) &&
	              ledger_mass_before_g(guide, charge_other(guide->wanted)) > 0.0;

	guide->touched_us = guide->t_us;
	if (guide->note.id == MESSAGE_NOT_YET || guide->note.id == MESSAGE_RELABELLED)
		guide->note = say(MESSAGE_NONE);
	if (guide->first_gram_us >= 0)
		return;
	guide->first_gram_us = guide->t_us;
	if (second && guide->life_start_us < 0) {
		guide->life_start_us = guide->t_us;
		guide->life_end_us =
		        guide->t_us + (int64_t)(guide->recipe.working_life_s * (double)US_PER_S);
	}
}

/* Flow so soon after a change may be the tail of the charge before. */
static bool ask_still_flowing(struct guide *guide)
{
	int64_t began_us =
	        pour_settled(guide) ? guide->reading.still_since_us : guide->reading.t_us;

	if (!guide->asks_still_flowing || began_us - guide->change_us >= STILL_FLOWING_US)
		return false;
	hold_for(guide, say_component(MESSAGE_STILL_FLOWING, guide->before_change));
	return true;
}

static void live_reading(struct guide *guide)
{
	struct charge_target target;
	bool came;

	charge_target(guide, &target);
	came = pour_flowing(guide) ||
	       (pour_settled(guide) && target.dispensed_g > pour_floor_g(guide));
	if (guide->first_gram_us < 0 && !came) {
		charge_refresh_start(guide);
		return;
	}
	if (guide->first_gram_us < 0 && ask_still_flowing(guide))
		return;
	if (pour_flowing(guide) || guide->first_gram_us < 0)
		charge_first_gram(guide);
	if (!charge_is_powder(guide) && pour_flowing(guide) && !pour_stopped(guide) &&
	    pour_predicted_g(guide) - guide->point[guide->start_point].gross_g >= target.target_g)
		guide->tip_back = true;
	if (pour_stopped(guide))
		guide->tip_back = false;
	if (pour_rested(guide))
		judge_rested(guide);
}

/* At rest after the charge: drips still belong to it, and may undo its verdict. */
static void rested_reading(struct guide *guide)
{
	double recorded_g;

	if (!pour_settled(guide))
		return;
	recorded_g = guide->point[guide->open >= 0 ? guide->dispense[guide->open].after
	                                           : guide->start_point]
	                     .gross_g;
	if (fabs(guide->reading.gross_g - recorded_g) > pour_doubt_g(guide))
		judge_rested(guide);
}

/* May this gain have come without a slope, or this loss be meant? */
static bool change_is_meant(const struct guide *guide, enum pan_change change)
{
	struct charge_target target;
	double gain_g = guide->reading.gross_g - guide->rest.gross_g;

	charge_target(guide, &target);
	if (change == CHANGE_GAIN)
		return charge_is_powder(guide) && guide->phase != PHASE_VERDICT &&
		       gain_g <= 2.0 * fabs(target.target_g) + 2.0;
	/* Too much of the only component: it may be spooned out again. */
	return guide->phase == PHASE_TOO_MUCH && !target.judged &&
	       charge_is_reactive(guide->wanted);
}

void charge_reading(struct guide *guide)
{
	enum pan_change change = pour_change(guide);

	if (pour_lifted(guide)) {
		if (guide->phase == PHASE_VERDICT)
			pan_lifted(guide, true);
		else
			hold_for(guide, say(MESSAGE_CUP_LIFTED));
		return;
	}
	if (pour_hand(guide)) {
		hold_for(guide, say(MESSAGE_HAND_ON_PAN));
		return;
	}
	if (change == CHANGE_GAIN && !change_is_meant(guide, change)) {
		hold_thing(guide);
		return;
	}
	if (change == CHANGE_LOSS && !change_is_meant(guide, change)) {
		hold_for(guide, say_mass(pour_swung(guide) ? MESSAGE_BUMPED : MESSAGE_LOST_MASS,
		                         guide->rest.gross_g - guide->reading.gross_g));
		return;
	}
	if (guide->phase == PHASE_LIVE)
		live_reading(guide);
	else if (guide->phase != PHASE_BY_EYE)
		rested_reading(guide);
	if (guide->step != GUIDE_HELD && change != CHANGE_UNTOLD) {
		if (change != CHANGE_NONE)
			guide->touched_us = guide->t_us;
		pour_accept(guide);
	}
}

/* What is missing decides nothing here: it is said. */
static void live_press(struct guide *guide)
{
	struct charge_target target;

	charge_target(guide, &target);
	if (guide->dilution_pct > 0.0 && guide->first_gram_us < 0) {
		guide->dilution_pct = 0.0; /* no dilution: by eye, then */
		guide->phase = PHASE_BY_EYE;
		return;
	}
	guide_note(guide, say_dose(MESSAGE_NOT_YET, guide->wanted,
	                           fmax(0.0, target.low_g - target.dispensed_g)));
}

/* The wish stands in the record, marked; the next charge is weighed from here. */
static void by_eye_press(struct guide *guide)
{
	struct charge_target target;

	charge_target(guide, &target);
	if (ledger_record(guide) < 0)
		return;
	guide->dispense[guide->open].by_eye = true;
	guide->dispense[guide->open].mass_g = fmax(0.0, target.target_g);
	pour_accept(guide);
	if (charge_following(guide) != NULL)
		charge_next(guide, IDENTITY_BY_HAND);
	else
		guide_go(guide, guide->step, PHASE_VERDICT);
}

static void top_up_begin(struct guide *guide)
{
	bottle_poured(guide);
	guide->before_change = guide->wanted;
	guide->asks_still_flowing = true;
	guide->change_us = guide->t_us;
	guide->wanted = charge_of_part(guide->top_up.part);
	guide->identity = IDENTITY_BY_HAND;
	guide->tip_back = false;
	ledger_close(guide);
	guide_go(guide, GUIDE_TOP_UP, PHASE_LIVE);
}

static void stuck_press(struct guide *guide)
{
	guide->accepted |=
	        guide->verdict == VERDICT_OUTSIDE ? ACCEPTED_OUTSIDE : ACCEPTED_CANNOT_TELL;
	if (charge_following(guide) != NULL)
		guide_go(guide, GUIDE_CHARGE, PHASE_RESTED);
	else
		guide_go(guide, guide->step, PHASE_VERDICT);
}

void charge_press(struct guide *guide)
{
	if (guide->phase == PHASE_LIVE) {
		live_press(guide);
		return;
	}
	if (!pour_settled(guide)) {
		guide->waiting = WAITING_PRESS;
		return;
	}
	switch (guide->phase) {
	case PHASE_BY_EYE:
		by_eye_press(guide);
		break;
	case PHASE_RESTED:
		charge_next(guide, IDENTITY_BY_HAND);
		break;
	case PHASE_TOO_MUCH:
		if (guide->top_up.fits)
			top_up_begin(guide);
		break;
	case PHASE_STUCK:
		stuck_press(guide);
		break;
	case PHASE_VERDICT:
		pan_lifted(guide, false);
		break;
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
}

/* Which part has this code; -1 none. */
static int part_of_code(const struct guide *guide, const char *code)
{
	for (int part = PART_A; part <= PART_B; part++)
		if (code[0] != '\0' && strcmp(guide->recipe.system.part[part].code, code) == 0)
			return part;
	return -1;
}

static bool has_code(const struct guide *guide, enum component component)
{
	const struct system_part *parts = guide->recipe.system.part;

	return (component == COMPONENT_A && parts[PART_A].code[0] != '\0') ||
	       (component == COMPONENT_B && parts[PART_B].code[0] != '\0');
}

void charge_scan(struct guide *guide, const char *code)
{
	const struct recipe_charge *next = charge_following(guide);
	enum component wanted = guide->wanted, is;
	int part = part_of_code(guide, code);

	if (guide->phase == PHASE_RESTED && next != NULL)
		wanted = next->component;
	else if (guide->phase == PHASE_TOO_MUCH && guide->top_up.fits)
		wanted = charge_of_part(guide->top_up.part);
	else if (guide->phase != PHASE_LIVE)
		return;
	is = part >= 0 ? charge_of_part((enum part)part) : COMPONENT_MIXED;
	/* A strange code may be the wanted bottle's, where that has none on its label. */
	if (part < 0 && !has_code(guide, wanted))
		return;
	if (is != wanted) {
		struct message wrong = part >= 0 ? say_component(MESSAGE_BOTTLE_WRONG, is)
		                                 : say(MESSAGE_BOTTLE_WRONG);

		wrong.has |= MESSAGE_HAS_OTHER;
		wrong.other = wanted;
		hold_for(guide, wrong);
		return;
	}
	if (guide->phase != PHASE_LIVE)
		charge_press(guide);
	if (guide->phase == PHASE_LIVE && guide->wanted == is)
		guide->identity = IDENTITY_CODE;
}
