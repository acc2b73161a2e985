/* SPDX-License-Identifier: MIT */
/* Permissible errors against the tables of OIML R 76-1 and R 111-1. */
#include "tests/support/assert_close.h"
#include "tests/support/csv.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "daemon/weighing/limits.h"

static enum accuracy_class class_named(const char *name)
{
	static const char *const names[] = {"I", "II", "III", "IIII"};

	for (int i = 0; i < 4; i++)
		if (strcmp(name, names[i]) == 0)
			return (enum accuracy_class)i;
	fail_msg("no class %s", name);
	return ACCURACY_I;
}

static void errors_step_where_table_6_says(void **state)
{
	struct csv *csv = csv_read(AMBO_TEST_DATA "/oiml_r76_mpe_vectors.csv");

	(void)state;
	assert_int_equal(csv_rows(csv), 23);
	for (size_t i = 0; i < csv_rows(csv); i++) {
		enum accuracy_class class = class_named(csv_text(csv, i, "class"));
		double load_e = csv_number(csv, i, "load_in_e"), mpe_e;

		assert_int_equal(limits_mpe_e(class, load_e, false, &mpe_e), 0);
		assert_within(mpe_e, csv_number(csv, i, "mpe_initial_e"), 0.0);
		assert_int_equal(limits_mpe_e(class, load_e, true, &mpe_e), 0);
		assert_within(mpe_e, csv_number(csv, i, "mpe_inservice_e"), 0.0);
	}
	csv_free(csv);
}

/* Each row of the table itself: just above its lower end, in its middle, at its end. */
static void every_row_of_table_6_is_met(void **state)
{
	struct csv *csv = csv_read(AMBO_TEST_DATA "/oiml_r76_mpe.csv");

	(void)state;
	assert_int_equal(csv_rows(csv), 12);
	for (size_t i = 0; i < csv_rows(csv); i++) {
		enum accuracy_class class = class_named(csv_text(csv, i, "class"));
		double from = csv_number(csv, i, "load_from_e_exclusive");
		double to = csv_number(csv, i, "load_to_e_inclusive");
		double last = isnan(to) ? 10.0 * from : to;
		const double loads[] = {nextafter(from, last), (from + last) / 2.0, last};

		for (int k = 0; k < 3; k++) {
			double mpe_e;

			assert_int_equal(limits_mpe_e(class, loads[k], false, &mpe_e), 0);
			assert_within(mpe_e, csv_number(csv, i, "mpe_initial_e"), 0.0);
		}
	}
	csv_free(csv);
}

static void loads_outside_the_table_have_no_limit(void **state)
{
	double mpe_e = -1.0;

	(void)state;
	assert_int_equal(limits_mpe_e(ACCURACY_III, 10001.0, false, &mpe_e), -ERANGE);
	assert_int_equal(limits_mpe_e(ACCURACY_IIII, 1000.5, false, &mpe_e), -ERANGE);
	assert_int_equal(limits_mpe_e(ACCURACY_III, -1.0, false, &mpe_e), -EINVAL);
	assert_int_equal(limits_mpe_e(ACCURACY_III, (double)NAN, false, &mpe_e), -EINVAL);
	assert_int_equal(limits_mpe_e(ACCURACY_I, (double)INFINITY, false, &mpe_e), -EINVAL);
	assert_int_equal(limits_mpe_e((enum accuracy_class)4, 1.0, false, &mpe_e), -EINVAL);
	assert_within(mpe_e, -1.0, 0.0);
}

/* Table 3: at the ends of each row a scale belongs to the class, one interval beyond
 * it does not. */
