/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw.h"

/* Choosing what to mix: the systems, then how much. */

/* A grid of targets that fits the body: how many columns and rows a page has. */
static void grid(struct box body, int *ret_columns, int *ret_rows)
{
	*ret_columns = body.w >= 2.0 * 65.0 + LAYOUT_GAP_MM ? 2 : 1;
	*ret_rows = (int)((body.h + LAYOUT_GAP_MM) / (LAYOUT_TARGET_MM + LAYOUT_GAP_MM));
	if (*ret_rows < 1)
		*ret_rows = 1;
}

static struct box cell(struct box body, int i, int columns, int rows)
{
	struct box row = layout_row(body, i / columns, rows);

	row.h = fmin(row.h, 26.0);
	return layout_column(row, i % columns, columns);
}

static void title(const struct draw *draw, struct box *body, const char *text)
{
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->ground);

	style.face = FACE_BOLD;
	style.cap_mm *= 1.15;
	scene_text(draw->scene, layout_cut_top(body, 6.0, 1.5), &style, text);
}

static void systems(const struct draw *draw, struct box body)
{
	const struct model *model = draw->model;
	int columns, rows, n = (int)model->n_systems, each, pages, first;

	grid(body, &columns, &rows);
	each = columns * rows;
	if (n > each)
		each -= 1; /* the last cell turns the page */
	pages = each > 0 ? (n + each - 1) / each : 1;
	first = pages > 0 ? draw->ui->page % pages * each : 0;
	for (int i = 0; i < each && first + i < n; i++) {
		const struct model_system *system = &model->systems[first + i];
		char parts[SAY_MAX];

		say_parts(system, parts, sizeof parts);
		draw_button_two(draw, cell(body, i, columns, rows),
		                (struct act){ACT_SYSTEM, first + i}, system->name, parts);
	}
	if (pages > 1)
		draw_button(draw, cell(body, each, columns, rows), TONE_PLAIN,
		            (struct act){ACT_MORE, 0}, _("More"));
}

void screen_home(const struct draw *draw)
{
	const struct model *model = draw->model;
	struct box body = draw->layout.body;
	bool open = ui_batch_open(model), again = model->n_records > 0;
	struct strip_button buttons[4] = {
	        {_("PRESS: same again"), {ACT_AGAIN, 0}, TONE_MUST_ACT},
	        {_("Records"), {ACT_GO, SCREEN_RECORDS}, TONE_PLAIN},
	        {_("Scale"), {ACT_GO, SCREEN_SCALE}, TONE_PLAIN},
	        {_("Settings"), {ACT_GO, SCREEN_SETTINGS}, TONE_PLAIN},
	};
	char text[SAY_MAX];

	if (open) {
		buttons[0] = (struct strip_button){
		        _("PRESS: back to the batch"), {ACT_GO, SCREEN_BATCH}, TONE_MUST_ACT};
	} else if (!again && model->n_systems > 0) {
		say_fill(text, sizeof text, _("PRESS: {system}"), "system", model->systems[0].name,
		         NULL);
		buttons[0] = (struct strip_button){text, {ACT_SYSTEM, 0}, TONE_MUST_ACT};
	} else if (!again) {
		buttons[0] = (struct strip_button){_("nothing to mix"), {ACT_NONE, 0}, TONE_PLAIN};
	}
	if (draw->layout.portrait)
		layout_cut_bottom(&body, draw->layout.strip.h, LAYOUT_GAP_MM);
	title(draw, &body, open ? _("A batch is running") : _("What is to be mixed?"));
	if (model->n_systems == 0)
		draw_sentence(draw, body,
		              _("No resin system is entered yet: add a file to systems.d."));
	else
		systems(draw, body);
	draw_strip(draw, buttons, 4);
}

