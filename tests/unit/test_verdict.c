/* SPDX-License-Identifier: MIT */
/* Within, outside, or the scale cannot tell: JCGM 106:2012. */
#include "tests/support/assert_close.h"
#include "tests/support/csv.h"
#include "tests/support/random.h"

#include <math.h>

#include "daemon/mixing/ratio.h"

static struct ratio deviating(double deviation_pct, double u_deviation_pct)
{
	return (struct ratio){
	        .resin_g = 100.0,
	        .hardener_g = 50.0,
	        .deviation_pct = deviation_pct,
	        .u_deviation_pct = u_deviation_pct,
	};
}

static enum verdict verdict_of(double deviation_pct, double u_deviation_pct, double tolerance_pct)
{
	struct ratio ratio = deviating(deviation_pct, u_deviation_pct);

	return ratio_judge(&ratio, tolerance_pct).verdict;
}

/* The worked examples of 7.3.3 and 7.4, as printed and to more digits. */
static void probability_matches_the_worked_examples(void **state)
{
	struct csv *csv = csv_read(AMBO_TEST_DATA "/jcgm106_conformance.csv");

	(void)state;
	assert_int_equal(csv_rows(csv), 3);
	for (size_t i = 0; i < csv_rows(csv); i++) {
		double lower = csv_number(csv, i, "T_L"), upper = csv_number(csv, i, "T_U");
		double p = conformity_probability(isnan(lower) ? (double)-INFINITY : lower,
		                                  isnan(upper) ? (double)INFINITY : upper,
		                                  csv_number(csv, i, "y"), csv_number(csv, i, "u"));

		assert_within(p, csv_number(csv, i, "p_c_published"), 0.005);
		assert_within(p, csv_number(csv, i, "p_c_exact"), 0.5e-9);
	}
	csv_free(csv);
}

static void far_tails_keep_their_digits(void **state)
{
	(void)state;
	/* 1 - Phi(8) and 1 - Phi(9), printed in tables as 6.221e-16 and 1.129e-19. */
	assert_close(conformity_probability(8.0, 9.0, 0.0, 1.0), 6.2198e-16, 1e-4);
	assert_close(conformity_probability(-9.0, -8.0, 0.0, 1.0), 6.2198e-16, 1e-4);
	assert_within(conformity_probability((double)-INFINITY, (double)INFINITY, 3.0, 1.0), 1.0,
	              0.0);
	/* Two standard uncertainties either side: 0.9545 (JCGM 100:2008, table G.1). */
	assert_within(conformity_probability(-2.0, 2.0, 0.0, 1.0), 0.9545, 0.00005);
}

static void nothing_is_claimed_of_senseless_numbers(void **state)
{
	(void)state;
	assert_within(conformity_probability(-1.0, 1.0, (double)NAN, 1.0), 0.0, 0.0);
	assert_within(conformity_probability(-1.0, 1.0, 0.0, (double)NAN), 0.0, 0.0);
	assert_within(conformity_probability(-1.0, 1.0, 0.0, -1.0), 0.0, 0.0);
	assert_within(conformity_probability(-1.0, 1.0, 0.0, (double)INFINITY), 0.0, 0.0);
	assert_within(conformity_probability((double)NAN, 1.0, 0.0, 1.0), 0.0, 0.0);
	assert_within(conformity_probability(1.0, -1.0, 0.0, 1.0), 0.0, 0.0);
	assert_within(conformity_probability(-1.0, 1.0, 1.0, 0.0), 1.0, 0.0);
	assert_within(conformity_probability(-1.0, 1.0, 1.5, 0.0), 0.0, 0.0);
	assert_int_equal(verdict_of((double)NAN, 0.1, 2.0), VERDICT_NONE);
	assert_int_equal(verdict_of((double)INFINITY, 0.1, 2.0), VERDICT_NONE);
	assert_int_equal(verdict_of(0.0, (double)NAN, 2.0), VERDICT_NONE);
	assert_int_equal(verdict_of(0.0, (double)INFINITY, 2.0), VERDICT_NONE);
	assert_int_equal(verdict_of(0.0, -0.1, 2.0), VERDICT_NONE);
	assert_int_equal(verdict_of(0.0, 0.1, 0.0), VERDICT_NONE);
	assert_int_equal(verdict_of(0.0, 0.1, (double)NAN), VERDICT_NONE);
}

static void a_missing_part_has_no_verdict(void **state)
{
	struct ratio ratio = deviating(-100.0, 0.1);

	(void)state;
	ratio.hardener_g = 0.0;
	assert_int_equal(ratio_judge(&ratio, 2.0).verdict, VERDICT_NONE);
	ratio.hardener_g = -0.03; /* noise about nothing */
	assert_int_equal(ratio_judge(&ratio, 2.0).verdict, VERDICT_NONE);
	ratio.hardener_g = 0.5; /* a first gram is judged: far outside */
	assert_int_equal(ratio_judge(&ratio, 2.0).verdict, VERDICT_OUTSIDE);
}

/* Tolerance 2 %, u 0.25 %: within up to 1.5 %, outside above 2 %, in both directions;
 * the next number above a limit is on its other side. */
