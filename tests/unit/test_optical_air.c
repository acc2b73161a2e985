/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>

#include "daemon/casting/air.h"
#include "daemon/casting/optical.h"

/* A chip that lets a tenth through has the optical depth 1; twice as thick, a hundredth;
 * half the dose, the root of a tenth (Beer-Lambert). */
static void a_chip_tells_what_layers_let_through(void **state)
{
	struct optical_chip chip = {.dose_pct = 2.0, .thickness_mm = 5.0, .transmitted = 0.1};
	struct optical_layer layers[2];
	double eps;

	(void)state;
	assert_int_equal(optical_eps(&chip, &eps), 0);
	assert_close(eps, 0.1, 1e-15);
	layers[0] = (struct optical_layer){eps, eps, 2.0, 10.0};
	layers[1] = (struct optical_layer){eps, eps, 1.0, 5.0};
	assert_close(optical_seen(layers, 1, 1).low, 0.01, 1e-13);
	assert_close(optical_seen(&layers[1], 1, 1).high, sqrt(0.1), 1e-13);
	/* Over layers the depths add, so the shares multiply; seen from the lit side, twice. */
	assert_close(optical_seen(layers, 2, 1).low, 0.01 * sqrt(0.1), 1e-13);
	assert_close(optical_seen(layers, 2, 2).low, 1e-5, 1e-12);
	assert_within(optical_seen(layers, 0, 2).low, 1.0, 0.0);
}

static void mica_gets_a_range(void **state)
{
	struct optical_chip thin = {1.0, 2.0, 0.5}, thick = {1.0, 4.0, 0.35};
	struct optical_range eps, seen;
	struct optical_layer layer;

	(void)state;
	assert_int_equal(optical_eps_range(&thin, &thick, &eps), 0);
	assert_true(eps.low < eps.high);
	layer = (struct optical_layer){eps.low, eps.high, 1.0, 4.0};
	seen = optical_seen(&layer, 1, 1);
	assert_true(seen.low < seen.high);
	assert_close(seen.high, 0.35, 1e-12);
	assert_close(seen.low, 0.25, 1e-12);
	thick.thickness_mm = 2.0;
	assert_int_equal(optical_eps_range(&thin, &thick, &eps), -EINVAL);
	thin.transmitted = 1.0;
	assert_int_equal(optical_eps(&thin, &layer.eps_low), -EINVAL);
	thin.transmitted = 0.0;
	assert_int_equal(optical_eps(&thin, &layer.eps_low), -EINVAL);
	thin = (struct optical_chip){0.0, 2.0, 0.5};
	assert_int_equal(optical_eps(&thin, &layer.eps_low), -EINVAL);
}

/* The dew points of ISO 8502-4's own table, from memory, to its tenth of a degree. */
static void dew_points_are_the_tables(void **state)
{
	static const double table[][3] = {{20, 50, 9.3},  {20, 85, 17.4}, {25, 60, 16.7},
	                                  {30, 80, 26.2}, {10, 70, 4.8},  {15, 100, 15.0}};

	(void)state;
	for (size_t i = 0; i < sizeof table / sizeof *table; i++)
		assert_within(air_dew_point_degc(table[i][0], table[i][1]), table[i][2], 0.06);
	assert_true(isnan(air_dew_point_degc(20.0, 0.0)));
	assert_true(isnan(air_dew_point_degc(20.0, 101.0)));
	assert_true(isnan(air_dew_point_degc(70.0, 50.0)));
}

static void damp_air_is_warned_of(void **state)
{
	(void)state;
	assert_int_equal(air_warnings(20.0, 50.0, 20.0), 0);
	assert_int_equal(air_warnings(20.0, 70.0, 20.0), AIR_BLUSH);
	assert_int_equal(air_warnings(20.0, 86.0, 25.0), AIR_BLUSH | AIR_TOO_HUMID);
	/* 9.3 C dew point: a mould at 12.2 C is too near, at 12.4 C not. */
	assert_int_equal(air_warnings(20.0, 50.0, 12.2), AIR_NEAR_DEW);
	assert_int_equal(air_warnings(20.0, 50.0, 12.4), 0);
	assert_int_equal(air_warnings(20.0, 0.0, 20.0), -EINVAL);
	assert_int_equal(air_warnings(20.0, 50.0, (double)NAN), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_chip_tells_what_layers_let_through),
	        cmocka_unit_test(mica_gets_a_range),
	        cmocka_unit_test(dew_points_are_the_tables),
	        cmocka_unit_test(damp_air_is_warned_of),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
