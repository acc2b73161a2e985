/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>

#include "daemon/casting/drying.h"
#include "tests/support/random.h"

#define DAY 86400.0
#define N   8

static void weighed(struct drying_point *points, size_t n, double start_g, double final_g,
                    double tau_days, double noise_g)
{
	struct random random = {3};

	for (size_t i = 0; i < n; i++) {
		points[i].t_s = DAY * (double)i;
		points[i].mass_g = final_g + (start_g - final_g) * exp(-(double)i / tau_days) +
		                   noise_g * random_normal(&random);
	}
}

static void an_exact_decay_is_found_again(void **state)
{
	struct drying_point points[N];
	struct drying_fit fit;

	(void)state;
	for (double tau = 0.7; tau < 6.0; tau *= 1.7) {
		weighed(points, N, 12.0, 3.0, tau, 0.0);
		assert_int_equal(drying_fit(points, N, &fit), 0);
		assert_close(fit.tau_s, tau * DAY, 1e-6);
		assert_close(fit.final_g, 3.0, 1e-6);
		assert_close(fit.start_g, 12.0, 1e-6);
		assert_within(fit.residual_g, 0.0, 1e-7);
		assert_close(drying_at_g(&fit, 2.0 * DAY), points[2].mass_g, 1e-7);
	}
}

/* No other tau and final mass near by fit better: a grid about the answer. */
static void noisy_weighings_get_the_least_squares(void **state)
{
	struct drying_point points[N];
	struct drying_fit fit;
	double least = 0.0;

	(void)state;
	weighed(points, N, 12.0, 3.0, 2.0, 0.05);
	assert_int_equal(drying_fit(points, N, &fit), 0);
	assert_within(fit.final_g, 3.0, 0.2);
	for (int i = 0; i < N; i++)
		least += pow(points[i].mass_g - drying_at_g(&fit, points[i].t_s), 2.0);
	assert_close(fit.residual_g, sqrt(least / (N - 3)), 1e-12);
	for (int k = 0; k < 27; k++) {
		struct drying_fit other = fit;
		double squares = 0.0;

		other.tau_s *= 1.0 + 0.01 * (k % 3 - 1);
		other.final_g += 0.01 * (k / 3 % 3 - 1);
		other.start_g += 0.01 * (k / 9 - 1);
		for (int i = 0; i < N; i++)
			squares += pow(points[i].mass_g - drying_at_g(&other, points[i].t_s), 2.0);
		assert_true(squares >= least - 1e-12);
	}
}

/* At that time, and not a day before, both hold. */
static void dry_is_when_a_day_and_the_rest_are_under_a_percent(void **state)
{
	struct drying_point points[N];
	struct drying_fit fit;

	(void)state;
	for (double tau = 0.5; tau < 9.0; tau *= 2.0) {
		double now, before;

		weighed(points, N, 12.0, 3.0, tau, 0.0);
		assert_int_equal(drying_fit(points, N, &fit), 0);
		now = drying_at_g(&fit, fit.dry_s);
		before = drying_at_g(&fit, fit.dry_s - DAY);
		assert_true((before - now) / before <= DRYING_RULE + 1e-9 ||
		            (now - fit.final_g) / fit.final_g < DRYING_WITHIN);
		assert_true((now - fit.final_g) / fit.final_g <= DRYING_WITHIN + 1e-9);
		/* An hour earlier one of the two fails. */
		now = drying_at_g(&fit, fit.dry_s - 3600.0);
		before = drying_at_g(&fit, fit.dry_s - 3600.0 - DAY);
		assert_true((before - now) / before > DRYING_RULE ||
		            (now - fit.final_g) / fit.final_g > DRYING_WITHIN);
	}
}

