/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* The scale's care: a calibration led through, the keypad for a known load, the daily
 * check. */

static bool step_is(const struct draw *draw, const char *step)
{
	return strcmp(draw->model->scale.run.step, step) == 0;
}

static bool message_is(const struct draw *draw, const char *message)
{
	return strcmp(draw->model->scale.run.message, message) == 0;
}

static const char *headline(const struct draw *draw, enum tone *ret_tone)
{
	*ret_tone = TONE_PLAIN;
	if (step_is(draw, "zero"))
		return _("CLEAR PAN");
	if (step_is(draw, "rising"))
		return _("PUT LOAD ON");
	if (step_is(draw, "falling"))
		return _("LESS LOAD");
	if (message_is(draw, "repeat-on") || message_is(draw, "place-on"))
		return _("PUT IT ON");
	if (message_is(draw, "repeat-off") || message_is(draw, "place-off"))
		return _("TAKE IT OFF");
	if (step_is(draw, "done")) {
		*ret_tone = TONE_GOOD;
		return _("READY");
	}
	if (step_is(draw, "refused")) {
		*ret_tone = TONE_ABNORMAL;
		return _("REFUSED");
	}
	return _("WAIT");
}

/* A circle as a shape. */
static void disc(const struct draw *draw, double x, double y, double r, uint32_t colour)
{
	double xy[2 * 32];

	for (int i = 0; i < 32; i++) {
		xy[2 * i] = x + r * cos(i * M_PI / 16.0);
		xy[2 * i + 1] = y + r * sin(i * M_PI / 16.0);
	}
	scene_shape(draw->scene, xy, 32, colour);
}

void draw_pan(const struct draw *draw, struct box box, int place)
{
	/* Front is towards the person: down on the glass. */
	static const double where[4][2] = {{0.0, 1.0}, {1.0, 0.0}, {0.0, -1.0}, {-1.0, 0.0}};
	double r = fmin(box.w, box.h) / 2.0, x = box.x + box.w / 2.0, y = box.y + box.h / 2.0;
	double dx = place >= 0 && place < 4 ? where[place][0] * r / 2.0 : 0.0;
	double dy = place >= 0 && place < 4 ? where[place][1] * r / 2.0 : 0.0;
	const double across[] = {x - r, y, x + r, y}, down[] = {x, y - r, x, y + r};

	disc(draw, x, y, r, draw->palette->line);
	disc(draw, x, y, r - 0.8, draw->palette->panel);
	scene_line(draw->scene, across, 2, 0.4, draw->palette->line);
	scene_line(draw->scene, down, 2, 0.4, draw->palette->line);
	if (place >= -1)
		disc(draw, x + dx, y + dy, r * 0.3, draw->palette->poured);
}

static int place_of(const struct draw *draw)
{
	const struct model_run *run = &draw->model->scale.run;

	if (step_is(draw, "zero") || message_is(draw, "repeat-off") ||
	    message_is(draw, "place-off"))
		return -2;
	if (message_is(draw, "place-on") && run->count >= 0.0 && run->count < 4.0)
		return (int)run->count;
	return -1;
}

/* How often, as large as the headline: ten times are easily lost count of. */
static void count(const struct draw *draw, struct box box)
{
	const struct model_run *run = &draw->model->scale.run;
	struct scene_style style = {.face = FACE_NARROW,
	                            .align = ALIGN_CENTRE,
	                            .cap_mm = draw->layout.headline_cap_mm,
	                            .cap_min_mm = layout_letter_mm(20.0, LAYOUT_FAR_MM),
	                            .colour = draw->palette->ink,
	                            .on = draw->palette->panel};
	char text[32];

	snprintf(text, sizeof text, "%.0f/%.0f", run->count, run->of);
	scene_rect(draw->scene, box, 2.0, style.on);
	scene_text(draw->scene, box, &style, text);
}

