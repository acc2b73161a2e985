/* SPDX-License-Identifier: MIT */
#include <math.h>

#include "tests/support/guide_script.h"

/* Cases at the charges: overshoots, top-ups, the wrong part, drips, tint. The masses
 * of 330 g at 100 : 45 are those of the worked example: A 227.6, B 102.4. */

static void a_poured(struct script *script, double a_g)
{
	script_begin(script);
	script_to_charge(script, 22.0);
	script_fill(script, a_g);
	script_press(script);
	script_rest(script, 4.0);
}

static void overshoot_of_a_moves_the_target_of_b(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 240.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_int_equal(script_look(&script).component, COMPONENT_B);
	assert_close(script_look(&script).target_g, 240.0 * 0.45, 1e-9);
	script_fill(&script, 108.0);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void overshoot_of_a_past_the_cup_is_too_much_and_may_be_spooned_out(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	request.cup_limit_g = 350.0; /* A may be 350 / 1.45 = 241.38 g */
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 250.0);
	assert_int_equal(script_message(&script), MESSAGE_TOO_MUCH);
	assert_within(script.guide.message.mass_g, 250.0 - 350.0 / 1.45, 1e-9);
	assert_int_equal(script_look(&script).press, PRESS_NOTHING);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_TOO_MUCH);
	script_put(&script, -15.0); /* a spoonful, while there is only A */
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_close(script_look(&script).target_g, 235.0 * 0.45, 1e-9);
}

static void too_little_of_a_never_advances_however_long_it_rests(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	script_pour(&script, 210.0, 12.0); /* the band begins at 216.2 */
	script_rest(&script, 600.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_int_equal(script.guide.charge, 0);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_NOT_YET);
	assert_close(script.guide.message.mass_g, 0.95 * 330.0 / 1.45 - 210.0, 1e-9);
	assert_int_equal(script.guide.n_dispenses, 0);
	script_rest(&script, 7.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
}

static void too_little_of_b_keeps_asking_for_b_down_to_the_ratio(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6);
	script_fill(&script, 90.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_close(script.guide.message.mass_g, 227.6 * 0.45 - 90.0, 1e-9);
	assert_int_equal(script.guide.verdict, VERDICT_NONE);
	script_press(&script); /* a press cannot make it enough */
	assert_int_equal(script_message(&script), MESSAGE_NOT_YET);
	script_fill(&script, 12.4);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
	assert_int_equal(script.guide.n_dispenses, 2);
}

static void overshoot_of_b_asks_for_more_a(void **state)
{
	struct script script;
	double over_g = 107.4 - 227.6 * 0.45, top_up_g = 107.4 / 0.45 - 227.6;

	(void)state;
	a_poured(&script, 227.6);
	script_fill(&script, 107.4);
	assert_int_equal(script_message(&script), MESSAGE_TOO_MUCH);
	assert_within(script.guide.message.mass_g, over_g, 1e-6); /* 5.0 g too much B */
	assert_within(script.guide.message.pct, 4.9, 0.05);       /* +4.9 % */
	assert_int_equal(script_look(&script).cue, CUE_TOO_MUCH);
	assert_int_equal(script_look(&script).press, PRESS_TOP_UP);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_TOP_UP);
	assert_int_equal(script_message(&script), MESSAGE_TOP_UP);
	assert_int_equal(script.guide.message.component, COMPONENT_A);
	assert_within(script.guide.message.mass_g, top_up_g, 1e-6);
	assert_within(script.guide.message.mass_g, 11.1, 0.05);        /* the worked example */
	assert_within(script.guide.message.other_mass_g, 346.1, 0.05); /* new total */
	script_rest(&script, 4.0);
	script_pour(&script, top_up_g, 4.0);
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
	assert_true(script.guide.dispense[2].top_up);
}

