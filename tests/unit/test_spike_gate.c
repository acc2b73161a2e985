/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include "daemon/weighing/spike_gate.h"

#define PERIOD_US 12500
#define WIDTH_G   0.2

static struct spike_gate gate;
static int64_t now_us;

static struct spike_gate_verdict feed(double mass_g, double predicted_g, bool gap)
{
	const struct spike_gate_sample sample = {.t_us = now_us, .mass_g = mass_g};

	now_us += PERIOD_US;
	return spike_gate_feed(&gate, sample, predicted_g, WIDTH_G, gap);
}

static int fresh(void **state)
{
	(void)state;
	now_us = 0;
	spike_gate_init(&gate);
	return 0;
}

static void a_sample_that_fits_passes_at_once(void **state)
{
	struct spike_gate_verdict verdict = feed(10.1, 10.0, false);

	(void)state;
	assert_int_equal(verdict.n, 1);
	assert_false(verdict.departs);
	assert_within(verdict.pass[0].mass_g, 10.1, 0.0);
}

static void a_departing_sample_before_a_gap_is_dropped(void **state)
{
	struct spike_gate_verdict verdict;

	(void)state;
	feed(10.0, 10.0, false);
	assert_int_equal(feed(25.0, 10.0, false).n, 0);
	/* Even where the sample after the gap departs alike: it waits for its own. */
	assert_int_equal(feed(25.1, 10.0, true).n, 0);
	verdict = feed(25.2, 10.0, false);
	assert_int_equal(verdict.n, 2);
	assert_within(verdict.pass[0].mass_g, 25.1, 0.0);
}

static void a_lone_spike_without_a_gap_is_dropped(void **state)
{
	struct spike_gate_verdict verdict;

	(void)state;
	feed(10.0, 10.0, false);
	assert_int_equal(feed(178.0, 10.0, false).n, 0);
	verdict = feed(10.05, 10.0, false);
	assert_int_equal(verdict.n, 1);
	assert_within(verdict.pass[0].mass_g, 10.05, 0.0);
}

static void a_real_step_passes_when_the_next_confirms_it(void **state)
{
	struct spike_gate_verdict verdict;

	(void)state;
	feed(10.0, 10.0, false);
	assert_int_equal(feed(60.0, 10.0, false).n, 0);
	verdict = feed(106.0, 10.0, false);
	assert_int_equal(verdict.n, 2);
	assert_true(verdict.departs);
	assert_within(verdict.pass[0].mass_g, 60.0, 0.0);
	assert_within(verdict.pass[1].mass_g, 106.0, 0.0);
	/* From then on the sample before is as good a measure as the prediction. */
	verdict = feed(106.1, 20.0, false);
	assert_int_equal(verdict.n, 1);
	assert_true(verdict.departs);
}

static void two_spikes_that_end_in_different_ones_do_not_confirm_each_other(void **state)
{
	(void)state;
	feed(10.0, 10.0, false);
	assert_int_equal(feed(25.0, 10.0, false).n, 0);
	assert_int_equal(feed(178.0, 10.0, false).n, 0);
	assert_int_equal(feed(10.0, 10.0, false).n, 1);
}

static void spikes_to_both_sides_do_not_confirm_each_other(void **state)
{
	(void)state;
	feed(10.0, 10.0, false);
	assert_int_equal(feed(10.5, 10.0, false).n, 0);
	assert_int_equal(feed(9.5, 10.0, false).n, 0);
	assert_int_equal(feed(10.0, 10.0, false).n, 1);
}

static void a_code_cut_short_confirms_nothing(void **state)
{
	struct spike_gate_sample cut = {.t_us = 0, .mass_g = 25.0, .suspect = true};

	(void)state;
	assert_true(spike_gate_suspects(196607));
	assert_true(spike_gate_suspects(-1));
	assert_false(spike_gate_suspects(196606));
	assert_false(spike_gate_suspects(190000));
	feed(10.0, 10.0, false);
	assert_int_equal(feed(25.0, 10.0, false).n, 0);
	assert_int_equal(spike_gate_feed(&gate, cut, 10.0, WIDTH_G, false).n, 0);
	/* A cut code has to fit four times as well as another. */
	cut.mass_g = 10.15;
	assert_int_equal(spike_gate_feed(&gate, cut, 10.0, WIDTH_G, false).n, 0);
	cut.mass_g = 10.03;
	assert_int_equal(spike_gate_feed(&gate, cut, 10.0, WIDTH_G, false).n, 1);
}

static void no_more_than_three_in_a_row_are_held(void **state)
{
	const double swing_g[] = {20.0, 0.0, 20.0, 0.0};

	(void)state;
	feed(10.0, 10.0, false);
	for (uint32_t i = 0; i < SPIKE_GATE_HELD_MAX; i++)
		assert_int_equal(feed(swing_g[i], 10.0, false).n, 0);
	assert_int_equal(feed(swing_g[SPIKE_GATE_HELD_MAX], 10.0, false).n, 1);
}

static void drop_forgets_what_is_held(void **state)
{
	(void)state;
	feed(10.0, 10.0, false);
	assert_int_equal(feed(60.0, 10.0, false).n, 0);
	spike_gate_drop(&gate);
	assert_int_equal(feed(60.0, 10.0, false).n, 0);
	assert_int_equal(feed(60.0, 10.0, false).n, 2);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup(a_sample_that_fits_passes_at_once, fresh),
	        cmocka_unit_test_setup(a_departing_sample_before_a_gap_is_dropped, fresh),
	        cmocka_unit_test_setup(a_lone_spike_without_a_gap_is_dropped, fresh),
	        cmocka_unit_test_setup(a_real_step_passes_when_the_next_confirms_it, fresh),
	        cmocka_unit_test_setup(
	                two_spikes_that_end_in_different_ones_do_not_confirm_each_other, fresh),
	        cmocka_unit_test_setup(spikes_to_both_sides_do_not_confirm_each_other, fresh),
	        cmocka_unit_test_setup(a_code_cut_short_confirms_nothing, fresh),
	        cmocka_unit_test_setup(no_more_than_three_in_a_row_are_held, fresh),
	        cmocka_unit_test_setup(drop_forgets_what_is_held, fresh),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
