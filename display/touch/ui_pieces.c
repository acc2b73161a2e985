/* SPDX-License-Identifier: MIT */
/* Pieces: which one is looked at, its check list, what dries for it, and a batch for its
 * next layer. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ui_inside.h"

const struct model_layer *ui_next_layer(const struct model *model)
{
	return model->n_plan > 0 ? &model->plan[0] : NULL;
}

double ui_piece_early_s(const struct ui *ui, const struct model *model)
{
	double last_us = NAN;

	for (uint32_t i = 0; i < model->n_clocks; i++) {
		const struct model_clock *clock = &model->clocks[i];

		if (strcmp(clock->piece, ui->piece) == 0 && strcmp(clock->event, "next-pour") == 0)
			last_us = isfinite(last_us) ? fmax(last_us, clock->at_realtime_us)
			                            : clock->at_realtime_us;
	}
	last_us -= model->now_realtime_us;
	return last_us > 0.0 ? last_us * 1e-6 : NAN;
}

const char *const ui_layer_checks[UI_LAYER_CHECKS] = {
        "clean",          "leak-test",   "level", "layout-photo",
        "crystals",       "bottles-dry", "sand",  "edge-tape-on",
        "inclusions-dry", "bubbles",     "cover", "bubbles-again",
        "edge-tape-off",  "air",
};

int ui_layer_check(const char *name)
{
	for (int i = 0; i < UI_LAYER_CHECKS; i++)
		if (strcmp(ui_layer_checks[i], name) == 0)
			return i;
	return -1;
}

bool ui_check_done(const struct ui *ui, const struct model_check *check)
{
	int at = ui_layer_check(check->check);

	return check->done > 0.0 || (at >= 0 && strcmp(ui->ticks.piece, ui->piece) == 0 &&
	                             ui->ticks.layer[at] == check->layer);
}

/* Ticked off, or taken back. Another piece's ticks make room. */
static void tick(struct ui *ui, const struct model_check *check)
{
	int at = ui_layer_check(check->check);
	bool done = ui_check_done(ui, check);

	if (at < 0)
		return;
	if (strcmp(ui->ticks.piece, ui->piece) != 0) {
		ui->ticks = (struct ui_ticks){.layer = {0}};
		memcpy(ui->ticks.piece, ui->piece, sizeof ui->ticks.piece);
	}
	ui->ticks.layer[at] = done ? 0.0 : check->layer;
}

static bool list_act(struct ui *ui, const struct model *model, struct act act, struct order *ret)
{
	const uint32_t row = (uint32_t)act.value;

	if (ui->screen == SCREEN_LAYER_CHECKS && act.kind == ACT_CHOOSE) {
		if (row < model->n_checks)
			tick(ui, &model->checks[row]);
		return true;
	}
	if (ui->screen == SCREEN_DRYING && act.kind == ACT_CHOOSE) {
		if (row < model->n_drying)
			ui->drying = act.value;
		return true;
	}
	if (ui->screen == SCREEN_DRYING && act.kind == ACT_WEIGH) {
		if (!ui_batch_open(model) && (uint32_t)ui->drying < model->n_drying)
			ret->kind = ORDER_DRY;
		return true;
	}
	return false;
}

bool ui_piece_act(struct ui *ui, const struct model *model, struct act act, struct order *ret)
{
	const struct model_layer *layer = ui_next_layer(model);

	*ret = (struct order){.kind = ORDER_NONE};
	if (list_act(ui, model, act, ret))
		return true;
	if (act.kind == ACT_PIECE) {
		if (act.value < 0 || (uint32_t)act.value >= model->n_pieces)
			return true;
		snprintf(ui->piece, sizeof ui->piece, "%s", model->pieces[act.value].name);
		ui->drying = 0;
		ui_go(ui, model, SCREEN_PIECE);
		ret->kind = ORDER_PIECE;
		return true;
	}
	if (act.kind != ACT_POUR)
		return false;
	if (!layer || ui_batch_open(model))
		return true;
	snprintf(ui->system, sizeof ui->system, "%s", layer->system);
	ui->away_id = -1.0;
	ret->kind = ORDER_POUR;
	return true;
}

bool ui_piece_main(const struct ui *ui, const struct model *model, struct act *ret)
{
	if (ui->screen == SCREEN_PIECE && isfinite(ui_piece_early_s(ui, model)))
		*ret = (struct act){ACT_GO, SCREEN_PIECES};
	else if (ui->screen == SCREEN_PIECE && ui_next_layer(model))
		*ret = (struct act){ACT_POUR, 0};
	else if (ui->screen == SCREEN_DRYING && (uint32_t)ui->drying < model->n_drying)
		*ret = (struct act){ACT_WEIGH, 0};
	else if (ui->screen == SCREEN_DRYING || ui->screen == SCREEN_LAYER_CHECKS)
		*ret = (struct act){ACT_GO, SCREEN_PIECE};
	else
		return false;
	return true;
}
