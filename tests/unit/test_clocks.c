/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>

#include "daemon/casting/clocks.h"
#include "tests/support/json_number.h"
#include "tests/support/random.h"

static const struct cure *fast = &casting_resin_fast.cure;

static struct clocks poured(double degc)
{
	struct clocks clocks;

	clocks_init(&clocks, 0.0, degc, 0.0);
	return clocks;
}

/* The reference's 20609.4 s is without vitrification; below gel that matters 1.5 %. */
static void at_one_temperature_they_tell_the_closed_form(void **state)
{
	struct cure cure = *fast;
	struct clocks clocks = poured(25.0);

	(void)state;
	cure.vitrification = 0.0;
	assert_int_equal(clocks_step(&clocks, &cure, 200000.0, 25.0), 0);
	assert_close(clocks.at_s[CLOCK_GEL],
	             json_number_at(AMBO_TEST_DATA "/cure_reference.json",
	                            "R0_isothermal/FAST_25C/t_alpha_0.5774_s"),
	             2e-6);
	assert_close(clocks.at_s[CLOCK_HANDLE],
	             json_number_at(AMBO_TEST_DATA "/cure_reference.json",
	                            "R0_isothermal/FAST_25C/t_alpha_0.7500_s"),
	             2e-6);
}

static void events_come_in_order_and_once(void **state)
{
	struct clocks clocks = poured(25.0);
	double first[CLOCK_EVENTS];

	(void)state;
	for (int h = 1; h <= 200; h++) {
		assert_int_equal(clocks_step(&clocks, fast, 3600.0 * h, 25.0), 0);
		for (int e = 0; e < CLOCK_EVENTS; e++) {
			if (h > 1 && !isnan(first[e]))
				assert_within(clocks.at_s[e], first[e], 0.0);
			if (!isnan(clocks.at_s[e]))
				assert_true(clocks.at_s[e] <= 3600.0 * h);
			first[e] = clocks.at_s[e];
		}
	}
	assert_true(isnan(clocks.at_s[CLOCK_HOLDS])); /* never taught */
	for (int e = CLOCK_GEL; e < CLOCK_EVENTS; e++)
		assert_true(clocks.at_s[e] > clocks.at_s[e - 1]);
	/* The bond closes where Tg is 10 K over the room: at that conversion. */
	{
		struct clocks again = poured(25.0);

		assert_int_equal(clocks_step(&again, fast, clocks.at_s[CLOCK_BOND_CLOSES], 25.0),
		                 0);
		assert_within(cure_tg_degc(fast, again.conversion), 35.0, 1e-3);
	}
}

/* However the readings are cut, the same comes out: a value carried from step to step. */
static void many_readings_are_as_good_as_one(void **state)
{
	struct clocks whole = poured(22.0), cut = poured(22.0);
	struct random random = {7};
	double t_s = 0.0;

	(void)state;
	assert_int_equal(clocks_step(&whole, fast, 300000.0, 22.0), 0);
	while (t_s < 300000.0) {
		t_s = fmin(t_s + random_between(&random, 1.0, 3000.0), 300000.0);
		assert_int_equal(clocks_step(&cut, fast, t_s, 22.0), 0);
	}
	assert_within(cut.conversion, whole.conversion, 2e-6);
	assert_close(cut.at_s[CLOCK_GEL], whole.at_s[CLOCK_GEL], 2e-5);
	assert_close(cut.at_s[CLOCK_BOND_CLOSES], whole.at_s[CLOCK_BOND_CLOSES], 2e-5);
	assert_close(cut.equivalent_s, whole.equivalent_s, 1e-12);
}

/* A slow plain integration of the same, by Euler's midpoint in two-second steps, over a
 * room that warms and cools. */
static void a_swinging_room_is_followed(void **state)
{
	struct clocks clocks = poured(20.0);
	double a = 0.0, gel_s = NAN, equivalent = 0.0, dt = 2.0;

	(void)state;
	for (int i = 1; i <= 1440; i++)
		assert_int_equal(clocks_step(&clocks, fast, 60.0 * i, 20.0 + 5.0 * sin(i * 0.01)),
		                 0);
	for (int k = 0; k < 1440 * 30; k++) {
		double minute = (k * dt + dt / 2.0) / 60.0, low = floor(minute);
		double degc =
		        20.0 + 5.0 * (sin(low * 0.01) +
		                      (minute - low) * (sin((low + 1.0) * 0.01) - sin(low * 0.01)));
		double t_k = degc + 273.15;
		double middle = a + dt / 2.0 * cure_rate_per_s(fast, t_k, a);

		a += dt * cure_rate_per_s(fast, t_k, middle);
		if (isnan(gel_s) && a >= fast->gel_conversion)
			gel_s = (k + 1) * dt;
		equivalent += dt * exp(58600.0 / 8.314462618 * (1.0 / 298.15 - 1.0 / t_k));
	}
	assert_within(clocks.conversion, a, 2e-6);
	assert_within(clocks.at_s[CLOCK_GEL], gel_s, 2.5);
	assert_close(clocks.equivalent_s, equivalent, 1e-7);
}