/* What the calibration is worth, for arm's length. */
static size_t result(const struct draw *draw, char *buffer, size_t size)
{
	const struct model_run *run = &draw->model->scale.run;
	char residual[WORDS_NUMBER_MAX], repeat[WORDS_NUMBER_MAX], corner[WORDS_NUMBER_MAX],
	        limit[WORDS_NUMBER_MAX];
	double most_g = 0.0;

	for (int i = 0; i < 4; i++)
		if (isfinite(run->off_centre_g[i]))
			most_g = fmax(most_g, fabs(run->off_centre_g[i]));
	say_number(run->residual_g, 2, residual);
	say_number(run->repeatability_g, 2, repeat);
	say_number(most_g, 2, corner);
	say_number(run->limit_g, 2, limit);
	return say_fill(
	        buffer, size,
	        _("Off its line by {residual} g, from one time to the next by {repeat} g, at "
	          "the pan's edge by {corner} g; {limit} g are allowed."),
	        "residual", residual, "repeat", repeat, "corner", corner, "limit", limit, NULL);
}

static void sentence(const struct draw *draw, struct box box)
{
	const struct model_run *run = &draw->model->scale.run;
	char text[SAY_MAX];
	size_t n = 0;

	if (step_is(draw, "done")) {
		n = result(draw, text, sizeof text);
		if (run->note[0][0])
			snprintf(text + n, sizeof text - n, " %.300s", run->note[0]);
	} else {
		say_advice(run->message, run->value, run->other, run->count, run->of, run->sentence,
		           text, sizeof text);
	}
	draw_sentence(draw, box, text);
}

/* "1000 g", as a load is said. */
static void load_words(double load_g, char *buffer, size_t size)
{
	char number[WORDS_NUMBER_MAX];

	say_number(load_g, load_g == floor(load_g) ? 0 : 2, number);
	snprintf(buffer, size, "%s g", number);
}

static int calibrate_strip(const struct draw *draw, struct act act, char text[SAY_MAX],
                           struct strip_button strip[4])
{
	char load[40];
	int n = 1;

	strip[0] = (struct strip_button){_("it goes on by itself"), {ACT_NONE, 0}, TONE_PLAIN};
	if (act.kind == ACT_ACCEPT)
		strip[0] =
		        (struct strip_button){_("PRESS: use it from now on"), act, TONE_MUST_ACT};
	else if (act.kind == ACT_GIVE_UP)
		strip[0] = (struct strip_button){_("PRESS: end it"), act, TONE_MUST_ACT};
	else if (act.kind == ACT_TAKE)
		strip[0] =
		        (struct strip_button){step_is(draw, "zero")      ? _("PRESS: it is empty")
		                              : step_is(draw, "falling") ? _("PRESS: taken off")
		                                                         : _("PRESS: loads enough"),
		                              act, TONE_MUST_ACT};
	if (act.kind == ACT_TAKE && step_is(draw, "rising")) {
		if (act.value == 0) {
			load_words(draw->ui->load_g, load, sizeof load);
			say_fill(text, SAY_MAX, _("PRESS: {mass} are on"), "mass", load, NULL);
			strip[0].text = text;
		}
		strip[n++] =
		        (struct strip_button){_("Other mass"), {ACT_GO, SCREEN_LOAD}, TONE_PLAIN};
		if (draw->model->scale.run.loads >= 1.0 && act.value == 0)
			strip[n++] = (struct strip_button){_("Enough"), {ACT_TAKE, 1}, TONE_PLAIN};
	}
	if (act.kind != ACT_GIVE_UP)
		strip[n++] = (struct strip_button){_("Give up"), {ACT_GIVE_UP, 0}, TONE_PLAIN};
	return n;
}

static void to_begin(const struct draw *draw)
{
	struct box body = draw->layout.body;
	const struct strip_button strip[2] = {
	        {_("PRESS: begin"), {ACT_CALIBRATE, 0}, TONE_MUST_ACT},
	        {_("Back"), {ACT_GO, SCREEN_HOME}, TONE_PLAIN},
	};

	draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, _("CALIBRATE")), 2.5),
	              TONE_PLAIN, _("CALIBRATE"));
	draw_sentence(
	        draw, body,
	        _("Have known loads ready, the largest near the scale's Max: weights, or "
	          "bottles weighed on a better scale. The pan is clean, the scale has been on "
	          "for a quarter of an hour. It takes about that long."));
	draw_strip(draw, strip, 2);
}

