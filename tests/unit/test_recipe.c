/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/mixing/ratio.h"
#include "tests/support/guide_script.h"

/* A request becomes a recipe, or one refusal with the numbers. */

struct
try {
	struct resin_system system;
	struct recipe_request request;
	struct recipe_scale scale;
	const char *today;
	struct recipe recipe;
	struct message why, warning;
};

static struct try usual(void)
{
	return (struct try){.system = script_system(),
	                    .request = script_request(),
	                    .scale = script_scale(),
	                    .today = "2027-01-01"};
}

static int make(struct try *try)
{
	memset(&try->recipe, 0xa5, sizeof(try->recipe));
	return recipe_make(&try->system, &try->request, &try->scale, try->today, &try->recipe,
	                   &try->why, &try->warning);
}

static void refused(struct try *try, int error, enum message_id id)
{
	unsigned char untouched[sizeof(try->recipe)];

	assert_int_equal(make(try), error);
	assert_int_equal(try->why.id, id);
	memset(untouched, 0xa5, sizeof(untouched));
	assert_memory_equal(&try->recipe, untouched, sizeof(untouched));
}

static void the_worked_example_is_laid_out(void **state)
{
	struct try try = usual();

	(void)state;
	assert_int_equal(make(&try), 0);
	assert_int_equal(try.recipe.n_charges, 2);
	assert_int_equal(try.recipe.charge[0].component, COMPONENT_A);
	assert_within(try.recipe.charge[0].target_g, 227.6, 0.05); /* 330 g at 100 : 45 */
	assert_within(try.recipe.charge[1].target_g, 102.4, 0.05);
	assert_string_equal(try.recipe.charge[1].label, "hardener");
	assert_close(try.recipe.stir_s, 180.0, 1e-12);
	assert_int_equal(try.warning.id, MESSAGE_NONE);
}

static void the_hardener_comes_last_even_when_it_is_part_a(void **state)
{
	struct try try = usual();

	(void)state;
	try.system.hardener = PART_A;
	try.system.part[PART_A].parts = 45.0;
	try.system.part[PART_B].parts = 100.0;
	try.request.tint_pct = 1.0;
	assert_int_equal(make(&try), 0);
	assert_int_equal(try.recipe.n_charges, 3);
	assert_int_equal(try.recipe.charge[0].component, COMPONENT_B);
	assert_int_equal(try.recipe.charge[1].component, COMPONENT_TINT);
	assert_int_equal(try.recipe.charge[2].component, COMPONENT_A);
	try.system.tint_after_hardener = true;
	assert_int_equal(make(&try), 0);
	assert_int_equal(try.recipe.charge[2].component, COMPONENT_TINT);
	assert_close(try.recipe.charge[2].target_g, 3.3, 1e-12);
}

static void a_volume_becomes_a_mass_by_the_mixed_density(void **state)
{
	struct try try = usual();
	/* 1/rho = sum(w/rho): 145 g fill 100/1.15 + 45/0.98 ml. */
	double density = 145.0 / (100.0 / 1.15 + 45.0 / 0.98);

	(void)state;
	try.request.total_g = 0.0;
	try.request.volume_ml = 300.0;
	assert_int_equal(make(&try), 0);
	assert_close(try.recipe.total_g, 300.0 * density, 1e-12);
	try.system.part[PART_B].density_g_per_ml = 0.0;
	refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
}

static void stir_time_without_a_label_is_three_or_five_minutes(void **state)
{
	struct try try = usual();

	(void)state; /* common practice, no source */
	try.system.stir_s = 0.0;
	assert_int_equal(make(&try), 0);
	assert_close(try.recipe.stir_s, 300.0, 1e-12);
	try.request.total_g = 299.0;
	assert_int_equal(make(&try), 0);
	assert_close(try.recipe.stir_s, 180.0, 1e-12);
}

static void batch_too_small_for_this_scale_is_refused_with_the_smallest(void **state)
{
	struct try try = usual();
	double smallest_g = ratio_smallest_total_g(0.45, 2.0, 0.05);

	(void)state;
	try.request.total_g = 0.99 * smallest_g;
	refused(&try, -ERANGE, MESSAGE_TOTAL_TOO_SMALL);
	assert_close(try.why.mass_g, 0.99 * smallest_g, 1e-12);
	assert_close(try.why.other_mass_g, smallest_g, 1e-12);
	assert_close(try.why.pct, 2.0, 1e-12);
	try.request.total_g = 1.01 * smallest_g;
	assert_int_equal(make(&try), 0);
}

static void over_max_over_cup_and_too_much_tint_are_refused(void **state)
{
	struct try try = usual();

	(void)state;
	try.request.total_g = 4950.0;
	try.request.tint_pct = 2.0; /* 5049 g in all */
	refused(&try, -ERANGE, MESSAGE_OVER_MAX);
	assert_close(try.why.other_mass_g, 5000.0 / 1.02, 1e-12);
	try = usual();
	try.request.cup_limit_g = 329.0;
	refused(&try, -ERANGE, MESSAGE_OVER_CUP);
	assert_close(try.why.mass_g, 330.0, 1e-12);
	assert_close(try.why.other_mass_g, 329.0, 1e-12);
	try = usual();
	try.request.tint_pct = 5.1;
	refused(&try, -ERANGE, MESSAGE_TINT_TOO_MUCH);
	assert_close(try.why.other_pct, 5.0, 1e-12);
}

