/* SPDX-License-Identifier: MIT */
#include "tell.h"

#include <stdio.h>
#include <string.h>

static const char *act_name(enum act_kind kind)
{
	static const char *const names[] = {
	        [ACT_NONE] = "none",
	        [ACT_PRESS] = "press",
	        [ACT_HOLD] = "hold",
	        [ACT_OTHER_PART] = "other-part",
	        [ACT_DISCARD_ASK] = "ask",
	        [ACT_DISCARD] = "discard",
	        [ACT_GO] = "go",
	        [ACT_SYSTEM] = "system",
	        [ACT_AMOUNT] = "amount",
	        [ACT_DIAL] = "dial",
	        [ACT_BEGIN] = "begin",
	        [ACT_AGAIN] = "again",
	        [ACT_RECORD] = "record",
	        [ACT_MORE] = "more",
	        [ACT_ZERO] = "zero",
	        [ACT_WEIGH] = "weigh",
	        [ACT_THEME] = "theme",
	        [ACT_HAND] = "hand",
	        [ACT_TURN] = "turn",
	        [ACT_LANGUAGE] = "language",
	        [ACT_FINISH] = "finish",
	        [ACT_SOUND] = "sound",
	        [ACT_NEXT] = "next",
	        [ACT_BACK] = "back",
	        [ACT_LATER] = "later",
	        [ACT_CHOOSE] = "choose",
	        [ACT_APPROVE] = "approve",
	        [ACT_CALIBRATE] = "calibrate",
	        [ACT_TAKE] = "take",
	        [ACT_ACCEPT] = "accept",
	        [ACT_GIVE_UP] = "give-up",
	        [ACT_DIGIT] = "digit",
	        [ACT_CHECK] = "check",
	        [ACT_PIECE] = "piece",
	        [ACT_POUR] = "pour",
	        [ACT_BRIGHTER] = "brighter",
	        [ACT_UNITS] = "units",
	        [ACT_MOTION] = "motion",
	};

	return (unsigned)kind < sizeof names / sizeof *names ? names[kind] : "none";
}

static const char *or_dash(const char *text)
{
	return *text ? text : "-";
}

/* How far a list is. */
static void tell_list(const struct model *model, const struct ui *ui, char *buffer, size_t size)
{
	unsigned done = 0, weighed = 0;

	for (uint32_t i = 0; i < model->n_checks; i++)
		done += ui_check_done(ui, &model->checks[i]);
	for (uint32_t i = 0; i < model->n_drying; i++)
		weighed += model->drying[i].weighings > 0.0;
	snprintf(buffer, size, " done=%u weighed=%u", done, weighed);
}

size_t tell_line(const struct model *model, const struct ui *ui, const struct scene *scene,
                 const struct touch_frame *frame, char buffer[TELL_MAX])
{
	static const char *const links[] = {"none", "up", "lost"};
	const int question = ui->screen == SCREEN_FIRST   ? (int)ui->first
	                     : ui->screen == SCREEN_ENTER ? (int)ui->entry.field
	                     : ui->screen == SCREEN_CHECK ? (int)ui->check.step
	                                                  : 0;
	char more[48] = "";
	size_t n;

	if (ui->screen == SCREEN_LAYER_CHECKS || ui->screen == SCREEN_DRYING)
		tell_list(model, ui, more, sizeof more);
	n = (size_t)snprintf(
	        buffer, TELL_MAX,
	        "shown %s %s %s %s link=%s sound=%s%s%s%s%s question=%d amount=%.0f%s targets=",
	        screen_name(ui->screen), or_dash(model->batch.step), or_dash(model->batch.message),
	        or_dash(model->batch.press), links[model->link], sound_name(ui->sound),
	        ui->settings.quiet && ui->lit ? " lit" : "", ui->asleep ? " asleep" : "",
	        ui->wipe ? " wipe" : "", ui->notice[0] ? " notice" : "", question, ui->amount_g,
	        more);

	for (uint32_t i = 0; i < scene->n_items && n + 64 < TELL_MAX; i++) {
		const struct scene_item *item = &scene->item[i];
		double x, y;

		if (item->kind != SCENE_TARGET)
			continue;
		touch_to_window(frame, item->box.x + item->box.w / 2.0,
		                item->box.y + item->box.h / 2.0, &x, &y);
		n += (size_t)snprintf(buffer + n, TELL_MAX - n, " %s/%d@%.0f,%.0f",
		                      act_name(item->act.kind), item->act.value, x, y);
	}
	if (ui->notice[0] && n + 8 + strlen(ui->notice) < TELL_MAX)
		n += (size_t)snprintf(buffer + n, TELL_MAX - n, " said=%s", ui->notice);
	return n;
}
