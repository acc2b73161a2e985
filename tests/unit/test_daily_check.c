/* SPDX-License-Identifier: MIT */
/* The daily check against the tables of OIML R 76-1:2006 (Tables 3 and 6) and
 * R 111-1:2004 (Table 1), row by row from the copies in tests/data. */
#include "tests/support/assert_close.h"
#include "tests/support/csv.h"

#include <errno.h>
#include <math.h>

#include "daemon/weighing/daily_check.h"

static void the_limit_is_that_of_a_scale_in_service(void **state)
{
	struct daily_check check;

	(void)state;
	/* 3000 g in 1 g: 3000 e, class III: 0.5 e to 500 e, 1 e to 2000 e, twice in service. */
	assert_int_equal(daily_check_judge(3000.0, 1.0, 500.0, WEIGHT_M1, 500.0, &check), 0);
	assert_int_equal(check.accuracy, ACCURACY_III);
	assert_within(check.limit_g, 1.0, 0.0);
	assert_int_equal(daily_check_judge(3000.0, 1.0, 2000.0, WEIGHT_M1, 2000.0, &check), 0);
	assert_within(check.limit_g, 2.0, 0.0);
	/* 5000 g in 0.1 g: 50000 e, class II: 1000 g is 10000 e, 1 e. */
	assert_int_equal(daily_check_judge(5000.0, 0.1, 1000.0, WEIGHT_M1, 1000.0, &check), 0);
	assert_int_equal(check.accuracy, ACCURACY_II);
	assert_within(check.limit_g, 0.2, 1e-12);
	assert_within(check.tolerance_g, 0.05, 1e-12);
}

static void the_verdict_changes_where_weight_and_limit_say(void **state)
{
	/* Limit 0.2 g, weight M1 1000 g +-0.05 g. */
	static const struct {
		double error_g;
		enum check_verdict verdict;
	} rows[] = {
	        {0.0, CHECK_PASSED},        {0.149, CHECK_PASSED},       {-0.149, CHECK_PASSED},
	        {0.151, CHECK_CANNOT_TELL}, {-0.249, CHECK_CANNOT_TELL}, {0.251, CHECK_FAILED},
	        {-0.251, CHECK_FAILED},     {20.0, CHECK_FAILED},
	};
	struct daily_check check;

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		assert_int_equal(daily_check_judge(5000.0, 0.1, 1000.0, WEIGHT_M1,
		                                   1000.0 + rows[i].error_g, &check),
		                 0);
		assert_int_equal(check.verdict, rows[i].verdict);
		assert_within(check.error_g, rows[i].error_g, 1e-9);
	}
}

/* Every weight of the table: good enough exactly when three of its tolerances fit the
 * limit (R 76-1, 3.7.1). */
static void a_weight_is_good_enough_up_to_a_third_of_the_limit(void **state)
{
	static const char *const columns[] = {"E1", "E2", "F1", "F2", "M1", "M2", "M3"};
	struct csv *csv = csv_read(AMBO_TEST_DATA "/oiml_r111_mpe_mg.csv");
	int too_coarse = 0, good = 0;

	(void)state;
	for (size_t i = 0; i < csv_rows(csv); i++) {
		const double nominal_g = csv_number(csv, i, "nominal_g");

		for (int k = 0; k < 7; k++) {
			const double mpe_mg = csv_number(csv, i, columns[k]);
			struct daily_check check;
			const double e = nominal_g / 0.1;
			const double limit_mg = (e <= 5000.0    ? 1.0
			                         : e <= 20000.0 ? 2.0
			                                        : 3.0) *
			                        100.0;
			int r;

			if (!(nominal_g <= 5000.0) || isnan(mpe_mg))
				continue;
			r = daily_check_judge(5000.0, 0.1, nominal_g, (enum weight_class)k,
			                      nominal_g, &check);
			if (nominal_g < 1.0) {
				assert_int_equal(r, -ENOENT);
				continue;
			}
			assert_int_equal(r, 3.0 * mpe_mg <= limit_mg * (1.0 + 1e-9) ? 0 : -ERANGE);
			too_coarse += r == -ERANGE;
			good += r == 0;
		}
	}
	csv_free(csv);
	assert_true(too_coarse > 5 && good > 50);
}

