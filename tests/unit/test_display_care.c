/* SPDX-License-Identifier: MIT */
/* The first run, the entry, calibration, check and pieces as values: what a touch leads
 * to, and what it must not. */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "display/touch/brightness.h"
#include "display/touch/screens.h"
#include "tests/support/display_states.h"

static struct model model;
static struct ui ui;
static struct scene scene;

static struct order act(enum act_kind kind, int32_t value)
{
	struct order order = ui_act(&ui, &model, (struct act){kind, value}, 0.5);

	ui_follow(&ui, &model);
	return order;
}

static bool any_text(const char *part)
{
	screens_draw(&model, &ui, 154.0, 86.0, &scene);
	for (uint32_t i = 0; i < scene.n_items; i++)
		if (strstr(scene_item_text(&scene, &scene.item[i]), part))
			return true;
	return false;
}

static void until_calibrated_nothing_is_weighed_out(void **state)
{
	static const enum act_kind kinds[] = {ACT_BEGIN, ACT_AGAIN, ACT_POUR};

	(void)state;
	for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
		display_load("home-uncalibrated", &model, &ui);
		assert_int_equal(act(kinds[i], 0).kind, ORDER_NONE);
		assert_non_null(strstr(ui.notice, "not calibrated"));
	}
	/* Calibrated the same touch is an order: the guard is what held it. */
	display_load("home", &model, &ui);
	assert_int_equal(act(ACT_AGAIN, 0).kind, ORDER_AGAIN);
	/* By foot one gets to the calibration. */
	display_load("home-uncalibrated", &model, &ui);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_NONE);
	assert_int_equal(ui.screen, SCREEN_CALIBRATE);
}

/* "148.5", "5.0 g too much": a number that is a mass. Max and interval are of the plate. */
static const char *mass_shown(void)
{
	screens_draw(&model, &ui, 154.0, 86.0, &scene);
	for (uint32_t i = 0; i < scene.n_items; i++) {
		const char *text = scene_item_text(&scene, &scene.item[i]);
		size_t number = strspn(text, "0123456789.,");
		const char *gram = strstr(text, " g");

		if (number > 0 && text[number] == '\0')
			return text;
		if (gram && gram > text && strchr("0123456789", gram[-1]) &&
		    !strstr(text, "holds up to"))
			return text;
	}
	return NULL;
}

static void until_calibrated_no_grams_are_shown(void **state)
{
	static const char *const states[] = {"scale",    "add-a",  "add-b-near",
	                                     "too-much", "top-up", "charge-done"};

	(void)state;
	for (size_t i = 0; i < sizeof states / sizeof *states; i++) {
		display_load(states[i], &model, &ui);
		assert_non_null(mass_shown());
		model.scale.calibrated = 0.0;
		if (mass_shown())
			fail_msg("%s shows \"%s\"", states[i], mass_shown());
	}
}

static void a_word_is_asked_for_and_no_finger_gives_it(void **state)
{
	(void)state;
	display_load("approve", &model, &ui);
	assert_int_equal(ui_main_act(&ui, &model).kind, ACT_APPROVE);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_NONE); /* a press is no five seconds */
	screens_draw(&model, &ui, 154.0, 86.0, &scene);
	for (uint32_t i = 0; i < scene.n_items; i++)
		assert_true(scene.item[i].kind != SCENE_TARGET ||
		            (scene.item[i].act.kind != ACT_APPROVE &&
		             scene.item[i].act.kind != ACT_CALIBRATE));
	model.scale.approved_s = 10.0;
	assert_int_equal(ui_main_act(&ui, &model).kind, ACT_CALIBRATE);
	/* An entry asks too. */
	display_load("enter-basis", &model, &ui);
	assert_int_equal(ui_main_act(&ui, &model).kind, ACT_NEXT);
	model.scale.approved_s = NAN;
	assert_int_equal(ui_main_act(&ui, &model).kind, ACT_APPROVE);
}

