/* SPDX-License-Identifier: MIT */
/* Pieces: which one is looked at, its check list, what dries for it, and a batch for its
 * next layer. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ui_inside.h"

static const struct model_clock *clock_of(const struct ui *ui, const struct model *model,
                                          const char *event, double layer)
{
	for (uint32_t i = 0; i < model->n_clocks; i++)
		if (strcmp(model->clocks[i].piece, ui->piece) == 0 &&
		    strcmp(model->clocks[i].event, event) == 0 && model->clocks[i].layer == layer)
			return &model->clocks[i];
	return NULL;
}

/* How many batches the layer in several has had; 0: it has had none, all or too long ago. */
static int batches_in(const struct ui *ui, const struct model *model)
{
	const struct model_layer *layer = &ui->batches.layer;
	const struct model_clock *gel = clock_of(ui, model, "gel", layer->layer);

	if (strcmp(ui->batches.piece, ui->piece) != 0 || !gel ||
	    !(gel->at_realtime_us > model->now_realtime_us))
		return 0;
	for (uint32_t i = 0; i < model->n_layers; i++)
		if (model->layers[i].layer == layer->layer &&
		    model->layers[i].pours < layer->batches)
			return (int)model->layers[i].pours;
	return 0;
}

const struct model_layer *ui_next_layer(const struct ui *ui, const struct model *model)
{
	if (batches_in(ui, model) > 0)
		return &ui->batches.layer;
	return model->n_plan > 0 ? &model->plan[0] : NULL;
}

int ui_next_batch(const struct ui *ui, const struct model *model)
{
	return batches_in(ui, model) + 1;
}

double ui_piece_early_s(const struct ui *ui, const struct model *model, bool *ret_age_known)
{
	const double now_us = model->now_realtime_us;
	const struct model_clock *opens, *closes;
	double last = 0.0;

	*ret_age_known = true;
	if (!ui_next_layer(ui, model) || batches_in(ui, model) > 0)
		return NAN;
	for (uint32_t i = 0; i < model->n_layers; i++)
		last = fmax(last, model->layers[i].layer);
	opens = clock_of(ui, model, "next-pour", last);
	closes = clock_of(ui, model, "bond-closes", last);
	/* Too late to bond by itself, and too soft yet to be sanded. */
	if (closes && closes->at_realtime_us < now_us)
		opens = clock_of(ui, model, "handle", last);
	if (!opens || !(opens->at_realtime_us > now_us))
		return NAN;
	*ret_age_known = opens->age_known != 0.0;
	return (opens->at_realtime_us - now_us) * 1e-6;
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
	const struct model_layer *layer = ui_next_layer(ui, model);

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
	if (layer != &ui->batches.layer) {
		ui->batches.layer = *layer;
		memcpy(ui->batches.piece, ui->piece, sizeof ui->batches.piece);
	}
	snprintf(ui->system, sizeof ui->system, "%s", ui->batches.layer.system);
	ui->away_id = -1.0;
	ret->kind = ORDER_POUR;
	return true;
}

bool ui_piece_main(const struct ui *ui, const struct model *model, struct act *ret)
{
	bool age_known;

	if (ui->screen == SCREEN_PIECE && isfinite(ui_piece_early_s(ui, model, &age_known)))
		*ret = (struct act){ACT_GO, SCREEN_PIECES};
	else if (ui->screen == SCREEN_PIECE && ui_next_layer(ui, model))
		*ret = (struct act){ACT_POUR, 0};
	else if (ui->screen == SCREEN_DRYING && (uint32_t)ui->drying < model->n_drying)
		*ret = (struct act){ACT_WEIGH, 0};
	else if (ui->screen == SCREEN_DRYING || ui->screen == SCREEN_LAYER_CHECKS)
		*ret = (struct act){ACT_GO, SCREEN_PIECE};
	else
		return false;
	return true;
}
