/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>

#include "tests/support/cue_pour.h"

/* A simulated person at the simulated bench, led by the display's cues. Reaction
 * 230 +- 40 ms: handbook, from memory. The bench has the figures of many more pours. */

#define POURS 60

static void pour_many(struct cue_pour pour, double *ret_mean_g, double *ret_sd_g)
{
	double sum = 0.0, sum2 = 0.0;
	bool learnt;

	for (int i = 0; i < POURS; i++) {
		double error_g;

		pour.seed = (uint64_t)i + 1;
		pour.rate_g_per_s = 9.0 + 6.0 * (i + 0.5) / POURS;
		error_g = cue_pour(&pour, &learnt);
		sum += error_g;
		sum2 += error_g * error_g;
	}
	*ret_mean_g = sum / POURS;
	*ret_sd_g = sqrt(sum2 / POURS - *ret_mean_g * *ret_mean_g);
}

static void the_cue_ends_where_the_plain_number_is_five_grams_over(void **state)
{
	struct cue_pour pour = {.reaction_s = 0.23, .tip_back_s = 0.25};
	double plain_g, plain_sd_g, led_g, led_sd_g;

	(void)state;
	pour_many(pour, &plain_g, &plain_sd_g);
	pour.cued = true;
	pour_many(pour, &led_g, &led_sd_g);
	assert_within(plain_g, 5.0, 0.5);
	/* Aim: 0 +- 0.6 g; its mean of 60 is known to 0.08 g. */
	assert_within(led_g, 0.0, 0.25);
	assert_true(led_sd_g < 0.65);
}

static void slowing_down_ends_within_two_tenths(void **state)
{
	struct cue_pour pour = {
	        .cued = true, .tapers = true, .reaction_s = 0.23, .tip_back_s = 0.25};
	double mean_g, sd_g;

	(void)state;
	pour_many(pour, &mean_g, &sd_g);
	assert_within(mean_g, 0.0, 0.2);
	assert_true(sd_g < 0.25);
}

static void the_bench_persons_own_stops_teach_their_reaction(void **state)
{
	static const double truth_s[] = {0.23, 0.35};

	(void)state;
	for (int i = 0; i < 2; i++) {
		struct cue_pour pour = {.cued = true, .reaction_s = truth_s[i], .tip_back_s = 0.25};
		struct reactions reactions;
		int learnt = 0;

		reaction_init(&reactions);
		pour.reactions = &reactions;
		for (uint64_t seed = 1; seed <= 25; seed++) {
			bool one;

			pour.seed = seed;
			pour.rate_g_per_s = 12.0;
			cue_pour(&pour, &one);
			learnt += one;
		}
		assert_in_range(learnt, 22, 25);
		assert_within(cue_pour_reaction_s(&reactions), truth_s[i], 0.05);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_cue_ends_where_the_plain_number_is_five_grams_over),
	        cmocka_unit_test(slowing_down_ends_within_two_tenths),
	        cmocka_unit_test(the_bench_persons_own_stops_teach_their_reaction),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
