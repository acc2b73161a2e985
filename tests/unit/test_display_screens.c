/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "display/touch/layout.h"
#include "display/touch/painter.h"
#include "display/touch/palette.h"
#include "display/touch/say.h"
#include "tests/support/display_states.h"

/* Every state on every glass, in every theme and language, for either hand: computed
 * from the laid-out screen. */

static struct scene scene;
static struct painter *painter;

struct where {
	const char *state, *language;
	const struct display_glass *glass;
	enum theme theme;
	enum hand hand;
	double height_mm;
	void (*look)(const struct where *where);
	unsigned looked;
};

#define SAY(where)                                                                                 \
	(where)->state, (where)->glass->name, (where)->language,                                   \
	        (where)->theme == THEME_DAY ? "day" : "dark",                                      \
	        (where)->hand == HAND_LEFT ? "left" : "right"
#define WHERE "%s on %s, %s, %s, %s hand: "

/* All that is wrong is said, not only the first of it. */
static unsigned complaints;

__attribute__((format(printf, 1, 2))) static void complain(const char *format, ...)
{
	va_list arguments;

	if (complaints++ >= 40)
		return;
	va_start(arguments, format);
	vfprintf(stderr, format, arguments);
	va_end(arguments);
	fputc('\n', stderr);
}

static void look_at(struct display_state *state, void *context)
{
	struct where *where = context;

	where->state = state->name;
	for (unsigned g = 0; g < display_n_glasses; g++)
		for (int theme = 0; theme < THEME_COUNT; theme++)
			for (int hand = 0; hand < 2; hand++) {
				where->glass = &display_glasses[g];
				where->theme = state->ui->settings.theme = (enum theme)theme;
				where->hand = state->ui->settings.hand = (enum hand)hand;
				where->height_mm = where->glass->height_px *
				                   where->glass->width_mm / where->glass->width_px;
				screens_draw(state->model, state->ui, where->glass->width_mm,
				             where->height_mm, &scene);
				where->look(where);
				where->looked++;
			}
}

static void look_everywhere(void (*look)(const struct where *where))
{
	complaints = 0;
	for (unsigned l = 0; l < display_n_languages; l++) {
		struct where where = {.language = display_languages[l], .look = look};
		char sentence[512];

		assert_int_equal(
		        say_language(AMBO_CATALOGUES, where.language, sentence, sizeof sentence),
		        0);
		display_each_state(look_at, &where);
		assert_true(where.looked >= 60 * display_n_glasses * 4);
	}
	assert_int_equal(complaints, 0);
}

static bool is_drawn(const char *text)
{
	for (uint32_t i = 0; i < scene.n_items; i++)
		if (scene.item[i].kind == SCENE_TEXT &&
		    strstr(scene_item_text(&scene, &scene.item[i]), text) != NULL)
			return true;
	return false;
}

static void the_corner_tells_the_room_and_what_the_scale_is_due(void **state)
{
	struct model *model = calloc(1, sizeof *model);
	char sentence[512];
	struct ui ui;

	(void)state;
	assert_non_null(model);
	assert_int_equal(say_language(AMBO_CATALOGUES, "en", sentence, sizeof sentence), 0);
	display_load("home", model, &ui);
	model->n_open = 0;
	model_put_number(model, MODEL_SCALE, 0, "Sensors.AirCelsius", 21.4);
	model_put_number(model, MODEL_SCALE, 0, "Sensors.AirHumidityPercent", 48.0);
	screens_draw(model, &ui, 154.0, 86.0, &scene);
	assert_true(is_drawn("21 °C  ·  48 %"));
	/* A sensor that fails leaves no number behind. */
	model_forget(model, MODEL_SCALE, 0, "Sensors");
	model_put_number(model, MODEL_SCALE, 0, "Sensors.AirHumidityPercent", 47.0);
	screens_draw(model, &ui, 154.0, 86.0, &scene);
	assert_false(is_drawn("°C"));
	assert_true(is_drawn("47 %"));
	model_put_text(model, MODEL_SCALE, 0, "Condition", "check-overdue");
	screens_draw(model, &ui, 154.0, 86.0, &scene);
	assert_true(is_drawn("not checked today"));
	model_put_text(model, MODEL_SCALE, 0, "Condition", "check-failed");
	screens_draw(model, &ui, 154.0, 86.0, &scene);
	assert_true(is_drawn("daily check failed"));
	free(model);
}

