/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw.h"

/* The pieces, one of them with its plan, and the clocks of every layer. */

static void piece_words(const struct draw *draw, const struct model_piece *piece, char *buffer,
                        size_t size)
{
	char filled[WORDS_NUMBER_MAX], left[WORDS_NUMBER_MAX], layers[WORDS_NUMBER_MAX];

	say_depth(piece->filled_mm, draw->ui->settings.units, filled);
	say_depth(piece->left_mm, draw->ui->settings.units, left);
	snprintf(layers, sizeof layers, "%.0f", piece->layers);
	if (piece->finished > 0.0)
		snprintf(buffer, size, "%s", _("finished"));
	else
		say_fill(buffer, size,
		         P_("{layers} layer poured   {filled} filled, {left} to go",
		            "{layers} layers poured   {filled} filled, {left} to go",
		            fmax(piece->layers, 0.0)),
		         "layers", layers, "filled", filled, "left", left, NULL);
}

void screen_pieces(const struct draw *draw)
{
	const struct model *model = draw->model;
	struct box body = draw->layout.body;
	int columns, rows, n = (int)model->n_pieces, first, pages;
	struct strip_button strip[3] = {[1] = {_("Clocks"), {ACT_GO, SCREEN_CLOCKS}, TONE_PLAIN},
	                                [2] = {_("More"), {ACT_MORE, 0}, TONE_PLAIN}};

	draw_back_button(draw, &strip[0]);
	draw_grid(body, &columns, &rows);
	pages = draw_page(draw, n, rows, &first);
	for (int i = 0; i < rows && first + i < n; i++) {
		const struct model_piece *piece = &model->pieces[first + i];
		char text[SAY_MAX];

		piece_words(draw, piece, text, sizeof text);
		draw_button_two(draw, draw_cell(body, i, 1, rows),
		                (struct act){ACT_PIECE, first + i}, piece->name, text);
	}
	if (n == 0)
		draw_sentence(
		        draw, body,
		        _("No piece is kept here yet. A piece is described in a file and handed "
		          "over at the terminal: ambo piece new FILE."));
	draw_strip(draw, strip, pages > 1 ? 3 : 2);
}

/* A plan's warning goes on from "warning: "; here it stands for itself. An id that opens it
 * stays as it is. */
static void read_note(const struct draw *draw, char *buffer, size_t size)
{
	const char *note = draw->model->plan_note;
	size_t n = say_read(note, buffer, size);

	if (buffer[0] >= 'a' && buffer[0] <= 'z' && note[strcspn(note, " :")] != ':')
		buffer[0] = (char)(buffer[0] - 'a' + 'A');
	if (n > 0 && n + 1 < size && buffer[n - 1] != '.')
		memcpy(buffer + n, ".", 2);
}

/* "Layer 2, ferns: 3.4 mm, 212.0 g in 1 batch. From Sat 14:00. Sand first." */
static size_t layer_words(const struct draw *draw, const struct model_layer *layer, char *buffer,
                          size_t size)
{
	char number[16], depth[WORDS_NUMBER_MAX], mass[WORDS_NUMBER_MAX], when[64],
	        batches[WORDS_NUMBER_MAX], batch[WORDS_NUMBER_MAX];
	const int at = ui_next_batch(draw->ui, draw->model);
	size_t n;

	snprintf(number, sizeof number, "%.0f", layer->layer);
	snprintf(batches, sizeof batches, "%.0f", layer->batches);
	snprintf(batch, sizeof batch, "%d", at);
	say_depth(layer->depth_mm, draw->ui->settings.units, depth);
	say_mass(layer->total_g, false, mass);
	say_day_time(layer->session_realtime_us, when, sizeof when);
	n = say_fill(buffer, size, _("Layer {number}, {coat}: {depth}, {mass}."), "number", number,
	             "coat", layer->coat, "depth", depth, "mass", mass, NULL);
	/* Before the first gels, or they are two layers. */
	if (at > 1)
		return n + say_fill(buffer + n, size - n,
		                    _(" Now batch {batch} of {batches}, before what is poured "
		                      "gels."),
		                    "batch", batch, "batches", batches, NULL);
	if (layer->batches > 1.0)
		n += say_fill(buffer + n, size - n,
		              P_(" In {batches} batch.", " In {batches} batches.", layer->batches),
		              "batches", batches, NULL);
	if (when[0])
		n += say_fill(buffer + n, size - n, _(" As planned {when}."), "when", when, NULL);
	if (layer->sand_first > 0.0)
		n += say_fill(buffer + n, size - n,
		              _(" Sand and wipe first: mask, no dry sweeping."), NULL);
	return n;
}

/* "Wait: the layer below is ready in 2 h 50 min." What else is to be heeded follows the
 * layer itself. */
static void piece_sentence(const struct draw *draw, double early_s, bool age_known, char *buffer,
                           size_t size)
{
	const struct model_layer *layer = ui_next_layer(draw->ui, draw->model);
	char wait[WORDS_NUMBER_MAX], note[SAY_MAX];
	size_t n = 0;

	read_note(draw, note, sizeof note);
	if (!layer) {
		snprintf(buffer, size, "%s", note[0] ? note : _("The plan is being computed."));
		return;
	}
	if (isfinite(early_s)) {
		say_duration(ceil(early_s / 60.0) * 60.0, wait);
		n = say_fill(buffer, size,
		             age_known ? _("Wait: the layer below is ready in {time}.")
		                       : _("Wait: the layer below is ready in {time} at the "
		                           "soonest."),
		             "time", wait, NULL);
		n += (size_t)snprintf(buffer + n, size - n, " ");
	}
	n += layer_words(draw, layer, buffer + n, size - n);
	if (note[0] && layer != &draw->ui->batches.layer)
		snprintf(buffer + n, size - n, " %s", note);
}

