/* SPDX-License-Identifier: MIT */
/* From a batch as it is shown to what lamp and buzzer have to say. The meanings of the
 * colours are IEC 60073:2002, table 4 (from memory): red danger, act at once; yellow
 * abnormal; green normal. */
#include "tests/support/assert_close.h"

#include "daemon/station/panel_signal.h"
#include "drivers/panel_pattern.h"

static enum panel_signal of(enum guide_step step, enum cue cue, bool silent)
{
	const struct guide_view view = {.step = step, .cue = cue};

	return panel_signal_of(&view, silent);
}

static void every_cue_of_a_charge_has_its_signal(void **state)
{
	static const struct {
		enum cue cue;
		enum panel_signal signal;
	} rows[] = {
	        {CUE_NONE, PANEL_READY},      {CUE_POUR, PANEL_POUR},
	        {CUE_NEAR, PANEL_NEAR},       {CUE_TIP_BACK, PANEL_TIP_BACK},
	        {CUE_IN_BAND, PANEL_IN_BAND}, {CUE_TOO_MUCH, PANEL_TOO_MUCH},
	        {CUE_HELD, PANEL_HELD},       {CUE_SILENT, PANEL_SILENT},
	        {CUE_HAZARD, PANEL_HAZARD},
	};

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
		assert_int_equal(of(GUIDE_CHARGE, rows[i].cue, false), rows[i].signal);
}

static void a_lost_scale_goes_before_all_but_a_hazard(void **state)
{
	(void)state;
	for (int cue = CUE_NONE; cue <= CUE_HAZARD; cue++)
		assert_int_equal(of(GUIDE_CHARGE, (enum cue)cue, true),
		                 cue == CUE_HAZARD ? PANEL_HAZARD : PANEL_SILENT);
}

static void off_the_pan_nobody_needs_the_scale(void **state)
{
	(void)state;
	assert_int_equal(of(GUIDE_STIR, CUE_NONE, true), PANEL_READY);
	assert_int_equal(of(GUIDE_POUR, CUE_NONE, true), PANEL_READY);
	assert_int_equal(of(GUIDE_CUP, CUE_NONE, true), PANEL_SILENT);
	assert_int_equal(of(GUIDE_STIR, CUE_HAZARD, true), PANEL_HAZARD);
}

static void held_is_yellow_also_without_a_cue(void **state)
{
	(void)state;
	assert_int_equal(of(GUIDE_HELD, CUE_NONE, false), PANEL_HELD);
	assert_int_equal(of(GUIDE_HELD, CUE_HELD, false), PANEL_HELD);
}

static void what_is_finished_is_dark_whatever_else(void **state)
{
	(void)state;
	for (int cue = CUE_NONE; cue <= CUE_HAZARD; cue++)
		for (int silent = 0; silent < 2; silent++) {
			assert_int_equal(of(GUIDE_DONE, (enum cue)cue, silent), PANEL_DARK);
			assert_int_equal(of(GUIDE_DISCARDED, (enum cue)cue, silent), PANEL_DARK);
		}
}

/* Whether a signal ever lights a lamp within 10 s. */
static bool lights(enum panel_signal signal, enum panel_output lamp)
{
	for (int slot = 0; slot < 100; slot++)
		if (panel_pattern_level(signal, lamp, slot * PANEL_SLOT_US))
			return true;
	return false;
}

static void the_colours_mean_what_the_standard_says(void **state)
{
	static const enum panel_signal red[] = {PANEL_SILENT, PANEL_HAZARD},
	                               yellow[] = {PANEL_TIP_BACK, PANEL_TOO_MUCH, PANEL_HELD},
	                               green[] = {PANEL_READY, PANEL_POUR, PANEL_NEAR,
	                                          PANEL_IN_BAND};

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		assert_true(lights(red[i], PANEL_RED));
		assert_false(lights(red[i], PANEL_GREEN) || lights(red[i], PANEL_YELLOW));
	}
	for (size_t i = 0; i < 3; i++) {
		assert_true(lights(yellow[i], PANEL_YELLOW));
		assert_false(lights(yellow[i], PANEL_RED));
	}
	for (size_t i = 0; i < 4; i++) {
		assert_true(lights(green[i], PANEL_GREEN));
		assert_false(lights(green[i], PANEL_RED) || lights(green[i], PANEL_YELLOW));
	}
}

static void of_several_batches_the_most_urgent_has_the_highest_number(void **state)
{
	(void)state;
	assert_true(PANEL_HAZARD > PANEL_SILENT && PANEL_SILENT > PANEL_HELD);
	assert_true(PANEL_HELD > PANEL_READY && PANEL_TOO_MUCH > PANEL_IN_BAND);
	assert_true(PANEL_READY > PANEL_DARK);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(every_cue_of_a_charge_has_its_signal),
	        cmocka_unit_test(a_lost_scale_goes_before_all_but_a_hazard),
	        cmocka_unit_test(off_the_pan_nobody_needs_the_scale),
	        cmocka_unit_test(held_is_yellow_also_without_a_cue),
	        cmocka_unit_test(what_is_finished_is_dark_whatever_else),
	        cmocka_unit_test(the_colours_mean_what_the_standard_says),
	        cmocka_unit_test(of_several_batches_the_most_urgent_has_the_highest_number),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