static void targets(const struct where *where)
{
	for (uint32_t i = 0; i < scene.n_items; i++) {
		const struct box a = scene.item[i].box;

		if (scene.item[i].kind != SCENE_TARGET)
			continue;
		if (a.w < 20.0 - 1e-6 || a.h < 20.0 - 1e-6)
			complain(WHERE "target %d is %.1f x %.1f mm", SAY(where),
			         scene.item[i].act.kind, a.w, a.h);
		if (a.x < 0.0 || a.y < 0.0 || a.x + a.w > scene.page.w || a.y + a.h > scene.page.h)
			complain(WHERE "target %d hangs over the edge", SAY(where),
			         scene.item[i].act.kind);
		for (uint32_t j = 0; j < i; j++) {
			const struct box b = scene.item[j].box;
			double across = fmax(a.x - (b.x + b.w), b.x - (a.x + a.w));
			double down = fmax(a.y - (b.y + b.h), b.y - (a.y + a.h));

			if (scene.item[j].kind == SCENE_TARGET && fmax(across, down) < 3.0 - 1e-6)
				complain(WHERE "targets %d and %d are %.1f mm apart", SAY(where),
				         scene.item[i].act.kind, scene.item[j].act.kind,
				         fmax(across, down));
		}
	}
}

static void contrast(const struct where *where)
{
	for (uint32_t i = 0; i < scene.n_items; i++) {
		const struct scene_item *item = &scene.item[i];

		if (item->kind == SCENE_TEXT && palette_contrast(item->colour, item->on) < 7.0)
			complain(WHERE "\"%s\" stands out by %.2f", SAY(where),
			         scene_item_text(&scene, item),
			         palette_contrast(item->colour, item->on));
	}
}

/* What a text says it stands on is what was painted there before it. */
static void ground(const struct where *where)
{
	for (uint32_t i = 0; i < scene.n_items; i++) {
		const struct scene_item *item = &scene.item[i];
		uint32_t under = scene.ground;
		double x = item->box.x + item->box.w / 2.0, y = item->box.y + item->box.h / 2.0;

		if (item->kind != SCENE_TEXT)
			continue;
		for (uint32_t j = 0; j < i; j++) {
			const struct scene_item *below = &scene.item[j];

			if (below->kind == SCENE_RECT && x >= below->box.x && y >= below->box.y &&
			    x < below->box.x + below->box.w && y < below->box.y + below->box.h)
				under = below->colour;
		}
		if (under != item->on)
			complain(WHERE "\"%s\" says it stands on %06x and stands on %06x",
			         SAY(where), scene_item_text(&scene, item), item->on, under);
	}
}

/* As painted: how high the letters are, and that all of them are there. 20 arc minutes
 * from 2 m for what is read from afar, 16 from 600 mm for the rest (NUREG-0700: 16 least,
 * 20 to 22 preferred). Long texts of long languages may go down to the least. */
static void letters(const struct where *where)
{
	double px_per_mm = where->glass->width_px / where->glass->width_mm;

	for (uint32_t i = 0; i < scene.n_items; i++) {
		const struct scene_item *item = &scene.item[i];
		struct painter_text text;
		bool far_off = item->face == FACE_NARROW && item->cap_mm > 11.0;
		bool list = strstr(scene_item_text(&scene, item), "   ") != NULL;

		if (item->kind != SCENE_TEXT)
			continue;
		text = painter_measure(painter, &scene, item, px_per_mm);
		if (layout_arc_minutes(text.cap_mm, LAYOUT_ARM_MM) < 15.99)
			complain(WHERE "\"%s\" is %.2f mm high", SAY(where),
			         scene_item_text(&scene, item), text.cap_mm);
		if (far_off && layout_arc_minutes(text.cap_mm, LAYOUT_FAR_MM) < 19.9 &&
		    strcmp(where->language, "long") != 0 && strcmp(where->language, "rtl") != 0)
			complain(WHERE "\"%s\" is %.2f mm high", SAY(where),
			         scene_item_text(&scene, item), text.cap_mm);
		if (far_off && layout_arc_minutes(text.cap_mm, LAYOUT_FAR_MM) < 15.99)
			complain(WHERE "\"%s\" is %.2f mm high", SAY(where),
			         scene_item_text(&scene, item), text.cap_mm);
		/* A row of a list may be cut at its end: the record has it whole. */
		if (!text.fits && !list && strcmp(where->language, "long") != 0)
			complain(WHERE "\"%s\" does not fit", SAY(where),
			         scene_item_text(&scene, item));
	}
}