static void overshoot_of_b_again_and_again_is_set_right_each_time(void **state)
{
	struct script script;
	int rounds = 0;

	(void)state;
	a_poured(&script, 227.6);
	script_fill(&script, 110.0);
	while (script_message(&script) == MESSAGE_TOO_MUCH && rounds < 40) {
		double dose_g;

		rounds++;
		script_press(&script);
		dose_g = script_look(&script).remaining_g;
		script_rest(&script, 4.0);
		script_pour(&script, dose_g + 0.05 * script.gross_g, 12.0); /* clumsy */
		script_rest(&script, 5.0);
	}
	/* The tables bound it: then nothing more fits, said plainly, and no further. */
	assert_in_range(rounds, 10, GUIDE_DISPENSES_MAX);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_OUTSIDE);
	assert_int_equal(script_look(&script).press, PRESS_ACCEPT);
	assert_int_equal(script.guide.verdict, VERDICT_OUTSIDE);
}

static void a_top_up_overshot_twice_ends_within(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6);
	script_fill(&script, 107.4);
	script_press(&script);
	script_rest(&script, 4.0);
	script_pour(&script, 11.1 + 9.0, 4.0); /* too much A now */
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_TOO_MUCH);
	assert_int_equal(script.guide.message.component, COMPONENT_A);
	script_press(&script);
	assert_int_equal(script.guide.message.component, COMPONENT_B);
	assert_within(script.guide.message.mass_g, (227.6 + 20.1) * 0.45 - 107.4, 1e-6);
	script_rest(&script, 4.0);
	script_pour(&script, (227.6 + 20.1) * 0.45 - 107.4, 2.0);
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void a_top_up_that_would_overflow_the_cup_is_told_and_never_within(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	request.cup_limit_g = 336.0;
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 4.0);
	script_fill(&script, 108.2); /* 335.8 in the cup; A for +2 %: about 8 g */
	assert_int_equal(script_message(&script), MESSAGE_TOP_UP_WONT_FIT);
	assert_true(script.guide.message.other_mass_g > 0.0);
	assert_int_equal(script_look(&script).press, PRESS_ACCEPT);
	assert_int_equal(script.guide.verdict, VERDICT_OUTSIDE);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_OUTSIDE);
	assert_true((script.guide.accepted & ACCEPTED_OUTSIDE) != 0);
	assert_int_equal(script_look(&script).press, PRESS_STIR);
	assert_int_equal(script_look(&script).verdict, VERDICT_OUTSIDE);
}

static void a_top_up_that_would_overflow_max_is_told(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	scale.max_g = 356.0; /* cup 22 + 330 leaves 4 g */
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 4.0);
	script_fill(&script, 106.0);
	assert_int_equal(script_message(&script), MESSAGE_TOP_UP_WONT_FIT);
}

static void a_drip_from_a_before_the_change_belongs_to_a(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_put(&script, 0.6); /* runs down the neck while the next bottle is fetched */
	script_rest(&script, 3.0);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_close(script.guide.dispense[0].mass_g, 228.2, 1e-9);
	assert_close(script_look(&script).target_g, 228.2 * 0.45, 1e-9);
}

static void a_drip_from_a_after_the_change_to_b_is_asked_about(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 1.0);
	script_put(&script, 0.8);
	script_rest(&script, 2.0);
	assert_int_equal(script.guide.step, GUIDE_HELD);
	assert_int_equal(script_message(&script), MESSAGE_STILL_FLOWING);
	assert_int_equal(script.guide.message.component, COMPONENT_A);
	script_press(&script); /* yes, that was still A */
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_close(script.guide.dispense[0].mass_g, 228.4, 1e-9);
	assert_close(script_look(&script).target_g, 228.4 * 0.45, 1e-9);
	assert_within(script_look(&script).dispensed_g, 0.0, 1e-9);
	assert_true(script.guide.life_start_us < 0);
}

