/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* The scale as it weighs, and the settings. */

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

	draw_back_button(draw, &main);
	buttons = layout_cut_bottom(&body, LAYOUT_TARGET_MM, LAYOUT_GAP_MM);
	draw_button(draw, layout_column(buttons, 0, 2), TONE_PLAIN, (struct act){ACT_ZERO, 0},
	            _("Zero the empty pan"));
	draw_button(draw, layout_column(buttons, 1, 2), TONE_PLAIN, (struct act){ACT_WEIGH, 0},
	            _("Weigh"));
	number = layout_cut_top(&body, draw->layout.headline_cap_mm * 1.2, 2.0);
	if (isfinite(scale->gross_g) && model_calibrated(draw->model)) {
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
	if (isfinite(draw->ui->weighed_g) && model_calibrated(draw->model)) {
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

/* What the setting's button says under its name. */
static const char *value_of(const struct draw *draw, enum act_kind kind, char *buffer, size_t size)
{
	const struct settings *settings = &draw->ui->settings;

	switch ((int)kind) {
	case ACT_HAND:
		return settings->hand == HAND_RIGHT ? _("right") : _("left");
	case ACT_THEME:
		return settings->theme == THEME_DARK ? _("dark bench") : _("day");
	case ACT_LANGUAGE:
		return say_language_name();
	case ACT_TURN:
		snprintf(buffer, size, "%d°", settings->turn_deg);
		return buffer;
	case ACT_BRIGHTER:
		snprintf(buffer, size, "%d %%", settings->brightness_pct);
		return buffer;
	case ACT_UNITS:
		return settings->units == UNITS_US ? _("g, inches, °F") : _("g, mm, °C");
	default:
		return settings->less_motion ? _("calm: steady instead of flashing") : _("usual");
	}
}

void screen_settings(const struct draw *draw)
{
	static const struct {
		enum act_kind kind;
		const char *name;
	} rows[] = {
	        {ACT_HAND, N_("Pouring hand")},      {ACT_THEME, N_("Light")},
	        {ACT_LANGUAGE, N_("Language")},      {ACT_BRIGHTER, N_("Brightness")},
	        {ACT_TURN, N_("Picture turned by")}, {ACT_UNITS, N_("Units")},
	        {ACT_MOTION, N_("Motion")},
	};
	struct box body = draw->layout.body;
	struct strip_button strip[3] = {
	        [1] = {_("Sound"), {ACT_GO, SCREEN_SOUND}, TONE_PLAIN},
	        [2] = {_("More"), {ACT_MORE, 0}, TONE_PLAIN},
	};
	int n = sizeof rows / sizeof *rows, columns, n_rows, each, first;

	draw_grid(body, &columns, &n_rows);
	each = columns * n_rows;
	draw_page(draw, n, each, &first);
	for (int i = 0; i < each && first + i < n; i++) {
		char buffer[WORDS_NUMBER_MAX];
		enum act_kind kind = rows[first + i].kind;

		draw_button_two(draw, draw_cell(body, i, columns, n_rows), (struct act){kind, 0},
		                _(rows[first + i].name),
		                value_of(draw, kind, buffer, sizeof buffer));
	}
	draw_back_button(draw, &strip[0]);
	draw_strip(draw, strip, each < n ? 3 : 2);
}