static void boundaries_are_exact_and_unrounded(void **state)
{
	(void)state;
	for (int sign = -1; sign <= 1; sign += 2) {
		assert_int_equal(verdict_of(sign * 1.5, 0.25, 2.0), VERDICT_WITHIN);
		assert_int_equal(verdict_of(sign * nextafter(1.5, 2.0), 0.25, 2.0),
		                 VERDICT_CANNOT_TELL);
		assert_int_equal(verdict_of(sign * 2.0, 0.25, 2.0), VERDICT_CANNOT_TELL);
		assert_int_equal(verdict_of(sign * nextafter(2.0, 3.0), 0.25, 2.0),
		                 VERDICT_OUTSIDE);
	}
	/* Shown as 2.0 with one decimal, and yet outside; as 1.5, and yet not within. */
	assert_int_equal(verdict_of(2.04, 0.25, 2.0), VERDICT_OUTSIDE);
	assert_int_equal(verdict_of(1.54, 0.25, 2.0), VERDICT_CANNOT_TELL);
}

static void a_doubt_of_half_the_tolerance_can_tell_nothing_good(void **state)
{
	(void)state;
	assert_int_equal(verdict_of(0.0, 1.0, 2.0), VERDICT_WITHIN); /* the last point */
	assert_int_equal(verdict_of(0.01, 1.0, 2.0), VERDICT_CANNOT_TELL);
	assert_int_equal(verdict_of(0.0, 1.01, 2.0), VERDICT_CANNOT_TELL);
	assert_int_equal(verdict_of(2.5, 1.01, 2.0), VERDICT_OUTSIDE);
	assert_int_equal(verdict_of(0.0, 0.0, 2.0), VERDICT_WITHIN);
}

/* The guard band's promise, by drawing: a batch truly at the limit is called within
 * 2.3 % of the time (1 - Phi(2) = 2.275 %). */
static void at_the_limit_few_are_called_within(void **state)
{
	struct random random = {106};
	int within = 0, trials = 400000;

	(void)state;
	for (int i = 0; i < trials; i++) {
		struct ratio ratio = deviating(2.0 + 0.3 * random_normal(&random), 0.3);

		within += ratio_judge(&ratio, 2.0).verdict == VERDICT_WITHIN;
	}
	assert_within((double)within / trials, 0.02275, 0.001);
}

static void guard_and_probability_come_with_the_verdict(void **state)
{
	struct ratio ratio = deviating(1.0, 0.4);
	struct ratio_verdict verdict = ratio_judge(&ratio, 2.0);

	(void)state;
	assert_within(verdict.guard_pct, 0.8, 1e-15);
	assert_close(verdict.probability, conformity_probability(-2.0, 2.0, 1.0, 0.4), 1e-15);
	assert_string_equal(verdict_name(VERDICT_NONE), "none");
	assert_string_equal(verdict_name(VERDICT_WITHIN), "within");
	assert_string_equal(verdict_name(VERDICT_OUTSIDE), "outside");
	assert_string_equal(verdict_name(VERDICT_CANNOT_TELL), "cannot-tell");
}

/* Totals for which half of the band is left, R 0.5, one reading shared (computed, to
 * the gram; 224.4994 g had been rounded up to 225). */
static void smallest_batch_matches_the_table(void **state)
{
	static const double u_g[] = {0.05, 0.1, 0.3}, tolerance_pct[] = {2, 3, 5};
	static const double total_g[3][3] = {{56, 37, 22}, {112, 75, 45}, {337, 225, 135}};

	(void)state;
	for (int i = 0; i < 3; i++)
		for (int k = 0; k < 3; k++)
			assert_within(ratio_smallest_total_g(0.5, tolerance_pct[k], u_g[i]),
			              total_g[i][k], 0.501);
	assert_true(isinf(ratio_smallest_total_g(0.0, 2.0, 0.1)));
	assert_true(isinf(ratio_smallest_total_g(0.5, 0.0, 0.1)));
	assert_true(isinf(ratio_smallest_total_g(0.5, 2.0, (double)NAN)));
	assert_true(isinf(ratio_smallest_total_g((double)NAN, 2.0, 0.1)));
}

/* The smallest batch's own meaning, through ratio_of(): half the band is guard. */
static void smallest_batch_leaves_half_the_band(void **state)
{
	(void)state;
	for (double target = 0.1; target < 12.0; target *= 1.7) {
		double total_g = ratio_smallest_total_g(target, 3.0, 0.1);
		double resin_g = total_g / (1.0 + target);
		const struct weighing_point points[] = {{0, 0.1}, {resin_g, 0.1}, {total_g, 0.1}};
		const struct weighed_part parts[] = {{PART_A, 0, 1}, {PART_B, 1, 2}};
		struct ratio ratio;

		assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, target, &ratio), 0);
		assert_close(ratio_judge(&ratio, 3.0).guard_pct, 1.5, 1e-9);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(probability_matches_the_worked_examples),
	        cmocka_unit_test(far_tails_keep_their_digits),
	        cmocka_unit_test(nothing_is_claimed_of_senseless_numbers),
	        cmocka_unit_test(a_missing_part_has_no_verdict),
	        cmocka_unit_test(boundaries_are_exact_and_unrounded),
	        cmocka_unit_test(a_doubt_of_half_the_tolerance_can_tell_nothing_good),
	        cmocka_unit_test(at_the_limit_few_are_called_within),
	        cmocka_unit_test(guard_and_probability_come_with_the_verdict),
	        cmocka_unit_test(smallest_batch_matches_the_table),
	        cmocka_unit_test(smallest_batch_leaves_half_the_band),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
