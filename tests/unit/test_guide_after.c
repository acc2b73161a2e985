/* SPDX-License-Identifier: MIT */
#include <math.h>

#include "tests/support/guide_script.h"

/* Cases of the rest: faults, spills, stirring, pouring, the clock, several batches. */

#define CUP_G 22.0

static void a_done(struct script *script)
{
	script_begin(script);
	script_to_charge(script, CUP_G);
	script_fill(script, 227.6);
	assert_int_equal(script_message(script), MESSAGE_CHARGE_DONE);
}

static void all_in(struct script *script)
{
	a_done(script);
	script_press(script);
	script_rest(script, 4.0);
	script_fill(script, 102.4);
	assert_int_equal(script_message(script), MESSAGE_RATIO_WITHIN);
}

static void lifted(struct script *script, double residue_g)
{
	all_in(script);
	script_put(script, residue_g - script->gross_g);
	script_rest(script, 4.0);
	assert_int_equal(script->guide.step, GUIDE_STIR);
}

/* --- faults --- */

static void scale_lost_in_mid_charge_and_back_asks_with_the_difference(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, CUP_G);
	script_fill(&script, 100.0);
	script_pour(&script, 20.0, 12.0);
	script.fault = script.silent = true;
	script_rest(&script, 2.0);
	assert_int_equal(script_message(&script), MESSAGE_SCALE_SILENT);
	assert_int_equal(script_look(&script).cue, CUE_SILENT);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_SCALE_SILENT);
	script_put(&script, 15.0); /* poured on, unseen */
	script.fault = script.silent = false;
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_RESUME_CHECK);
	assert_within(script.guide.message.mass_g, 35.0, 1e-9);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_within(script_look(&script).dispensed_g, 135.0, 1e-9);
	assert_int_equal(script.guide.accepted, ACCEPTED_DIFFERENCE);
}