static void constant_mass_is_a_day_apart(void **state)
{
	struct drying_point points[] = {
	        {0, 10.0}, {DAY, 9.0}, {2 * DAY, 8.95}, {2 * DAY + 600, 8.949}};
	double share;

	(void)state;
	assert_int_equal(drying_constant(points, 1, &share), -ENODATA);
	assert_int_equal(drying_constant(points, 2, &share), 0);
	assert_close(share, 0.1, 1e-12);
	assert_int_equal(drying_constant(points, 3, &share), 1);
	/* Two weighings ten minutes apart prove nothing: the one of yesterday counts. */
	assert_int_equal(drying_constant(points, 4, &share), 1);
	assert_close(share, 0.051 / 9.0, 1e-9);
	points[3].t_s = points[2].t_s + DAY;
	points[3].mass_g = 8.5;
	assert_int_equal(drying_constant(points, 4, &share), 0);
}

static void what_does_not_decay_is_not_fitted(void **state)
{
	struct drying_point line[N], up[N], bad[N];
	struct drying_fit fit = {.tau_s = 5.0};

	(void)state;
	for (int i = 0; i < N; i++) {
		line[i] = (struct drying_point){DAY * i, 10.0 - 0.1 * i};
		up[i] = (struct drying_point){DAY * i, 10.0 - 5.0 * exp(-i / 2.0)};
		bad[i] = (struct drying_point){DAY * i, 10.0};
	}
	assert_int_equal(drying_fit(line, N, &fit), -ENODATA);
	assert_int_equal(drying_fit(up, N, &fit), -ENODATA);
	assert_int_equal(drying_fit(line, 2, &fit), -EINVAL);
	bad[3].t_s = bad[2].t_s;
	assert_int_equal(drying_fit(bad, N, &fit), -EINVAL);
	bad[3].t_s = 3 * DAY;
	bad[4].mass_g = (double)NAN;
	assert_int_equal(drying_fit(bad, N, &fit), -EINVAL);
	bad[4].mass_g = 10.0;
	assert_int_equal(drying_fit(bad, N, &fit), -ENODATA);
	assert_within(fit.tau_s, 5.0, 0.0);
}

/* A third of the water a day: ten grams of it in fifteen (a worked example of our own). */
static void weighings_come_to_a_verdict(void **state)
{
	struct drying_point points[13];
	struct drying_state is;

	(void)state;
	drying_judge(NULL, 0, 0.0, &is);
	assert_int_equal(is.verdict, DRYING_NOT_WEIGHED);
	for (int i = 0; i < 13; i++)
		points[i] = (struct drying_point){86400.0 * i, 5.0 + 10.0 * pow(2.0 / 3.0, i)};
	drying_judge(points, 1, 3600.0, &is);
	assert_int_equal(is.verdict, DRYING_NOT_YET);
	assert_true(isnan(is.per_day_share) && isnan(is.dry_in_s));
	assert_close(is.since_s, 3600.0, 0.0);
	drying_judge(points, 4, points[3].t_s, &is);
	assert_int_equal(is.verdict, DRYING_NOT_YET);
	assert_close(is.per_day_share, 1.0 - points[3].mass_g / points[2].mass_g, 1e-12);
	assert_close(is.final_g, 5.0, 1e-5);
	/* Under 1 % of what stays: (2/3)^t 10 = 0.05, 13.07 days; a day under 1 % earlier. */
	assert_close(is.dry_in_s / 86400.0, log(0.005) / log(2.0 / 3.0) - 3.0, 1e-3);
	/* The rule itself: 5 + 10 (2/3)^11 loses under 1 % to the day after. */
	drying_judge(points, 13, points[12].t_s, &is);
	assert_true((points[11].mass_g - points[12].mass_g) / points[11].mass_g < 0.01);
	assert_int_equal(is.verdict, DRYING_DRY);
	drying_judge(points, 13, points[12].t_s + DRYING_KEEPS_S + 1.0, &is);
	assert_int_equal(is.verdict, DRYING_STALE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(an_exact_decay_is_found_again),
	        cmocka_unit_test(noisy_weighings_get_the_least_squares),
	        cmocka_unit_test(dry_is_when_a_day_and_the_rest_are_under_a_percent),
	        cmocka_unit_test(constant_mass_is_a_day_apart),
	        cmocka_unit_test(what_does_not_decay_is_not_fitted),
	        cmocka_unit_test(weighings_come_to_a_verdict),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