static void a_label_is_entered_by_dial_and_read_back(void **state)
{
	struct model_system system;

	(void)state;
	display_load("enter-basis", &model, &ui);
	act(ACT_NEXT, 0);
	assert_int_equal(ui.entry.field, ENTRY_PARTS_A);
	act(ACT_NEXT, 0);
	for (int i = 0; i < 5; i++)
		act(ACT_AMOUNT, -10);
	assert_within(ui.entry.value[ENTRY_PARTS_B], 45.0, 1e-9);
	act(ACT_NEXT, 0); /* by weight no density is asked for */
	assert_int_equal(ui.entry.field, ENTRY_LIFE);
	act(ACT_BACK, 0);
	assert_int_equal(ui.entry.field, ENTRY_PARTS_B);
	for (int i = 0; i < 4; i++)
		act(ACT_NEXT, 0);
	assert_int_equal(ui.entry.field, ENTRY_READ_BACK);
	assert_true(any_text("for 100 g of resin, 45 g of hardener, as on the label?"));
	assert_int_equal(act(ACT_NEXT, 0).kind, ORDER_ENTER);
	ui_entry_system(&ui, &system);
	assert_string_equal(system.name, "100 : 45");
	assert_within(system.working_life_s, 2400.0, 1e-9);
}

static void by_volume_both_densities_are_asked_for(void **state)
{
	bool asked[ENTRY_COUNT] = {false};

	(void)state;
	display_load("enter-basis", &model, &ui);
	act(ACT_CHOOSE, 1);
	for (int i = 0; i < ENTRY_COUNT - 1; i++) {
		asked[ui.entry.field] = true;
		act(ACT_NEXT, 0);
	}
	assert_true(asked[ENTRY_DENSITY_A] && asked[ENTRY_DENSITY_B]);
	assert_int_equal(ui.entry.field, ENTRY_READ_BACK);
}

static void a_dial_gives_back_what_it_was_set_to(void **state)
{
	double value;
	struct dial dial = {.value = &value, .least = 1.0, .most = 1000.0, .step = 0.1};

	(void)state;
	for (double at = 0.0; at <= 1.0; at += 0.001) {
		value = dial_value(&dial, at);
		assert_true(value >= dial.least && value <= dial.most);
		assert_true(fabs(dial_at(&dial) - at) < 0.02);
	}
	assert_within(dial_value(&dial, -1.0), 1.0, 0.0);
	assert_within(dial_value(&dial, 2.0), 1000.0, 0.0);
}

static void the_known_loads_are_proposed_up_to_max(void **state)
{
	static const double loads_g[] = {1000.0, 2000.0, 4000.0};

	(void)state;
	display_load("calibrate-rising", &model, &ui);
	for (int n = 0; n < 3; n++) {
		struct order order;

		model.scale.run.loads = n;
		ui_follow(&ui, &model);
		assert_within(ui.load_g, loads_g[n], 1e-9);
		order = act(ACT_TAKE, 0);
		assert_int_equal(order.kind, ORDER_TAKE);
		assert_within(order.mass_g, loads_g[n], 1e-9);
	}
	model.scale.run.loads = 3.0;
	ui_follow(&ui, &model);
	assert_int_equal(ui_main_act(&ui, &model).value, 1); /* enough */
	assert_within(ui_foot(&ui, &model).mass_g, 0.0, 0.0);
}

static void the_keypad_takes_any_mass_and_no_second_point(void **state)
{
	static const int keys[] = {1, 2, KEY_POINT, 5, KEY_POINT, 7, KEY_RUBOUT};

	(void)state;
	display_load("load", &model, &ui);
	for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
		act(ACT_DIGIT, keys[i]);
	assert_string_equal(ui.digits, "12.5");
	assert_within(ui.load_g, 12.5, 1e-9);
	for (int i = 0; i < 40; i++)
		act(ACT_DIGIT, 9);
	assert_true(strlen(ui.digits) < sizeof ui.digits);
	for (int i = 0; i < 40; i++)
		act(ACT_DIGIT, KEY_RUBOUT);
	assert_string_equal(ui.digits, "");
}