/* The dial: a ruler from little to much, with the amount as a filled cup level. */
static void dial(const struct draw *draw, struct box box)
{
	double most_g = ui_most_g(draw->model);
	double at = ui_dial_at(draw->ui->amount_g, most_g);
	static const double marks[] = {10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000};
	struct box fill = box;
	double last_x = -1e3;
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->raised);

	style.align = ALIGN_CENTRE;
	style.cap_mm = draw->layout.small_cap_mm;
	scene_rect(draw->scene, box, 2.0, draw->palette->raised);
	fill.h = 6.0;
	fill.w = box.w * at;
	if (draw->scene->rtl)
		fill.x = box.x + box.w - fill.w;
	scene_rect(draw->scene, fill, 2.0, draw->palette->poured);
	for (size_t i = 0; i < sizeof marks / sizeof *marks && marks[i] <= most_g; i++) {
		double share = ui_dial_at(marks[i], most_g), half = 8.0;
		double x = box.x + box.w * (draw->scene->rtl ? 1.0 - share : share);
		const double tick[] = {x, box.y + 7.0, x, box.y + 10.0};
		char text[WORDS_NUMBER_MAX];

		if (x - half < box.x || x + half > box.x + box.w || fabs(x - last_x) < 13.0)
			continue;
		last_x = x;
		scene_line(draw->scene, tick, 2, 0.5, draw->palette->ink);
		say_number(marks[i], 0, text);
		scene_text(draw->scene, (struct box){x - half, box.y + 11.0, 2.0 * half, 7.0},
		           &style, text);
	}
	scene_target(draw->scene, box, (struct act){ACT_DIAL, 0});
}

static void steps(const struct draw *draw, struct box box)
{
	static const int by_g[] = {-100, -10, -1, 1, 10, 100};

	for (int i = 0; i < 6; i++) {
		struct box button = draw->layout.portrait ? layout_column(layout_row(box, i / 3, 2),
		                                                          i < 3 ? i : 5 - i, 3)
		                                          : layout_column(box, i, 6);
		char mass[WORDS_NUMBER_MAX], text[64];
		double y = button.y + 5.5, x = button.x + button.w / 2.0;
		int up = by_g[i] > 0 ? -1 : 1;
		const double arrow[] = {x - 4.0, y - 1.8 * up, x + 4.0, y - 1.8 * up,
		                        x,       y + 2.4 * up};

		say_number(abs(by_g[i]), 0, mass);
		snprintf(text, sizeof text, "%s g", mass);
		draw_button(draw, button, TONE_PLAIN, (struct act){ACT_AMOUNT, by_g[i] * 10}, "");
		scene_shape(draw->scene, arrow, 3, draw->palette->ink);
		struct scene_style style =
		        draw_style(draw, draw->palette->ink, draw->palette->raised);

		style.align = ALIGN_CENTRE;
		style.face = FACE_BOLD;
		button.y += 8.0;
		button.h -= 9.0;
		scene_text(draw->scene, button, &style, text);
	}
}

void screen_amount(const struct draw *draw)
{
	const struct model_system *system = model_system_find(draw->model, draw->ui->system);
	struct box body = draw->layout.body, number, head, across;
	bool open = ui_batch_open(draw->model);
	struct strip_button buttons[2] = {
	        {"", {ACT_BEGIN, 0}, TONE_MUST_ACT},
	        {_("Back"), {ACT_GO, SCREEN_HOME}, TONE_PLAIN},
	};
	struct scene_style style = {.face = FACE_NARROW,
	                            .align = ALIGN_END,
	                            .cap_mm = draw->layout.headline_cap_mm,
	                            .colour = draw->palette->ink,
	                            .on = draw->palette->ground};
	char text[WORDS_NUMBER_MAX], grams[WORDS_NUMBER_MAX + 4], begin[SAY_MAX];

	say_number(draw->ui->amount_g, 0, text);
	snprintf(grams, sizeof grams, "%s g", text);
	say_fill(begin, sizeof begin, _("PRESS: mix {mass}"), "mass", grams, NULL);
	buttons[0].text = begin;
	if (open)
		buttons[0] = (struct strip_button){
		        _("PRESS: back to the batch"), {ACT_GO, SCREEN_BATCH}, TONE_MUST_ACT};
	steps(draw, layout_cut_bottom(&body, draw->layout.portrait ? 43.0 : LAYOUT_TARGET_MM,
	                              LAYOUT_GAP_MM));
	dial(draw, layout_cut_bottom(&body, LAYOUT_TARGET_MM, 1.0));
	if (draw->layout.portrait)
		title(draw, &body, system ? system->name : "");
	style.cap_mm = fmin(20.0, body.h / 1.6);
	head = layout_cut_bottom(&body, style.cap_mm * 1.6, 0.0);
	across = head;
	number = layout_cut_near(&head, style.cap_mm * 4.6, 2.0, draw->layout.hand);
	scene_text(draw->scene, draw->layout.portrait ? across : number, &style, grams);
	if (!draw->layout.portrait)
		title(draw, &head, system ? system->name : "");
	draw_strip(draw, buttons, 2);
}