static void flow_right_after_the_change_that_was_b_already_counts_as_b(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 1.0);
	script_pour(&script, 30.0, 12.0);
	assert_int_equal(script_message(&script), MESSAGE_STILL_FLOWING);
	script_event(&script, GUIDE_OTHER_PART, NULL, 0.0); /* no: the other part already */
	script_rest(&script, 4.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_close(script.guide.dispense[0].mass_g, 227.6, 1e-9);
	assert_within(script_look(&script).dispensed_g, 30.0, 1e-9);
	assert_true(script.guide.life_start_us > 0);
	script_fill(&script, 72.4);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void wrong_bottle_without_bottle_check_is_one_press(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6);
	script_fill(&script, 60.0); /* from bottle A again */
	script_event(&script, GUIDE_OTHER_PART, NULL, 0.0);
	assert_int_equal(script_message(&script), MESSAGE_RELABELLED);
	assert_int_equal(script.guide.message.component, COMPONENT_A);
	assert_within(script.guide.message.mass_g, 60.0, 1e-9);
	script_rest(&script, 7.0);
	assert_int_equal(script_look(&script).component, COMPONENT_B);
	assert_close(script_look(&script).target_g, 287.6 * 0.45, 1e-9); /* nothing lost */
	script_fill(&script, 287.6 * 0.45);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
	for (uint32_t i = 0; i < script.guide.n_dispenses; i++)
		assert_int_equal(script.guide.dispense[i].identity, IDENTITY_BY_HAND);
}

static void b_first_swaps_the_charges_and_judges_a(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	script_pour(&script, 100.0, 12.0);
	script_rest(&script, 2.0);
	script_event(&script, GUIDE_OTHER_PART, NULL, 0.0);
	assert_int_equal(script_message(&script), MESSAGE_RELABELLED);
	assert_int_equal(script.guide.message.component, COMPONENT_B);
	script_rest(&script, 7.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_int_equal(script_look(&script).component, COMPONENT_A);
	assert_close(script_look(&script).target_g, 100.0 / 0.45, 1e-9);
	script_fill(&script, 100.0 / 0.45);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
	assert_true(script.guide.life_start_us > 0);
}

static void b_first_noticed_after_the_change_loses_nothing(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6); /* it was B */
	script_event(&script, GUIDE_OTHER_PART, NULL, 0.0);
	assert_int_equal(script_look(&script).component, COMPONENT_A);
	assert_close(script_look(&script).target_g, 227.6 / 0.45, 1e-9);
	assert_int_equal(script.guide.dispense[0].component, COMPONENT_B);
	script_rest(&script, 7.0);
	script_fill(&script, 227.6 / 0.45);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void a_verdict_is_withdrawn_as_plainly_as_it_was_given(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6);
	script_fill(&script, 103.9); /* +1.4 % */
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
	script_put(&script, 0.9); /* the bottle, held over the cup, drips: +2.3 % */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_VERDICT_WITHDRAWN);
	assert_within(script.guide.message.pct, 100.0 * (104.8 / 227.6 / 0.45 - 1.0), 1e-6);
	assert_int_equal(script.guide.verdict, VERDICT_OUTSIDE);
	script_rest(&script, 7.0);
	assert_int_equal(script_message(&script), MESSAGE_TOO_MUCH);
}

static void a_wide_doubt_cannot_be_told_and_is_never_called_within(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6);
	script.u_g = 1.2; /* the scale has become noisy: the guarded band is empty */
	script_fill(&script, 102.4);
	assert_int_equal(script_message(&script), MESSAGE_CANNOT_TELL);
	assert_int_equal(script_look(&script).press, PRESS_ACCEPT);
	script_press(&script);
	assert_int_equal(script.guide.verdict, VERDICT_CANNOT_TELL);
	assert_true((script.guide.accepted & ACCEPTED_CANNOT_TELL) != 0);
	script_put(&script, -22.0 - 330.0);
	script_rest(&script, 4.0);
	assert_int_equal(script.guide.step, GUIDE_STIR);
	script_press(&script);
	script_rest(&script, 1.1);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_DONE);
	assert_int_equal(script.guide.verdict, VERDICT_CANNOT_TELL);
}

