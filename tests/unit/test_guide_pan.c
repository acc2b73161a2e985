/* SPDX-License-Identifier: MIT */
#include <math.h>

#include "tests/support/guide_script.h"

/* Cases at the pan: the cup before, what is not resin, bottles. */

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

/* --- cup --- */

static void a_cup_already_on_the_pan_is_asked_off_it(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_put(&script, CUP_G);
	script_rest(&script, 2.0);
	script_press(&script);
	script_rest(&script, 10.0);
	assert_int_equal(script_message(&script), MESSAGE_CLEAR_THE_PAN);
	assert_within(script.guide.message.mass_g, CUP_G, 1e-9);
	script_put(&script, -CUP_G);
	script_rest(&script, 2.0);
	assert_int_equal(script_message(&script), MESSAGE_PLACE_CUP);
}

static void drying_cup_is_not_accepted_until_it_is_dry(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_cup(&script);
	script_put(&script, CUP_G + 0.6);
	for (int i = 0; i < 30; i++) { /* alcohol going at 1.2 g a minute; the tracker restarts */
		script_rest(&script, 1.0);
		script_put(&script, -0.02);
	}
	assert_int_equal(script.guide.step, GUIDE_CUP);
	assert_int_equal(script_message(&script), MESSAGE_CUP_DRYING);
	assert_within(script.guide.message.mass_g, 1.2, 0.2); /* g a minute */
	script_rest(&script, 12.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_within(script.guide.cup_g, CUP_G, 1e-9);
}

static void a_cup_that_leaves_no_room_under_max_is_told(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	scale.max_g = 400.0;
	script_begin_as(&script, &system, &request, &scale);
	script_to_cup(&script);
	script_put(&script, 100.0);
	script_rest(&script, 10.0);
	assert_int_equal(script_message(&script), MESSAGE_CUP_TOO_HEAVY);
	assert_int_equal(script.guide.step, GUIDE_CUP);
}

static void a_batch_needs_no_press_at_the_cup_and_takes_none(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_cup(&script);
	assert_int_equal(script_look(&script).press, PRESS_NOTHING);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_CUP);
	script_put(&script, CUP_G);
	script_rest(&script, 7.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
}

/* --- not resin --- */

static void cup_lifted_and_put_back_resumes_by_itself(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_put(&script, -script.gross_g);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CUP_LIFTED);
	assert_int_equal(script_look(&script).press, PRESS_NOTHING);
	script_put(&script, CUP_G + 227.6);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_close(script.guide.dispense[0].mass_g, 227.6, 1e-9);
}

static void cup_swapped_is_never_taken_for_the_one_before(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_put(&script, -script.gross_g);
	script_rest(&script, 3.0);
	script_put(&script, 150.0); /* another cup, half full of something */
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_CUP_CHANGED);
	assert_within(script.guide.message.mass_g, 150.0 - CUP_G - 227.6, 1e-9);
	assert_int_equal(script_look(&script).press, PRESS_NOTHING);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_CUP_CHANGED);
	script_put(&script, CUP_G + 227.6 - 150.0); /* the right one */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
}

static void an_empty_cup_swapped_before_anything_is_poured_is_weighed_afresh(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, CUP_G);
	script_put(&script, -CUP_G);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CUP_LIFTED);
	script_put(&script, 30.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CUP_CHANGED);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_CUP);
	script_rest(&script, 7.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_within(script.guide.cup_g, 30.0, 1e-9);
	assert_within(script_look(&script).dispensed_g, 0.0, 1e-9);
}

