/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tint.h"

/* Dispatch: events to the step's handler, and the one place that changes the step. */

void guide_go(struct guide *guide, enum guide_step step, enum guide_phase phase)
{
	if (step != guide->step || phase != guide->phase)
		guide->waiting = WAITING_NONE; /* that answer was to another question */
	guide->step = step;
	guide->phase = phase;
}

void guide_note(struct guide *guide, struct message note)
{
	guide->note = note;
	guide->note_until_us = guide->t_us + NOTE_US;
}

void guide_begin(const struct recipe *recipe, struct guide *ret)
{
	*ret = (struct guide){
	        .recipe = *recipe,
	        .step = GUIDE_READY,
	        .u_g = recipe->u_reading_g,
	        .wanted = recipe->charge[0].component,
	        .open = -1,
	        .first_gram_us = -1,
	        .fault_since_us = -1,
	        .life_start_us = -1,
	        .bottle_in_use = -1,
	        .bottle_since_us = -1,
	};
	for (int part = PART_A; part <= PART_B; part++)
		ret->bottle_g[part] = recipe->system.part[part].bottle_gross_g > 0.0
		                              ? recipe->system.part[part].bottle_gross_g
		                              : -1.0;
	guide_say(ret);
}

static enum guide_step step_inside(const struct guide *guide)
{
	return guide->step == GUIDE_HELD ? guide->resume_step : guide->step;
}

bool guide_finished(const struct guide *guide)
{
	return guide->step == GUIDE_DONE || guide->step == GUIDE_DISCARDED;
}

bool guide_on_pan(const struct guide *guide)
{
	enum guide_step step = step_inside(guide);

	return step == GUIDE_CUP || step == GUIDE_CHARGE || step == GUIDE_TOP_UP;
}

bool guide_reads_pan(const struct guide *guide)
{
	return step_inside(guide) == GUIDE_STIR && guide->lifted && !guide->pan_read;
}

int guide_ratio(const struct guide *guide, struct ratio *ret)
{
	return ledger_ratio(guide, ret);
}

static void answer_waiting(struct guide *guide)
{
	enum guide_waiting waiting = guide->waiting;

	if (waiting == WAITING_NONE || !pour_settled(guide))
		return;
	guide->waiting = WAITING_NONE;
	if (guide->step == GUIDE_HELD && waiting == WAITING_PRESS)
		hold_press(guide);
	else if (guide->step == GUIDE_HELD)
		hold_other_part(guide);
	else if (waiting == WAITING_PRESS)
		charge_press(guide);
	else
		charge_other_part(guide);
}

static void on_reading(struct guide *guide, const struct guide_event *event)
{
	struct reading before = guide->reading;

	guide->reading = event->reading;
	if (isfinite(event->u_reading_g) && event->u_reading_g > 0.0)
		guide->u_g = event->u_reading_g;
	pour_feed(guide, &before);
	if (guide_on_pan(guide) && hold_fault(guide))
		return;
	if (!guide->reading.known || guide->reading.state == READING_FAULT)
		return;
	switch (guide->step) {
	case GUIDE_CUP:
		cup_reading(guide);
		break;
	case GUIDE_CHARGE:
	case GUIDE_TOP_UP:
		charge_reading(guide);
		break;
	case GUIDE_STIR:
		stir_reading(guide);
		break;
	case GUIDE_POUR:
		pour_out_reading(guide);
		break;
	case GUIDE_HELD:
		hold_reading(guide);
		break;
	case GUIDE_READY:
		bottle_ready(guide);
		break;
	case GUIDE_DONE:
	case GUIDE_DISCARDED:
		break;
	}
	answer_waiting(guide);
}

static void on_press(struct guide *guide)
{
	if ((guide->step == GUIDE_STIR || guide->step == GUIDE_POUR) &&
	    guide_press_meaning(guide) == PRESS_NOTHING)
		return;
	guide->touched_us = guide->t_us;
	if (guide->message.id == MESSAGE_LIFE_OVER) {
		guide->life_acknowledged = true;
		guide->accepted |= ACCEPTED_LIFE_OVER;
		return;
	}
	guide->note = say(MESSAGE_NONE);
	switch (guide->step) {
	case GUIDE_READY:
		guide_go(guide, GUIDE_CUP, PHASE_PAN);
		break;
	case GUIDE_CHARGE:
	case GUIDE_TOP_UP:
		charge_press(guide);
		break;
	case GUIDE_STIR:
		stir_press(guide);
		break;
	case GUIDE_POUR:
		pour_out_press(guide);
		break;
	case GUIDE_HELD:
		hold_press(guide);
		break;
	case GUIDE_CUP:
	case GUIDE_DONE:
	case GUIDE_DISCARDED:
		break;
	}
}

