/* SPDX-License-Identifier: MIT */
#include "tests/support/guide_script.h"

/* The whole way, as it should go: cup, A, B, stir, pour, done. */

static void a_batch_goes_from_ready_to_done(void **state)
{
	struct script script;
	struct ratio ratio;

	(void)state;
	script_begin(&script);
	assert_int_equal(script_message(&script), MESSAGE_READ_BACK);
	assert_int_equal(script_look(&script).press, PRESS_START);
	script_to_cup(&script);
	assert_int_equal(script_message(&script), MESSAGE_PLACE_CUP);
	script_put(&script, 22.0);
	script_rest(&script, 7.0);
	assert_int_equal(script.guide.step, GUIDE_CHARGE);
	assert_int_equal(script_message(&script), MESSAGE_ADD);
	assert_close(script_look(&script).target_g, 330.0 / 1.45, 1e-12);
	script_fill(&script, 227.6);
	assert_int_equal(script_message(&script), MESSAGE_CHARGE_DONE);
	assert_int_equal(script_look(&script).press, PRESS_NEXT);
	script_press(&script);
	script_rest(&script, 4.0);
	assert_close(script_look(&script).target_g, 227.6 * 0.45, 1e-9);
	script_fill(&script, 102.4);
	assert_int_equal(script_message(&script), MESSAGE_RATIO_WITHIN);
	assert_true(script_look(&script).provisional);
	script_put(&script, -22.0 - 330.0);
	script_rest(&script, 4.0);
	assert_int_equal(script.guide.step, GUIDE_STIR);
	assert_false(script_look(&script).provisional);
	script_rest(&script, 170.0);
	assert_int_equal(script_message(&script), MESSAGE_STIR);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_POUR);
	script_rest(&script, 1.1);
	script_press(&script);
	assert_int_equal(script.guide.step, GUIDE_DONE);
	assert_int_equal(script.guide.verdict, VERDICT_WITHIN);
	assert_false(script.guide.provisional);
	assert_int_equal(guide_ratio(&script.guide, &ratio), 0);
	assert_close(ratio.resin_g, 227.6, 1e-9);
	assert_close(ratio.hardener_g, 102.4, 1e-9);
	/* One commit a change, not one a reading. */
	assert_in_range(script.commits, 10, 40);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_batch_goes_from_ready_to_done),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