static void inside_the_guard_band_it_cannot_be_told_and_is_set_right(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	request.tint_pct = 2.0;
	system.tint_after_hardener = true; /* so that a charge is still to come */
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 4.0);
	script_fill(&script, 227.6 * 0.45 * 1.0195); /* +1.95 %, doubt 0.13 % */
	assert_int_equal(script_message(&script), MESSAGE_TOO_MUCH);
	assert_int_equal(script.guide.verdict, VERDICT_CANNOT_TELL);
}

static void the_band_shown_is_the_guarded_one(void **state)
{
	struct script script;
	struct guide_view view;
	double target_g = 227.6 * 0.45, u_pct;

	(void)state;
	a_poured(&script, 227.6);
	view = script_look(&script);
	u_pct = 100.0 / 0.45 * 0.05 / 227.6 * sqrt(2.0 * (1.0 + 0.45 + 0.45 * 0.45));
	assert_close(view.band_low_g, target_g * (1.0 - (2.0 - 2.0 * u_pct) / 100.0), 1e-6);
	assert_close(view.band_high_g, target_g * (1.0 + (2.0 - 2.0 * u_pct) / 100.0), 1e-6);
	/* Where nothing is left of it, it is the target, never inside out. */
	for (uint32_t i = 0; i < script.guide.n_points; i++)
		script.guide.point[i].u_g = 1.5;
	view = script_look(&script);
	assert_close(view.band_low_g, target_g, 1e-12);
	assert_close(view.band_high_g, target_g, 1e-12);
}

static void the_cue_leads_by_reaction_and_delays(void **state)
{
	struct script script;
	double late_s = 0.23 + 0.02 + 0.05 + 0.125; /* half a sample is 50 ms here */

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	assert_int_equal(script_look(&script).cue, CUE_POUR);
	script_pour(&script, 180.0, 12.0);
	assert_int_equal(script_look(&script).cue, CUE_POUR);
	script_pour(&script, 12.0, 12.0); /* within 20 % or 3 s: whichever is larger */
	assert_int_equal(script_look(&script).cue, CUE_NEAR);
	while (script_look(&script).cue == CUE_NEAR)
		script_pour(&script, 1.2, 12.0);
	assert_int_equal(script_look(&script).cue, CUE_TIP_BACK);
	assert_int_equal(script_message(&script), MESSAGE_TIP_BACK);
	/* To 10 mg of where it is due. */
	for (int early = 0; early <= 1; early++) {
		script_begin(&script);
		script_to_charge(&script, 22.0);
		script_pour(&script,
		            script_look(&script).target_g - 12.0 * late_s - 0.05 +
		                    (early ? -0.01 : 0.01),
		            12.0);
		assert_int_equal(script_look(&script).cue, early ? CUE_NEAR : CUE_TIP_BACK);
	}
}

/* Neither a nought to add nor the cue once more: the stream has been stopped. */
static void at_the_edge_of_the_band_nothing_is_asked_for(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6);
	script_pour(&script, 101.9, 12.0);
	assert_int_equal(script_message(&script), MESSAGE_TIP_BACK);
	script_rest(&script, 1.0); /* settled */
	assert_int_equal(script_message(&script), MESSAGE_WAIT_SETTLE);
	script_put(&script, 0.5); /* a drop: 10 mg are left */
	script_rest(&script, 0.1);
	assert_int_equal(script.guide.reading.state, READING_UNSETTLED);
	assert_within(script_look(&script).remaining_g, 0.02, 0.02);
	assert_int_equal(script_message(&script), MESSAGE_WAIT_SETTLE);
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void a_late_drip_does_not_say_tip_back_again(void **state)
{
	struct script script;

	(void)state;
	a_poured(&script, 227.6);
	script_pour(&script, 101.6, 12.0);
	assert_int_equal(script_look(&script).cue, CUE_TIP_BACK);
	script_rest(&script, 0.4);
	assert_int_equal(script.guide.reading.state, READING_PROVISIONAL);
	assert_int_equal(script_message(&script), MESSAGE_WAIT_SETTLE);
	script_pour(&script, 0.2, 2.0);
	assert_int_equal(script.guide.reading.state, READING_UNSETTLED);
	assert_int_equal(script_message(&script), MESSAGE_WAIT_SETTLE);
	assert_int_not_equal(script_look(&script).cue, CUE_TIP_BACK);
	/* A stream is no drip. */
	script_pour(&script, 2.0, 4.0);
	assert_int_equal(script_message(&script), MESSAGE_TIP_BACK);
	assert_int_equal(script_look(&script).cue, CUE_TIP_BACK);
}

