/* SPDX-License-Identifier: MIT */
/* The first run, and a system entered by dial from its label. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ui_inside.h"

struct order ui_first_next(struct ui *ui)
{
	if (ui->settings.first_run_done)
		return (struct order){.kind = ORDER_NONE};
	ui->notice[0] = '\0';
	if (ui->first + 1 < FIRST_COUNT) {
		ui->first++;
		ui->screen = SCREEN_FIRST;
		return (struct order){.kind = ORDER_NONE};
	}
	ui->settings.first_run_done = true;
	ui->screen = SCREEN_HOME;
	return (struct order){.kind = ORDER_SETTINGS};
}

void ui_entry_init(struct ui *ui)
{
	ui->entry = (struct ui_entry){.field = ENTRY_BASIS};
	ui->entry.value[ENTRY_PARTS_A] = 100.0;
	ui->entry.value[ENTRY_PARTS_B] = 50.0;
	ui->entry.value[ENTRY_DENSITY_A] = 1.10;
	ui->entry.value[ENTRY_DENSITY_B] = 1.00;
	ui->entry.value[ENTRY_LIFE] = 40.0;
	/* What most labels tell their working life for (common practice, no source). */
	ui->entry.value[ENTRY_LIFE_MASS] = 100.0;
	ui->entry.value[ENTRY_LIFE_DEGC] = 23.0;
}

/* The next field there is, or the one before; by weight nobody needs a density. */
static bool turn(struct ui_entry *entry, int way)
{
	int field = (int)entry->field;

	do
		field += way;
	while (!entry->by_volume && (field == ENTRY_DENSITY_A || field == ENTRY_DENSITY_B));
	if (field < 0 || field >= ENTRY_COUNT)
		return false;
	entry->field = (enum entry_field)field;
	return true;
}

void ui_entry_system(const struct ui *ui, struct model_system *ret)
{
	const struct ui_entry *entry = &ui->entry;
	const double a = entry->value[ENTRY_PARTS_A], b = entry->value[ENTRY_PARTS_B];

	memset(ret, 0, sizeof *ret);
	snprintf(ret->name, sizeof ret->name, "%.10g : %.10g", a, b);
	snprintf(ret->label_a, sizeof ret->label_a, "%s", entry->hardener_a ? "hardener" : "resin");
	snprintf(ret->label_b, sizeof ret->label_b, "%s", entry->hardener_a ? "resin" : "hardener");
	snprintf(ret->basis, sizeof ret->basis, "%s", entry->by_volume ? "volume" : "weight");
	snprintf(ret->hardener, sizeof ret->hardener, "%s", entry->hardener_a ? "a" : "b");
	ret->parts_a = a;
	ret->parts_b = b;
	ret->working_life_s = entry->value[ENTRY_LIFE] * 60.0;
}

void ui_entered(struct ui *ui, const char *system_id)
{
	snprintf(ui->system, sizeof ui->system, "%s", system_id);
	ui_entry_init(ui);
	if (ui->screen != SCREEN_ENTER)
		return;
	if (!ui->settings.first_run_done)
		ui_first_next(ui);
	else
		ui->screen = SCREEN_AMOUNT;
}

static struct order enter_act(struct ui *ui, const struct model *model, struct act act)
{
	struct ui_entry *entry = &ui->entry;

	switch (act.kind) {
	case ACT_CHOOSE:
		if (act.value == 2)
			entry->hardener_a = !entry->hardener_a;
		else
			entry->by_volume = act.value == 1;
		break;
	case ACT_NEXT:
		if (entry->field == ENTRY_READ_BACK)
			return (struct order){.kind = ORDER_ENTER};
		turn(entry, 1);
		break;
	case ACT_BACK:
		if (!turn(entry, -1))
			ui_go(ui, model, SCREEN_HOME);
		break;
	default:
		break;
	}
	return (struct order){.kind = ORDER_NONE};
}

/* Which system the water is for: the one entered last, else the first that may be mixed. */
static const char *practice_system(const struct ui *ui, const struct model *model)
{
	const struct model_system *chosen = model_system_find(model, ui->system);

	if (chosen)
		return chosen->id;
	return model->n_systems > 0 ? model->systems[0].id : "";
}

