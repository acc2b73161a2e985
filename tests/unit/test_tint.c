/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"
#include "tests/support/random.h"

#include <errno.h>
#include <math.h>

#include "daemon/mixing/tint.h"

static void a_share_of_the_mixed_mass_and_back(void **state)
{
	struct resin_system system = {.tint_max_pct = 0.0};

	(void)state;
	assert_close(tint_dose_g(330.0, 2.0), 6.6, 1e-15);
	assert_close(tint_share_pct(6.6, 330.0), 2.0, 1e-15);
	assert_close(tint_dose_g(346.1, tint_share_pct(6.6, 330.0)), 6.922, 1e-12);
	assert_within(tint_max_pct(&system), 5.0, 0.0); /* common practice, no source */
	system.tint_max_pct = 6.0;
	assert_within(tint_max_pct(&system), 6.0, 0.0);
	assert_within(tint_dose_g((double)NAN, 2.0), 0.0, 0.0);
	assert_within(tint_dose_g(330.0, (double)INFINITY), 0.0, 0.0);
	assert_within(tint_dose_g(-330.0, 2.0), 0.0, 0.0);
	assert_within(tint_share_pct(6.6, 0.0), 0.0, 0.0);
	assert_within(tint_share_pct((double)NAN, 330.0), 0.0, 0.0);
}

/* Two readings of 0.05 g: 0.0707 g, doubled, is 10 % of 1.41 g (USP <41> form). */
static void smallest_dose_is_two_readings_expanded(void **state)
{
	(void)state;
	assert_close(tint_smallest_dose_g(0.05, 0.1, 10.0), 2.0 * 0.05 * sqrt(2.0) / 0.10, 1e-14);
	assert_close(tint_smallest_dose_g(0.0, 0.1, 10.0), 0.82, 1e-14); /* 0.41 d floor */
	assert_true(isinf(tint_smallest_dose_g(0.05, 0.1, 0.0)));
	assert_true(isinf(tint_smallest_dose_g((double)NAN, 0.1, 10.0)));
	assert_true(isinf(tint_smallest_dose_g(-0.05, 0.1, 10.0)));
}

static void a_dilution_brings_the_dose_it_promises(void **state)
{
	double smallest_g = tint_smallest_dose_g(0.05, 0.1, 10.0);
	struct tint_dilution d;

	(void)state;
	assert_int_equal(tint_dilution(0.2, smallest_g, 100.0, 100.0, &d), 0);
	assert_close(d.portion_g * d.tint_g / (d.tint_g + d.carrier_g), 0.2, 1e-14);
	assert_close(d.portion_g - d.portion_carrier_g, 0.2, 1e-13);
	assert_close(d.share_pct, 100.0 * d.tint_g / (d.tint_g + d.carrier_g), 1e-14);
	assert_close(d.left_over_g, d.tint_g + d.carrier_g - d.portion_g, 1e-14);
	assert_true(d.tint_g >= smallest_g && d.portion_g >= smallest_g);
}

/* By drawing: readings of 0.05 g give a dose whose doubled spread is within the 10 %
 * that the smallest dose stands for. */
static void a_dilution_is_as_sure_as_the_smallest_dose(void **state)
{
	double smallest_g = tint_smallest_dose_g(0.05, 0.0, 10.0), squares = 0.0, spread;
	struct random random = {41};
	struct tint_dilution d;
	int trials = 100000;

	(void)state;
	assert_int_equal(tint_dilution(0.3, smallest_g, 1000.0, 1000.0, &d), 0);
	for (int i = 0; i < trials; i++) {
		double zero = 0.05 * random_normal(&random);
		double tint = d.tint_g + 0.05 * random_normal(&random) - zero;
		double total = d.tint_g + d.carrier_g + 0.05 * random_normal(&random) - zero;
		double portion = d.portion_g + 0.05 * sqrt(2.0) * random_normal(&random);
		double dose = portion * tint / total;

		squares += (dose / 0.3 - 1.0) * (dose / 0.3 - 1.0);
	}
	spread = 2.0 * sqrt(squares / trials);
	print_message("expanded uncertainty of a diluted dose: %.2f %%\n", 100.0 * spread);
	assert_true(spread <= 0.10);
	assert_true(spread > 0.05); /* and not bought with waste */
}

static void a_dilution_that_does_not_fit_is_not_offered(void **state)
{
	struct tint_dilution d;

	(void)state;
	assert_int_equal(tint_dilution(2.0, 1.0, 100.0, 100.0, &d), -EALREADY);
	assert_int_equal(tint_dilution(1.0, 1.0, 100.0, 100.0, &d), -EALREADY);
	assert_int_equal(tint_dilution(0.01, 1.0, 100.0, 100.0, &d), -ERANGE); /* 298 g of A */
	assert_int_equal(tint_dilution(0.01, 1.0, 300.0, 100.0, &d), 0);
	assert_int_equal(tint_dilution(0.01, 1.0, 300.0, 1.0, &d),
	                 -ERANGE); /* more A than planned */
	assert_int_equal(tint_dilution(0.0, 1.0, 100.0, 100.0, &d), -EINVAL);
	assert_int_equal(tint_dilution(0.1, (double)INFINITY, 100.0, 100.0, &d), -EINVAL);
	assert_int_equal(tint_dilution((double)NAN, 1.0, 100.0, 100.0, &d), -EINVAL);
	assert_int_equal(tint_dilution(0.1, 1.0, -1.0, 100.0, &d), -EINVAL);
	assert_int_equal(tint_dilution(1e-320, 1.0, 100.0, 100.0, &d), -ERANGE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_share_of_the_mixed_mass_and_back),
	        cmocka_unit_test(smallest_dose_is_two_readings_expanded),
	        cmocka_unit_test(a_dilution_brings_the_dose_it_promises),
	        cmocka_unit_test(a_dilution_is_as_sure_as_the_smallest_dose),
	        cmocka_unit_test(a_dilution_that_does_not_fit_is_not_offered),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