static void scales_belong_to_the_classes_of_table_3(void **state)
{
	struct csv *csv = csv_read(AMBO_TEST_DATA "/oiml_r76_classes.csv");

	(void)state;
	for (size_t i = 0; i < csv_rows(csv); i++) {
		enum accuracy_class class = class_named(csv_text(csv, i, "class"));
		double e_g = csv_number(csv, i, "e_min_g"), n_min = csv_number(csv, i, "n_min");
		double n_max = csv_number(csv, i, "n_max");

		assert_int_equal(limits_class_check(class, n_min * e_g, e_g), 0);
		assert_int_equal(limits_class_check(class, (n_min - 1.0) * e_g, e_g), -ERANGE);
		if (isnan(n_max))
			continue;
		assert_int_equal(limits_class_check(class, n_max * e_g, e_g), 0);
		assert_int_equal(limits_class_check(class, (n_max + 1.0) * e_g, e_g), -ERANGE);
	}
	csv_free(csv);
	/* 100 intervals, though 0.7 / 0.007 is 99.99999999999999 in binary. */
	assert_int_equal(limits_class_check(ACCURACY_II, 0.7, 0.007), 0);
	assert_int_equal(limits_class_check(ACCURACY_III, 3000.0, 0.5), 0);
	assert_int_equal(limits_class_check(ACCURACY_III, 3000.0, 0.1), -ERANGE); /* 30000 e */
	assert_int_equal(limits_class_check(ACCURACY_III, 3000.0, 0.0), -EINVAL);
	assert_int_equal(limits_class_check(ACCURACY_III, (double)NAN, 0.1), -EINVAL);
}

static void nothing_is_shown_above_max_and_nine_intervals(void **state)
{
	(void)state;
	assert_within(limits_highest_shown_g(3000.0, 0.5), 3004.5, 0.0);
	assert_within(limits_zero_error_g(0.2), 0.05, 0.0);
	assert_within(limits_zero_range_g(3000.0), 600.0, 0.0);
}

/* OIML R 76-1, annex A: a 1 kg load on a 5 g scale that shows 1000 g, and jumps to
 * 1005 g with 1.5 g more, stands at 1001 g (the standard's example, from memory). */
static void error_of_indication_is_free_of_rounding(void **state)
{
	(void)state;
	assert_close(limits_error_g(1000.0, 1.5, 1000.0, 5.0), 1.0, 1e-15);
	assert_close(limits_error_g(1000.0, 2.5, 1000.0, 5.0) + 1.0, 1.0, 1e-15);
}

static void check_weights_follow_r111_table_1(void **state)
{
	static const char *const names[] = {"E1", "E2", "F1", "F2", "M1", "M2", "M3"};
	struct csv *csv = csv_read(AMBO_TEST_DATA "/oiml_r111_mpe_mg.csv");
	double mpe_mg = -1.0;

	(void)state;
	assert_int_equal(csv_rows(csv), 13);
	for (size_t i = 0; i < csv_rows(csv); i++)
		for (int k = 0; k < 7; k++) {
			assert_int_equal(limits_weight_mpe_mg((enum weight_class)k,
			                                      csv_number(csv, i, "nominal_g"),
			                                      &mpe_mg),
			                 0);
			assert_within(mpe_mg, csv_number(csv, i, names[k]), 0.0);
		}
	csv_free(csv);
	assert_int_equal(limits_weight_mpe_mg(WEIGHT_M1, 300.0, &mpe_mg), -ENOENT);
	assert_int_equal(limits_weight_mpe_mg(WEIGHT_M1, (double)NAN, &mpe_mg), -ENOENT);
	assert_int_equal(limits_weight_mpe_mg((enum weight_class)7, 100.0, &mpe_mg), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(errors_step_where_table_6_says),
	        cmocka_unit_test(every_row_of_table_6_is_met),
	        cmocka_unit_test(loads_outside_the_table_have_no_limit),
	        cmocka_unit_test(scales_belong_to_the_classes_of_table_3),
	        cmocka_unit_test(nothing_is_shown_above_max_and_nine_intervals),
	        cmocka_unit_test(error_of_indication_is_free_of_rounding),
	        cmocka_unit_test(check_weights_follow_r111_table_1),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