static void stock_short_is_refused_with_what_is_there(void **state)
{
	struct try try = usual();

	(void)state;
	try.system.part[PART_B].available_g = 100.0;
	refused(&try, -ERANGE, MESSAGE_STOCK_SHORT);
	assert_int_equal(try.why.component, COMPONENT_B);
	assert_within(try.why.mass_g, 102.4, 0.05);
	assert_close(try.why.other_mass_g, 100.0, 1e-12);
	try.system.part[PART_B].available_g = 103.0;
	assert_int_equal(make(&try), 0);
}

static void system_expired_is_a_warning_with_the_date(void **state)
{
	struct try try = usual();

	(void)state;
	try.today = "2031-06-01";
	assert_int_equal(make(&try), 0);
	assert_int_equal(try.warning.id, MESSAGE_EXPIRED);
	assert_int_equal(try.warning.component, COMPONENT_A);
	assert_string_equal(try.warning.text, "2031-05-31");
	try.today = "2031-05-31";
	assert_int_equal(make(&try), 0);
	assert_int_equal(try.warning.id, MESSAGE_NONE);
	try.today = NULL; /* the clock is not to be trusted */
	assert_int_equal(make(&try), 0);
	assert_int_equal(try.warning.id, MESSAGE_NONE);
}

static void lot_changed_is_told_by_part(void **state)
{
	struct resin_system system = script_system();
	const char *same[2] = {"TA-014", "TB-009"}, *other[2] = {"TA-014", "TB-008"};
	const char *unknown[2] = {NULL, ""};
	struct message warning;

	(void)state;
	assert_false(recipe_lot_changed(&system, same, &warning));
	assert_false(recipe_lot_changed(&system, unknown, &warning));
	assert_true(recipe_lot_changed(&system, other, &warning));
	assert_int_equal(warning.id, MESSAGE_LOT_CHANGED);
	assert_int_equal(warning.component, COMPONENT_B);
	assert_string_equal(warning.text, "TB-009");
}

static void a_better_reckoning_only_shortens_the_working_life(void **state)
{
	struct try try = usual();
	double label_s;

	(void)state;
	assert_int_equal(make(&try), 0);
	label_s = try.recipe.working_life_s;
	assert_false(try.recipe.resin_known);
	try.request.life_max_s = label_s + 600.0;
	assert_int_equal(make(&try), 0);
	assert_close(try.recipe.working_life_s, label_s, 1e-12);
	try.request.life_max_s = 500.0;
	try.request.resin_degc = 31.0;
	assert_int_equal(make(&try), 0);
	assert_close(try.recipe.working_life_s, 500.0, 1e-12);
	/* ... and the stirring must fit into what is left. */
	assert_int_equal(try.warning.id, MESSAGE_STIR_WONT_FIT);
	assert_true(try.recipe.resin_known);
	assert_close(try.recipe.resin_degc, 31.0, 1e-12);
	try.request.life_max_s = (double)NAN;
	refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
}

static void stirring_that_will_not_fit_is_a_warning(void **state)
{
	struct try try = usual();

	(void)state;
	try.system.working_life_s = 700.0; /* a quarter: 175 s */
	assert_int_equal(make(&try), 0);
	assert_int_equal(try.warning.id, MESSAGE_STIR_WONT_FIT);
	assert_close(try.warning.seconds, 180.0, 1e-12);
	assert_close(try.warning.other_seconds, 700.0, 1e-12);
}

static void numbers_that_cannot_be_meant_are_refused_in_words(void **state)
{
	const double bad[] = {(double)NAN, (double)INFINITY, -1.0};

	(void)state;
	for (int i = 0; i < 3; i++) {
		struct try try = usual();

		try.request.total_g = bad[i];
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
		assert_true((try.why.has & MESSAGE_HAS_TEXT) != 0 && try.why.text[0] != '\0');
		try = usual();
		try.request.volume_ml = bad[i];
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
		try = usual();
		try.request.cup_limit_g = bad[i];
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
		try = usual();
		try.request.tint_pct = bad[i];
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
		try = usual();
		try.scale.u_reading_g = bad[i];
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
	}
	{
		struct try try = usual();

		try.request.volume_ml = 300.0; /* and a total: which? */
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
		try = usual();
		try.request.resin_degc = 95.0;
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
		try = usual();
		try.system.tolerance_pct = 0.0;
		try.scale.default_tolerance_pct = 80.0;
		refused(&try, -EINVAL, MESSAGE_BAD_REQUEST);
	}
}

static void every_message_has_one_name_and_comes_back_from_it(void **state)
{
	(void)state;
	for (int id = 0; id < MESSAGE_COUNT; id++)
		assert_int_equal(message_from_name(message_name((enum message_id)id)), id);
	assert_int_equal(message_from_name("no such"), -1);
	assert_string_equal(message_name((enum message_id)9999), "none");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_worked_example_is_laid_out),
	        cmocka_unit_test(the_hardener_comes_last_even_when_it_is_part_a),
	        cmocka_unit_test(a_volume_becomes_a_mass_by_the_mixed_density),
	        cmocka_unit_test(stir_time_without_a_label_is_three_or_five_minutes),
	        cmocka_unit_test(batch_too_small_for_this_scale_is_refused_with_the_smallest),
	        cmocka_unit_test(over_max_over_cup_and_too_much_tint_are_refused),
	        cmocka_unit_test(stock_short_is_refused_with_what_is_there),
	        cmocka_unit_test(system_expired_is_a_warning_with_the_date),
	        cmocka_unit_test(lot_changed_is_told_by_part),
	        cmocka_unit_test(a_better_reckoning_only_shortens_the_working_life),
	        cmocka_unit_test(stirring_that_will_not_fit_is_a_warning),
	        cmocka_unit_test(numbers_that_cannot_be_meant_are_refused_in_words),
	        cmocka_unit_test(every_message_has_one_name_and_comes_back_from_it),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