static void tint_goes_into_a_before_the_hardener_and_is_sprinkled(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	request.tint_pct = 2.0;
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 240.0);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_int_equal(script_message(&script), MESSAGE_ADD_POWDER);
	/* 2 % of the mixed mass that the actual A leads to. */
	assert_close(script_look(&script).target_g, 0.02 * 240.0 * 1.45, 1e-9);
	for (int pinch = 0; pinch < 4; pinch++) {
		script_put(&script, 1.74); /* no slope, and yet meant */
		script_rest(&script, 3.0);
		assert_int_equal(script.guide.step, GUIDE_CHARGE);
		assert_int_not_equal(script_look(&script).cue, CUE_TIP_BACK);
	}
	script_rest(&script, 4.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_close(script_look(&script).target_g, 240.0 * 0.45, 1e-9);
	script_fill(&script, 108.0);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void tint_after_the_hardener_keeps_the_verdict_until_the_end(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	request.tint_pct = 2.0;
	system.tint_after_hardener = true;
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 4.0);
	script_fill(&script, 102.4);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_int_equal(script.guide.verdict, VERDICT_WITHIN);
	script_press(&script);
	script_rest(&script, 4.0);
	script_put(&script, 6.6);
	script_rest(&script, 6.0);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void a_tail_of_b_into_the_tint_is_judged_at_the_end(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	request.tint_pct = 2.0;
	system.tint_after_hardener = true;
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 4.0);
	script_fill(&script, 103.8);
	script_press(&script);
	script_rest(&script, 0.5);
	script_pour(&script, 3.0, 6.0); /* the bottle was not put down yet */
	script_rest(&script, 3.0);
	assert_int_equal(script_message(&script), MESSAGE_STILL_FLOWING);
	script_press(&script);
	script_rest(&script, 4.0);
	script_put(&script, 6.7);
	script_rest(&script, 6.0);
	assert_int_equal(script_message(&script), MESSAGE_TOO_MUCH);
	assert_int_equal(script.guide.message.component, COMPONENT_B);
	assert_within(script.guide.message.mass_g, 106.8 - 102.42, 1e-6);
	script_press(&script);
	assert_int_equal(script.guide.message.component, COMPONENT_A);
}

