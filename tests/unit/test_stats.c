/* SPDX-License-Identifier: MIT */
/* Univariate statistics against NIST's certified values; F against published tables. */
#include "tests/support/assert_close.h"
#include "tests/support/csv.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/weighing/stats.h"

static void check_file(const char *name, double mean_rel, double sd_rel, double lag1_rel)
{
	char path[512];
	struct csv *csv;
	struct stats stats;
	double *y;

	snprintf(path, sizeof(path), "%s/%s", AMBO_TEST_DATA, name);
	csv = csv_read(path);
	y = csv_column(csv, "y");
	assert_int_equal(stats_of(y, csv_rows(csv), &stats), 0);
	assert_int_equal((long)stats.n, (long)csv_header(csv, "n"));
	assert_close(stats.mean, csv_header(csv, "certified_mean"), mean_rel);
	assert_close(stats.sd, csv_header(csv, "certified_sd"), sd_rel);
	assert_close(stats.lag1, csv_header(csv, "certified_lag1_autocorrelation"), lag1_rel);
	free(y);
	csv_free(csv);
}

/* NIST StRD, lower level of difficulty. */
static void recorded_series_have_the_certified_digits(void **state)
{
	(void)state;
	check_file("nist_strd_michelso.csv", 1e-14, 1e-12, 1e-12);
	check_file("nist_strd_mavro.csv", 1e-14, 1e-11, 1e-11);
	check_file("nist_strd_lew.csv", 1e-14, 1e-14, 1e-13);
	check_file("nist_strd_lottery.csv", 1e-14, 1e-14, 1e-13);
}

/* NIST StRD NumAcc1..4. 10000000.2 as a double is off by up to 1e-9, so 0.1 of spread
 * cannot be known better than about 1e-8 of itself; these bounds are that limit, and
 * a sum of squares less a square of sums fails them all. */
static void large_values_of_small_spread_keep_their_digits(void **state)
{
	(void)state;
	check_file("nist_strd_numacc1.csv", 0.0, 0.0, 0.0);
	check_file("nist_strd_numacc2.csv", 1e-14, 1e-13, 1e-13);
	check_file("nist_strd_numacc3.csv", 1e-15, 1e-9, 1e-9);
	check_file("nist_strd_numacc4.csv", 1e-15, 1e-8, 1e-8);
}

/* Where even the mean is off by rounding: integers about 2^53, of variance 2/3. */
static void a_mean_that_rounds_costs_the_spread_nothing(void **state)
{
	enum { COUNT = 3000 };
	static double y[COUNT];
	struct stats stats;

	(void)state;
	for (int i = 0; i < COUNT; i++)
		y[i] = 9e15 + i % 3;
	assert_int_equal(stats_of(y, COUNT, &stats), 0);
	assert_within(stats.mean, 9e15 + 1.0, 0.0);
	assert_close(stats.sd, sqrt(2.0 / 3.0 * COUNT / (COUNT - 1.0)), 1e-14);
}

static void few_equal_and_senseless_values(void **state)
{
	const double same[] = {5.5, 5.5, 5.5};
	double values[] = {1.0, 2.0, 3.0};
	struct stats stats;

	(void)state;
	assert_int_equal(stats_of(values, 1, &stats), 0);
	assert_true(stats.mean == 1.0 && stats.sd == 0.0 && stats.lag1 == 0.0);
	assert_int_equal(stats_of(same, 3, &stats), 0);
	assert_true(stats.mean == 5.5 && stats.sd == 0.0 && stats.lag1 == 0.0);
	assert_int_equal(stats_of(values, 0, &stats), -EINVAL);
	values[1] = (double)NAN;
	assert_int_equal(stats_of(values, 3, &stats), -EINVAL);
	values[1] = (double)-INFINITY;
	assert_int_equal(stats_of(values, 3, &stats), -EINVAL);
}

/* Critical values as printed in every table of F (NIST/SEMATECH e-Handbook 1.3.6.7.3,
 * from memory but for F(.05;18,20), which 4.6.1.5 prints). */
static void critical_values_of_f_match_the_printed_tables(void **state)
{
	(void)state;
	assert_within(f_critical(0.05, 18, 20), 2.15, 0.005);
	assert_within(f_critical(0.05, 1, 1), 161.448, 0.0005);
	assert_within(f_critical(0.05, 1, 10), 4.965, 0.0005);
	assert_within(f_critical(0.05, 10, 10), 2.978, 0.0005);
	assert_within(f_critical(0.01, 5, 20), 4.103, 0.0005);
	assert_within(f_critical(0.10, 3, 30), 2.276, 0.0005);
}

/* Elementary tails: two degrees above, (1 + 2 f / d2)^(-d2/2); one degree above and
 * below, 1 - (2/pi) atan(sqrt(f)). */
static void tail_of_f_matches_its_closed_form(void **state)
{
	(void)state;
	for (double d2 = 1.0; d2 <= 500.0; d2 = d2 * 1.7 + 0.5)
		for (double f = 1e-7; f < 300.0; f *= 1.9)
			assert_close(f_tail(f, 2.0, d2), pow(1.0 + 2.0 * f / d2, -d2 / 2.0), 1e-11);
	for (double f = 1e-7; f < 1e4; f *= 3.0)
		assert_close(f_tail(f, 1.0, 1.0), 1.0 - 2.0 / acos(-1.0) * atan(sqrt(f)), 1e-11);
}

/* P(F(d1,d2) > f) = 1 - P(F(d2,d1) > 1/f), and the critical value is where its name says. */
static void tail_of_f_is_reciprocal_and_inverts(void **state)
{
	(void)state;
	for (int d1 = 1; d1 < 60; d1 += 7)
		for (int d2 = 1; d2 < 60; d2 += 5) {
			assert_within(f_tail(1.7, d1, d2) + f_tail(1.0 / 1.7, d2, d1), 1.0, 1e-13);
			assert_close(f_tail(f_critical(0.05, d1, d2), d1, d2), 0.05, 1e-9);
		}
	assert_within(f_tail(0.0, 3, 4), 1.0, 0.0);
	assert_within(f_tail((double)INFINITY, 3, 4), 0.0, 0.0);
	assert_true(isnan(f_tail(-1.0, 3, 4)));
	assert_true(isnan(f_tail((double)NAN, 3, 4)));
	assert_true(isnan(f_tail(1.0, 0, 4)));
	assert_true(isnan(f_critical(0.0, 3, 4)));
	assert_true(isnan(f_critical(0.05, 3, (double)NAN)));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(recorded_series_have_the_certified_digits),
	        cmocka_unit_test(large_values_of_small_spread_keep_their_digits),
	        cmocka_unit_test(a_mean_that_rounds_costs_the_spread_nothing),
	        cmocka_unit_test(few_equal_and_senseless_values),
	        cmocka_unit_test(critical_values_of_f_match_the_printed_tables),
	        cmocka_unit_test(tail_of_f_matches_its_closed_form),
	        cmocka_unit_test(tail_of_f_is_reciprocal_and_inverts),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
