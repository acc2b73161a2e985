/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* The first run, step by step, and a system entered from its label. */

static void two_choices(const struct draw *draw, struct box box, const struct strip_button of[2])
{
	for (int i = 0; i < 2; i++)
		draw_button(draw, layout_column(box, i, 2), of[i].tone, of[i].act, of[i].text);
}

/* Where one is on the way: a dot a step, those that are done filled. */
static void way(const struct draw *draw, struct box *body)
{
	struct box line = layout_cut_bottom(body, 3.0, 2.0);
	double x = line.x + (line.w - FIRST_COUNT * 6.0) / 2.0;

	for (int i = 0; i < FIRST_COUNT; i++) {
		int at = draw->scene->rtl ? FIRST_COUNT - 1 - i : i;
		struct box dot = {x + 6.0 * at, line.y, 3.0, 3.0};

		if (i <= (int)draw->ui->first)
			scene_rect(draw->scene, dot, 1.5, draw->palette->poured);
		else
			scene_frame(draw->scene, dot, 1.5, 0.4, false, draw->palette->line);
	}
}

static void head(const struct draw *draw, struct box *body, const char *headline)
{
	draw_headline(draw, layout_cut_top(body, draw_headline_mm(draw, headline), 2.5), TONE_PLAIN,
	              headline);
}

static void step_hand(const struct draw *draw, struct box body)
{
	bool right = draw->ui->settings.hand == HAND_RIGHT;
	const struct strip_button hands[2] = {
	        {_("left"), {right ? ACT_HAND : ACT_NONE, 0}, right ? TONE_PLAIN : TONE_GOOD},
	        {_("right"), {right ? ACT_NONE : ACT_HAND, 0}, right ? TONE_GOOD : TONE_PLAIN},
	};

	head(draw, &body, _("WHICH HAND?"));
	two_choices(draw, layout_cut_bottom(&body, LAYOUT_TARGET_MM, LAYOUT_GAP_MM), hands);
	draw_sentence(draw, body,
	              _("Which hand pours? The buttons go to the other side."));
}

static void step_language(const struct draw *draw, struct box body)
{
	struct box button = layout_cut_bottom(&body, LAYOUT_TARGET_MM, LAYOUT_GAP_MM);

	head(draw, &body, _("LANGUAGE"));
	draw_button_two(draw, button, (struct act){ACT_LANGUAGE, 0}, say_language_name(),
	                _("Touch for the next one."));
	draw_sentence(draw, body, _("Is this your language?"));
}

static void step_told(const struct draw *draw, struct box body, const char *headline,
                      const char *sentence)
{
	head(draw, &body, headline);
	draw_sentence(draw, body, sentence);
}

static void step_calibrate(const struct draw *draw, struct box body)
{
	const struct model *model = draw->model;

	step_told(
	        draw, body, _("CALIBRATE"),
	        !model_calibrated(model)
	                ? _("Known loads tell the scale what a gram is: a quarter of an hour, with "
	                    "weights or measured water up to its Max. Until then no grams are "
	                    "shown and nothing is mixed.")
	                : _("Masses can be trusted already, or nothing real is weighed here. "
	                    "Calibrate all the same, or later."));
}

static void step_system(const struct draw *draw, struct box body)
{
	step_told(draw, body, _("YOUR RESIN"),
	          _("Take the bottles in hand: what their label says is entered now by dial, and "
	            "read back to you. Gloves and fresh air first; the safety data sheet holds."));
}

static void step_water(const struct draw *draw, struct box body)
{
	step_told(draw, body, _("WATER FIRST"),
	          _("A batch for practice, with water in both bottles: nothing can set, nothing is "
	            "lost. The record says that it was water. Dry cup and pan well after it."));
}

