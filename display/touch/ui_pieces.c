/* SPDX-License-Identifier: MIT */
/* Pieces: which one is looked at, and a batch for its next layer. */
#include <stdio.h>
#include <string.h>

#include "ui_inside.h"

const struct model_layer *ui_next_layer(const struct model *model)
{
	return model->n_plan > 0 ? &model->plan[0] : NULL;
}

bool ui_piece_act(struct ui *ui, const struct model *model, struct act act, struct order *ret)
{
	const struct model_layer *layer = ui_next_layer(model);

	*ret = (struct order){.kind = ORDER_NONE};
	if (act.kind == ACT_PIECE) {
		if (act.value < 0 || (uint32_t)act.value >= model->n_pieces)
			return true;
		snprintf(ui->piece, sizeof ui->piece, "%s", model->pieces[act.value].name);
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