void screen_calibrate(const struct draw *draw)
{
	struct box body = draw->layout.body, pan, top;
	struct act act = ui_main_act(draw->ui, draw->model);
	struct strip_button strip[4];
	char text[SAY_MAX];
	enum tone tone;
	const char *head;
	int n;

	if (ui_batch_open(draw->model)) {
		draw_back_button(draw, &strip[0]);
		draw_sentence(draw, body,
		              _("A batch is open: its masses hang on the calibration."));
		draw_strip(draw, strip, 1);
		return;
	}
	if (act.kind == ACT_APPROVE) {
		draw_word_asked(draw);
		return;
	}
	if (act.kind == ACT_CALIBRATE) {
		to_begin(draw);
		return;
	}
	head = headline(draw, &tone);
	n = calibrate_strip(draw, act, text, strip);
	if (n > 3 && draw->layout.portrait)
		layout_cut_bottom(&body, draw->layout.strip.h, LAYOUT_GAP_MM);
	top = layout_cut_top(&body, draw_headline_mm(draw, head), 2.5);
	if (step_is(draw, "repeat"))
		count(draw, draw->layout.portrait
		                    ? layout_cut_top(&body, draw->layout.headline_cap_mm + 4.5, 2.5)
		                    : layout_cut_near(&top, 42.0, 3.0, draw->layout.hand));
	draw_headline(draw, top, tone, head);
	if (tone == TONE_PLAIN) {
		pan = draw->layout.portrait
		              ? layout_cut_bottom(&body, fmin(40.0, body.h * 0.45), 2.0)
		              : layout_cut_near(&body, fmin(body.w * 0.4, body.h), 3.0,
		                                draw->layout.hand);
		draw_pan(draw, box_inset(pan, 1.0), place_of(draw));
	}
	sentence(draw, body);
	draw_strip(draw, strip, n);
	draw_edge(draw, tone, tone != TONE_GOOD);
}

/* Two rows of six, so that strip and clocks stay; where the glass is narrow, four of
 * three. */
static void keypad(const struct draw *draw, struct box box)
{
	static const int across[12] = {1, 2, 3, 4, 5, KEY_RUBOUT, 6, 7, 8, 9, 0, KEY_POINT};
	static const int tall[12] = {1, 2, 3, 4, 5, 6, 7, 8, 9, KEY_POINT, 0, KEY_RUBOUT};
	int columns = draw->layout.portrait ? 3 : 6;

	for (int i = 0; i < 12; i++) {
		int key = columns == 6 ? across[i] : tall[i];
		char text[8];

		snprintf(text, sizeof text, "%d", key);
		if (key == KEY_POINT)
			snprintf(text, sizeof text, "%c", say_decimal());
		draw_button(draw,
		            layout_column(layout_row(box, i / columns, 12 / columns), i % columns,
		                          columns),
		            TONE_PLAIN, (struct act){ACT_DIGIT, key},
		            key == KEY_RUBOUT ? _("rub out") : text);
	}
}

void screen_load(const struct draw *draw)
{
	struct box body = draw->layout.body;
	struct scene_style style = {.face = FACE_NARROW,
	                            .align = ALIGN_END,
	                            .cap_mm = 8.0,
	                            .cap_min_mm = draw->layout.text_least_mm,
	                            .colour = draw->palette->ink,
	                            .on = draw->palette->ground};
	struct box keys = layout_cut_bottom(&body, draw->layout.portrait ? 89.0 : 43.0, 2.0);
	struct strip_button strip = {"", {ACT_GO, SCREEN_CALIBRATE}, TONE_MUST_ACT};
	char text[SAY_MAX], load[40];
	struct box number;

	if (ui_batch_open(draw->model))
		draw_back_button(draw, &strip);
	load_words(draw->ui->load_g, load, sizeof load);
	say_fill(text, sizeof text, _("PRESS: {mass} it is"), "mass", load, NULL);
	if (strip.act.value == SCREEN_CALIBRATE)
		strip.text = text;
	keypad(draw, keys);
	number = layout_cut_near(&body, body.w * 0.45, 2.0, draw->layout.hand);
	scene_text(draw->scene, number, &style, load);
	draw_line_of_text(draw, body, ALIGN_START, draw->palette->quiet,
	                  _("All that is on the pan"));
	draw_strip(draw, &strip, 1);
}