/* Twice as fast ten kelvin warmer at E = 51.2 kJ/mol from 20 to 30 C, exactly; 2.21 at
 * 58.6 (computed). */
static void ten_kelvin_halve_the_times(void **state)
{
	struct cure cure = *fast;
	struct clocks cool = poured(20.0), warm = poured(30.0);

	(void)state;
	cure.vitrification = 0.0;
	assert_int_equal(clocks_step(&cool, &cure, 1e6, 20.0), 0);
	assert_int_equal(clocks_step(&warm, &cure, 1e6, 30.0), 0);
	assert_within(cool.at_s[CLOCK_GEL] / warm.at_s[CLOCK_GEL], 2.21, 0.005);
	cure.e1_j_per_mol = cure.e2_j_per_mol = 51.2e3;
	cool = poured(20.0);
	warm = poured(30.0);
	cure.a1_per_s *= 0.05;
	cure.a2_per_s *= 0.05;
	assert_int_equal(clocks_step(&cool, &cure, 1e6, 20.0), 0);
	assert_int_equal(clocks_step(&warm, &cure, 1e6, 30.0), 0);
	assert_within(cool.at_s[CLOCK_GEL] / warm.at_s[CLOCK_GEL], 2.0, 0.001);
}

/* "Holds now" after an hour at 25 C: at 35 C it comes earlier by the rates' ratio. It
 * moves no other clock. */
static void holds_is_learnt_as_equivalent_time(void **state)
{
	struct clocks first = poured(25.0), untaught, warm = poured(35.0);
	double kept;

	(void)state;
	assert_int_equal(clocks_step(&first, fast, 3600.0, 25.0), 0);
	untaught = first;
	kept = clocks_teach_holds(&first);
	assert_close(kept, 3600.0, 1e-12);
	assert_within(first.at_s[CLOCK_HOLDS], 3600.0, 0.0);
	warm.holds_equivalent_s = kept;
	for (int i = 1; i <= 120; i++)
		assert_int_equal(clocks_step(&warm, fast, 60.0 * i, 35.0), 0);
	assert_close(warm.at_s[CLOCK_HOLDS],
	             3600.0 / exp(58600.0 / 8.314462618 * (1.0 / 298.15 - 1.0 / 308.15)), 1e-9);
	assert_int_equal(clocks_step(&first, fast, 1e6, 25.0), 0);
	assert_int_equal(clocks_step(&untaught, fast, 1e6, 25.0), 0);
	for (int e = CLOCK_STICKY; e < CLOCK_EVENTS; e++)
		assert_within(first.at_s[e], untaught.at_s[e], 0.0);
}

static void looking_ahead_changes_nothing(void **state)
{
	struct clocks clocks = poured(25.0), ahead, before;

	(void)state;
	assert_int_equal(clocks_step(&clocks, fast, 7200.0, 24.0), 0);
	before = clocks;
	assert_int_equal(clocks_ahead(&clocks, fast, 20.0, 1e6, &ahead), 0);
	assert_memory_equal(&clocks, &before, sizeof clocks);
	assert_true(ahead.at_s[CLOCK_GEL] > 7200.0);
	/* Colder from now on: later than if it stayed. */
	{
		struct clocks same;

		assert_int_equal(clocks_ahead(&clocks, fast, 24.0, 1e6, &same), 0);
		assert_true(ahead.at_s[CLOCK_GEL] > same.at_s[CLOCK_GEL]);
		assert_int_equal(clocks_step(&clocks, fast, 1e6, 24.0), 0);
		assert_close(clocks.at_s[CLOCK_GEL], same.at_s[CLOCK_GEL], 1e-9);
	}
}

static void a_reading_that_cannot_be_changes_nothing(void **state)
{
	struct clocks clocks = poured(25.0), before;

	(void)state;
	assert_int_equal(clocks_step(&clocks, fast, 100.0, 25.0), 0);
	before = clocks;
	assert_int_equal(clocks_step(&clocks, fast, 99.0, 25.0), -EINVAL);
	assert_int_equal(clocks_step(&clocks, fast, 200.0, 300.0), -EINVAL);
	assert_int_equal(clocks_step(&clocks, fast, (double)NAN, 25.0), -EINVAL);
	assert_int_equal(clocks_step(&clocks, fast, 200.0, (double)NAN), -EINVAL);
	assert_memory_equal(&clocks, &before, sizeof clocks);
	assert_int_equal(clocks_step(&clocks, fast, 100.0, 25.0),
	                 0); /* the same again is no harm */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(at_one_temperature_they_tell_the_closed_form),
	        cmocka_unit_test(events_come_in_order_and_once),
	        cmocka_unit_test(many_readings_are_as_good_as_one),
	        cmocka_unit_test(a_swinging_room_is_followed),
	        cmocka_unit_test(ten_kelvin_halve_the_times),
	        cmocka_unit_test(holds_is_learnt_as_equivalent_time),
	        cmocka_unit_test(looking_ahead_changes_nothing),
	        cmocka_unit_test(a_reading_that_cannot_be_changes_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
