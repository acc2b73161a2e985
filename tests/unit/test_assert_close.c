/* SPDX-License-Identifier: MIT */
/* The comparison every other test leans on must itself be able to fail. */
#include "tests/support/assert_close.h"

#include <math.h>

static void close_values_pass(void **state)
{
	(void)state;
	assert_close(1.0 + 1e-12, 1.0, 1e-11);
	assert_close(0.0, 0.0, 0.0);
	assert_within(0.09, 0.0, 0.1);
}

static void far_values_fail(void **state)
{
	(void)state;
	assert_int_equal(close_enough(1.001, 1.0, 1e-4), 0);
	assert_int_equal(close_enough(-1.0, 1.0, 0.5), 0);
	assert_int_equal(within_enough(0.11, 0.0, 0.1), 0);
}

static void nan_is_never_close(void **state)
{
	(void)state;
	assert_int_equal(close_enough((double)NAN, 1.0, 1.0), 0);
	assert_int_equal(close_enough(1.0, (double)NAN, 1.0), 0);
	assert_int_equal(within_enough((double)NAN, (double)NAN, 1.0), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(close_values_pass),
		cmocka_unit_test(far_values_fail),
		cmocka_unit_test(nan_is_never_close),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