static void scale_lost_at_rest_and_back_goes_on_by_itself(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script.fault = true;
	script_rest(&script, 2.0);
	assert_int_equal(script_message(&script), MESSAGE_SCALE_RAIL);
	script.overload = true;
	script_rest(&script, 2.0);
	assert_int_equal(script_message(&script), MESSAGE_OVERLOAD);
	script.fault = script.overload = false;
	script_put(&script, 0.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_int_equal(script.guide.accepted, 0);
}

static void one_corrupt_read_does_not_hold_the_batch(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, CUP_G);
	script_pour(&script, 100.0, 12.0);
	script.fault = true;
	script_pour(&script, 1.2, 12.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	script.fault = false;
	script_fill(&script, 126.4);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
}

static void no_reading_at_all_is_noticed_by_the_ticks(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	for (int i = 0; i < 25; i++) {
		script.t_us += 100000;
		script_event(&script, GUIDE_TICK, NULL, 0.0);
	}
	assert_int_equal(script_message(&script), MESSAGE_SCALE_SILENT);
	script_rest(&script, 2.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
}

/* --- spill, stir, pour --- */

static void the_verdict_is_provisional_until_the_empty_pan_is_read(void **state)
{
	struct script script;

	(void)state;
	all_in(&script);
	assert_true(script_look(&script).provisional);
	script_press(&script); /* instead of lifting */
	assert_int_equal(script.guide.step, GUIDE_STIR);
	script_rest(&script, 5.0);
	assert_true(script_look(&script).provisional);
	script_put(&script, -script.gross_g);
	script_rest(&script, 4.0);
	assert_false(script_look(&script).provisional);
	assert_int_equal(script.guide.verdict, VERDICT_WITHIN);
}

static void spill_on_the_pan_that_could_put_it_outside_is_asked_about(void **state)
{
	struct script script;

	(void)state;
	lifted(&script, 2.2); /* 2.2 of 102.4 g: -2.1 % if it was B */
	assert_int_equal(script_message(&script), MESSAGE_SPILL_ASK);
	assert_within(script.guide.message.mass_g, 2.2, 1e-9);
	assert_within(script.guide.message.pct, 100.0 * (102.4 / (227.6 - 2.2) / 0.45 - 1.0), 1e-6);
	assert_within(script.guide.message.other_pct, 100.0 * ((102.4 - 2.2) / 227.6 / 0.45 - 1.0),
	              1e-6);
	assert_true(script_look(&script).provisional);
	script_press(&script);
	assert_int_equal(script.guide.verdict, VERDICT_OUTSIDE); /* the worse of the two */
	assert_int_equal(script.guide.accepted, ACCEPTED_PAN);
	assert_false(script_look(&script).provisional);
}

static void a_small_spill_is_bounded_and_still_within(void **state)
{
	struct script script;

	(void)state;
	lifted(&script, 0.5);
	assert_int_equal(script_message(&script), MESSAGE_SPILL);
	assert_int_equal(script.guide.verdict, VERDICT_WITHIN);
	assert_false(script_look(&script).provisional);
	assert_within(script.guide.residue_g, 0.5, 1e-9);
}

static void a_lighter_pan_is_told(void **state)
{
	struct script script;

	(void)state;
	lifted(&script, -0.5);
	assert_int_equal(script_message(&script), MESSAGE_PAN_LIGHTER);
	lifted(&script, -2.6);
	assert_int_equal(script_message(&script), MESSAGE_PAN_LIGHTER);
	assert_true(script_look(&script).provisional); /* asked */
	script_press(&script);
	assert_int_equal(script.guide.verdict, VERDICT_OUTSIDE);
}

static void stirring_ends_by_a_press_or_the_cups_return_never_by_time(void **state)
{
	struct script script;

	(void)state;
	lifted(&script, 0.0);
	script_rest(&script, 400.0);
	assert_int_equal(script.guide.step, GUIDE_STIR);
	assert_int_equal(script_message(&script), MESSAGE_STIR_UNCONFIRMED);
	script_put(&script, CUP_G + 329.5);
	script_rest(&script, 2.0);
	assert_int_equal(script.guide.step, GUIDE_POUR);
	lifted(&script, 0.0);
	script_rest(&script, 20.0);
	script_put(&script, CUP_G + 329.5); /* put down, not stirred */
	script_rest(&script, 2.0);
	assert_int_equal(script.guide.step, GUIDE_STIR);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_POUR);
}

/* One tap may arrive twice, and a press may cross the pan's own answer. */
static void one_tap_that_comes_twice_neither_stirs_nor_pours(void **state)
{
	struct script script;

	(void)state;
	all_in(&script);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_STIR);
	assert_int_equal(script_look(&script).press, PRESS_NOTHING);
	script_rest(&script, 0.1);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_STIR);
	all_in(&script);
	script_put(&script, -CUP_G - 330.0);
	while (script.guide.step != GUIDE_STIR)
		script_rest(&script, 0.1);
	script_press(&script); /* meant: "stir" */
	assert_int_equal(script.guide.step, GUIDE_STIR);
	script_rest(&script, 120.0);
	script_put(&script, CUP_G + 330.0);
	while (script.guide.step != GUIDE_POUR)
		script_rest(&script, 0.1);
	script_press(&script); /* meant: "stirred" */
	assert_int_equal(script.guide.step, GUIDE_POUR);
	script_rest(&script, 1.1);
	assert_int_equal(script_look(&script).press, PRESS_POURED);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_DONE);
}

static void lifting_the_cup_never_means_poured(void **state)
{
	struct script script;

	(void)state;
	lifted(&script, 0.0);
	script_press(&script);
	script_put(&script, CUP_G + 330.0);
	script_rest(&script, 5.0);
	script_put(&script, -CUP_G - 330.0);
	script_rest(&script, 60.0);
	assert_int_equal(script.guide.step, GUIDE_POUR);
}

static void the_emptied_cup_weighed_back_tells_what_went_into_the_mould(void **state)
{
	struct script script;

	(void)state;
	lifted(&script, 0.0);
	script_press(&script);
	script_put(&script, CUP_G + 120.0); /* put down half poured */
	script_rest(&script, 10.0);
	assert_int_equal(script.guide.step, GUIDE_POUR);
	assert_int_equal(script_message(&script), MESSAGE_WEIGH_BACK);
	assert_within(script.guide.message.mass_g, 120.0, 1e-9);
	script_put(&script, -CUP_G - 120.0);
	script_rest(&script, 5.0);
	script_put(&script, CUP_G + 3.5);
	script_rest(&script, 5.0);
	assert_int_equal(script.guide.step, GUIDE_DONE);
	assert_within(script.guide.stayed_g, 3.5, 1e-9);
}

