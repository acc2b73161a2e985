/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* The scale, the settings, the first run. */

static void main_button(const struct draw *draw, struct strip_button *ret)
{
	bool open = ui_batch_open(draw->model);

	*ret = (struct strip_button){open ? _("PRESS: back to the batch") : _("PRESS: back"),
	                             {ACT_GO, open ? SCREEN_BATCH : SCREEN_HOME},
	                             TONE_MUST_ACT};
}

static const char *state_words(const struct model_scale *scale)
{
	if (strcmp(scale->state, "settled") == 0)
		return _("settled");
	if (strcmp(scale->state, "fault") == 0)
		return _("fault");
	return _("moving");
}

void screen_scale(const struct draw *draw)
{
	const struct model_scale *scale = &draw->model->scale;
	struct box body = draw->layout.body, buttons, number;
	struct scene_style style = {.face = FACE_BOLD,
	                            .align = ALIGN_END,
	                            .cap_mm = 10.0,
	                            .cap_min_mm = draw->layout.text_least_mm,
	                            .colour = draw->palette->ink,
	                            .on = draw->palette->ground};
	char text[SAY_MAX], mass[WORDS_NUMBER_MAX], doubt[WORDS_NUMBER_MAX];
	struct strip_button main;

	main_button(draw, &main);
	buttons = layout_cut_bottom(&body, LAYOUT_TARGET_MM, LAYOUT_GAP_MM);
	draw_button(draw, layout_column(buttons, 0, 2), TONE_PLAIN, (struct act){ACT_ZERO, 0},
	            _("Zero the empty pan"));
	draw_button(draw, layout_column(buttons, 1, 2), TONE_PLAIN, (struct act){ACT_WEIGH, 0},
	            _("Weigh"));
	number = layout_cut_top(&body, draw->layout.headline_cap_mm * 1.2, 2.0);
	if (isfinite(scale->gross_g)) {
		say_mass(scale->gross_g, false, mass);
		/* Under nothing there is no minus sign, but a word. */
		if (scale->gross_g <= -0.05)
			say_fill(text, sizeof text, _("{mass} under zero"), "mass", mass, NULL);
		else
			snprintf(text, sizeof text, "%s", mass);
		scene_text(draw->scene, number, &style, text);
	}
	say_mass(scale->max_g, false, mass);
	say_mass(scale->interval_g, false, doubt);
	say_fill(text, sizeof text,
	         _("On the pan: {state}. This scale holds up to {max}, in steps of {step}."),
	         "state", state_words(scale), "max", isfinite(scale->max_g) ? mass : "?", "step",
	         isfinite(scale->interval_g) ? doubt : "?", NULL);
	if (isfinite(draw->ui->weighed_g)) {
		size_t n = strlen(text);

		say_mass(draw->ui->weighed_g, false, mass);
		snprintf(doubt, sizeof doubt, "%.2f g", draw->ui->weighed_doubt_g);
		text[n++] = ' ';
		say_fill(text + n, sizeof text - n, _("Weighed: {mass}, known to {doubt}."), "mass",
		         mass, "doubt", doubt, NULL);
	}
	draw_sentence(draw, body, text);
	draw_strip(draw, &main, 1);
}

static void setting(const struct draw *draw, struct box box, struct act act, const char *name,
                    const char *value)
{
	draw_button_two(draw, box, act, name, value);
}

void screen_settings(const struct draw *draw)
{
	const struct settings *settings = &draw->ui->settings;
	struct box body = draw->layout.body;
	struct strip_button strip[2] = {
	        {"", {ACT_NONE, 0}, TONE_PLAIN},
	        {_("Sound"), {ACT_GO, SCREEN_SOUND}, TONE_PLAIN}};
	int columns = draw->layout.portrait ? 1 : 2;
	char turn[WORDS_NUMBER_MAX];
	const struct {
		enum act_kind kind;
		const char *name, *value;
	} rows[] = {
	        {ACT_HAND, _("Pouring hand"),
	         settings->hand == HAND_RIGHT ? _("right") : _("left")},
	        {ACT_THEME, _("Light"), settings->theme == THEME_DARK ? _("dark bench") : _("day")},
	        {ACT_LANGUAGE, _("Language"), say_language_name()},
	        {ACT_TURN, _("Picture turned by"), turn},
	};
	int n = sizeof rows / sizeof *rows, n_rows = (n + columns - 1) / columns;

	snprintf(turn, sizeof turn, "%d°", settings->turn_deg);
	for (int i = 0; i < n; i++) {
		struct box row = layout_row(body, i / columns, n_rows);

		row.h = fmin(row.h, 30.0);
		setting(draw, layout_column(row, i % columns, columns),
		        (struct act){rows[i].kind, 0}, rows[i].name, rows[i].value);
	}
	main_button(draw, &strip[0]);
	draw_strip(draw, strip, 2);
}

void screen_first(const struct draw *draw)
{
	const struct settings *settings = &draw->ui->settings;
	struct box body = draw->layout.body, buttons;
	const struct strip_button done = {
	        _("PRESS: that is right"), {ACT_FIRST_DONE, 0}, TONE_MUST_ACT};

	draw_headline(draw, layout_cut_top(&body, draw->layout.headline_cap_mm + 4.5, 2.5),
	              TONE_PLAIN, _("HELLO"));
	buttons = layout_cut_bottom(&body, draw->layout.portrait ? 43.0 : LAYOUT_TARGET_MM,
	                            LAYOUT_GAP_MM);
	for (int i = 0; i < 2; i++) {
		struct box box = draw->layout.portrait ? layout_row(buttons, i, 2)
		                                       : layout_column(buttons, i, 2);

		if (i == 0)
			setting(draw, box, (struct act){ACT_HAND, 0}, _("Pouring hand"),
			        settings->hand == HAND_RIGHT ? _("right") : _("left"));
		else
			setting(draw, box, (struct act){ACT_LANGUAGE, 0}, _("Language"),
			        say_language_name());
	}
	draw_sentence(
	        draw, body,
	        _("Two things first: the hand that pours, and the language. Touch to change."));
	draw_strip(draw, &done, 1);
}
