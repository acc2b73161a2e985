/* SPDX-License-Identifier: MIT */
#include <math.h>

#include "tests/support/guide_script.h"

/* Cases at the pan and off it: the cup before, what is not resin, faults, spills,
 * stirring, pouring, working life. */

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
	assert_int_equal(guide_take_off(&parent.guide, child.guide.dispense[0].mass_g), 0);
	script_press(&child);
	script_rest(&child, 4.0);
	assert_close(script_look(&child).target_g, 2.02, 1e-9);
	script_put(&child, 2.02);
	script_rest(&child, 5.0);
	assert_int_equal(script_message(&child), MESSAGE_RATIO_WITHIN);
	assert_int_equal(guide_ratio(&child.guide, &ratio), 0);
	assert_close(ratio.ratio, 102.4 / 227.6, 1e-9);
	assert_true(child.guide.life_end_us == parent.guide.life_end_us);
	assert_int_equal(guide_take_off(&parent.guide, 230.0), -34);
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
	        cmocka_unit_test(stick_put_in_before_b_and_taken_out_with_a_gram_of_a_on_it),
	        cmocka_unit_test(mass_lost_of_a_and_b_together_widens_the_doubt),
	        cmocka_unit_test(hand_resting_is_neither_resin_nor_ignored),
	        cmocka_unit_test(cup_touching_a_cable_is_asked_about),
	        cmocka_unit_test(bottle_rested_on_the_pan_is_known_and_takes_the_charge),
	        cmocka_unit_test(a_bottle_must_rest_two_seconds),
	        cmocka_unit_test(wrong_bottle_with_bottle_check_is_told_before_it_is_poured),
	        cmocka_unit_test(a_bottle_nobody_knows_pauses_and_never_counts),
	        cmocka_unit_test(a_bottle_that_lost_more_than_the_cup_gained_disagrees),
	        cmocka_unit_test(scale_lost_in_mid_charge_and_back_asks_with_the_difference),
	        cmocka_unit_test(scale_lost_at_rest_and_back_goes_on_by_itself),
	        cmocka_unit_test(one_corrupt_read_does_not_hold_the_batch),
	        cmocka_unit_test(no_reading_at_all_is_noticed_by_the_ticks),
	        cmocka_unit_test(the_verdict_is_provisional_until_the_empty_pan_is_read),
	        cmocka_unit_test(spill_on_the_pan_that_could_put_it_outside_is_asked_about),
	        cmocka_unit_test(a_small_spill_is_bounded_and_still_within),
	        cmocka_unit_test(a_lighter_pan_is_told),
	        cmocka_unit_test(stirring_ends_by_a_press_or_the_cups_return_never_by_time),
	        cmocka_unit_test(lifting_the_cup_never_means_poured),
	        cmocka_unit_test(the_emptied_cup_weighed_back_tells_what_went_into_the_mould),
	        cmocka_unit_test(working_life_begins_at_the_first_gram_of_the_second_part),
	        cmocka_unit_test(still_on_the_pan_at_sixty_percent_is_told),
	        cmocka_unit_test(working_life_over_before_pouring_is_a_hazard_until_acknowledged),
	        cmocka_unit_test(a_better_clock_replaces_the_labels),
	        cmocka_unit_test(abandoned_for_an_hour_is_held_and_a_press_goes_on),
	        cmocka_unit_test(hold_discard_and_a_failed_store),
	        cmocka_unit_test(a_hold_over_a_question_brings_the_question_back),
	        cmocka_unit_test(a_press_before_the_pan_is_still_is_heard_and_taken_once_it_is),
	        cmocka_unit_test(two_batches_at_once_share_the_pan_one_after_the_other),
	        cmocka_unit_test(a_divided_batch_inherits_ratio_verdict_and_clock),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