/* --- time --- */

static void working_life_begins_at_the_first_gram_of_the_second_part(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	assert_int_equal(script_look(&script).has & VIEW_HAS_LIFE, 0);
	script_press(&script);
	script_rest(&script, 60.0);
	assert_int_equal(script_look(&script).has & VIEW_HAS_LIFE, 0);
	script_pour(&script, 3.0, 12.0);
	assert_true((script_look(&script).has & VIEW_HAS_LIFE) != 0);
	assert_within(script_look(&script).working_life_left_s, 2400.0, 0.3);
}

static void still_on_the_pan_at_sixty_percent_is_told(void **state)
{
	struct script script;

	(void)state;
	all_in(&script);
	script_rest(&script, 0.6 * 2400.0);
	assert_int_equal(script_message(&script), MESSAGE_POUR_SOON);
	assert_int_equal(script_look(&script).press, PRESS_STIR);
}

static void working_life_over_before_pouring_is_a_hazard_until_acknowledged(void **state)
{
	struct script script;

	(void)state;
	lifted(&script, 0.0);
	script_press(&script);
	script_rest(&script, 2450.0);
	assert_int_equal(script_message(&script), MESSAGE_LIFE_OVER);
	assert_int_equal(script_look(&script).cue, CUE_HAZARD);
	script_rest(&script, 60.0);
	assert_int_equal(script_look(&script).cue, CUE_HAZARD);
	script_press(&script); /* acknowledged, and nothing else */
	assert_int_equal(script.guide.step, GUIDE_POUR);
	assert_int_equal(script_look(&script).cue, CUE_NONE);
	assert_int_equal(script.guide.accepted, ACCEPTED_LIFE_OVER);
	script_press(&script); /* the same tap once more */
	assert_int_equal(script.guide.step, GUIDE_POUR);
	script_rest(&script, 1.1);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_DONE);
	assert_int_equal(script.guide.accepted, ACCEPTED_LIFE_OVER | ACCEPTED_POURED_LATE);
}

static void a_better_clock_replaces_the_labels(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_event(&script, GUIDE_LIFE, NULL, 100.0); /* nothing to replace yet */
	assert_true(script.guide.life_start_us < 0);
	lifted(&script, 0.0);
	script_event(&script, GUIDE_LIFE, NULL, 300.0);
	assert_within(script_look(&script).working_life_left_s, 300.0, 1e-6);
	script_event(&script, GUIDE_LIFE, NULL, (double)NAN);
	assert_within(script_look(&script).working_life_left_s, 300.0, 1e-6);
}

static void abandoned_for_an_hour_is_held_and_a_press_goes_on(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_rest(&script, 3550.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_rest(&script, 60.0);
	assert_int_equal(script_message(&script), MESSAGE_ABANDONED);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_rest(&script, 60.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
}

static void hold_discard_and_a_failed_store(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_event(&script, GUIDE_HOLD, NULL, 0.0);
	assert_int_equal(script_message(&script), MESSAGE_HELD_BY_HAND);
	script_rest(&script, 5.0);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_event(&script, GUIDE_STORE_FAILED, "disk full", 0.0);
	assert_int_equal(script_message(&script), MESSAGE_STORE_FAILED);
	assert_string_equal(script.guide.message.text, "disk full");
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_event(&script, GUIDE_DISCARD, NULL, 0.0);
	assert_int_equal(script.guide.step, GUIDE_DISCARDED);
	script_press(&script);
	script_rest(&script, 3.0);
	assert_int_equal(script.guide.step, GUIDE_DISCARDED);
	assert_true(guide_finished(&script.guide));
}

static void a_hold_over_a_question_brings_the_question_back(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_press(&script);
	script_rest(&script, 1.0);
	script_put(&script, 0.8);
	script_rest(&script, 2.0);
	assert_int_equal(script_message(&script), MESSAGE_STILL_FLOWING);
	script_event(&script, GUIDE_HOLD, NULL, 0.0);
	script_event(&script, GUIDE_STORE_FAILED, "disk full", 0.0);
	assert_int_equal(script_message(&script), MESSAGE_STORE_FAILED);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_STILL_FLOWING);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_close(script.guide.dispense[0].mass_g, 228.4, 1e-9);
}

static void a_waiting_press_answers_no_other_question(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_put(&script, 6.0); /* the stirrer is put in ... */
	script_rest(&script, 0.2);
	script_press(&script); /* ... and "next" is pressed at the same moment */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_NOT_RESIN); /* asked, not taken */
	assert_int_equal(script.guide.accepted, 0);
	assert_int_equal(script.guide.charge, 0);
}

