/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>

#include "display/touch/beam.h"

static struct beam_scale scale_of(enum beam_side side, double target_g, double low_g, double high_g)
{
	struct beam_scale scale;

	beam_scale_begin(side, target_g, low_g, high_g, 45.0, &scale);
	return scale;
}

static const struct {
	double target_g, low_g, high_g;
} charges[] = {
        {102.4, 100.4, 104.4}, /* B of the demo */
        {227.6, 216.2, 400.0}, /* A: wide above */
        {11.1, 9.0, 13.3},     /* a top-up: nearly as wide as itself */
        {2500.0, 2499.0, 2501.0}, {5.0, 0.0, 50.0}, {0.5, 0.49, 0.51},
};
#define N_CHARGES (sizeof charges / sizeof *charges)

static void level_means_nothing_is_left(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_CHARGES; i++)
		for (int side = BEAM_A; side <= BEAM_B; side++) {
			struct beam_scale scale =
			        scale_of((enum beam_side)side, charges[i].target_g,
			                 charges[i].low_g, charges[i].high_g);

			assert_within(beam_pointer_mm(&scale, 0.0), 0.0, 0.0);
			assert_within(beam_tilt_rad(&scale, 0.0), 0.0, 0.0);
		}
}

static void notches_stand_twenty_millimetres_apart(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_CHARGES; i++) {
		struct beam_scale scale =
		        scale_of(BEAM_B, charges[i].target_g, charges[i].low_g, charges[i].high_g);
		double low = beam_pointer_mm(&scale, scale.half_low_g);
		double high = beam_pointer_mm(&scale, -scale.half_high_g);

		assert_true(high - low >= BEAM_NOTCHES_MM);
		assert_within(low, -scale.notch_mm, 1e-9);
		assert_within(high, scale.notch_mm, 1e-9);
	}
}

/* 10 000 masses from nothing to far over: the pointer goes one way only. */
static void the_pointer_never_moves_against_the_mass(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_CHARGES; i++)
		for (int side = BEAM_A; side <= BEAM_B; side++) {
			struct beam_scale scale =
			        scale_of((enum beam_side)side, charges[i].target_g,
			                 charges[i].low_g, charges[i].high_g);
			double before = beam_pointer_mm(&scale, charges[i].target_g), moved = 0.0;

			for (int n = 1; n <= 10000; n++) {
				double poured = charges[i].target_g * 1.5 * n / 10000.0;
				double now = beam_pointer_mm(&scale, charges[i].target_g - poured);
				double step = side == BEAM_A ? before - now : now - before;

				assert_true(step >= 0.0);
				moved += step;
				before = now;
			}
			assert_true(moved > scale.notch_mm);
		}
}

static void the_heavier_side_is_where_the_pointer_stands(void **state)
{
	struct beam_scale a = scale_of(BEAM_A, 227.6, 216.2, 400.0);
	struct beam_scale b = scale_of(BEAM_B, 102.4, 100.4, 104.4);

	(void)state;
	/* Empty cup: B's ghost is the heavier. A is in and B is not: A. */
	assert_true(beam_pointer_mm(&a, 227.6) > 0.0 && beam_tilt_rad(&a, 227.6) > 0.0);
	assert_true(beam_pointer_mm(&b, 102.4) < 0.0 && beam_tilt_rad(&b, 102.4) < 0.0);
	/* Too much tips it the other way. */
	assert_true(beam_pointer_mm(&a, -50.0) < 0.0);
	assert_true(beam_pointer_mm(&b, -5.0) > 0.0);
}

static void the_whole_charge_is_on_the_rail(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_CHARGES; i++) {
		struct beam_scale scale =
		        scale_of(BEAM_B, charges[i].target_g, charges[i].low_g, charges[i].high_g);
		double start = -beam_pointer_mm(&scale, charges[i].target_g);

		assert_true(start <= scale.full_mm);
		/* At the start it stands at the rail's end, unless linear is enough. */
		if (scale.k > 0.0)
			assert_within(start, scale.full_mm, 1e-6);
		assert_true(beam_pointer_mm(&scale, -1e9) <= scale.full_mm);
	}
}

static void the_slope_does_not_jump_at_a_notch(void **state)
{
	struct beam_scale scale = scale_of(BEAM_B, 102.4, 100.4, 104.4);
	double h = scale.half_low_g, e = 1e-5;
	double inside = (beam_pointer_mm(&scale, h - e) - beam_pointer_mm(&scale, h)) / e;
	double outside = (beam_pointer_mm(&scale, h) - beam_pointer_mm(&scale, h + e)) / e;

	(void)state;
	assert_close(outside, inside, 1e-3);
}

static void doubt_is_as_wide_as_the_grams_it_stands_for(void **state)
{
	struct beam_scale scale = scale_of(BEAM_B, 102.4, 100.4, 104.4);

	(void)state;
	assert_within(beam_doubt_mm(&scale, 0.0, 0.5), scale.notch_mm * 0.5 / 2.0, 1e-9);
	assert_true(beam_doubt_mm(&scale, 80.0, 0.5) < beam_doubt_mm(&scale, 0.0, 0.5));
}

/* The law of the lever (Archimedes): arm times weight is equal on both sides. */
static void arms_are_in_the_mixing_ratio(void **state)
{
	(void)state;
	for (double r = 0.25; r <= 4.0; r += 0.05) {
		double a = beam_arm_a_share(r);

		assert_close(a * 1.0, (1.0 - a) * r, 1e-12);
	}
	/* Drawn no further than one to four. */
	assert_within(beam_arm_a_share(0.1), 0.2, 0.0);
	assert_within(beam_arm_a_share(10.0), 0.8, 0.0);
	assert_within(beam_arm_a_share((double)NAN), 0.5, 0.0);
	assert_within(beam_arm_a_share(0.0), 0.5, 0.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(level_means_nothing_is_left),
	        cmocka_unit_test(notches_stand_twenty_millimetres_apart),
	        cmocka_unit_test(the_pointer_never_moves_against_the_mass),
	        cmocka_unit_test(the_heavier_side_is_where_the_pointer_stands),
	        cmocka_unit_test(the_whole_charge_is_on_the_rail),
	        cmocka_unit_test(the_slope_does_not_jump_at_a_notch),
	        cmocka_unit_test(doubt_is_as_wide_as_the_grams_it_stands_for),
	        cmocka_unit_test(arms_are_in_the_mixing_ratio),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
