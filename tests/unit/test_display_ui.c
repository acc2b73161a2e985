/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "display/touch/screens.h"
#include "tests/support/display_states.h"

static struct model model;
static struct ui ui;
static struct scene scene;

static void draw(void)
{
	screens_draw(&model, &ui, 154.0, 86.0, &scene);
}

static bool has_target(enum act_kind kind)
{
	for (uint32_t i = 0; i < scene.n_items; i++)
		if (scene.item[i].kind == SCENE_TARGET && scene.item[i].act.kind == kind)
			return true;
	return false;
}

/* What a press does can be touched too; but a keeper's word, which is the foot's alone, and a
 * press that means nothing just now: then there is another way on. */
static bool is_offered(enum act_kind kind)
{
	if (kind == ACT_PRESS || kind == ACT_APPROVE || kind == ACT_NONE)
		return has_target(kind) || has_target(ACT_GO) || has_target(ACT_HOLD) ||
		       has_target(ACT_DISCARD_ASK) || has_target(ACT_GIVE_UP);
	return has_target(kind);
}

static void during_a_charge_only_the_strip_is_live(void **state)
{
	static const char *const names[] = {"add-a",       "add-b-near", "tip-back",
	                                    "charge-done", "too-much",   "top-up"};
	struct layout layout;

	(void)state;
	layout_make(154.0, 86.0, HAND_RIGHT, &layout);
	for (size_t n = 0; n < sizeof names / sizeof *names; n++) {
		display_load(names[n], &model, &ui);
		draw();
		for (uint32_t i = 0; i < scene.n_items; i++)
			if (scene.item[i].kind == SCENE_TARGET)
				assert_true(scene.item[i].box.y >= layout.strip.y - 1e-9);
		assert_false(has_target(ACT_DISCARD) || has_target(ACT_DISCARD_ASK));
	}
}

/* The first touch asks; the second, which discards, lies elsewhere; the foot never does. */
static void discarding_takes_two_touches_in_different_places(void **state)
{
	struct box ask = {0}, yes = {0};

	(void)state;
	for (unsigned g = 0; g < display_n_glasses; g++)
		for (int hand = 0; hand < 2; hand++) {
			const struct display_glass *glass = &display_glasses[g];
			double height = glass->height_px * glass->width_mm / glass->width_px;

			display_load("held-by-hand", &model, &ui);
			ui.settings.hand = (enum hand)hand;
			for (int step = 0; step < 2; step++) {
				screens_draw(&model, &ui, glass->width_mm, height, &scene);
				for (uint32_t i = 0; i < scene.n_items; i++) {
					if (scene.item[i].act.kind == ACT_DISCARD_ASK)
						ask = scene.item[i].box;
					if (scene.item[i].act.kind == ACT_DISCARD) {
						assert_int_equal(step, 1);
						yes = scene.item[i].box;
					}
				}
				assert_int_equal(
				        ui_act(&ui, &model, (struct act){ACT_DISCARD_ASK, 0}, 0.0)
				                .kind,
				        ORDER_NONE);
			}
			assert_true(ask.w > 0.0 && yes.w > 0.0);
			assert_false(box_meets(ask, yes));
			assert_int_not_equal(ui_main_act(&ui, &model).kind, ACT_DISCARD);
			assert_int_equal(ui_foot(&ui, &model).kind, ORDER_NONE);
			assert_int_equal(ui.screen, SCREEN_BATCH);
		}
}

/* By the foot, and by the strip, which says so. */
static void batch_is_one_press_away(void)
{
	const struct act back = {ACT_GO, SCREEN_BATCH};
	const struct ui before = ui;
	bool shown = false;

	draw();
	for (uint32_t i = 0; i < scene.n_items; i++)
		shown = shown || (scene.item[i].kind == SCENE_TARGET &&
		                  scene.item[i].act.kind == back.kind &&
		                  scene.item[i].act.value == back.value);
	if (!shown)
		fail_msg("%s, question %d: nothing on it leads to the batch",
		         screen_name(ui.screen), (int)ui.first);
	ui_act(&ui, &model, back, 0.0);
	assert_int_equal(ui.screen, SCREEN_BATCH);
	ui = before;
	ui_foot(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_BATCH);
}

static void the_running_batch_is_one_press_away_from_any_screen(void **state)
{
	(void)state;
	for (int screen = 0; screen < SCREEN_COUNT; screen++) {
		display_load("stir", &model, &ui);
		ui_act(&ui, &model, (struct act){ACT_GO, screen}, 0.0);
		ui_follow(&ui, &model);
		if (ui.screen != SCREEN_BATCH)
			batch_is_one_press_away();
	}
	for (int first = 0; first < FIRST_COUNT; first++) {
		display_load("stir", &model, &ui);
		ui.settings.first_run_done = false;
		ui.first = (enum first_step)first;
		ui_act(&ui, &model, (struct act){ACT_GO, SCREEN_HOME}, 0.0);
		ui_follow(&ui, &model);
		assert_int_equal(ui.screen, SCREEN_FIRST);
		batch_is_one_press_away();
	}
}

