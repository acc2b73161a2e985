/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>

#include "daemon/mixing/working_life.h"

static const struct resin_system label = {
        .working_life_s = 2400.0, .working_life_mass_g = 100.0, .working_life_degc = 20.0};

static void as_on_the_label_it_is_the_labels(void **state)
{
	(void)state;
	assert_within(working_life_s(&label, 100.0, 20.0), 2400.0, 0.0);
	assert_within(working_life_s(&label, 100.0, (double)NAN), 2400.0, 0.0);
}

static void cooler_or_less_never_lengthens_it(void **state)
{
	(void)state;
	assert_within(working_life_s(&label, 100.0, 5.0), 2400.0, 0.0);
	assert_within(working_life_s(&label, 10.0, 20.0), 2400.0, 0.0);
	assert_within(working_life_s(&label, 10.0, -10.0), 2400.0, 0.0);
	/* And what the one takes the other does not give back. */
	assert_within(working_life_s(&label, 10.0, 30.0), 1200.0, 1e-9);
	assert_close(working_life_s(&label, 800.0, 5.0), 1200.0, 1e-14);
}

/* Arrhenius at E = 51.2 kJ/mol, R = 8.314462618 J/(mol K) (CODATA 2018): the rate
 * doubles from 20 to 30 C. */
static void ten_kelvin_warmer_halves_it(void **state)
{
	double doubling = exp(51200.0 / 8.314462618 * (1.0 / 293.15 - 1.0 / 303.15));

	(void)state;
	assert_within(doubling, 2.0, 0.001);
	assert_close(working_life_s(&label, 100.0, 30.0), 2400.0 / doubling, 0.001);
	assert_close(working_life_s(&label, 100.0, 40.0), 600.0, 1e-14);
	assert_close(working_life_s(&label, 100.0, 25.0), 2400.0 / sqrt(2.0), 1e-14);
}

/* Eight times the mass has half the loss a gram. Our own choice; the gel times
 * computed for one cup (39.85 min for 100 g, 36.79 for 500 g at 25 C, by integrating
 * cure and heat) fall less, so this errs to the short side. */
static void more_mass_shortens_it_by_the_cube_root(void **state)
{
	(void)state;
	assert_close(working_life_s(&label, 800.0, 20.0), 1200.0, 1e-14);
	assert_close(working_life_s(&label, 800.0, 30.0), 600.0, 1e-14);
	assert_true(working_life_s(&label, 500.0, 20.0) / working_life_s(&label, 100.0, 20.0) <
	            36.79 / 39.85);
}

static void it_never_grows_with_mass_or_temperature(void **state)
{
	(void)state;
	for (double mass_g = 1.0; mass_g < 5000.0; mass_g *= 1.3)
		for (double degc = -5.0; degc < 60.0; degc += 1.5) {
			double life_s = working_life_s(&label, mass_g, degc);

			assert_true(life_s > 0.0 && life_s <= 2400.0);
			assert_true(working_life_s(&label, mass_g * 1.1, degc) <= life_s);
			assert_true(working_life_s(&label, mass_g, degc + 1.0) <= life_s);
		}
}

static void nothing_is_promised_of_senseless_numbers(void **state)
{
	struct resin_system system = label;

	(void)state;
	assert_within(working_life_s(&label, 0.0, 20.0), 0.0, 0.0);
	assert_within(working_life_s(&label, -5.0, 20.0), 0.0, 0.0);
	assert_within(working_life_s(&label, (double)NAN, 20.0), 0.0, 0.0);
	assert_within(working_life_s(&label, (double)INFINITY, 20.0), 0.0, 0.0);
	assert_within(working_life_s(&label, 100.0, (double)-INFINITY), 0.0, 0.0);
	system.working_life_s = (double)NAN;
	assert_within(working_life_s(&system, 100.0, 20.0), 0.0, 0.0);
	system = label;
	system.working_life_mass_g = 0.0;
	assert_within(working_life_s(&system, 100.0, 20.0), 0.0, 0.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(as_on_the_label_it_is_the_labels),
	        cmocka_unit_test(cooler_or_less_never_lengthens_it),
	        cmocka_unit_test(ten_kelvin_warmer_halves_it),
	        cmocka_unit_test(more_mass_shortens_it_by_the_cube_root),
	        cmocka_unit_test(it_never_grows_with_mass_or_temperature),
	        cmocka_unit_test(nothing_is_promised_of_senseless_numbers),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
