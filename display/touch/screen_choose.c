/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* Choosing what to mix: the systems, then how much. */

static void systems(const struct draw *draw, struct box body)
{
	const struct model *model = draw->model;
	int columns, rows, n = (int)model->n_systems, each, pages, first;

	draw_grid(body, &columns, &rows);
	each = columns * rows;
	if (n > each)
		each -= 1; /* the last cell turns the page */
	pages = draw_page(draw, n, each, &first);
	for (int i = 0; i < each && first + i < n; i++) {
		const struct model_system *system = &model->systems[first + i];
		char parts[SAY_MAX];

		say_parts(system, parts, sizeof parts);
		draw_button_two(draw, draw_cell(body, i, columns, rows),
		                (struct act){ACT_SYSTEM, first + i}, system->name, parts);
	}
	if (pages > 1)
		draw_button(draw, draw_cell(body, each, columns, rows), TONE_PLAIN,
		            (struct act){ACT_MORE, 0}, _("More"));
}

static void nothing_to_mix(const struct draw *draw, struct box body)
{
	if (!model_calibrated(draw->model)) {
		const char *headline = _("CALIBRATE");

		draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, headline), 2.5),
		              TONE_ABNORMAL, headline);
		draw_sentence(draw, body,
		              _("Nobody has told this scale what a gram is: until it is calibrated "
		                "no grams are shown and nothing is mixed."));
	} else {
		draw_title(draw, &body, _("What is to be mixed?"));
		draw_sentence(draw, body,
		              _("No resin system is entered yet: enter the one on your bottles' "
		                "label."));
	}
}

static void main_of_home(const struct draw *draw, struct strip_button *ret, char text[SAY_MAX])
{
	const struct model *model = draw->model;

	if (ui_batch_open(model)) {
		*ret = (struct strip_button){
		        _("PRESS: back to the batch"), {ACT_GO, SCREEN_BATCH}, TONE_MUST_ACT};
	} else if (!model_calibrated(model)) {
		*ret = (struct strip_button){
		        _("PRESS: calibrate"), {ACT_GO, SCREEN_CALIBRATE}, TONE_MUST_ACT};
	} else if (model->n_records > 0) {
		*ret = (struct strip_button){_("PRESS: same again"), {ACT_AGAIN, 0}, TONE_MUST_ACT};
	} else if (model->n_systems > 0) {
		say_fill(text, SAY_MAX, _("PRESS: {system}"), "system", model->systems[0].name,
		         NULL);
		*ret = (struct strip_button){text, {ACT_SYSTEM, 0}, TONE_MUST_ACT};
	} else {
		*ret = (struct strip_button){
		        _("PRESS: enter your resin"), {ACT_GO, SCREEN_ENTER}, TONE_MUST_ACT};
	}
}

void screen_home(const struct draw *draw)
{
	const struct model *model = draw->model;
	struct box body = draw->layout.body;
	struct strip_button buttons[4] = {
	        [1] = {_("Pieces"), {ACT_GO, SCREEN_PIECES}, TONE_PLAIN},
	        [2] = {_("Records"), {ACT_GO, SCREEN_RECORDS}, TONE_PLAIN},
	        [3] = {_("Bench"), {ACT_GO, SCREEN_BENCH}, TONE_PLAIN},
	};
	char text[SAY_MAX];

	main_of_home(draw, &buttons[0], text);
	if (draw->layout.portrait)
		layout_cut_bottom(&body, draw->layout.strip.h, LAYOUT_GAP_MM);
	if (model->n_systems == 0 || !model_calibrated(model)) {
		nothing_to_mix(draw, body);
	} else {
		draw_title(draw, &body,
		           ui_batch_open(model) ? _("A batch is running")
		                                : _("What is to be mixed?"));
		systems(draw, body);
	}
	draw_strip(draw, buttons, 4);
}

void screen_amount(const struct draw *draw)
{
	const struct model_system *system = model_system_find(draw->model, draw->ui->system);
	struct box body = draw->layout.body, number, head, across;
	struct ui copy;
	struct dial dial = draw_dial_of(draw, &copy);
	bool open = ui_batch_open(draw->model);
	struct strip_button buttons[2] = {
	        {"", {ACT_BEGIN, 0}, TONE_MUST_ACT},
	        {_("Back"), {ACT_GO, SCREEN_HOME}, TONE_PLAIN},
	};
	char text[WORDS_NUMBER_MAX], grams[WORDS_NUMBER_MAX + 4], begin[SAY_MAX];

	say_number(draw->ui->amount_g, 0, text);
	snprintf(grams, sizeof grams, "%s g", text);
	say_fill(begin, sizeof begin, _("PRESS: mix {mass}"), "mass", grams, NULL);
	buttons[0].text = begin;
	if (open)
		buttons[0] = (struct strip_button){
		        _("PRESS: back to the batch"), {ACT_GO, SCREEN_BATCH}, TONE_MUST_ACT};
	draw_steps(draw,
	           layout_cut_bottom(&body, draw->layout.portrait ? 43.0 : LAYOUT_TARGET_MM,
	                             LAYOUT_GAP_MM),
	           &dial);
	draw_dial(draw, layout_cut_bottom(&body, LAYOUT_TARGET_MM, 1.0), &dial);
	if (draw->layout.portrait)
		draw_title(draw, &body, system ? system->name : "");
	head = layout_cut_bottom(&body, fmin(32.0, body.h), 0.0);
	across = head;
	number = layout_cut_near(&head, fmin(20.0, head.h / 1.6) * 4.6, 2.0, draw->layout.hand);
	draw_dial_number(draw, draw->layout.portrait ? across : number, &dial);
	if (!draw->layout.portrait)
		draw_title(draw, &head, system ? system->name : "");
	draw_strip(draw, buttons, 2);
}
