/* SPDX-License-Identifier: MIT */
#include "shown.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/mixing/ledger.h"

void shown_none(struct batch_shown *ret)
{
	memset(ret, 0, sizeof(*ret));
}

static void add(struct batch_shown *shown, const char *name, double value)
{
	if (isfinite(value) && shown->n_quantities < SHOWN_QUANTITIES_MAX)
		shown->quantity[shown->n_quantities++] =
		        (struct shown_quantity){.name = name, .value = value};
}

static void add_quantities(struct batch_shown *shown, const struct guide *guide,
                           const struct guide_view *view)
{
	/* What a picture of the whole batch needs beside the present charge. */
	double (*mass)(const struct guide *, enum component) =
	        view->has & VIEW_HAS_DISPENSED ? ledger_mass_before_g : ledger_mass_g;

	add(shown, "BeforeAGrams", mass(guide, COMPONENT_A));
	add(shown, "BeforeBGrams", mass(guide, COMPONENT_B));
	if (view->has & VIEW_HAS_TARGET) {
		add(shown, "TargetGrams", view->target_g);
		add(shown, "RemainingGrams", view->remaining_g);
		add(shown, "BandLowGrams", view->band_low_g);
		add(shown, "BandHighGrams", view->band_high_g);
	}
	if (view->has & VIEW_HAS_DISPENSED)
		add(shown, "DispensedGrams", view->dispensed_g);
	if (view->has & VIEW_HAS_PREDICTED)
		add(shown, "PredictedGrams", view->predicted_g);
	if (view->has & VIEW_HAS_DEVIATION) {
		add(shown, "DeviationPercent", view->deviation_pct);
		add(shown, "DeviationDoubtPercent", view->u_deviation_pct);
	}
	if (view->has & VIEW_HAS_LIFE)
		add(shown, "WorkingLifeLeftSeconds", view->working_life_left_s);
	if (view->has & VIEW_HAS_STIR)
		add(shown, "StirLeftSeconds", view->stir_left_s);
}

void shown_make(int64_t id, const struct guide *committed, const struct guide_view *view,
                struct batch_shown *ret)
{
	const struct resin_system *system = &committed->recipe.system;

	memset(ret, 0, sizeof(*ret));
	ret->id = id;
	snprintf(ret->system, sizeof(ret->system), "%s", system->id);
	snprintf(ret->step, sizeof(ret->step), "%s", guide_step_name(view->step));
	snprintf(ret->component, sizeof(ret->component), "%s", component_name(view->component));
	words_label(view->component, system, ret->component_label, sizeof(ret->component_label));
	ret->message = view->message;
	words_headline(&view->message, system, ret->headline, sizeof(ret->headline));
	words_sentence(&view->message, system, ret->sentence, sizeof(ret->sentence));
	words_caution(&view->message, system, ret->caution, sizeof(ret->caution));
	snprintf(ret->verdict, sizeof(ret->verdict), "%s", verdict_name(view->verdict));
	snprintf(ret->cue, sizeof(ret->cue), "%s", cue_name(view->cue));
	snprintf(ret->press, sizeof(ret->press), "%s", press_meaning_name(view->press));
	ret->provisional = view->provisional;
	add_quantities(ret, committed, view);
}

static bool same_message(const struct message *a, const struct message *b)
{
	return a->id == b->id && a->has == b->has && a->component == b->component &&
	       a->other == b->other && a->mass_g == b->mass_g &&
	       a->other_mass_g == b->other_mass_g && a->pct == b->pct &&
	       a->other_pct == b->other_pct && a->seconds == b->seconds &&
	       a->other_seconds == b->other_seconds && strcmp(a->text, b->text) == 0;
}

static bool same_quantities(const struct batch_shown *a, const struct batch_shown *b)
{
	if (a->n_quantities != b->n_quantities)
		return false;
	for (uint32_t i = 0; i < a->n_quantities; i++)
		if (a->quantity[i].value != b->quantity[i].value ||
		    strcmp(a->quantity[i].name, b->quantity[i].name) != 0)
			return false;
	return true;
}

uint32_t shown_differs(const struct batch_shown *old, const struct batch_shown *now)
{
	uint32_t differs = 0;

#define TEXT(member, part) differs |= strcmp(old->member, now->member) != 0 ? (part) : 0u
	differs |= old->id != now->id ? SHOWN_ID : 0u;
	TEXT(system, SHOWN_SYSTEM);
	TEXT(step, SHOWN_STEP);
	TEXT(component, SHOWN_COMPONENT);
	TEXT(component_label, SHOWN_COMPONENT);
	differs |= old->message.id != now->message.id ? SHOWN_MESSAGE : 0u;
	TEXT(headline, SHOWN_MESSAGE);
	differs |= same_message(&old->message, &now->message) ? 0u : SHOWN_ARGUMENTS;
	TEXT(sentence, SHOWN_SENTENCE);
	TEXT(caution, SHOWN_CAUTION);
	TEXT(verdict, SHOWN_VERDICT);
	differs |= old->provisional != now->provisional ? SHOWN_PROVISIONAL : 0u;
	TEXT(cue, SHOWN_CUE);
	TEXT(press, SHOWN_PRESS);
	differs |= same_quantities(old, now) ? 0u : SHOWN_QUANTITIES;
#undef TEXT
	return differs;
}