static void a_tint_too_small_for_this_scale_is_a_dilution_or_by_eye(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;
	double portion_g, share;

	(void)state;
	request.tint_pct = 0.1; /* 0.33 g; this scale weighs 1.41 g and more */
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_int_equal(script_message(&script), MESSAGE_DILUTION);
	portion_g = script.guide.message.mass_g;
	share = script.guide.message.pct / 100.0;
	assert_close(portion_g * share, 0.33, 0.01);
	script_pour(&script, portion_g, 2.0);
	script_rest(&script, 5.0);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	script_press(&script);
	/* What it brought of A counts as A. */
	script_rest(&script, 4.0);
	assert_close(script_look(&script).target_g, 0.45 * (227.6 + portion_g * (1.0 - share)),
	             1e-6);
	script_fill(&script, script_look(&script).target_g);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void a_tint_by_eye_is_recorded_as_such(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	request.tint_pct = 0.1;
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	script_rest(&script, 4.0);
	script_press(&script); /* no dilution at hand */
	assert_int_equal(script_message(&script), MESSAGE_BY_EYE);
	script_put(&script, 0.4);
	script_rest(&script, 3.0);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_int_equal(script_look(&script).component, COMPONENT_B);
	assert_int_equal(script.guide.n_dispenses, 2);
	assert_true(script.guide.dispense[1].by_eye);
	assert_close(script.guide.dispense[1].mass_g, 0.001 * 227.6 * 1.45, 1e-9);
	assert_within(script_look(&script).dispensed_g, 0.0, 1e-9);
	script_fill(&script, 102.4);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
}

static void stirring_that_will_not_fit_is_said_before_b_is_poured(void **state)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct script script;

	(void)state;
	system.working_life_s = 600.0;
	system.stir_s = 200.0;
	script_begin_as(&script, &system, &request, &scale);
	script_to_charge(&script, 22.0);
	script_fill(&script, 227.6);
	script_press(&script);
	assert_int_equal(script_message(&script), MESSAGE_STIR_WONT_FIT);
	assert_close(script.guide.message.seconds, 200.0, 1e-12);
	assert_close(script.guide.message.other_seconds, 600.0, 1e-12);
}

static void a_fresh_reading_before_b_has_no_covariance(void **state)
{
	struct script script;
	struct ratio shared, fresh;

	(void)state;
	a_poured(&script, 227.6); /* nothing moved after the press: one shared reading */
	script_fill(&script, 102.4);
	assert_int_equal(guide_ratio(&script.guide, &shared), 0);
	assert_close(shared.u_ratio, 0.05 / 227.6 * sqrt(2.0 * (1.0 + 0.45 + 0.45 * 0.45)), 1e-3);

	a_poured(&script, 227.6);
	script_put(&script, 0.0); /* the bench is touched: the average starts afresh */
	script_rest(&script, 4.0);
	script_fill(&script, 102.4);
	assert_int_equal(guide_ratio(&script.guide, &fresh), 0);
	assert_close(fresh.u_ratio, 0.05 / 227.6 * sqrt(2.0 * (1.0 + 0.45 * 0.45)), 1e-3);
}

static void an_unexplained_change_before_b_is_recorded_and_widens_the_doubt(void **state)
{
	struct script script;
	struct ratio ratio;

	(void)state;
	a_poured(&script, 227.6);
	script_put(&script, -0.25); /* too little to be asked about, too much to be noise */
	script_rest(&script, 4.0);
	script_fill(&script, 102.4);
	assert_close(script.guide.unexplained_g, -0.25, 1e-6);
	assert_int_equal(guide_ratio(&script.guide, &ratio), 0);
	assert_true(ratio.u_ratio > 1.2 * 0.05 / 227.6 * sqrt(2.0 * (1.0 + 0.45 + 0.45 * 0.45)));
	assert_close(ratio.hardener_g, 102.4, 1e-9);
}

static void a_scanned_code_takes_the_next_bottle_and_a_wrong_one_is_told(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	script_event(&script, GUIDE_SCAN, "TP-B", 0.0);
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_WRONG);
	assert_int_equal(script.guide.message.component, COMPONENT_B);
	assert_int_equal(script.guide.message.other, COMPONENT_A);
	script_event(&script, GUIDE_SCAN, "TP-A", 0.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	script_fill(&script, 227.6);
	script_event(&script, GUIDE_SCAN, "TP-B", 0.0);
	assert_int_equal(script.guide.charge, 1);
	script_rest(&script, 4.0);
	script_fill(&script, 102.4);
	assert_int_equal(script.guide.dispense[0].identity, IDENTITY_CODE);
	assert_int_equal(script.guide.dispense[1].identity, IDENTITY_CODE);
}