static void on_other_part(struct guide *guide)
{
	guide->touched_us = guide->t_us;
	if (guide->step == GUIDE_CHARGE || guide->step == GUIDE_TOP_UP)
		charge_other_part(guide);
	else if (guide->step == GUIDE_HELD)
		hold_other_part(guide);
}

static void on_scan(struct guide *guide, const char *code)
{
	guide->touched_us = guide->t_us;
	if (guide->step == GUIDE_HELD && guide->held.id == MESSAGE_BOTTLE_WRONG &&
	    guide->bottle_since_us < 0)
		hold_leave(guide);
	if (guide->step == GUIDE_CHARGE || guide->step == GUIDE_TOP_UP)
		charge_scan(guide, code);
}

static void on_life(struct guide *guide, double seconds)
{
	if (guide->life_start_us < 0 || !(seconds >= 0.0) || seconds > 1e7)
		return;
	guide->life_end_us = guide->t_us + (int64_t)(seconds * (double)US_PER_S);
	if (seconds > 0.0)
		guide->life_acknowledged = false;
}

/* The station was away: the newest reading is of before. */
static void on_resume(struct guide *guide)
{
	guide->reading.known = false;
	guide->slope_known = false;
	guide->rest.progress_us = guide->t_us;
	if (guide->step == GUIDE_CHARGE || guide->step == GUIDE_TOP_UP)
		hold_for(guide, say(MESSAGE_RESUME_CHECK));
}

static void on_store_failed(struct guide *guide, const char *text)
{
	struct message reason = {.id = MESSAGE_STORE_FAILED, .has = MESSAGE_HAS_TEXT};

	snprintf(reason.text, sizeof(reason.text), "%s", text);
	hold_over(guide, reason);
}

static void on_tick(struct guide *guide)
{
	if (guide_on_pan(guide) && guide->step != GUIDE_HELD && guide->reading.known &&
	    guide->t_us - guide->reading.t_us > SILENT_US)
		hold_for(guide, say(MESSAGE_SCALE_SILENT));
	if (guide->step != GUIDE_HELD && guide->t_us - guide->touched_us > ABANDONED_US)
		hold_for(guide, (struct message){
		                        .id = MESSAGE_ABANDONED,
		                        .has = MESSAGE_HAS_SECONDS,
		                        .seconds = (double)(guide->t_us - guide->touched_us) * 1e-6,
		                });
}

void guide_next(const struct guide *old, const struct guide_event *event, struct guide *ret)
{
	if (ret != old)
		*ret = *old;
	if (guide_finished(ret))
		return;
	if (event->t_us > ret->t_us)
		ret->t_us = event->t_us;
	switch (event->kind) {
	case GUIDE_READING:
		on_reading(ret, event);
		break;
	case GUIDE_TICK:
		on_tick(ret);
		break;
	case GUIDE_PRESS:
		on_press(ret);
		break;
	case GUIDE_OTHER_PART:
		on_other_part(ret);
		break;
	case GUIDE_HOLD:
		hold_over(ret, say(MESSAGE_HELD_BY_HAND));
		break;
	case GUIDE_DISCARD:
		guide_go(ret, GUIDE_DISCARDED, PHASE_NONE);
		break;
	case GUIDE_SCAN:
		on_scan(ret, event->text);
		break;
	case GUIDE_LIFE:
		on_life(ret, event->seconds);
		break;
	case GUIDE_RESUME:
		on_resume(ret);
		break;
	case GUIDE_STORE_FAILED:
		on_store_failed(ret, event->text);
		break;
	}
	guide_say(ret);
}