static void what_is_no_check_is_refused(void **state)
{
	struct daily_check check;

	(void)state;
	assert_int_equal(daily_check_judge(5000.0, 0.1, 300.0, WEIGHT_M1, 300.0, &check), -ENOENT);
	assert_int_equal(daily_check_judge(5000.0, 0.1, 1000.0, WEIGHT_M1, 0.0, &check), -EDOM);
	assert_int_equal(daily_check_judge(5000.0, 0.1, 1000.0, WEIGHT_M1, 1100.0, &check), -EDOM);
	assert_int_equal(daily_check_judge(500.0, 0.1, 1000.0, WEIGHT_M1, 1000.0, &check), -ERANGE);
	assert_int_equal(
	        daily_check_judge(5000.0, 0.1, 1000.0, (enum weight_class)9, 1000.0, &check),
	        -EINVAL);
	assert_int_equal(daily_check_judge(5000.0, 0.1, 1000.0, WEIGHT_M1, (double)NAN, &check),
	                 -EINVAL);
	assert_int_equal(daily_check_judge(0.0, 0.1, 1000.0, WEIGHT_M1, 1000.0, &check), -EINVAL);
}

static void what_another_gain_or_swapped_wires_make_of_a_weight_is_suspected(void **state)
{
	(void)state;
	assert_int_equal(daily_check_suspect(1000.0, -1008.0), ADVICE_SWAPPED_PAIR);
	/* Gain 64 or 32 where 128 is configured, and the other way round. */
	assert_int_equal(daily_check_suspect(1000.0, 504.0), ADVICE_WEIGHT_OR_GAIN);
	assert_int_equal(daily_check_suspect(1000.0, 250.0), ADVICE_WEIGHT_OR_GAIN);
	assert_int_equal(daily_check_suspect(1000.0, 2010.0), ADVICE_WEIGHT_OR_GAIN);
	assert_int_equal(daily_check_suspect(1000.0, 3990.0), ADVICE_WEIGHT_OR_GAIN);
	assert_int_equal(daily_check_suspect(1000.0, 0.0), ADVICE_WEIGHT_NOT_ON);
	assert_int_equal(daily_check_suspect(1000.0, 700.0), ADVICE_WEIGHT_NOT_ON);
	assert_int_equal(daily_check_suspect(1000.0, -500.0), ADVICE_WEIGHT_NOT_ON);
}

static void classes_go_by_their_names(void **state)
{
	(void)state;
	for (int i = 0; i < WEIGHT_CLASS_COUNT; i++)
		assert_int_equal(weight_class_from_name(weight_class_name((enum weight_class)i)),
		                 i);
	assert_int_equal(weight_class_from_name("M1"), WEIGHT_M1);
	assert_int_equal(weight_class_from_name("m1"), -1);
	assert_int_equal(weight_class_from_name(""), -1);
}

/* Max and e at the ends of the rows of Table 3. */
static void a_scale_is_of_the_coarsest_class_that_takes_it(void **state)
{
	(void)state;
	assert_int_equal(limits_class_of(5000.0, 5.0), ACCURACY_IIII); /* n 1000 */
	assert_int_equal(limits_class_of(5005.0, 5.0), ACCURACY_III);
	assert_int_equal(limits_class_of(1000.0, 0.1), ACCURACY_III); /* n 10000 */
	assert_int_equal(limits_class_of(1001.0, 0.1), ACCURACY_II);
	assert_int_equal(limits_class_of(10000.0, 0.1), ACCURACY_II); /* n 100000 */
	assert_int_equal(limits_class_of(10001.0, 0.1), ACCURACY_I);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_limit_is_that_of_a_scale_in_service),
	        cmocka_unit_test(the_verdict_changes_where_weight_and_limit_say),
	        cmocka_unit_test(a_weight_is_good_enough_up_to_a_third_of_the_limit),
	        cmocka_unit_test(what_is_no_check_is_refused),
	        cmocka_unit_test(what_another_gain_or_swapped_wires_make_of_a_weight_is_suspected),
	        cmocka_unit_test(classes_go_by_their_names),
	        cmocka_unit_test(a_scale_is_of_the_coarsest_class_that_takes_it),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
