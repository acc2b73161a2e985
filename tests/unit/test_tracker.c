/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>

#include "daemon/weighing/tracker.h"

#define PERIOD_US 12500
#define PERIOD_S  0.0125
#define NOISE_G   0.05

static struct tracker tracker;

static int fresh(void **state)
{
	(void)state;
	tracker_init(&tracker, 0, 0.0);
	tracker_tune(&tracker, NOISE_G, PERIOD_S);
	return 0;
}

static void the_gains_are_those_of_the_tracking_index(void **state)
{
	/* Kalata (1984): a steady-state pair satisfies beta^2 / (1 - alpha) = L^2
	 * and beta = 2 (2 - alpha) - 4 sqrt(1 - alpha). */
	const double index = PERIOD_S * PERIOD_S * 30.0 / NOISE_G;

	(void)state;
	assert_close(tracker.beta * tracker.beta / (1.0 - tracker.alpha), index * index, 1e-9);
	assert_close(tracker.beta, 2.0 * (2.0 - tracker.alpha) - 4.0 * sqrt(1.0 - tracker.alpha),
	             1e-12);
}

static void a_ramp_is_followed_without_lag_and_the_delay_extrapolated(void **state)
{
	double seen_g = 0.0, at_s;

	(void)state;
	for (int64_t i = 1; i <= 400; i++) {
		/* A sinc^4 is two periods late on a ramp. */
		at_s = (double)i * PERIOD_S;
		seen_g = 15.0 * (at_s - 2.0 * PERIOD_S);
		tracker_feed(&tracker, i * PERIOD_US, seen_g);
	}
	assert_close(tracker.now.rate_g_per_s, 15.0, 1e-6);
	assert_close(tracker_mass_g(&tracker), 15.0 * 400 * PERIOD_S, 1e-6);
}

static void one_outlier_moves_it_by_no_more_than_the_clip(void **state)
{
	(void)state;
	for (int64_t i = 1; i <= 100; i++)
		tracker_feed(&tracker, i * PERIOD_US, 0.0);
	assert_false(tracker_feed(&tracker, 101 * PERIOD_US, 1e6));
	assert_close(tracker.now.mass_g, tracker.alpha * tracker.clip_g, 1e-9);
	assert_close(tracker.clip_g, 4.0 * NOISE_G / sqrt(1.0 - tracker.alpha), 1e-9);
}

static void a_step_is_taken_over_after_six_samples(void **state)
{
	(void)state;
	for (int64_t i = 1; i <= 5; i++)
		assert_false(tracker_feed(&tracker, i * PERIOD_US, 100.0));
	assert_true(tracker_feed(&tracker, 6 * PERIOD_US, 100.0));
	assert_within(tracker.now.mass_g, 100.0, 0.0);
	assert_within(tracker.now.rate_g_per_s, 0.0, 0.0);
}

/* As a sinc^4 shows it: the sum of four uniform delays is about this. */
static double smooth(double periods)
{
	double sum = 0.0;

	for (int i = 0; i < 10000; i++) {
		const double u = (i % 10 + i / 10 % 10 + i / 100 % 10 + i / 1000 + 2.0) / 10.0;

		sum += periods > u ? 1e-4 : 0.0;
	}
	return sum;
}

static void a_stream_of_60_g_per_s_from_nothing_is_run_after(void **state)
{
	double start_g = 0.0;

	(void)state;
	for (int64_t i = -50; i <= 80; i++) {
		/* The rate comes up within 0.1 s. */
		const double rate = 60.0 * fmax(0.0, fmin(1.0, (double)i / 8.0));

		start_g += rate * PERIOD_S;
		tracker_feed(&tracker, (i + 60) * PERIOD_US, start_g);
		if (i > 30)
			assert_within(tracker.now.mass_g, start_g, 0.5);
	}
	assert_close(tracker.now.rate_g_per_s, 60.0, 0.05);
}

static void load_after_load_stands_still_however_light(void **state)
{
	(void)state;
	for (double load_g = 1.0; load_g < 600.0; load_g *= 2.0) {
		double on_g = 0.0;

		fresh(NULL);
		for (int64_t i = 0; i < 500; i++) {
			const int64_t since = i % 100 - 20;

			on_g = load_g * ((double)(i / 100) + smooth((double)since));
			tracker_feed(&tracker, (i + 1) * PERIOD_US, on_g);
			assert_true(tracker_mass_g(&tracker) <
			            load_g * ((double)(i / 100) + 1.05) + 0.5);
			if (since > 12)
				assert_within(tracker.now.mass_g, on_g, 0.5);
		}
	}
}

static void a_knock_that_swings_is_not_taken_for_a_step(void **state)
{
	(void)state;
	/* 20 g at 18 Hz, decaying in 0.1 s: the bottle touches the cup. */
	for (int64_t i = 1; i <= 80; i++) {
		const double t = (double)i * PERIOD_S;

		assert_false(tracker_feed(&tracker, i * PERIOD_US,
		                          20.0 * exp(-t / 0.1) * sin(2.0 * 3.14159265 * 18.0 * t)));
		assert_within(tracker.now.mass_g, 0.0, 0.75);
	}
}

static void measured_time_counts_and_not_the_number_of_samples(void **state)
{
	(void)state;
	for (int64_t i = 1; i <= 400; i++)
		tracker_feed(&tracker, i * PERIOD_US, 10.0 * (double)i * PERIOD_S);
	/* Four periods lost. */
	assert_close(tracker_predicted_g(&tracker, 404 * PERIOD_US), 10.0 * 404 * PERIOD_S, 1e-6);
	assert_false(tracker_feed(&tracker, 404 * PERIOD_US, 10.0 * 404 * PERIOD_S));
	assert_close(tracker.now.rate_g_per_s, 10.0, 1e-4);
}

static void what_is_taken_back_leaves_no_trace(void **state)
{
	struct track before;

	(void)state;
	for (int64_t i = 1; i <= 50; i++)
		tracker_feed(&tracker, i * PERIOD_US, 0.01 * (double)i);
	before = tracker.now;
	tracker_feed(&tracker, 51 * PERIOD_US, 0.7);
	tracker_take_back(&tracker);
	assert_within(tracker.now.mass_g, before.mass_g, 0.0);
	assert_within(tracker.now.rate_g_per_s, before.rate_g_per_s, 0.0);
	assert_int_equal(tracker.now.t_us, before.t_us);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup(the_gains_are_those_of_the_tracking_index, fresh),
	        cmocka_unit_test_setup(a_ramp_is_followed_without_lag_and_the_delay_extrapolated,
	                               fresh),
	        cmocka_unit_test_setup(one_outlier_moves_it_by_no_more_than_the_clip, fresh),
	        cmocka_unit_test_setup(a_step_is_taken_over_after_six_samples, fresh),
	        cmocka_unit_test_setup(a_stream_of_60_g_per_s_from_nothing_is_run_after, fresh),
	        cmocka_unit_test_setup(load_after_load_stands_still_however_light, fresh),
	        cmocka_unit_test_setup(a_knock_that_swings_is_not_taken_for_a_step, fresh),
	        cmocka_unit_test_setup(measured_time_counts_and_not_the_number_of_samples, fresh),
	        cmocka_unit_test_setup(what_is_taken_back_leaves_no_trace, fresh),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