static void check_weights_come_in_ones_twos_and_fives(void **state)
{
	(void)state;
	display_load("check-weight", &model, &ui);
	act(ACT_CHOOSE, 1);
	assert_within(ui.check.weight_g, 2000.0, 1e-9);
	act(ACT_CHOOSE, 1);
	act(ACT_CHOOSE, 1); /* 10 kg is over Max */
	assert_within(ui.check.weight_g, 5000.0, 1e-9);
	for (int i = 0; i < 20; i++)
		act(ACT_CHOOSE, 0);
	assert_within(ui.check.weight_g, 10.0, 1e-9);
	assert_int_equal(act(ACT_CHECK, 0).kind, ORDER_CHECK);
}

static void the_first_run_goes_in_its_order_to_its_end(void **state)
{
	(void)state;
	display_load("first-hand", &model, &ui);
	ui.settings.first_run_done = false;
	act(ACT_NEXT, 0);
	assert_int_equal(ui.first, FIRST_SOUND);
	act(ACT_SOUND, SOUND_ACT_HEARD);
	assert_int_equal(ui.first, FIRST_LANGUAGE);
	act(ACT_NEXT, 0);
	act(ACT_NEXT, 0);
	assert_int_equal(ui.screen, SCREEN_CALIBRATE);
	act(ACT_GO, SCREEN_HOME); /* home is where one left it */
	assert_int_equal(ui.screen, SCREEN_FIRST);
	assert_int_equal(ui.first, FIRST_CALIBRATE);
	act(ACT_NEXT, 0);
	ui_accepted(&ui);
	assert_int_equal(ui.first, FIRST_SYSTEM);
	act(ACT_NEXT, 0);
	assert_int_equal(ui.screen, SCREEN_ENTER);
	ui_entered(&ui, "tidepool-clear");
	assert_int_equal(ui.first, FIRST_WATER);
	assert_false(ui.settings.first_run_done);
	assert_int_equal(act(ACT_NEXT, 0).kind, ORDER_PRACTICE);
	assert_string_equal(ui.system, "tidepool-clear");
	assert_int_equal(act(ACT_LATER, 0).kind, ORDER_SETTINGS);
	assert_true(ui.settings.first_run_done);
	assert_int_equal(ui.screen, SCREEN_HOME);
}

static void an_open_batch_is_one_press_away_from_every_screen(void **state)
{
	static struct model batch;
	struct ui unused;

	(void)state;
	display_load("pour", &batch, &unused);
	for (int screen = 0; screen < SCREEN_COUNT; screen++) {
		display_load("home", &model, &ui);
		model.batch = batch.batch;
		ui.away_id = model.batch.id; /* left by one's own wish */
		ui.screen = (enum screen)screen;
		if (screen == SCREEN_BATCH || screen == SCREEN_DISCARD || screen == SCREEN_HEARD)
			continue;
		ui_foot(&ui, &model);
		if (ui.screen != SCREEN_BATCH)
			fail_msg("from %s the foot leads to %s", screen_name((enum screen)screen),
			         screen_name(ui.screen));
	}
}

static void a_press_mixes_for_a_layer_only_when_the_one_below_is_ready(void **state)
{
	(void)state;
	display_load("piece", &model, &ui);
	assert_true(any_text("Wait: the layer below is ready in 2 h 50 min."));
	assert_int_not_equal(ui_foot(&ui, &model).kind, ORDER_POUR);
	assert_int_equal(ui.screen, SCREEN_PIECES);
	/* A touch on what is said to be early may: it was meant. */
	display_load("piece", &model, &ui);
	assert_int_equal(act(ACT_POUR, 0).kind, ORDER_POUR);
	/* Another piece's clocks do not hold this one up. */
	display_load("piece", &model, &ui);
	for (uint32_t i = 0; i < model.n_clocks; i++)
		snprintf(model.clocks[i].piece, sizeof model.clocks[i].piece, "Window strip");
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_POUR);
	display_load("piece-ready", &model, &ui);
	assert_true(any_text("is not known to be dry"));
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_POUR);
	/* A full piece waits for nothing, though its clocks run. */
	display_load("piece-full", &model, &ui);
	assert_true(any_text("the piece is full") && !any_text("Wait"));
	assert_int_not_equal(ui_foot(&ui, &model).kind, ORDER_POUR);
}

