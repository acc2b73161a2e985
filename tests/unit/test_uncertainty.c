/* SPDX-License-Identifier: MIT */
/* Uncertainties against closed forms (JCGM 100:2008) and against drawing the errors. */
#include "tests/support/assert_close.h"
#include "tests/support/random.h"

#include <math.h>

#include "daemon/mixing/ratio.h"
#include "daemon/weighing/uncertainty.h"

#define TRIALS 200000

static void a_mean_of_n_is_surer_by_root_n(void **state)
{
	(void)state;
	assert_close(uncertainty_of_mean_g(0.05, 100, UNCERTAINTY_WHITE), 0.005, 1e-15);
	assert_close(uncertainty_of_mean_g(0.05, 200, UNCERTAINTY_COLOURED),
	             1.445 * 0.05 / sqrt(200.0), 1e-15);
	assert_true(isinf(uncertainty_of_mean_g(0.05, 0, 1.0)));
	assert_true(isinf(uncertainty_of_mean_g((double)NAN, 10, 1.0)));
	assert_true(isinf(uncertainty_of_mean_g(-0.05, 10, 1.0)));
}

/* 1.445 is what neighbours tied by lag 1 = 0.493 and lag 2 = 0.05 (an ideal sinc^4,
 * 0.493 and 0.050 as computed for it) do to a long mean: sqrt(1 + 2 sum rho). */
static void the_colour_follows_from_the_correlations(void **state)
{
	(void)state;
	assert_within(sqrt(1.0 + 2.0 * (0.493 + 0.050)), UNCERTAINTY_COLOURED, 0.001);
}

static void contributions_add_in_squares(void **state)
{
	const struct weighing_doubt none = {0}, resolution = {.interval_g = 0.1};
	const struct weighing_doubt all = {
	        .interval_g = 0.1,
	        .residual_sd_g = 0.02,
	        .repeatability_sd_g = 0.03,
	        .creep_share = 1e-4,
	        .zero_drift_g_per_s = 1e-3,
	};

	(void)state;
	assert_close(uncertainty_reading_g(&none, 0.05, 100.0, 60.0), 0.05, 1e-15);
	/* GUM F.2.2.1: 0.29 d. */
	assert_close(uncertainty_reading_g(&resolution, 0.0, 0.0, 0.0), 0.1 / sqrt(12.0), 1e-15);
	assert_close(uncertainty_reading_g(&all, 0.05, 200.0, 60.0),
	             sqrt(0.05 * 0.05 + 0.01 / 12.0 + 0.02 * 0.02 + 0.03 * 0.03 +
	                  0.02 * 0.02 / 3.0 + 0.06 * 0.06 / 3.0),
	             1e-14);
	/* Two readings, but one creep and one drift. */
	assert_close(uncertainty_net_g(&all, 0.05, 0.04, 200.0, 60.0),
	             sqrt(0.05 * 0.05 + 0.04 * 0.04 +
	                  2.0 * (0.01 / 12.0 + 0.02 * 0.02 + 0.03 * 0.03) + 0.02 * 0.02 / 3.0 +
	                  0.06 * 0.06 / 3.0),
	             1e-14);
}

static double rounded(double value, double interval)
{
	return interval * nearbyint(value / interval);
}

/* A net mass drawn again and again, every error from the distribution it is said to
 * have: the spread must come out as stated. */
static void a_net_mass_spreads_as_stated(void **state)
{
	const struct weighing_doubt doubt = {
	        .interval_g = 0.2,
	        .residual_sd_g = 0.02,
	        .repeatability_sd_g = 0.03,
	        .creep_share = 3e-4,
	        .zero_drift_g_per_s = 2e-3,
	};
	struct random random = {2024};
	double squares = 0.0;

	(void)state;
	for (int i = 0; i < TRIALS; i++) {
		double empty_g = random_between(&random, 10.0, 11.0), net_g = 150.0, tare_g,
		       gross_g;

		tare_g = rounded(empty_g + 0.05 * random_normal(&random) +
		                         hypot(0.02, 0.03) * random_normal(&random),
		                 0.2);
		gross_g = rounded(empty_g + net_g + 0.04 * random_normal(&random) +
		                          hypot(0.02, 0.03) * random_normal(&random) +
		                          random_between(&random, -1.0, 1.0) * 3e-4 * net_g +
		                          random_between(&random, -1.0, 1.0) * 2e-3 * 40.0,
		                  0.2);
		squares += (gross_g - tare_g - net_g) * (gross_g - tare_g - net_g);
	}
	assert_close(sqrt(squares / TRIALS), uncertainty_net_g(&doubt, 0.05, 0.04, 150.0, 40.0),
	             0.01);
}