static void a_live_charge_takes_the_screen(void **state)
{
	(void)state;
	display_load("add-a", &model, &ui);
	ui_act(&ui, &model, (struct act){ACT_GO, SCREEN_RECORDS}, 0.0);
	ui_follow(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_BATCH);
	/* While stirring one may look elsewhere. */
	display_load("stir", &model, &ui);
	ui_act(&ui, &model, (struct act){ACT_GO, SCREEN_RECORDS}, 0.0);
	ui_follow(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_RECORDS);
}

static void the_foot_alone_gets_from_an_empty_store_to_a_batch(void **state)
{
	struct order order;

	(void)state;
	display_load("home-new", &model, &ui);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_NONE);
	assert_int_equal(ui.screen, SCREEN_AMOUNT);
	assert_string_equal(ui.system, "lantern-coat");
	order = ui_foot(&ui, &model);
	assert_int_equal(order.kind, ORDER_BEGIN);
	/* With something on record a press is the same again. */
	display_load("home", &model, &ui);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_AGAIN);
	/* In the batch it is the batch's press, and after it the way home. */
	display_load("ready", &model, &ui);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_PRESS);
	display_load("done", &model, &ui);
	ui_foot(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_HOME);
}

static void whether_it_is_heard_is_asked_once_and_hinders_nothing(void **state)
{
	struct order order;

	(void)state;
	display_load("ready", &model, &ui);
	ui.ask_heard = true;
	ui_follow(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_HEARD);
	/* The press answers the question and starts nothing yet. */
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_NONE);
	ui_follow(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_BATCH);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_PRESS);
	/* Unanswered it gives way to a batch that goes on by itself, and is asked again. */
	ui.ask_heard = true;
	ui_follow(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_HEARD);
	snprintf(model.batch.step, sizeof model.batch.step, "cup");
	ui_follow(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_BATCH);
	assert_true(ui.ask_heard);
	/* "No sound" is an answer, and is set; what cannot be heard is not asked. */
	snprintf(model.batch.step, sizeof model.batch.step, "ready");
	ui_follow(&ui, &model);
	order = ui_act(&ui, &model, (struct act){ACT_SOUND, SOUND_ACT_SILENT}, 0.0);
	assert_int_equal(order.kind, ORDER_SETTINGS);
	assert_true(ui.settings.quiet);
	ui.ask_heard = true;
	ui_follow(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_BATCH);
}

static void the_cues_rhythm_is_on_the_edge_of_every_screen(void **state)
{
	struct cues_out out = {.sound = SOUND_NEAR, .edge = true};

	(void)state;
	for (int screen = 0; screen < SCREEN_COUNT; screen++) {
		uint32_t n;
		const struct scene_item *last;

		display_load("stir", &model, &ui);
		ui.screen = (enum screen)screen;
		draw();
		n = scene.n_items;
		assert_true(ui_cue(&ui, &out));
		assert_false(ui_cue(&ui, &out)); /* nothing new, no other picture */
		draw();
		assert_int_equal(scene.n_items, n + 1);
		last = &scene.item[n];
		assert_int_equal(last->kind, SCENE_FRAME);
		assert_within(last->box.w, scene.page.w, 1e-9);
		assert_true(last->width_mm >= 2.0);
	}
}

static void without_a_station_nothing_can_be_pressed(void **state)
{
	(void)state;
	display_load("lost", &model, &ui);
	draw();
	for (uint32_t i = 0; i < scene.n_items; i++)
		assert_int_not_equal(scene.item[i].kind, SCENE_TARGET);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_NONE);
}

static void the_number_does_not_flicker_with_the_noise(void **state)
{
	int changes = 0;
	double before;

	(void)state;
	display_load("add-b-near", &model, &ui);
	model.reading.remaining_g = 5.25;
	ui_follow(&ui, &model);
	before = ui.shown_g;
	srand(3);
	for (int i = 0; i < 2000; i++) {
		model.reading.remaining_g = 5.25 + 0.03 * (rand() / (double)RAND_MAX - 0.5);
		ui_follow(&ui, &model);
		changes += ui.shown_g != before;
		before = ui.shown_g;
	}
	assert_int_equal(changes, 0);
	/* It follows what really moves, and is never further off than a step. */
	for (int i = 0; i < 500; i++) {
		model.reading.remaining_g = 5.25 - 0.01 * i;
		ui_follow(&ui, &model);
		assert_within(ui.shown_g, model.reading.remaining_g, 0.1);
	}
}