static void check_told(const struct draw *draw, struct box body)
{
	const struct ui_check *check = &draw->ui->check;
	bool passed = strcmp(check->verdict, "passed") == 0,
	     failed = strcmp(check->verdict, "failed") == 0;
	const char *head = passed ? _("PASSED") : failed ? _("FAILED") : _("CANNOT TELL");
	enum tone tone = passed ? TONE_GOOD : TONE_ABNORMAL;
	char text[SAY_MAX];

	draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, head), 2.5), tone, head);
	say_advice(passed   ? "check-passed"
	           : failed ? "check-failed"
	                    : "check-cannot-tell",
	           check->error_g, check->limit_g, 0.0, 0.0, "", text, sizeof text);
	draw_sentence(draw, body, text);
	draw_edge(draw, tone, tone != TONE_GOOD);
}

static void check_weight(const struct draw *draw, struct box body, const char *mass)
{
	struct box buttons =
	        layout_cut_bottom(&body, draw->layout.portrait ? 66.0 : LAYOUT_TARGET_MM, 2.0);
	char text[SAY_MAX];

	for (int i = 0; i < 3; i++) {
		struct box box = draw->layout.portrait ? layout_row(buttons, i, 3)
		                                       : layout_column(buttons, i, 3);
		struct act act = {ACT_CHOOSE, i};

		if (i == 2)
			draw_button_two(draw, box, act, ui_classes[draw->ui->check.weight_class],
			                _("class (R 111)"));
		else
			draw_button(draw, box, TONE_PLAIN, act,
			            i ? _("a larger one") : _("a smaller one"));
	}
	draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, _("WEIGHT ON")), 2.5),
	              TONE_PLAIN, _("WEIGHT ON"));
	say_fill(text, sizeof text,
	         _("Put the one weight of {mass} on the middle of the pan; touch nothing else."),
	         "mass", mass, NULL);
	draw_sentence(draw, body, text);
}

void screen_check(const struct draw *draw)
{
	struct box body = draw->layout.body;
	struct strip_button strip[2] = {
	        {_("PRESS: it is empty"), {ACT_NEXT, 0}, TONE_MUST_ACT},
	        {_("Back"), {ACT_GO, SCREEN_HOME}, TONE_PLAIN},
	};
	char mass[40], text[SAY_MAX];

	load_words(draw->ui->check.weight_g, mass, sizeof mass);
	if (ui_batch_open(draw->model)) {
		draw_sentence(draw, body, _("A batch has the pan: finish it first."));
		draw_back_button(draw, &strip[0]);
		draw_strip(draw, strip, 1);
		return;
	}
	switch (draw->ui->check.step) {
	case CHECK_ZERO:
		draw_headline(draw,
		              layout_cut_top(&body, draw_headline_mm(draw, _("CLEAR PAN")), 2.5),
		              TONE_PLAIN, _("CLEAR PAN"));
		draw_sentence(
		        draw, body,
		        _("The daily check: one known weight, held against what the scale may "
		          "be off. Clear and wipe the pan first; then its zero is set."));
		break;
	case CHECK_WEIGHT:
		say_fill(text, sizeof text, _("PRESS: {mass} are on"), "mass", mass, NULL);
		strip[0] = (struct strip_button){text, {ACT_CHECK, 0}, TONE_MUST_ACT};
		strip[1] = (struct strip_button){_("Zero again"), {ACT_BACK, 0}, TONE_PLAIN};
		check_weight(draw, body, mass);
		break;
	case CHECK_TOLD:
		strip[0].text = _("PRESS: seen");
		strip[1] = (struct strip_button){_("Check again"), {ACT_BACK, 0}, TONE_PLAIN};
		check_told(draw, body);
		break;
	}
	draw_strip(draw, strip, 2);
}