static void strip_of_first(const struct draw *draw, bool may_wait)
{
	struct strip_button strip[3] = {
	        {_("PRESS: next"), {ACT_NEXT, 0}, TONE_MUST_ACT},
	        {_("Later"), {ACT_LATER, 0}, TONE_PLAIN},
	};

	switch (draw->ui->first) {
	case FIRST_CALIBRATE:
		strip[0].text = _("PRESS: calibrate");
		break;
	case FIRST_SYSTEM:
		strip[0].text = _("PRESS: enter it");
		break;
	case FIRST_WATER:
		strip[0].text = _("PRESS: practise");
		break;
	case FIRST_HAND:
	case FIRST_SOUND:
	case FIRST_LANGUAGE:
	case FIRST_COUNT:
		break;
	}
	draw_strip(draw, strip, may_wait ? 2 : 1);
}

void screen_first(const struct draw *draw)
{
	struct box body = draw->layout.body;
	struct strip_button back;

	if (ui_batch_open(draw->model)) {
		draw_back_button(draw, &back);
		draw_sentence(draw, body,
		              _("A batch is open: the first questions go on after it."));
		draw_strip(draw, &back, 1);
		return;
	}
	if (draw->ui->first == FIRST_SOUND) {
		screen_heard(draw);
		return;
	}
	way(draw, &body);
	switch (draw->ui->first) {
	case FIRST_HAND:
	case FIRST_SOUND:
	case FIRST_COUNT:
		step_hand(draw, body);
		break;
	case FIRST_LANGUAGE:
		step_language(draw, body);
		break;
	case FIRST_CALIBRATE:
		step_calibrate(draw, body);
		break;
	case FIRST_SYSTEM:
		step_system(draw, body);
		break;
	case FIRST_WATER:
		step_water(draw, body);
		break;
	}
	strip_of_first(draw, draw->ui->first >= FIRST_CALIBRATE);
}

static const char *question(const struct ui_entry *entry)
{
	switch (entry->field) {
	case ENTRY_BASIS:
		return _("How does the label count its parts?");
	case ENTRY_PARTS_A:
		return _("Parts of A, as on the label");
	case ENTRY_PARTS_B:
		return _("Parts of B, as on the label");
	case ENTRY_DENSITY_A:
		return _("Density of A, from its data sheet");
	case ENTRY_DENSITY_B:
		return _("Density of B, from its data sheet");
	case ENTRY_LIFE:
		return _("Working life (pot life) on the label");
	case ENTRY_LIFE_MASS:
		return _("… that is for a mass of");
	case ENTRY_LIFE_DEGC:
		return _("… and at a temperature of");
	case ENTRY_READ_BACK:
	case ENTRY_COUNT:
		break;
	}
	return "";
}

static void enter_basis(const struct draw *draw, struct box body)
{
	const struct ui_entry *entry = &draw->ui->entry;
	const struct strip_button basis[2] = {
	        {_("by weight"),
	         {entry->by_volume ? ACT_CHOOSE : ACT_NONE, 0},
	         entry->by_volume ? TONE_PLAIN : TONE_GOOD},
	        {_("by volume"),
	         {entry->by_volume ? ACT_NONE : ACT_CHOOSE, 1},
	         entry->by_volume ? TONE_GOOD : TONE_PLAIN},
	};
	struct box hardener = layout_cut_bottom(&body, LAYOUT_TARGET_MM, LAYOUT_GAP_MM);

	two_choices(draw, layout_cut_bottom(&body, LAYOUT_TARGET_MM, LAYOUT_GAP_MM), basis);
	draw_button_two(draw, hardener, (struct act){ACT_CHOOSE, 2},
	                entry->hardener_a ? _("A is the hardener") : _("B is the hardener"),
	                _("Touch to change."));
	draw_title(draw, &body, question(entry));
}