static void bumped_changes_nothing(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_wobble(&script, 1.0, 8.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_close(script.guide.dispense[0].mass_g, 227.6, 1e-9);
	assert_int_equal(script.guide.n_dispenses, 1);
}

static void bumped_out_of_place_is_asked_about(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_wobble(&script, 1.0, 8.0);
	script_put(&script, 3.0); /* leans against something now */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_BUMPED);
	script_put(&script, -3.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
}

static void a_thing_put_in_is_not_resin_and_resumes_when_taken_out(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, CUP_G);
	script_fill(&script, 100.0);
	script_put(&script, 6.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_NOT_RESIN);
	assert_within(script.guide.message.mass_g, 6.0, 1e-9);
	assert_int_equal(script_look(&script).press, PRESS_IS_RESIN);
	script_put(&script, -6.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_within(script_look(&script).dispensed_g, 100.0, 1e-9);
	assert_int_equal(script.guide.accepted, 0);
}

static void a_splash_without_a_slope_is_taken_by_a_press_and_recorded(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, CUP_G);
	script_fill(&script, 221.0);
	script_put(&script, 6.6); /* all at once */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_NOT_RESIN);
	script_press(&script);
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_close(script.guide.dispense[0].mass_g, 227.6, 1e-9);
	assert_int_equal(script.guide.accepted, ACCEPTED_NOT_RESIN);
}

/* A thing let down slowly by hand shows a rate; nobody pours that fast. */
static void what_comes_faster_than_anyone_pours_is_not_resin(void **state)
{
	struct script script;

	(void)state;
	for (int poured = 0; poured <= 1; poured++) {
		script_begin(&script);
		script_to_charge(&script, 22.0);
		script_pour(&script, 120.0, poured ? 49.0 : 51.0);
		script_rest(&script, 5.0);
		assert_int_equal(script.guide.step, poured ? GUIDE_CHARGE : GUIDE_HELD);
		assert_int_equal(script_message(&script), poured ? MESSAGE_ADD : MESSAGE_NOT_RESIN);
	}
}

static void stick_put_in_before_b_and_taken_out_with_a_gram_of_a_on_it(void **state)
{
	struct script script;

	(void)state;
	a_done(&script);
	script_press(&script);
	script_rest(&script, 4.0);
	script_put(&script, 6.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_NOT_RESIN);
	script_put(&script, -7.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_LOST_MASS);
	assert_within(script.guide.message.mass_g, 1.0, 1e-9);
	script_press(&script); /* only A was in: that is what went */
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_close(script.guide.dispense[0].mass_g, 226.6, 1e-9);
	assert_close(script_look(&script).target_g, 226.6 * 0.45, 1e-9);
	assert_int_equal(script.guide.accepted, ACCEPTED_LOSS);
	script_rest(&script, 4.0);
	script_fill(&script, 226.6 * 0.45);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void mass_lost_of_a_and_b_together_widens_the_doubt(void **state)
{
	struct script script;
	struct ratio ratio;

	(void)state;
	all_in(&script);
	script_put(&script, -4.0); /* a stick, with something of both on it */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_LOST_MASS);
	script_press(&script);
	assert_int_equal(guide_ratio(&script.guide, &ratio), 0);
	assert_close(ratio.hardener_g, 102.4, 1e-9); /* what was weighed stays weighed */
	assert_true(2.0 * ratio.u_deviation_pct > 2.0);
	assert_int_equal(script.guide.verdict, VERDICT_CANNOT_TELL);
	assert_close(script.guide.unexplained_g, -4.0, 1e-9);
}

static void hand_resting_is_neither_resin_nor_ignored(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, CUP_G);
	script_fill(&script, 100.0);
	script_wobble(&script, 25.0, 4.0); /* a hand is never still */
	assert_int_equal(script_message(&script), MESSAGE_HAND_ON_PAN);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_within(script_look(&script).dispensed_g, 100.0, 1e-9);
	script_put(&script, 140.0); /* a very quiet hand */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_NOT_RESIN);
	script_put(&script, -140.0);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
}

static void cup_touching_a_cable_is_asked_about(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, CUP_G);
	script_fill(&script, 100.0);
	script_put(&script, -2.5); /* the cable carries a little of it */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_LOST_MASS);
	script_put(&script, 2.5);
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_within(script_look(&script).dispensed_g, 100.0, 1e-9);
	assert_int_equal(script.guide.accepted, 0);
}

/* --- bottles --- */

static void begin_with_bottles(struct script *script, bool known)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();

	scale.bottles_on_pan = true;
	if (known) {
		system.part[PART_A].bottle_gross_g = 1200.0;
		system.part[PART_B].bottle_gross_g = 640.0;
	}
	script_begin_as(script, &system, &request, &scale);
	script_to_charge(script, CUP_G);
}