void screen_piece(const struct draw *draw)
{
	const struct model_layer *layer = ui_next_layer(draw->ui, draw->model);
	struct box body = draw->layout.body, picture;
	struct strip_button strip[4] = {
	        [1] = {_("Checks"), {ACT_GO, SCREEN_LAYER_CHECKS}, TONE_PLAIN},
	        [2] = {_("Drying"), {ACT_GO, SCREEN_DRYING}, TONE_PLAIN},
	        [3] = {_("Back"), {ACT_GO, SCREEN_PIECES}, TONE_PLAIN},
	};
	char text[2 * SAY_MAX], press[SAY_MAX], mass[WORDS_NUMBER_MAX], number[16];
	bool age_known;
	double early_s = ui_piece_early_s(draw->ui, draw->model, &age_known);

	draw_back_button(draw, &strip[0]);
	/* What is offered in the colour of what to do now is never what the sentence warns of. */
	if (layer && !ui_batch_open(draw->model) && isfinite(early_s)) {
		strip[0] = (struct strip_button){
		        _("PRESS: back"), {ACT_GO, SCREEN_PIECES}, TONE_MUST_ACT};
		strip[3] = (struct strip_button){_("Mix early"), {ACT_POUR, 0}, TONE_PLAIN};
	} else if (layer && !ui_batch_open(draw->model)) {
		say_mass(layer->total_g / fmax(1.0, layer->batches), false, mass);
		snprintf(number, sizeof number, "%.0f", layer->layer);
		say_fill(press, sizeof press, _("PRESS: mix layer {number}, {mass}"), "number",
		         number, "mass", mass, NULL);
		strip[0] = (struct strip_button){press, {ACT_POUR, 0}, TONE_MUST_ACT};
	}
	if (draw->layout.portrait) /* the strip's small ones stand above it */
		layout_cut_bottom(&body, draw->layout.strip.h, LAYOUT_GAP_MM);
	draw_title(draw, &body, draw->ui->piece);
	picture = draw->layout.portrait
	                  ? layout_cut_bottom(&body, body.h * 0.5, 2.0)
	                  : layout_cut_away(&body, body.w * 0.5, 3.0, draw->layout.hand);
	draw_section(draw, picture);
	piece_sentence(draw, early_s, age_known, text, sizeof text);
	draw_sentence(draw, body, text);
	draw_strip(draw, strip, 4);
}

static const char *event_words(const char *event)
{
	static const struct say_word rows[] = {
	        {"holds", N_("holds what is laid in it")},
	        {"sticky", N_("sticky: move nothing in it")},
	        {"gel", N_("gelled")},
	        {"next-pour", N_("ready for the next layer")},
	        {"bond-closes", N_("from here on sand first")},
	        {"handle", N_("may be handled")},
	        {"full-cure", N_("cured through")},
	};

	return say_word(rows, sizeof rows / sizeof *rows, event, event);
}

/* What is still to come, the soonest first; then nothing: the past is in the records. */
static uint32_t coming(const struct model *model, const struct model_clock *ret[MODEL_CLOCKS_MAX])
{
	uint32_t n = 0;

	for (uint32_t i = 0; i < model->n_clocks; i++) {
		uint32_t at = n;

		if (!(model->clocks[i].at_realtime_us > model->now_realtime_us))
			continue;
		for (n++; at > 0 && ret[at - 1]->at_realtime_us > model->clocks[i].at_realtime_us;
		     at--)
			ret[at] = ret[at - 1];
		ret[at] = &model->clocks[i];
	}
	return n;
}

static void clock_row(const struct draw *draw, struct box row, const struct model_clock *clock)
{
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->panel);
	double left_s = (clock->at_realtime_us - draw->model->now_realtime_us) * 1e-6;
	char layer[16], text[SAY_MAX], left[WORDS_NUMBER_MAX], when[64], both[SAY_MAX];

	snprintf(layer, sizeof layer, "%.0f", clock->layer);
	say_fill(text, sizeof text, _("{piece}, layer {layer}: {what}"), "piece", clock->piece,
	         "layer", layer, "what", event_words(clock->event), NULL);
	say_duration(ceil(left_s / 60.0) * 60.0, left);
	say_day_time(clock->at_realtime_us, when, sizeof when);
	say_fill(both, sizeof both,
	         clock->age_known == 0.0 ? _("soonest in {time} ({when})")
	                                 : _("in {time} ({when})"),
	         "time", left, "when", when, NULL);
	scene_rect(draw->scene, row, 2.0, draw->palette->panel);
	row = box_inset(row, 1.8);
	style.face = FACE_BOLD;
	scene_text(draw->scene, layout_cut_top(&row, 5.7, 0.0), &style, both);
	style.face = FACE_PLAIN;
	style.wrap = true;
	scene_text(draw->scene, row, &style, text);
}

void screen_clocks(const struct draw *draw)
{
	const struct model_clock *next[MODEL_CLOCKS_MAX];
	struct box body = draw->layout.body;
	double row_mm = draw->layout.portrait ? 20.0 : 15.0;
	int n = (int)coming(draw->model, next), each = (int)((body.h + 2.0) / (row_mm + 2.0));
	int first, pages = draw_page(draw, n, each, &first);
	struct strip_button strip[2] = {[1] = {_("More"), {ACT_MORE, 0}, TONE_PLAIN}};

	draw_back_button(draw, &strip[0]);
	for (int i = 0; i < each && first + i < n; i++)
		clock_row(draw, layout_cut_top(&body, row_mm, 2.0), next[first + i]);
	if (n == 0)
		draw_sentence(draw, body, _("No clock runs: nothing is curing here."));
	draw_strip(draw, strip, pages > 1 ? 2 : 1);
}