static void done_is_final(void **state)
{
	const enum guide_event_kind kinds[] = {GUIDE_PRESS, GUIDE_DISCARD, GUIDE_HOLD,
	                                       GUIDE_OTHER_PART, GUIDE_RESUME};
	struct script script;

	(void)state;
	lifted(&script, 0.0);
	script_press(&script);
	script_rest(&script, 1.1);
	script_press(&script);
	for (size_t i = 0; i < sizeof(kinds) / sizeof(kinds[0]); i++) {
		script_event(&script, kinds[i], NULL, 0.0);
		script_rest(&script, 2.0);
		assert_int_equal(script.guide.step, GUIDE_DONE);
		assert_int_equal(script.guide.verdict, VERDICT_WITHIN);
	}
}

static void a_press_before_the_pan_is_still_is_heard_and_taken_once_it_is(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_put(&script, 0.05);
	script_rest(&script, 0.2);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_WAIT_SETTLE);
	assert_int_equal(script.guide.charge, 0);
	script_rest(&script, 2.0);
	assert_int_equal(script.guide.charge, 1);
	assert_close(script.guide.dispense[0].mass_g, 227.65, 1e-9);
}

/* --- several --- */

static void two_batches_at_once_share_the_pan_one_after_the_other(void **state)
{
	struct script one, two;
	int64_t life_us;

	(void)state;
	lifted(&one, 0.0);
	assert_false(guide_on_pan(&one.guide));
	life_us = one.guide.life_end_us;
	script_begin(&two); /* the pan is free: the next batch */
	script_to_charge(&two, 30.0);
	assert_true(guide_on_pan(&two.guide));
	script_fill(&two, 227.6);
	/* The first is told nothing but the time. */
	one.t_us += 900 * 1000000LL;
	script_event(&one, GUIDE_TICK, NULL, 0.0);
	assert_int_equal(script_message(&one), MESSAGE_STIR_UNCONFIRMED);
	assert_true(one.guide.life_end_us == life_us);
	script_press(&one);
	one.t_us += 1100000;
	script_event(&one, GUIDE_TICK, NULL, 0.0);
	script_press(&one);
	assert_int_equal(one.guide.step, GUIDE_DONE);
	assert_int_equal(one.guide.verdict, VERDICT_WITHIN);
	assert_int_equal(two.guide.step, GUIDE_CHARGE);
}