static struct model_clock *clock_of(const char *event)
{
	for (uint32_t i = 0; i < model.n_clocks; i++)
		if (strcmp(model.clocks[i].piece, ui.piece) == 0 &&
		    strcmp(model.clocks[i].event, event) == 0)
			return &model.clocks[i];
	fail_msg("no clock %s", event);
	return NULL;
}

static void the_wait_is_told_as_well_as_it_is_known(void **state)
{
	struct model_clock *handle;

	(void)state;
	display_load("piece", &model, &ui);
	clock_of("next-pour")->age_known = 0.0;
	assert_true(any_text("is ready in 2 h 50 min at the soonest."));
	/* The bond has closed, and it is too soft to be sanded. */
	display_load("piece", &model, &ui);
	model.now_realtime_us = clock_of("bond-closes")->at_realtime_us + 60e6;
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_POUR); /* nobody knows when */
	display_load("piece", &model, &ui);
	model.now_realtime_us = clock_of("bond-closes")->at_realtime_us + 60e6;
	handle = &model.clocks[model.n_clocks++];
	*handle = *clock_of("bond-closes");
	snprintf(handle->event, sizeof handle->event, "handle");
	handle->at_realtime_us += 60e6 + 3600e6;
	assert_true(any_text("Wait: the layer below is ready in 1 h."));
	assert_int_not_equal(ui_foot(&ui, &model).kind, ORDER_POUR);
}

/* Of two batches the first is in: the second goes into the same layer, before that gels. */
static void the_other_batches_of_a_layer_are_not_kept_waiting(void **state)
{
	double now_us;

	(void)state;
	display_load("piece-ready", &model, &ui);
	model.plan[0].batches = 2.0;
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_POUR);
	ui.screen = SCREEN_PIECE;
	now_us = model.now_realtime_us;
	model.layers[model.n_layers++] = (struct model_layer){.layer = 3.0, .pours = 1.0};
	for (uint32_t i = 0; i < model.n_clocks; i++)
		model.clocks[i].layer = 3.0;
	clock_of("gel")->at_realtime_us = now_us + 1800e6;
	clock_of("next-pour")->at_realtime_us = now_us + 7200e6;
	model.plan[0].layer = 4.0;
	model.plan[0].total_g = 150.0;
	assert_true(any_text("Layer 3") && any_text("Now batch 2 of 2") && !any_text("Wait"));
	assert_true(ui_next_layer(&ui, &model)->layer == 3.0);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_POUR);
	ui.screen = SCREEN_PIECE;
	/* Gelled, it has had what it gets. */
	clock_of("gel")->at_realtime_us = now_us - 1.0;
	assert_true(any_text("Wait") && any_text("Layer 4"));
	/* And so it has with its second batch. */
	clock_of("gel")->at_realtime_us = now_us + 1800e6;
	model.layers[model.n_layers - 1].pours = 2.0;
	assert_true(any_text("Wait") && any_text("Layer 4"));
	/* Another piece's layer 3 is another one. */
	model.layers[model.n_layers - 1].pours = 1.0;
	snprintf(ui.batches.piece, sizeof ui.batches.piece, "Window strip");
	assert_true(any_text("Layer 4"));
}