/* Another system's bottle in the hand; a system whose labels have no codes asks nobody. */
static void a_strange_code_is_told_where_the_wanted_bottle_has_one(void **state)
{
	struct script script;

	(void)state;
	script_begin(&script);
	script_to_charge(&script, 22.0);
	script_event(&script, GUIDE_SCAN, "LC-A", 0.0);
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_WRONG);
	assert_int_equal(script.guide.step, GUIDE_HELD);
	assert_int_equal(script.guide.message.has, MESSAGE_HAS_OTHER);
	script_event(&script, GUIDE_SCAN, "LC-A", 0.0);
	assert_int_equal(script_message(&script), MESSAGE_BOTTLE_WRONG);
	script_event(&script, GUIDE_SCAN, "TP-A", 0.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);

	script_begin(&script);
	script.guide.recipe.system.part[PART_A].code[0] = '\0';
	script_to_charge(&script, 22.0);
	script_event(&script, GUIDE_SCAN, "LC-A", 0.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_int_equal(script.guide.identity, IDENTITY_BY_HAND);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(overshoot_of_a_moves_the_target_of_b),
	        cmocka_unit_test(overshoot_of_a_past_the_cup_is_too_much_and_may_be_spooned_out),
	        cmocka_unit_test(too_little_of_a_never_advances_however_long_it_rests),
	        cmocka_unit_test(too_little_of_b_keeps_asking_for_b_down_to_the_ratio),
	        cmocka_unit_test(overshoot_of_b_asks_for_more_a),
	        cmocka_unit_test(overshoot_of_b_again_and_again_is_set_right_each_time),
	        cmocka_unit_test(a_top_up_overshot_twice_ends_within),
	        cmocka_unit_test(a_top_up_that_would_overflow_the_cup_is_told_and_never_within),
	        cmocka_unit_test(a_top_up_that_would_overflow_max_is_told),
	        cmocka_unit_test(a_drip_from_a_before_the_change_belongs_to_a),
	        cmocka_unit_test(a_drip_from_a_after_the_change_to_b_is_asked_about),
	        cmocka_unit_test(flow_right_after_the_change_that_was_b_already_counts_as_b),
	        cmocka_unit_test(wrong_bottle_without_bottle_check_is_one_press),
	        cmocka_unit_test(b_first_swaps_the_charges_and_judges_a),
	        cmocka_unit_test(b_first_noticed_after_the_change_loses_nothing),
	        cmocka_unit_test(a_verdict_is_withdrawn_as_plainly_as_it_was_given),
	        cmocka_unit_test(a_wide_doubt_cannot_be_told_and_is_never_called_within),
	        cmocka_unit_test(inside_the_guard_band_it_cannot_be_told_and_is_set_right),
	        cmocka_unit_test(the_band_shown_is_the_guarded_one),
	        cmocka_unit_test(the_cue_leads_by_reaction_and_delays),
	        cmocka_unit_test(at_the_edge_of_the_band_nothing_is_asked_for),
	        cmocka_unit_test(a_late_drip_does_not_say_tip_back_again),
	        cmocka_unit_test(tint_goes_into_a_before_the_hardener_and_is_sprinkled),
	        cmocka_unit_test(tint_after_the_hardener_keeps_the_verdict_until_the_end),
	        cmocka_unit_test(a_tail_of_b_into_the_tint_is_judged_at_the_end),
	        cmocka_unit_test(a_tint_too_small_for_this_scale_is_a_dilution_or_by_eye),
	        cmocka_unit_test(a_tint_by_eye_is_recorded_as_such),
	        cmocka_unit_test(stirring_that_will_not_fit_is_said_before_b_is_poured),
	        cmocka_unit_test(a_fresh_reading_before_b_has_no_covariance),
	        cmocka_unit_test(an_unexplained_change_before_b_is_recorded_and_widens_the_doubt),
	        cmocka_unit_test(a_scanned_code_takes_the_next_bottle_and_a_wrong_one_is_told),
	        cmocka_unit_test(a_strange_code_is_told_where_the_wanted_bottle_has_one),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