static void rest_bottle(struct script *script, double gross_g)
{
	script_put(script, gross_g);
	script_rest(script, 4.0);
}

static void take_bottle(struct script *script, double gross_g)
{
	script_put(script, -gross_g);
	script_rest(script, 3.0);
}

static void bottle_rested_on_the_pan_is_known_and_takes_the_charge(void **state)
{
	struct script script;
	double gross_g;

	(void)state;
	begin_with_bottles(&script, true);
	rest_bottle(&script, 1200.4);
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_KNOWN);
	assert_int_equal(script.guide.message.component, COMPONENT_A);
	take_bottle(&script, 1200.4);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	script_fill(&script, 227.6);
	rest_bottle(&script, 1200.4 - 227.6); /* weighed after: it lost what the cup gained */
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_KNOWN);
	take_bottle(&script, 1200.4 - 227.6);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	rest_bottle(&script, 639.5); /* the next one: no press needed */
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_KNOWN);
	assert_int_equal(script.guide.message.component, COMPONENT_B);
	take_bottle(&script, 639.5);
	assert_int_equal(script.guide.charge, 1);
	script_rest(&script, 2.0);
	script_fill(&script, 102.4);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
	assert_int_equal(script.guide.dispense[0].identity, IDENTITY_BOTTLE);
	assert_int_equal(script.guide.dispense[1].identity, IDENTITY_BOTTLE);
	assert_int_equal(guide_bottle_g(&script.guide, PART_A, &gross_g), 0);
	assert_within(gross_g, 1200.4 - 227.6, 1e-6);
	assert_int_equal(guide_bottle_g(&script.guide, PART_B, &gross_g), 0);
	assert_within(gross_g, 639.5 - 102.4, 1e-6);
}

static void begin_ready(struct script *script, bool bottles)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();

	scale.bottles_on_pan = bottles;
	system.part[PART_A].bottle_gross_g = 1200.0;
	system.part[PART_B].bottle_gross_g = 640.0;
	script_begin_as(script, &system, &request, &scale);
	script_rest(script, 2.0);
	assert_int_equal(script->guide.step, GUIDE_READY);
}

/* From the first to the last of it no press. */
static void the_first_bottle_on_the_empty_pan_starts_the_batch(void **state)
{
	struct script script;

	(void)state;
	begin_ready(&script, true);
	rest_bottle(&script, 1200.4);
	assert_int_equal(script.guide.step, GUIDE_READY);
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_KNOWN);
	take_bottle(&script, 1200.4);
	assert_int_equal(script.guide.step, GUIDE_CUP);
	script_put(&script, CUP_G);
	script_rest(&script, 12.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	script_fill(&script, 227.6);
	assert_int_equal(script.guide.dispense[0].identity, IDENTITY_BOTTLE);
}

static void no_other_thing_on_the_pan_starts_the_batch(void **state)
{
	static const double things_g[] = {640.0, 900.0, CUP_G}; /* B, a stranger, the cup */
	struct script script;

	(void)state;
	for (size_t i = 0; i < sizeof things_g / sizeof *things_g; i++) {
		begin_ready(&script, true);
		rest_bottle(&script, things_g[i]);
		take_bottle(&script, things_g[i]);
		assert_int_equal(script.guide.step, GUIDE_READY);
	}
	begin_ready(&script, true); /* passed over the pan */
	script_put(&script, 1200.0);
	script_rest(&script, 0.5);
	script_put(&script, -1200.0);
	script_rest(&script, 1.0);
	assert_int_equal(script.guide.step, GUIDE_READY);
	begin_ready(&script, false); /* not on this pan */
	rest_bottle(&script, 1200.0);
	take_bottle(&script, 1200.0);
	assert_int_equal(script.guide.step, GUIDE_READY);
}

static void a_bottle_must_rest_two_seconds(void **state)
{
	struct script script;

	(void)state;
	begin_with_bottles(&script, true);
	script_put(&script, 1200.0);
	script_rest(&script, 1.0);
	take_bottle(&script, 1200.0);
	script_fill(&script, 227.6);
	assert_int_equal(script.guide.dispense[0].identity, IDENTITY_BY_HAND);
}