static bool rows_differ(const struct guide *old, const struct guide *next)
{
	if (old->n_dispenses != next->n_dispenses)
		return true;
	for (uint32_t i = 0; i < next->n_dispenses; i++) {
		const struct guide_dispense *a = &old->dispense[i], *b = &next->dispense[i];

		if (a->mass_g != b->mass_g || a->component != b->component ||
		    a->by_eye != b->by_eye || a->identity != b->identity)
			return true;
	}
	return false;
}

int guide_differs(const struct guide *old, const struct guide *next)
{
	return old->step != next->step || old->phase != next->phase ||
	       old->charge != next->charge || old->wanted != next->wanted ||
	       old->message.id != next->message.id || old->verdict != next->verdict ||
	       old->provisional != next->provisional || old->accepted != next->accepted ||
	       old->life_start_us != next->life_start_us || old->pan_read != next->pan_read ||
	       old->weighed_back != next->weighed_back || old->stayed_g != next->stayed_g ||
	       old->given_g != next->given_g || old->unexplained_g != next->unexplained_g ||
	       rows_differ(old, next);
}

int guide_take_off(struct guide *parent, double mass_g)
{
	if (!isfinite(mass_g))
		return -EINVAL;
	parent->given_g += fmax(-parent->given_g, fmin(mass_g, ledger_contents_g(parent)));
	return 0;
}

double guide_received_g(const struct guide *child)
{
	double mass_g = 0.0;

	for (uint32_t i = 0; i < child->n_dispenses; i++)
		if (child->dispense[i].component == COMPONENT_MIXED)
			mass_g += child->dispense[i].mass_g;
	return mass_g;
}

static void child_recipe(const struct guide *parent, double mass_g, double tint_pct,
                         const char *tint_label, struct recipe *ret)
{
	struct recipe_charge *charge = ret->charge;

	*ret = parent->recipe;
	ret->total_g = mass_g;
	ret->tint_pct = tint_pct;
	ret->cup_limit_g = 0.0; /* another cup */
	ret->n_charges = tint_pct > 0.0 ? 2 : 1;
	charge[0] = (struct recipe_charge){.component = COMPONENT_MIXED, .target_g = mass_g};
	snprintf(charge[0].label, sizeof(charge[0].label), "mixed");
	if (tint_pct <= 0.0)
		return;
	charge[1] = (struct recipe_charge){
	        .component = COMPONENT_TINT,
	        .share_pct = tint_pct,
	        .target_g = tint_dose_g(mass_g, tint_pct),
	};
	snprintf(charge[1].label, sizeof(charge[1].label), "%s",
	         tint_label != NULL && tint_label[0] != '\0' ? tint_label : "tint");
}

int guide_divide(const struct guide *parent, double mass_g, double tint_pct, const char *tint_label,
                 int64_t t_us, struct guide *ret_child)
{
	enum guide_step step = step_inside(parent);
	struct recipe recipe;
	struct ratio ratio;

	if ((step != GUIDE_STIR && step != GUIDE_POUR) || ledger_ratio(parent, &ratio) < 0)
		return -EINVAL;
	if (!isfinite(mass_g) || mass_g <= 0.0 || mass_g > ledger_contents_g(parent) ||
	    !isfinite(tint_pct) || tint_pct < 0.0 ||
	    tint_pct > tint_max_pct(&parent->recipe.system))
		return -ERANGE;
	child_recipe(parent, mass_g, tint_pct, tint_label, &recipe);
	guide_begin(&recipe, ret_child);
	ret_child->t_us = t_us;
	ret_child->touched_us = t_us;
	ret_child->u_g = parent->u_g;
	ret_child->verdict = parent->verdict;
	ret_child->provisional = parent->provisional;
	ret_child->accepted = parent->accepted;
	ret_child->life_start_us = parent->life_start_us;
	ret_child->life_end_us = parent->life_end_us;
	ret_child->life_acknowledged = parent->life_acknowledged;
	ret_child->divided = true;
	ret_child->inherited_resin_g = ratio.resin_g;
	ret_child->inherited_hardener_g = ratio.hardener_g;
	ret_child->inherited_u_ratio = ratio.u_ratio;
	guide_go(ret_child, GUIDE_CUP, PHASE_PAN);
	guide_note(ret_child, say_mass(MESSAGE_DIVIDED, mass_g));
	guide_say(ret_child);
	return 0;
}