static void a_divided_batch_inherits_ratio_verdict_and_clock(void **state)
{
	struct script parent, child;
	struct ratio ratio;

	(void)state;
	all_in(&parent);
	assert_int_equal(
	        guide_divide(&parent.guide, 100.0, 2.0, "green", parent.t_us, &child.guide),
	        -22); /* EINVAL: still on the pan */
	lifted(&parent, 0.0);
	assert_int_equal(guide_divide(&parent.guide, 331.0, 0.0, "", parent.t_us, &child.guide),
	                 -34); /* ERANGE */
	child = parent;
	assert_int_equal(
	        guide_divide(&parent.guide, 100.0, 2.0, "green", parent.t_us, &child.guide), 0);
	assert_int_equal(script_message(&child), MESSAGE_DIVIDED);
	script_rest(&child, 3.0);
	script_put(&child, 15.0);
	script_rest(&child, 8.0);
	assert_int_equal(child.guide.step, GUIDE_CHARGE);
	assert_int_equal(script_look(&child).component, COMPONENT_MIXED);
	script_fill(&child, 101.0);
	assert_int_equal(script_message(&child), MESSAGE_CHARGE_DONE);
	assert_close(guide_received_g(&child.guide), child.guide.dispense[0].mass_g, 1e-15);
	assert_within(guide_received_g(&parent.guide), 0.0, 0.0);
	assert_int_equal(guide_take_off(&parent.guide, guide_received_g(&child.guide)), 0);
	assert_close(parent.guide.given_g, 101.0, 1e-9);
	/* A drip more, and put right again. */
	assert_int_equal(guide_take_off(&parent.guide, 0.5), 0);
	assert_int_equal(guide_take_off(&parent.guide, -0.5), 0);
	assert_close(parent.guide.given_g, 101.0, 1e-9);
	script_press(&child);
	script_rest(&child, 4.0);
	assert_close(script_look(&child).target_g, 2.02, 1e-9);
	script_put(&child, 2.02);
	script_rest(&child, 5.0);
	assert_int_equal(script_message(&child), MESSAGE_RATIO_WITHIN);
	assert_int_equal(guide_ratio(&child.guide, &ratio), 0);
	assert_close(ratio.ratio, 102.4 / 227.6, 1e-9);
	assert_true(child.guide.life_end_us == parent.guide.life_end_us);
	/* All there is: its second weighing says a little more than the first. */
	assert_int_equal(guide_take_off(&parent.guide, 229.05), 0);
	assert_close(parent.guide.given_g, 330.0, 1e-9);
	assert_int_equal(guide_take_off(&parent.guide, -400.0), 0);
	assert_within(parent.guide.given_g, 0.0, 0.0);
	assert_int_equal(guide_take_off(&parent.guide, (double)NAN), -22);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(scale_lost_in_mid_charge_and_back_asks_with_the_difference),
	        cmocka_unit_test(scale_lost_at_rest_and_back_goes_on_by_itself),
	        cmocka_unit_test(one_corrupt_read_does_not_hold_the_batch),
	        cmocka_unit_test(no_reading_at_all_is_noticed_by_the_ticks),
	        cmocka_unit_test(the_verdict_is_provisional_until_the_empty_pan_is_read),
	        cmocka_unit_test(spill_on_the_pan_that_could_put_it_outside_is_asked_about),
	        cmocka_unit_test(a_small_spill_is_bounded_and_still_within),
	        cmocka_unit_test(a_lighter_pan_is_told),
	        cmocka_unit_test(stirring_ends_by_a_press_or_the_cups_return_never_by_time),
	        cmocka_unit_test(one_tap_that_comes_twice_neither_stirs_nor_pours),
	        cmocka_unit_test(lifting_the_cup_never_means_poured),
	        cmocka_unit_test(the_emptied_cup_weighed_back_tells_what_went_into_the_mould),
	        cmocka_unit_test(working_life_begins_at_the_first_gram_of_the_second_part),
	        cmocka_unit_test(still_on_the_pan_at_sixty_percent_is_told),
	        cmocka_unit_test(working_life_over_before_pouring_is_a_hazard_until_acknowledged),
	        cmocka_unit_test(a_better_clock_replaces_the_labels),
	        cmocka_unit_test(abandoned_for_an_hour_is_held_and_a_press_goes_on),
	        cmocka_unit_test(hold_discard_and_a_failed_store),
	        cmocka_unit_test(a_hold_over_a_question_brings_the_question_back),
	        cmocka_unit_test(a_waiting_press_answers_no_other_question),
	        cmocka_unit_test(done_is_final),
	        cmocka_unit_test(a_press_before_the_pan_is_still_is_heard_and_taken_once_it_is),
	        cmocka_unit_test(two_batches_at_once_share_the_pan_one_after_the_other),
	        cmocka_unit_test(a_divided_batch_inherits_ratio_verdict_and_clock),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
