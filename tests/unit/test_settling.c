/* SPDX-License-Identifier: MIT */
/* Settling in the converter's own coloured noise (a sinc^4, simulated). */
#include "tests/support/assert_close.h"

#include <math.h>

#include "daemon/weighing/noise.h"
#include "daemon/weighing/period.h"
#include "daemon/weighing/settling.h"
#include "tests/bench/weighing_scene.h"

#define NOISE_G  0.05
#define PERIOD_S 0.0125
#define TRIALS   400u

static struct scene scene;
static struct settling settling;

static double mass_g(uint32_t i)
{
	return ((double)scene.sample[i].counts - SCENE_ZERO_COUNTS) / SCENE_COUNTS_PER_G;
}

static void make(enum scene_kind kind, double stream_g_per_s, double duration_s, uint64_t seed)
{
	const struct scene_config config = {.kind = kind,
	                                    .rate_hz = 80.0,
	                                    .duration_s = duration_s,
	                                    .noise_g = NOISE_G,
	                                    .stream_g_per_s = stream_g_per_s};

	scene_make(&config, seed, &scene);
	settling_init(&settling);
}

static bool feed(uint32_t i)
{
	return settling_feed(&settling, scene.sample[i].t_us, mass_g(i), NOISE_G, NOISE_G,
	                     PERIOD_S);
}

static void the_simulated_noise_has_the_colour_of_a_sinc4(void **state)
{
	/* physics of a sinc^4 at one sample a period: 0.493, 0.050 (computed), as
	 * recordings of converters showed 0.48..0.51 and up to 0.1. */
	double sum[3] = {0.0};

	(void)state;
	make(SCENE_REST, 0.0, 60.0, 1);
	for (uint32_t i = 2; i < scene.n; i++)
		for (uint32_t lag = 0; lag < 3; lag++)
			sum[lag] += mass_g(i) * mass_g(i - lag);
	assert_close(sqrt(sum[0] / scene.n), NOISE_G, 0.05);
	assert_within(sum[1] / sum[0], 0.493, 0.04);
	assert_within(sum[2] / sum[0], 0.050, 0.05);
}

static void rest_is_first_provisional_then_settled(void **state)
{
	enum reading_state before = READING_UNSETTLED;
	int changes = 0;

	(void)state;
	make(SCENE_REST, 0.0, 3.0, 2);
	for (uint32_t i = 0; i < scene.n; i++) {
		assert_false(feed(i));
		assert_true(settling.rest.state >= before);
		changes += settling.rest.state != before;
		before = settling.rest.state;
	}
	assert_int_equal(before, READING_SETTLED);
	assert_int_equal(changes, 2);
}

static void a_settled_value_is_as_good_as_coloured_noise_allows(void **state)
{
	/* Cramer-Rao for white noise is sigma/sqrt(N); the colour makes it 1.4443
	 * times that (computed for an ideal sinc^4; recordings gave 1.445). */
	double squares = 0.0;

	(void)state;
	for (uint32_t trial = 0; trial < TRIALS; trial++) {
		make(SCENE_REST, 0.0, 3.5, 100 + trial);
		for (uint32_t i = 0; i < scene.n; i++)
			feed(i);
		assert_int_equal(settling.rest.state, READING_SETTLED);
		assert_true(settling.rest.n > 200.0);
		squares += settling.rest.mean_g * settling.rest.mean_g * settling.rest.n;
	}
	assert_close(sqrt(squares / TRIALS), 1.4443 * NOISE_G, 0.10);
}

static void a_stream_of_0_2_g_per_s_is_hardly_ever_called_settled(void **state)
{
	uint32_t wrong = 0;

	(void)state;
	for (uint32_t trial = 0; trial < TRIALS; trial++) {
		bool any = false;

		make(SCENE_STREAM, 0.2, 8.0, 1000 + trial);
		for (uint32_t i = 0; i < scene.n; i++) {
			feed(i);
			any = any || settling.rest.state == READING_SETTLED;
		}
		wrong += any;
	}
	print_message("%u of %u streams ever called settled\n", wrong, TRIALS);
	assert_in_range(wrong, 0, TRIALS / 100);
}

static void a_change_to_either_side_restarts_the_average(void **state)
{
	(void)state;
	for (int side = -1; side <= 1; side += 2) {
		uint32_t changes = 0, first = 0;

		make(SCENE_REST, 0.0, 9.0, 3);
		for (uint32_t i = 0; i < scene.n; i++) {
			const double step_g = scene.sample[i].t_us > 5000000 ? 0.5 * side : 0.0;

			if (settling_feed(&settling, scene.sample[i].t_us, mass_g(i) + step_g,
			                  NOISE_G, NOISE_G, PERIOD_S)) {
				changes++;
				first = first > 0 ? first : i;
			}
		}
		assert_int_equal(changes, 1);
		assert_in_range(scene.sample[first].t_us, 5000000, 5200000);
		assert_int_equal(settling.rest.state, READING_SETTLED);
		assert_within(settling.rest.mean_g, 0.5 * side, 0.02);
	}
}