/* R = B/A from readings of 0.1 g each, A = 100 g, B = 50 g. One reading shared
 * between the parts, or a fresh one just before B. */
static void ratio_of_shared_readings_spreads_as_stated(void **state)
{
	const double true_g[] = {0.0, 100.0, 100.0, 150.0};

	(void)state;
	for (int fresh = 0; fresh <= 1; fresh++) {
		const struct weighed_part parts[] = {{PART_A, 0, 1},
		                                     {PART_B, (uint8_t)(fresh ? 2 : 1), 3}};
		struct random random = {(uint64_t)(7 + fresh)};
		struct weighing_point points[4];
		double sum = 0.0, squares = 0.0, stated, mean;
		struct ratio ratio;

		for (int i = 0; i < 4; i++)
			points[i] = (struct weighing_point){true_g[i], 0.1};
		assert_int_equal(ratio_of(points, 4, parts, 2, PART_B, 0.5, &ratio), 0);
		stated = ratio.u_ratio;
		assert_within(stated, fresh ? 0.00158114 : 0.00187083, 0.5e-8);
		assert_within(ratio.u_deviation_pct, fresh ? 0.316228 : 0.374166, 0.5e-6);
		for (int k = 0; k < TRIALS; k++) {
			for (int i = 0; i < 4; i++)
				points[i].gross_g = true_g[i] + 0.1 * random_normal(&random);
			assert_int_equal(ratio_of(points, 4, parts, 2, PART_B, 0.5, &ratio), 0);
			sum += ratio.ratio - 0.5;
			squares += (ratio.ratio - 0.5) * (ratio.ratio - 0.5);
		}
		mean = sum / TRIALS;
		assert_close(sqrt(squares / TRIALS - mean * mean), stated, 0.01);
		assert_within(mean, 0.0, 4.0 * stated / sqrt(TRIALS) + 2e-6);
	}
}

/* USP chapter 41: 2 s / m <= 0.10 %, s not below 0.41 d; so at best 820 d. */
static void least_mass_has_the_form_of_usp_41(void **state)
{
	(void)state;
	assert_close(uncertainty_minimum_mass_g(0.0, 0.1, 0.10), 82.0, 1e-14);
	assert_close(uncertainty_minimum_mass_g(0.05, 0.1, 0.10), 100.0, 1e-14);
	assert_close(uncertainty_minimum_mass_g(0.05, 0.1, 1.0), 10.0, 1e-14);
	assert_true(isinf(uncertainty_minimum_mass_g(0.05, 0.1, 0.0)));
	assert_true(isinf(uncertainty_minimum_mass_g((double)INFINITY, 0.1, 1.0)));
	assert_true(isinf(uncertainty_minimum_mass_g(0.05, (double)NAN, 1.0)));
}

static void what_is_not_known_is_not_claimed(void **state)
{
	struct weighing_doubt doubt = {.interval_g = 0.1};

	(void)state;
	assert_true(isinf(uncertainty_reading_g(&doubt, (double)NAN, 0.0, 0.0)));
	assert_true(isinf(uncertainty_reading_g(&doubt, 0.1, (double)NAN, 0.0)));
	assert_true(isinf(uncertainty_reading_g(&doubt, 0.1, 0.0, -1.0)));
	assert_true(isinf(uncertainty_net_g(&doubt, 0.1, (double)NAN, 0.0, 0.0)));
	doubt.creep_share = -1.0;
	assert_true(isinf(uncertainty_reading_g(&doubt, 0.1, 0.0, 0.0)));
	assert_true(isinf(uncertainty_net_g(&doubt, 0.1, 0.1, 0.0, 0.0)));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_mean_of_n_is_surer_by_root_n),
	        cmocka_unit_test(the_colour_follows_from_the_correlations),
	        cmocka_unit_test(contributions_add_in_squares),
	        cmocka_unit_test(a_net_mass_spreads_as_stated),
	        cmocka_unit_test(ratio_of_shared_readings_spreads_as_stated),
	        cmocka_unit_test(least_mass_has_the_form_of_usp_41),
	        cmocka_unit_test(what_is_not_known_is_not_claimed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
