/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "draw.h"

/* What was mixed: the list, and one record with its pour curve. */

static const char *verdict_words(const struct model_record *record, enum tone *ret_tone)
{
	*ret_tone = TONE_ABNORMAL;
	if (strcmp(record->step, "discarded") == 0)
		return _("discarded");
	if (strcmp(record->verdict, "within") == 0) {
		*ret_tone = TONE_GOOD;
		return _("within tolerance");
	}
	if (strcmp(record->verdict, "outside") == 0)
		return _("outside tolerance");
	if (strcmp(record->verdict, "cannot-tell") == 0)
		return _("cannot be told");
	*ret_tone = TONE_PLAIN;
	return _("not finished");
}

/* "2026-11-25 10:38", or that the clock was not set. */
static void when_words(const struct model_record *record, char *buffer, size_t size)
{
	time_t seconds = (time_t)(record->begun_realtime_us / 1e6);
	struct tm day;

	buffer[0] = '\0';
	if (!isfinite(record->begun_realtime_us) || !localtime_r(&seconds, &day))
		return;
	strftime(buffer, size, "%Y-%m-%d %H:%M", &day);
	if (record->synchronised == 0.0)
		snprintf(buffer + strlen(buffer), size - strlen(buffer), " (%s)",
		         _("clock not set"));
}

void screen_records(const struct draw *draw)
{
	const struct model *model = draw->model;
	struct box body = draw->layout.body;
	int columns, each, first, n = (int)model->n_records;
	struct strip_button buttons[2];
	int n_buttons = 1;

	draw_back_button(draw, &buttons[0]);
	draw_grid(body, &columns, &each);
	if (draw_page(draw, n, each, &first) > 1)
		buttons[n_buttons++] = (struct strip_button){_("More"), {ACT_MORE, 0}, TONE_PLAIN};
	for (int i = 0; i < each && first + i < n; i++) {
		const struct model_record *record = &model->records[first + i];
		char when[64], total[WORDS_NUMBER_MAX], line[SAY_MAX], head[SAY_MAX];
		enum tone tone;

		when_words(record, when, sizeof when);
		say_mass(record->total_g, false, total);
		snprintf(head, sizeof head, "%.0f   %s   %s", record->id,
		         isfinite(record->total_g) ? total : "", record->system_name);
		snprintf(line, sizeof line, "%s   %s", verdict_words(record, &tone), when);
		draw_button_two(draw, draw_cell(body, i, 1, each),
		                (struct act){ACT_RECORD, first + i}, head, line);
	}
	if (n == 0)
		draw_sentence(draw, body, _("Nothing has been mixed yet."));
	draw_strip(draw, buttons, n_buttons);
}

/* Gross mass over time: what went into the cup, and how. */
static void curve(const struct draw *draw, struct box box)
{
	const struct model *model = draw->model;
	struct box plot = box_inset(box, 3.0);
	double most_g = 0.0, span_s;
	double xy[2 * 400];
	uint32_t n = 0, stride = model->n_curve / 400 + 1;

	scene_rect(draw->scene, box, 2.0, draw->palette->panel);
	if (model->n_curve < 2)
		return;
	for (uint32_t i = 0; i < model->n_curve; i++)
		most_g = fmax(most_g, model->curve_g[i]);
	span_s = model->curve_s[model->n_curve - 1] - model->curve_s[0];
	if (most_g <= 0.0 || span_s <= 0.0)
		return;
	for (uint32_t i = 0; i < model->n_curve && n < 400; i += stride, n++) {
		xy[2 * n] = plot.x + plot.w * (model->curve_s[i] - model->curve_s[0]) / span_s;
		xy[2 * n + 1] = plot.y + plot.h * (1.0 - fmax(0.0, model->curve_g[i]) / most_g);
	}
	scene_line(draw->scene, xy, n, 0.7, draw->palette->poured);
}

static void masses(const struct draw *draw, struct box box)
{
	const struct model_record *record = &draw->model->record;
	char a[WORDS_NUMBER_MAX], b[WORDS_NUMBER_MAX], text[SAY_MAX], more[SAY_MAX] = "",
	                                                              doubt[WORDS_NUMBER_MAX];

	say_mass(record->resin_g, false, a);
	say_mass(record->hardener_g, false, b);
	if (isfinite(record->resin_g) && isfinite(record->hardener_g))
		say_fill(text, sizeof text, _("Resin {resin}, hardener {hardener}."), "resin", a,
		         "hardener", b, NULL);
	else
		text[0] = '\0';
	if (isfinite(record->deviation_pct) && isfinite(record->doubt_pct)) {
		char deviation[SAY_MAX], tolerance[WORDS_NUMBER_MAX];

		say_deviation(draw->model, record->system, record->deviation_pct, deviation,
		              sizeof deviation);
		say_pct(record->doubt_pct, doubt);
		say_pct(record->tolerance_pct, tolerance);
		say_fill(more, sizeof more,
		         _(" {deviation}, known to {doubt}; {tolerance} allowed."), "deviation",
		         deviation, "doubt", doubt, "tolerance", tolerance, NULL);
	}
	strncat(text, more, sizeof text - strlen(text) - 1);
	draw_sentence(draw, box, text);
}

void screen_record(const struct draw *draw)
{
	const struct model_record *record = &draw->model->record;
	struct box body = draw->layout.body, head;
	struct strip_button button;
	char text[SAY_MAX], when[64];
	enum tone tone;
	const char *verdict = verdict_words(record, &tone);

	if (ui_batch_open(draw->model))
		draw_back_button(draw, &button);
	else
		button = (struct strip_button){
		        _("PRESS: back"), {ACT_GO, SCREEN_RECORDS}, TONE_MUST_ACT};
	head = layout_cut_top(&body, 8.0, 1.5);
	if (record->id > 0.0) {
		struct scene_style style = draw_style(draw, draw->palette->tone[tone].ink,
		                                      draw->palette->tone[tone].ground);

		scene_rect(draw->scene, head, 1.5, style.on);
		head = box_inset(head, 1.5);
		if (tone != TONE_PLAIN) {
			draw_tone_shape(
			        draw,
			        (struct box){draw->scene->rtl ? head.x + head.w - 5.0 : head.x,
			                     head.y, 5.0, 5.0},
			        tone, style.colour, style.on);
			head.x += draw->scene->rtl ? 0.0 : 7.0;
			head.w -= 7.0;
		}
		when_words(record, when, sizeof when);
		snprintf(text, sizeof text, "%.0f   %s   %s", record->id, verdict, when);
		style.face = FACE_BOLD;
		scene_text(draw->scene, head, &style, text);
		masses(draw, layout_cut_top(&body, draw->layout.portrait ? 34.0 : 14.0, 1.5));
		curve(draw, body);
	} else {
		draw_sentence(draw, body, _("The record is being read."));
	}
	draw_strip(draw, &button, 1);
}