static void wrong_bottle_with_bottle_check_is_told_before_it_is_poured(void **state)
{
	struct script script;

	(void)state;
	begin_with_bottles(&script, true);
	script_fill(&script, 227.6);
	rest_bottle(&script, 1200.0 - 227.6); /* bottle A, though B is next; not yet checked */
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_WRONG);
	assert_int_equal(script.guide.message.component, COMPONENT_A);
	assert_int_equal(script.guide.message.other, COMPONENT_B);
	script_press(&script); /* a press does not make it right */
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_WRONG);
	take_bottle(&script, 1200.0 - 227.6);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_int_equal(script.guide.charge, 0);
}

static void a_bottle_nobody_knows_pauses_and_never_counts(void **state)
{
	struct script script;

	(void)state;
	begin_with_bottles(&script, false);
	rest_bottle(&script, 800.0);
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_UNKNOWN);
	assert_within(script.guide.message.mass_g, 800.0, 1e-9);
	take_bottle(&script, 800.0);
	assert_within(script_look(&script).dispensed_g, 0.0, 1e-9);
	assert_int_equal(script.guide.n_dispenses, 0);
}

static void a_bottle_that_lost_more_than_the_cup_gained_disagrees(void **state)
{
	struct script script;

	(void)state;
	begin_with_bottles(&script, true);
	rest_bottle(&script, 1200.0);
	take_bottle(&script, 1200.0);
	script_fill(&script, 227.6);
	rest_bottle(&script, 1200.0 - 231.0); /* 3.4 g went beside the cup */
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_DISAGREES);
	assert_within(script.guide.message.mass_g, 231.0, 1e-9);
	assert_within(script.guide.message.other_mass_g, 227.6, 1e-9);
	take_bottle(&script, 1200.0 - 231.0);
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_DISAGREES); /* until answered */
	script_press(&script);
	script_rest(&script, 1.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_int_equal(script.guide.accepted, ACCEPTED_BOTTLE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_cup_already_on_the_pan_is_asked_off_it),
	        cmocka_unit_test(drying_cup_is_not_accepted_until_it_is_dry),
	        cmocka_unit_test(a_cup_that_leaves_no_room_under_max_is_told),
	        cmocka_unit_test(a_batch_needs_no_press_at_the_cup_and_takes_none),
	        cmocka_unit_test(cup_lifted_and_put_back_resumes_by_itself),
	        cmocka_unit_test(cup_swapped_is_never_taken_for_the_one_before),
	        cmocka_unit_test(an_empty_cup_swapped_before_anything_is_poured_is_weighed_afresh),
	        cmocka_unit_test(bumped_changes_nothing),
	        cmocka_unit_test(bumped_out_of_place_is_asked_about),
	        cmocka_unit_test(a_thing_put_in_is_not_resin_and_resumes_when_taken_out),
	        cmocka_unit_test(a_splash_without_a_slope_is_taken_by_a_press_and_recorded),
	        cmocka_unit_test(what_comes_faster_than_anyone_pours_is_not_resin),
	        cmocka_unit_test(stick_put_in_before_b_and_taken_out_with_a_gram_of_a_on_it),
	        cmocka_unit_test(mass_lost_of_a_and_b_together_widens_the_doubt),
	        cmocka_unit_test(hand_resting_is_neither_resin_nor_ignored),
	        cmocka_unit_test(cup_touching_a_cable_is_asked_about),
	        cmocka_unit_test(bottle_rested_on_the_pan_is_known_and_takes_the_charge),
	        cmocka_unit_test(a_bottle_must_rest_two_seconds),
	        cmocka_unit_test(the_first_bottle_on_the_empty_pan_starts_the_batch),
	        cmocka_unit_test(no_other_thing_on_the_pan_starts_the_batch),
	        cmocka_unit_test(wrong_bottle_with_bottle_check_is_told_before_it_is_poured),
	        cmocka_unit_test(a_bottle_nobody_knows_pauses_and_never_counts),
	        cmocka_unit_test(a_bottle_that_lost_more_than_the_cup_gained_disagrees),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