static void ticks_are_of_a_piece_and_a_layer_and_can_be_taken_back(void **state)
{
	(void)state;
	display_load("layer-checks-first", &model, &ui);
	assert_true(ui_check_done(&ui, &model.checks[0])); /* ticked */
	assert_true(ui_check_done(&ui, &model.checks[3])); /* the station's own word */
	assert_false(ui_check_done(&ui, &model.checks[2]));
	act(ACT_CHOOSE, 2);
	act(ACT_CHOOSE, 0);
	assert_true(ui_check_done(&ui, &model.checks[2]));
	assert_false(ui_check_done(&ui, &model.checks[0]));
	act(ACT_CHOOSE, 99);
	/* The next layer's own are not done yet. */
	model.checks[2].layer = 2.0;
	assert_false(ui_check_done(&ui, &model.checks[2]));
	model.checks[2].layer = 1.0;
	/* Nor are another piece's; and its first tick lets go of these. */
	snprintf(ui.piece, sizeof ui.piece, "Window strip");
	assert_false(ui_check_done(&ui, &model.checks[1]) || ui_check_done(&ui, &model.checks[2]));
	act(ACT_CHOOSE, 0);
	assert_true(ui_check_done(&ui, &model.checks[0]));
	snprintf(ui.piece, sizeof ui.piece, "Fern clock");
	assert_false(ui_check_done(&ui, &model.checks[1]));
	/* What this program does not know is shown, and cannot be ticked. */
	snprintf(model.checks[0].check, sizeof model.checks[0].check, "polish");
	act(ACT_CHOOSE, 0);
	assert_false(ui_check_done(&ui, &model.checks[0]));
	assert_true(any_text("the cavity is clean and dry"));
}

static void what_comes_later_cannot_be_ticked_yet(void **state)
{
	(void)state;
	display_load("layer-checks", &model, &ui);
	screens_draw(&model, &ui, 154.0, 86.0, &scene);
	for (uint32_t i = 0; i < scene.n_items; i++)
		if (scene.item[i].kind == SCENE_TARGET && scene.item[i].act.kind == ACT_CHOOSE)
			assert_int_equal(scene.item[i].act.value, 0); /* the one that is due */
	assert_true(any_text("later: before the pour"));
}

static void what_dries_is_weighed_on_one_press_but_never_in_a_batch(void **state)
{
	(void)state;
	display_load("drying", &model, &ui);
	act(ACT_CHOOSE, 1);
	assert_int_equal(ui.drying, 1);
	act(ACT_CHOOSE, 4);
	assert_int_equal(ui.drying, 1);
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_DRY);
	model.scale.calibrated = 0.0;
	assert_int_equal(ui_foot(&ui, &model).kind, ORDER_NONE);
	assert_true(any_text("not calibrated"));
	display_load("drying-batch", &model, &ui);
	assert_int_equal(act(ACT_WEIGH, 0).kind, ORDER_NONE);
	ui_foot(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_BATCH);
	/* Nothing to weigh: back to the piece. */
	display_load("drying-none", &model, &ui);
	assert_int_equal(act(ACT_WEIGH, 0).kind, ORDER_NONE);
	ui_foot(&ui, &model);
	assert_int_equal(ui.screen, SCREEN_PIECE);
}

static void the_corner_says_what_hinders_most(void **state)
{
	(void)state;
	display_load("home-unchecked", &model, &ui);
	assert_true(any_text("not checked today") && any_text("33 min left"));
	snprintf(model.scale.finding[1], sizeof model.scale.finding[1], "check-failed");
	assert_true(any_text("daily check failed"));
	model.scale.calibrated = 0.0;
	assert_true(any_text("scale not calibrated"));
	snprintf(model.scale.condition, sizeof model.scale.condition, "overload");
	assert_true(any_text("scale overloaded"));
	snprintf(model.scale.condition, sizeof model.scale.condition, "silent");
	assert_true(any_text("scale silent"));
	/* However many clocks run, none is left out. */
	display_load("stir", &model, &ui);
	assert_true(any_text("batch 12: 36 min left") && any_text("batch 11: 12 min left"));
	display_load("bench", &model, &ui);
	assert_true(any_text("scale ready") && any_text("22 °C"));
	model.scale.synchronised = 0.0;
	assert_true(any_text("clock not synchronised"));
	model.scale.gross_g = 25.0;
	assert_true(any_text("pan not empty"));
	ui.settings.units = UNITS_US;
	assert_true(any_text("71 °F"));
}