static void number(const struct where *where)
{
	double high = 0.0;

	if (strncmp(where->state, "add-", 4) != 0 && strncmp(where->state, "tip", 3) != 0)
		return;
	for (uint32_t i = 0; i < scene.n_items; i++)
		if (scene.item[i].kind == SCENE_TEXT)
			high = fmax(high,
			            painter_measure(painter, &scene, &scene.item[i],
			                            where->glass->width_px / where->glass->width_mm)
			                    .cap_mm);
	if (high < 25.0)
		complain(WHERE "the number is %.1f mm high", SAY(where), high);
}

/* Headline, number with its unit, beam with its letters, strip: and the deviation
 * instead of the labels. */
static void four_items(const struct where *where)
{
	int texts = 0;

	if (strncmp(where->state, "add-", 4) != 0 && strncmp(where->state, "tip", 3) != 0)
		return;
	for (uint32_t i = 0; i < scene.n_items; i++) {
		const struct scene_item *item = &scene.item[i];

		/* The corner is always there and no part of the batch. */
		texts += item->kind == SCENE_TEXT && item->box.y > 12.5;
	}
	/* number, g, headline, A, B, two labels or a deviation, two on the strip */
	if (texts > (scene.page.h > scene.page.w ? 10 : 9))
		complain(WHERE "%d texts while pouring", SAY(where), texts);
}

static void targets_are_for_gloves(void **state)
{
	(void)state;
	look_everywhere(targets);
}

static void every_text_stands_out_seven_to_one(void **state)
{
	(void)state;
	look_everywhere(contrast);
	look_everywhere(ground);
}

static void every_text_is_large_enough_and_all_there(void **state)
{
	(void)state;
	look_everywhere(letters);
}

static void the_remaining_mass_is_25_mm_high(void **state)
{
	(void)state;
	look_everywhere(number);
}

static void while_pouring_there_are_four_items(void **state)
{
	(void)state;
	look_everywhere(four_items);
}

/* A hangs left for everyone; number and press go to the hand that does not pour. */
static void the_hand_moves_number_and_strip_and_leaves_a_left(void **state)
{
	struct model *model = calloc(1, sizeof *model);
	struct ui ui;
	double number_x[2] = {0}, hold_x[2] = {0}, a_x[2] = {0};
	char sentence[512];

	(void)state;
	assert_non_null(model);
	say_language(AMBO_CATALOGUES, "en", sentence, sizeof sentence);
	display_load("add-a", model, &ui);
	for (int hand = 0; hand < 2; hand++) {
		ui.settings.hand = (enum hand)hand;
		screens_draw(model, &ui, 154.0, 86.0, &scene);
		for (uint32_t i = 0; i < scene.n_items; i++) {
			const struct scene_item *item = &scene.item[i];

			if (strcmp(scene_item_text(&scene, item), "148.5") == 0)
				number_x[hand] = item->box.x;
			if (strcmp(scene_item_text(&scene, item), "A") == 0)
				a_x[hand] = item->box.x;
			if (item->act.kind == ACT_HOLD)
				hold_x[hand] = item->box.x;
		}
	}
	assert_true(number_x[HAND_RIGHT] < 77.0 && number_x[HAND_LEFT] > 50.0);
	assert_true(hold_x[HAND_RIGHT] > 77.0 && hold_x[HAND_LEFT] < 77.0);
	assert_true(a_x[HAND_RIGHT] < 40.0 && a_x[HAND_RIGHT] > 0.0);
	assert_within(a_x[HAND_LEFT], a_x[HAND_RIGHT], 1e-9);
	free(model);
}

static int open_painter(void **state)
{
	(void)state;
	return painter_new(&painter);
}

static int close_painter(void **state)
{
	(void)state;
	painter_free(painter);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_corner_tells_the_room_and_what_the_scale_is_due),
	        cmocka_unit_test(targets_are_for_gloves),
	        cmocka_unit_test(every_text_stands_out_seven_to_one),
	        cmocka_unit_test(every_text_is_large_enough_and_all_there),
	        cmocka_unit_test(the_remaining_mass_is_25_mm_high),
	        cmocka_unit_test(while_pouring_there_are_four_items),
	        cmocka_unit_test(the_hand_moves_number_and_strip_and_leaves_a_left),
	};

	return cmocka_run_group_tests(tests, open_painter, close_painter);
}