/* How the beam magnifies is fixed with the charge: later bands change nothing. */
static void magnification_changes_only_between_charges(void **state)
{
	struct ui_charge begun;

	(void)state;
	display_load("add-b-start", &model, &ui);
	begun = ui.charge;
	model.batch.low_g -= 5.0;
	model.batch.high_g += 5.0;
	model.batch.target_g += 0.5;
	ui_follow(&ui, &model);
	assert_memory_equal(&begun, &ui.charge, sizeof begun);
	/* Nor does a hold and the way back. */
	memcpy(model.batch.step, "held", 5);
	ui_follow(&ui, &model);
	memcpy(model.batch.step, "charge", 7);
	ui_follow(&ui, &model);
	assert_memory_equal(&begun, &ui.charge, sizeof begun);
	memcpy(model.batch.step, "top-up", 7);
	memcpy(model.batch.component, "a", 2);
	ui_follow(&ui, &model);
	assert_string_equal(ui.charge.component, "a");
	assert_within(ui.charge.low_g, model.batch.low_g, 0.0);
}

static void the_dial_reaches_from_its_least_to_its_most(void **state)
{
	(void)state;
	assert_within(ui_dial_g(0.0, 5000.0), UI_LEAST_G, 0.0);
	assert_within(ui_dial_g(1.0, 5000.0), 5000.0, 0.0);
	assert_within(ui_dial_g(-3.0, 5000.0), UI_LEAST_G, 0.0);
	for (double at = 0.0; at < 1.0; at += 0.01)
		assert_true(ui_dial_g(at + 0.01, 5000.0) >= ui_dial_g(at, 5000.0));
	assert_within(ui_dial_g(ui_dial_at(330.0, 5000.0), 5000.0), 330.0, 0.0);
	display_load("amount", &model, &ui);
	for (int i = 0; i < 100; i++)
		ui_act(&ui, &model, (struct act){ACT_AMOUNT, -1000}, 0.0);
	assert_within(ui.amount_g, UI_LEAST_G, 0.0);
	for (int i = 0; i < 100; i++)
		ui_act(&ui, &model, (struct act){ACT_AMOUNT, 1000}, 0.0);
	assert_within(ui.amount_g, 5000.0, 0.0);
}

/* Any act with any value on any state: a screen that can be drawn, and never an order
 * to discard but by its own act. */
static void random_acts_never_lead_astray(void **state)
{
	static const char *const names[] = {"home", "stir", "held", "done", "record", "add-b-near"};
	int rounds = getenv("AMBO_LONG") ? 200000 : 20000;

	(void)state;
	srand(11);
	display_load("home", &model, &ui);
	for (int i = 0; i < rounds; i++) {
		struct act act = {(enum act_kind)(rand() % (ACT_SOUND + 1)), rand() % 200 - 50};
		struct order order;

		if (i % 500 == 0)
			display_load(names[i / 500 % 6], &model, &ui);
		order = rand() % 5 ? ui_act(&ui, &model, act, rand() / (double)RAND_MAX)
		                   : (act.kind = ACT_NONE, ui_foot(&ui, &model));
		assert_true(order.kind != ORDER_DISCARD || act.kind == ACT_DISCARD);
		ui_follow(&ui, &model);
		assert_true((unsigned)ui.screen < SCREEN_COUNT);
		if (i % 20 == 0) {
			draw();
			if (!is_offered(ui_main_act(&ui, &model).kind))
				fail_msg("round %d: %s does not offer act %d", i,
				         screen_name(ui.screen), ui_main_act(&ui, &model).kind);
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(during_a_charge_only_the_strip_is_live),
	        cmocka_unit_test(discarding_takes_two_touches_in_different_places),
	        cmocka_unit_test(the_running_batch_is_one_press_away_from_any_screen),
	        cmocka_unit_test(a_live_charge_takes_the_screen),
	        cmocka_unit_test(the_foot_alone_gets_from_an_empty_store_to_a_batch),
	        cmocka_unit_test(whether_it_is_heard_is_asked_once_and_hinders_nothing),
	        cmocka_unit_test(the_cues_rhythm_is_on_the_edge_of_every_screen),
	        cmocka_unit_test(without_a_station_nothing_can_be_pressed),
	        cmocka_unit_test(the_number_does_not_flicker_with_the_noise),
	        cmocka_unit_test(magnification_changes_only_between_charges),
	        cmocka_unit_test(the_dial_reaches_from_its_least_to_its_most),
	        cmocka_unit_test(random_acts_never_lead_astray),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
