/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

/* "That was the other part": one press relabels what was dispensed last. The masses
 * stay, the targets follow, and the ratio does not care about the order. */

static void swap_charges(struct guide *guide, enum component a, enum component b)
{
	struct recipe *recipe = &guide->recipe;
	int at_a = -1, at_b = -1;

	for (uint32_t i = 0; i < recipe->n_charges; i++) {
		if (recipe->charge[i].component == a)
			at_a = (int)i;
		if (recipe->charge[i].component == b)
			at_b = (int)i;
	}
	if (at_a >= 0 && at_b >= 0) {
		struct recipe_charge kept = recipe->charge[at_a];

		recipe->charge[at_a] = recipe->charge[at_b];
		recipe->charge[at_b] = kept;
	}
}

/* The last reactive row is the other part. With the other part still to come, the
 * two change places in the recipe; else the part that is short is asked for. */
static void relabel(struct guide *guide, struct guide_dispense *row)
{
	enum component was = row->component, is = charge_other(was);
	bool first = ledger_mass_g(guide, is) <= 0.0;
	struct message note;

	row->component = is;
	guide->accepted &= ~(uint32_t)(ACCEPTED_OUTSIDE | ACCEPTED_CANNOT_TELL);
	guide->top_up = (struct top_up){0};
	note = say_dose(MESSAGE_RELABELLED, is, row->mass_g);
	if (first && ledger_mass_g(guide, was) <= 0.0) {
		swap_charges(guide, was, is);
		guide->verdict = VERDICT_NONE;
		guide->provisional = false;
		guide->life_start_us = -1;
		if (guide->open >= 0)
			guide->wanted = is;
		else
			guide->wanted = guide->recipe.charge[guide->charge].component;
		if (guide->open >= 0) {
			guide_go(guide, GUIDE_CHARGE, PHASE_LIVE);
			judge_rested(guide);
		}
	} else {
		/* It counts as the other part. A charge wants what it wanted before; a
		 * top-up has made it worse and is judged again. */
		guide->wanted = row->top_up ? is : was;
		if (guide->open >= 0 && !row->top_up)
			ledger_close(guide);
		guide->verdict = VERDICT_NONE;
		guide_go(guide, row->top_up ? GUIDE_TOP_UP : GUIDE_CHARGE, PHASE_LIVE);
		judge_rested(guide);
	}
	guide_note(guide, note);
}

void charge_other_part(struct guide *guide)
{
	struct charge_target target;
	struct guide_dispense *row;

	if (!pour_settled(guide)) {
		guide->waiting = WAITING_OTHER_PART;
		return;
	}
	charge_target(guide, &target);
	if (guide->phase == PHASE_LIVE && target.dispensed_g > pour_floor_g(guide)) {
		if (!charge_is_reactive(guide->wanted) || ledger_record(guide) < 0)
			return;
	}
	if (guide->n_dispenses == 0)
		return;
	row = &guide->dispense[guide->open >= 0 ? (uint32_t)guide->open : guide->n_dispenses - 1];
	if (charge_is_reactive(row->component) && !guide->divided)
		relabel(guide, row);
}