static void a_warming_cell_is_followed_and_never_called_a_change(void **state)
{
	(void)state;
	make(SCENE_STREAM, 0.0163, 60.0, 4); /* 7 counts/s at 430 counts/g */
	for (uint32_t i = 0; i < scene.n; i++)
		assert_false(feed(i));
	assert_int_equal(settling.rest.state, READING_SETTLED);
	assert_within(settling.rest.drift_g_per_s, 0.0163, 0.002);
	assert_within(settling.rest.mean_g, 0.0163 * 60.0, 0.03);
}

static void what_is_taken_back_leaves_no_trace(void **state)
{
	struct rest before;
	uint32_t fill;

	(void)state;
	make(SCENE_REST, 0.0, 5.0, 5);
	for (uint32_t i = 0; i < 300; i++)
		feed(i);
	before = settling.rest;
	fill = settling.fill;
	settling_feed(&settling, scene.sample[300].t_us, 0.15, NOISE_G, NOISE_G, PERIOD_S);
	settling_take_back(&settling);
	assert_within(settling.rest.mean_g, before.mean_g, 0.0);
	assert_within(settling.rest.up, before.up, 0.0);
	assert_int_equal(settling.fill, fill - (fill == SETTLING_RING)); /* the oldest is gone */
}

static void the_ring_is_never_overrun_however_much_the_noise(void **state)
{
	(void)state;
	make(SCENE_REST, 0.0, 20.0, 6);
	for (uint32_t i = 0; i < scene.n; i++)
		settling_feed(&settling, scene.sample[i].t_us, 100.0 * mass_g(i), 100.0 * NOISE_G,
		              100.0 * NOISE_G, PERIOD_S);
	assert_int_equal(settling.fill, SETTLING_RING);
	assert_int_equal(settling.rest.state, READING_SETTLED);
	assert_within(settling.rest.mean_g, 0.0, 1.5);
}

static void noise_is_learnt_in_rest_and_in_a_steady_pour(void **state)
{
	struct noise noise;

	(void)state;
	for (int pouring = 0; pouring < 2; pouring++) {
		make(pouring ? SCENE_STREAM : SCENE_REST, 15.0, 20.0, 7);
		noise_init(&noise, 0.0, 1.0 / SCENE_COUNTS_PER_G, 0.1);
		assert_within(noise.sd_g, 0.05, 0.0); /* half an interval, to begin with */
		noise_init(&noise, 0.0, 1.0 / SCENE_COUNTS_PER_G, 0.5);
		for (uint32_t i = 0; i < scene.n; i++)
			noise_feed(&noise, mass_g(i), true);
		assert_close(noise.sd_g, NOISE_G, 0.12);
	}
}

static void noise_never_falls_below_the_resolution(void **state)
{
	struct noise noise;

	(void)state;
	noise_init(&noise, 0.0, 1.0, 0.1);
	for (int i = 0; i < 1000; i++)
		noise_feed(&noise, 5.0, true);
	assert_close(noise.sd_g, 1.0 / sqrt(12.0), 1e-12); /* GUM F.2.2.1 */
}

static void a_period_is_measured_and_gaps_do_not_spoil_it(void **state)
{
	struct period period;

	(void)state;
	period_init(&period, 80.0);
	for (int i = 0; i < 500; i++)
		period_feed(&period, i % 10 == 3 ? 47450 : 11862);
	assert_close(period.us, 11862.0, 1e-3);
	/* A hint eight times too slow is dropped at once. */
	period_init(&period, 10.0);
	for (int i = 0; i < 3; i++)
		period_feed(&period, 11862);
	assert_close(period.us, 11862.0, 1e-9);
	/* The first interval may be the gap. */
	period_init(&period, 0.0);
	period_feed(&period, 47450);
	for (int i = 0; i < 3; i++)
		period_feed(&period, 11862);
	assert_close(period.us, 11862.0, 1e-9);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_simulated_noise_has_the_colour_of_a_sinc4),
	        cmocka_unit_test(rest_is_first_provisional_then_settled),
	        cmocka_unit_test(a_settled_value_is_as_good_as_coloured_noise_allows),
	        cmocka_unit_test(a_stream_of_0_2_g_per_s_is_hardly_ever_called_settled),
	        cmocka_unit_test(a_change_to_either_side_restarts_the_average),
	        cmocka_unit_test(a_warming_cell_is_followed_and_never_called_a_change),
	        cmocka_unit_test(what_is_taken_back_leaves_no_trace),
	        cmocka_unit_test(the_ring_is_never_overrun_however_much_the_noise),
	        cmocka_unit_test(noise_is_learnt_in_rest_and_in_a_steady_pour),
	        cmocka_unit_test(noise_never_falls_below_the_resolution),
	        cmocka_unit_test(a_period_is_measured_and_gaps_do_not_spoil_it),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