static void enter_number(const struct draw *draw, struct box body)
{
	struct ui copy;
	struct dial dial = draw_dial_of(draw, &copy);
	struct box number;

	draw_steps(draw,
	           layout_cut_bottom(&body, draw->layout.portrait ? 43.0 : LAYOUT_TARGET_MM,
	                             LAYOUT_GAP_MM),
	           &dial);
	draw_dial(draw, layout_cut_bottom(&body, LAYOUT_TARGET_MM, 1.0), &dial);
	if (draw->layout.portrait) {
		draw_sentence(draw, layout_cut_top(&body, 12.0, 1.0), question(&draw->ui->entry));
		draw_dial_number(draw, layout_cut_bottom(&body, fmin(32.0, body.h), 0.0), &dial);
		return;
	}
	number = layout_cut_near(&body, body.w * 0.46, 2.0, draw->layout.hand);
	draw_sentence(draw, body, question(&draw->ui->entry));
	draw_dial_number(draw, number, &dial);
}

static void read_back(const struct draw *draw, struct box body)
{
	const double *value = draw->ui->entry.value;
	char text[SAY_MAX], life[WORDS_NUMBER_MAX], mass[WORDS_NUMBER_MAX], warm[WORDS_NUMBER_MAX];
	struct model_system system;
	size_t n;

	ui_entry_system(draw->ui, &system);
	snprintf(system.label_a, sizeof system.label_a, "%s",
	         draw->ui->entry.hardener_a ? _("hardener") : _("resin"));
	snprintf(system.label_b, sizeof system.label_b, "%s",
	         draw->ui->entry.hardener_a ? _("resin") : _("hardener"));
	say_read_back(&system, text, sizeof text);
	n = strlen(text);
	say_duration(system.working_life_s, life);
	say_number(value[ENTRY_LIFE_MASS], 0, mass);
	say_degrees(value[ENTRY_LIFE_DEGC], draw->ui->settings.units, warm);
	text[n++] = ' ';
	say_fill(text + n, sizeof text - n,
	         _("It may be worked for {time}: {mass} g of it, at {warm}."), "time", life, "mass",
	         mass, "warm", warm, NULL);
	head(draw, &body, _("READ BACK"));
	draw_sentence(draw, body, text);
}

void draw_word_asked(const struct draw *draw)
{
	struct box body = draw->layout.body;
	const struct strip_button strip[2] = {
	        {_("foot down for 5 seconds: a keeper is here"), {ACT_NONE, 0}, TONE_PLAIN},
	        {_("Back"), {ACT_GO, SCREEN_HOME}, TONE_PLAIN},
	};

	if (isfinite(draw->ui->held)) {
		struct box bar = layout_cut_bottom(&body, 6.0, 2.0), done = bar;

		done.w = fmax(0.1, bar.w * fmin(1.0, draw->ui->held));
		if (draw->scene->rtl)
			done.x = bar.x + bar.w - done.w;
		scene_rect(draw->scene, bar, 2.0, draw->palette->raised);
		scene_rect(draw->scene, done, 2.0, draw->palette->poured);
	}
	head(draw, &body, _("A KEEPER?"));
	draw_sentence(draw, body,
	              _("What is set now changes every mass from here on: the keeper of this "
	                "station holds the foot switch down for five seconds, or says so at the "
	                "terminal (ambo calibrate --approve). It is good for 15 minutes."));
	draw_strip(draw, strip, 2);
}

void screen_enter(const struct draw *draw)
{
	const struct ui_entry *entry = &draw->ui->entry;
	struct strip_button strip[2] = {
	        {entry->field == ENTRY_READ_BACK ? _("PRESS: as on the label") : _("PRESS: next"),
	         {ACT_NEXT, 0},
	         TONE_MUST_ACT},
	        {_("Back"), {ACT_BACK, 0}, TONE_PLAIN},
	};

	if (ui_batch_open(draw->model))
		draw_back_button(draw, &strip[0]);
	else if (ui_needs_word(draw->model)) {
		draw_word_asked(draw);
		return;
	}
	if (entry->field == ENTRY_BASIS)
		enter_basis(draw, draw->layout.body);
	else if (entry->field == ENTRY_READ_BACK)
		read_back(draw, draw->layout.body);
	else
		enter_number(draw, draw->layout.body);
	draw_strip(draw, strip, 2);
}