static struct order first_act(struct ui *ui, const struct model *model, struct act act)
{
	if (act.kind == ACT_LATER)
		return ui_first_next(ui);
	switch (ui->first) {
	case FIRST_HAND:
	case FIRST_SOUND:
	case FIRST_LANGUAGE:
	case FIRST_COUNT:
		return ui_first_next(ui);
	case FIRST_CALIBRATE:
		ui_go(ui, model, SCREEN_CALIBRATE);
		break;
	case FIRST_SYSTEM:
		ui_go(ui, model, SCREEN_ENTER);
		break;
	case FIRST_WATER:
		snprintf(ui->system, sizeof ui->system, "%s", practice_system(ui, model));
		ui->amount_g = FIRST_WATER_G;
		ui->away_id = -1.0;
		return (struct order){.kind = ORDER_PRACTICE};
	}
	return (struct order){.kind = ORDER_NONE};
}

bool ui_first_act(struct ui *ui, const struct model *model, struct act act, struct order *ret)
{
	bool step = act.kind == ACT_NEXT || act.kind == ACT_BACK || act.kind == ACT_CHOOSE ||
	            act.kind == ACT_LATER;

	if (!step || (ui->screen != SCREEN_FIRST && ui->screen != SCREEN_ENTER))
		return false;
	*ret = ui->screen == SCREEN_FIRST ? first_act(ui, model, act) : enter_act(ui, model, act);
	return true;
}

bool ui_first_main(const struct ui *ui, const struct model *model, struct act *ret)
{
	if (ui->screen == SCREEN_ENTER && ui_needs_word(model))
		*ret = (struct act){ACT_APPROVE, 0};
	else if (ui->screen == SCREEN_FIRST && ui->first == FIRST_SOUND)
		*ret = (struct act){ACT_SOUND, SOUND_ACT_HEARD};
	else if (ui->screen == SCREEN_FIRST || ui->screen == SCREEN_ENTER)
		*ret = (struct act){ACT_NEXT, 0};
	else
		return false;
	return true;
}

struct dial ui_dial(struct ui *ui, const struct model *model)
{
	static const struct dial entry[ENTRY_COUNT] = {
	        [ENTRY_PARTS_A] = {NULL, 1.0, 1000.0, 0.1, {0.1, 1.0, 10.0}, 1, ""},
	        [ENTRY_PARTS_B] = {NULL, 1.0, 1000.0, 0.1, {0.1, 1.0, 10.0}, 1, ""},
	        [ENTRY_DENSITY_A] = {NULL, 0.7, 2.0, 0.01, {0.01, 0.05, 0.1}, 2, "g/ml"},
	        [ENTRY_DENSITY_B] = {NULL, 0.7, 2.0, 0.01, {0.01, 0.05, 0.1}, 2, "g/ml"},
	        [ENTRY_LIFE] = {NULL, 3.0, 600.0, 1.0, {1.0, 5.0, 30.0}, 0, "min"},
	        [ENTRY_LIFE_MASS] = {NULL, 10.0, 5000.0, 1.0, {1.0, 10.0, 100.0}, 0, "g"},
	        [ENTRY_LIFE_DEGC] = {NULL, 10.0, 40.0, 0.5, {0.5, 1.0, 5.0}, 1, "°C"},
	};
	struct dial dial = {.value = NULL};

	if (ui->screen == SCREEN_AMOUNT) {
		dial = (struct dial){&ui->amount_g,
		                     UI_LEAST_G,
		                     ui_most_g(model),
		                     1.0,
		                     {1.0, 10.0, 100.0},
		                     0,
		                     "g"};
	} else if (ui->screen == SCREEN_ENTER && entry[ui->entry.field].most > 0.0) {
		dial = entry[ui->entry.field];
		dial.value = &ui->entry.value[ui->entry.field];
	}
	return dial;
}

/* Along the dial what a hand would ask for: no finer than a fiftieth of it. */
double dial_value(const struct dial *dial, double at)
{
	double value = dial->least * pow(dial->most / dial->least, fmin(1.0, fmax(0.0, at)));
	double step = pow(10.0, floor(log10(value / 20.0)));

	step = value / step >= 100.0 ? 5.0 * step : value / step >= 40.0 ? 2.0 * step : step;
	step = fmax(step, dial->step);
	return fmin(dial->most, fmax(dial->least, round(value / step) * step));
}

double dial_at(const struct dial *dial)
{
	double value = fmin(dial->most, fmax(dial->least, *dial->value));

	return log(value / dial->least) / log(dial->most / dial->least);
}
