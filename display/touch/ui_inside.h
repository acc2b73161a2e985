/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_UI_INSIDE_H
#define AMBO_TOUCH_UI_INSIDE_H

#include "ui.h"

/* What the ui's own files share: each takes the acts of its screens. */
void ui_go(struct ui *ui, const struct model *model, int32_t screen);

/* true: it was theirs, *ret is the order. */
bool ui_first_act(struct ui *ui, const struct model *model, struct act act, struct order *ret);
bool ui_care_act(struct ui *ui, const struct model *model, struct act act, struct order *ret);
bool ui_piece_act(struct ui *ui, const struct model *model, struct act act, struct order *ret);
/* Likewise for what a press means there. */
bool ui_first_main(const struct ui *ui, const struct model *model, struct act *ret);
bool ui_care_main(const struct ui *ui, const struct model *model, struct act *ret);
bool ui_piece_main(const struct ui *ui, const struct model *model, struct act *ret);

/* ui_first.c: a step of the first run is done; with the last one all of it is. */
struct order ui_first_next(struct ui *ui);
void ui_entry_init(struct ui *ui);
void ui_care_init(struct ui *ui);
/* The load that is likely next. */
void ui_care_suggest(struct ui *ui, const struct model *model);

#endif