static void a_finger_that_is_down_shows_its_way(void **state)
{
	uint32_t n;

	(void)state;
	display_load("bench", &model, &ui);
	screens_draw(&model, &ui, 154.0, 86.0, &scene);
	n = scene.n_items;
	ui.down = (struct act){ACT_GO, SCREEN_CHECK};
	ui.down_share = 0.5;
	screens_draw(&model, &ui, 154.0, 86.0, &scene);
	assert_int_equal(scene.n_items, n + 2); /* its frame and its bar */
}

static void put(const char *folder, const char *name, const char *text)
{
	char path[300];
	FILE *file;

	snprintf(path, sizeof path, "%s/%s", folder, name);
	file = fopen(path, "w");
	assert_non_null(file);
	fputs(text, file);
	fclose(file);
}

static void the_backlight_is_set_where_there_is_one(void **state)
{
	char folder[] = "/tmp/ambo-light.XXXXXX", device[64], path[96], text[16] = "";
	FILE *file;

	(void)state;
	assert_non_null(mkdtemp(folder));
	assert_int_equal(brightness_set(folder, 60), 0);
	snprintf(device, sizeof device, "%s/panel", folder);
	assert_int_equal(mkdir(device, 0700), 0);
	put(device, "max_brightness", "255\n");
	put(device, "brightness", "255\n");
	assert_int_equal(brightness_set(folder, 60), 1);
	snprintf(path, sizeof path, "%s/brightness", device);
	file = fopen(path, "r");
	assert_non_null(fgets(text, sizeof text, file));
	fclose(file);
	assert_string_equal(text, "153\n");
	assert_int_equal(brightness_set("/nowhere/at/all", 60), 0);
	assert_int_equal(brightness_factor(100), 255);
	assert_true(brightness_factor(40) > 128 && brightness_factor(40) < 200);
	unlink(path);
	snprintf(path, sizeof path, "%s/max_brightness", device);
	unlink(path);
	rmdir(device);
	rmdir(folder);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(until_calibrated_nothing_is_weighed_out),
	        cmocka_unit_test(until_calibrated_no_grams_are_shown),
	        cmocka_unit_test(a_word_is_asked_for_and_no_finger_gives_it),
	        cmocka_unit_test(a_label_is_entered_by_dial_and_read_back),
	        cmocka_unit_test(by_volume_both_densities_are_asked_for),
	        cmocka_unit_test(a_dial_gives_back_what_it_was_set_to),
	        cmocka_unit_test(the_known_loads_are_proposed_up_to_max),
	        cmocka_unit_test(the_keypad_takes_any_mass_and_no_second_point),
	        cmocka_unit_test(check_weights_come_in_ones_twos_and_fives),
	        cmocka_unit_test(the_first_run_goes_in_its_order_to_its_end),
	        cmocka_unit_test(a_press_mixes_for_a_layer_only_when_the_one_below_is_ready),
	        cmocka_unit_test(the_wait_is_told_as_well_as_it_is_known),
	        cmocka_unit_test(the_other_batches_of_a_layer_are_not_kept_waiting),
	        cmocka_unit_test(ticks_are_of_a_piece_and_a_layer_and_can_be_taken_back),
	        cmocka_unit_test(what_comes_later_cannot_be_ticked_yet),
	        cmocka_unit_test(what_dries_is_weighed_on_one_press_but_never_in_a_batch),
	        cmocka_unit_test(an_open_batch_is_one_press_away_from_every_screen),
	        cmocka_unit_test(the_corner_says_what_hinders_most),
	        cmocka_unit_test(a_finger_that_is_down_shows_its_way),
	        cmocka_unit_test(the_backlight_is_set_where_there_is_one),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
