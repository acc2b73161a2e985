/* SPDX-License-Identifier: MIT */
/* Least squares against NIST's certified values, and the calibration made from them.
 * The tables name their sources in their first lines. */
#include "tests/support/assert_close.h"
#include "tests/support/csv.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "daemon/weighing/calibrate.h"

static struct fit fit_file(const char *path, int degree)
{
	struct csv *csv = csv_read(path);
	double *x = csv_column(csv, "x"), *y = csv_column(csv, "y");
	struct fit fit;

	assert_int_equal(fit_polynomial(x, y, csv_rows(csv), degree, 0.0, &fit), 0);
	free(x);
	free(y);
	csv_free(csv);
	return fit;
}

static double certified(const char *path, const char *key)
{
	struct csv *csv = csv_read(path);
	double value = csv_header(csv, key);

	csv_free(csv);
	return value;
}

#define PONTIUS  AMBO_TEST_DATA "/nist_strd_pontius.csv"
#define NORRIS   AMBO_TEST_DATA "/nist_strd_norris.csv"
#define LOADCELL AMBO_TEST_DATA "/nist_ehandbook_loadcell.csv"

/* NIST StRD Pontius. */
static void pontius_quadratic_has_the_certified_digits(void **state)
{
	struct fit fit = fit_file(PONTIUS, 2);

	(void)state;
	assert_close(fit.b[0], certified(PONTIUS, "B0"), 1e-11);
	assert_close(fit.b[1], certified(PONTIUS, "B1"), 1e-12);
	assert_close(fit.b[2], certified(PONTIUS, "B2"), 1e-11);
	assert_close(fit.b_sd[0], 0.107938612033077E-03, 1e-11);
	assert_close(fit.b_sd[1], 0.157817399981659E-09, 1e-11);
	assert_close(fit.b_sd[2], 0.486652849992036E-16, 1e-11);
	assert_close(fit.residual_sd, certified(PONTIUS, "residual_sd"), 1e-11);
	assert_true(fit.judged);
	assert_false(fit.refused);
}

/* NIST/SEMATECH e-Handbook 4.6.1.5: the straight line on the same data. The handbook
 * prints what a single-precision program gave: residual sd 0.0021712694, F 214.7464
 * against 2.15. Exact rational arithmetic on the same 40 points gives the longer
 * figures here, 2 in a million away. */
static void pontius_straight_line_is_refused(void **state)
{
	struct fit fit = fit_file(PONTIUS, 1);

	(void)state;
	assert_close(fit.residual_sd, 0.0021712694, 3e-6);
	assert_close(fit.residual_sd, 0.0021712725960567505, 1e-12);
	assert_true(fit.judged);
	assert_within(fit.lack_df, 18.0, 0.0);
	assert_within(fit.replication_df, 20.0, 0.0);
	assert_close(fit.lack_f, 214.7464, 3e-6);
	assert_close(fit.lack_f, 214.74692365390877, 1e-11);
	assert_close(fit.replication_sd, 0.00021472657031676353, 1e-11);
	assert_within(fit.lack_critical_f, 2.15, 0.005);
	assert_true(fit.lack_p < 1e-15);
	assert_true(fit.refused);
}

/* NIST StRD Norris. */
static void norris_line_has_the_certified_digits(void **state)
{
	struct fit fit = fit_file(NORRIS, 1);

	(void)state;
	assert_close(fit.b[0], certified(NORRIS, "B0"), 1e-12);
	assert_close(fit.b[1], certified(NORRIS, "B1"), 1e-14);
	assert_close(fit.b_sd[0], 0.232818234301152, 1e-12);
	assert_close(fit.b_sd[1], 0.429796848199937E-03, 1e-12);
	assert_close(fit.residual_sd, certified(NORRIS, "residual_sd"), 1e-12);
	assert_true(fit.b[2] == 0.0 && fit.b_sd[2] == 0.0);
}

/* NIST/SEMATECH e-Handbook 2.3.6.5; coefficients in exact rational arithmetic. */
static void load_cell_quadratic_and_its_inverse(void **state)
{
	struct fit fit = fit_file(LOADCELL, 2);

	(void)state;
	assert_close(fit.b[0], certified(LOADCELL, "a"), 1e-9);
	assert_close(fit.b[1], certified(LOADCELL, "b"), 1e-12);
	assert_close(fit.b[2], certified(LOADCELL, "c"), 1e-9);
	assert_close(fit.residual_sd, certified(LOADCELL, "residual_sd"), 1e-10);
	assert_close(fit.replication_sd, certified(LOADCELL, "replication_sd"), 1e-10);
	assert_within(fit_inverse(&fit, 1.0), 9.982945020, 0.5e-9);
	for (double x = 2.0; x <= 21.0; x += 0.25)
		assert_close(fit_inverse(&fit, fit_value(&fit, x)), x, 1e-13);
}

/* The same curve whatever is added to x: nothing is lost to a large offset, as the
 * code of a cell's empty pan is. */
static void a_large_offset_costs_no_digits(void **state)
{
	double x[9], y[9];
	struct fit fit;

	(void)state;
	for (int i = 0; i < 9; i++) {
		double d = i - 4;

		x[i] = 8388608.0 + d;
		y[i] = 3.0 + 0.25 * d - 0.125 * d * d;
	}
	assert_int_equal(fit_polynomial(x, y, 9, 2, 0.0, &fit), 0);
	assert_within(fit.residual_sd, 0.0, 1e-14);
	for (int i = 0; i < 9; i++)
		assert_within(fit_value(&fit, x[i]), y[i], 1e-14);
}

static void without_repeats_nothing_is_judged(void **state)
{
	const double x[] = {0, 1, 2, 3}, y[] = {0, 1, 4, 9};
	const double xr[] = {0, 0, 1, 1, 2, 2}, yr[] = {0, 0, 1, 1, 4, 4};
	struct fit fit;

	(void)state;
	assert_int_equal(fit_polynomial(x, y, 4, 1, 0.0, &fit), 0);
	assert_false(fit.judged || fit.refused);
	/* Repeats that agree to the digit: judged only by the step they were read in. */
	assert_int_equal(fit_polynomial(xr, yr, 6, 1, 0.0, &fit), 0);
	assert_false(fit.judged || fit.refused);
	assert_int_equal(fit_polynomial(xr, yr, 6, 1, 0.1, &fit), 0);
	assert_true(fit.judged && fit.refused);
	assert_int_equal(fit_polynomial(xr, yr, 6, 1, 10.0, &fit), 0);
	assert_true(fit.judged && !fit.refused);
}

static void what_cannot_be_fitted_is_refused(void **state)
{
	double x[FIT_POINTS_MAX + 1] = {0, 1, 2, 3, 4}, y[FIT_POINTS_MAX + 1] = {0, 1, 2, 3, 5};
	const double same[] = {2, 2, 2, 2};
	struct fit fit;

	(void)state;
	assert_int_equal(fit_polynomial(x, y, 5, 0, 0.0, &fit), -EINVAL);
	assert_int_equal(fit_polynomial(x, y, 5, 3, 0.0, &fit), -EINVAL);
	assert_int_equal(fit_polynomial(x, y, 5, 1, -1.0, &fit), -EINVAL);
	assert_int_equal(fit_polynomial(x, y, FIT_POINTS_MAX + 1, 1, 0.0, &fit), -EINVAL);
	assert_int_equal(fit_polynomial(x, y, 0, 1, 0.0, &fit), -ENODATA);
	assert_int_equal(fit_polynomial(x, y, 2, 1, 0.0, &fit), -ENODATA);
	assert_int_equal(fit_polynomial(x, y, 3, 2, 0.0, &fit), -ENODATA);
	assert_int_equal(fit_polynomial(same, y, 4, 1, 0.0, &fit), -ENODATA);
	x[2] = (double)NAN;
	assert_int_equal(fit_polynomial(x, y, 5, 1, 0.0, &fit), -EINVAL);
	x[2] = 2.0;
	y[4] = (double)INFINITY;
	assert_int_equal(fit_polynomial(x, y, 5, 1, 0.0, &fit), -EINVAL);
	y[4] = 1e300;
	assert_int_equal(fit_polynomial(x, y, 5, 1, 0.0, &fit), -EINVAL);
}

/* ---- from loads to a calibration ---- */

static size_t loads_from(const char *path, double scale, struct calibration_load *loads)
{
	struct csv *csv = csv_read(path);
	size_t n = csv_rows(csv);

	for (size_t i = 0; i < n; i++)
		loads[i] = (struct calibration_load){csv_number(csv, i, "x"),
		                                     scale * csv_number(csv, i, "y"), LOAD_RISING};
	csv_free(csv);
	return n;
}

/* Pontius as a calibration: codes are the deflection times 10^7. */
static void bending_loads_are_calibrated_by_a_parabola(void **state)
{
	struct calibration_load loads[FIT_POINTS_MAX];
	size_t n = loads_from(PONTIUS, 1e7, loads);
	struct calibration_report report;
	struct calibration calibration;

	(void)state;
	assert_int_equal(calibrate(loads, n, &calibration, &report), 0);
	assert_true(report.straight.refused);
	assert_close(report.straight.lack_f, 214.7464, 3e-6);
	assert_int_equal(calibration.degree, 2);
	assert_int_equal(report.chosen.degree, 2);
	assert_int_equal(calibration_check(&calibration, 3.3e6), 0);
	for (size_t i = 0; i < n; i++)
		assert_within(calibration_mass_g(&calibration, loads[i].counts), loads[i].mass_g,
		              4.0 * calibration.residual_sd_g);
	assert_within(calibration_mass_g(&calibration, calibration.zero_counts), 0.0, 0.0);
}

static void straight_loads_are_calibrated_by_a_line(void **state)
{
	const double off_counts[] = {3, -2, 1, -4, 2, 0};
	struct calibration_load loads[12];
	struct calibration_report report;
	struct calibration calibration;

	(void)state;
	for (size_t i = 0; i < 12; i++) {
		loads[i].mass_g = 500.0 * (double)(i % 6);
		loads[i].counts =
		        190000.0 + 429.5 * loads[i].mass_g + off_counts[(5 * i + i / 6) % 6];
	}
	calibrate_directions(loads, 6);
	calibrate_directions(loads + 6, 6);
	assert_int_equal(calibrate(loads, 12, &calibration, &report), 0);
	assert_true(report.straight.judged);
	assert_int_equal(calibration.degree, 1);
	assert_true(calibration.g_per_count2 == 0.0);
	assert_close(calibration.g_per_count, 1.0 / 429.5, 1e-5);
	assert_within(calibration.zero_counts, 190000.0, 5.0);
	assert_true(calibration.residual_sd_g > 0.0 && calibration.residual_sd_g < 0.01);
	assert_within(report.hysteresis_g, 0.0, 0.0);
}

static void falling_loads_are_reported_and_not_fitted_through(void **state)
{
	struct calibration_load loads[9], rising[5];
	struct calibration_report report;
	struct calibration with, without;

	(void)state;
	for (int i = 0; i < 9; i++) { /* 0..2000 g and back, 0.6 g of hysteresis half-way */
		double share = i <= 4 ? i / 4.0 : (8 - i) / 4.0;
		double late_g = i <= 4 ? 0.0 : 4.0 * 0.6 * share * (1.0 - share);

		loads[i].mass_g = 2000.0 * share;
		loads[i].counts = 1000.0 + 400.0 * (loads[i].mass_g + late_g);
	}
	calibrate_directions(loads, 9);
	for (int i = 0; i < 9; i++)
		assert_int_equal(loads[i].direction, i <= 4 ? LOAD_RISING : LOAD_FALLING);
	for (int i = 0; i < 5; i++)
		rising[i] = loads[i];
	assert_int_equal(calibrate(loads, 9, &with, &report), 0);
	assert_int_equal(report.n_rising, 5);
	assert_int_equal(report.n_falling, 4);
	assert_within(report.hysteresis_g, 0.6, 1e-9);
	assert_within(report.greatest_residual_g, 0.0, 1e-9);
	assert_int_equal(calibrate(rising, 5, &without, &report), 0);
	assert_true(with.g_per_count == without.g_per_count);
	assert_true(with.zero_counts == without.zero_counts);
}

static void loads_that_make_no_calibration_are_refused(void **state)
{
	struct calibration_load loads[12];
	struct calibration_report report;
	struct calibration calibration;

	(void)state;
	for (int i = 0; i < 12; i++) {
		double mass_g = i / 2;

		loads[i] =
		        (struct calibration_load){mass_g, -1000.0 * mass_g + (i % 2), LOAD_RISING};
	}
	assert_int_equal(calibrate(loads, 12, &calibration, &report), -EDOM);
	for (int i = 0; i < 12; i++)
		loads[i].counts = 1000.0 * sin(loads[i].mass_g) + (i % 2);
	assert_int_equal(calibrate(loads, 12, &calibration, &report), -ERANGE);
	assert_true(report.straight.refused && report.chosen.refused);
	assert_int_equal(calibrate(loads, 2, &calibration, &report), -ENODATA);
	assert_int_equal(calibrate(loads, 0, &calibration, &report), -ENODATA);
	loads[3].counts = (double)NAN;
	assert_int_equal(calibrate(loads, 12, &calibration, &report), -EINVAL);
}

/* ---- the calibration itself ---- */

static void calibration_goes_there_and_back(void **state)
{
	const double curvature[] = {0.0, 2e-12, -2e-12};

	(void)state;
	for (int k = 0; k < 3; k++) {
		struct calibration c = {
		        .degree = k == 0 ? 1 : 2,
		        .zero_counts = 190123.5,
		        .g_per_count = 1.0 / 429.5,
		        .g_per_count2 = curvature[k],
		};

		assert_int_equal(calibration_check(&c, 5000.0), 0);
		for (double mass_g = -5000.0; mass_g <= 5000.0; mass_g += 7.25) {
			double counts = calibration_counts(&c, mass_g);

			assert_within(calibration_mass_g(&c, counts), mass_g, 1e-8);
			assert_true(calibration_mass_g(&c, counts + 1.0) > mass_g);
		}
	}
}

static void calibrations_without_meaning_are_refused(void **state)
{
	const struct calibration good = {2, 1000.0, 0.0025, 1e-12, 0.01};
	struct calibration c;

	(void)state;
	assert_int_equal(calibration_check(&good, 5000.0), 0);
#define REFUSED(field, value, error)                                                               \
	do {                                                                                       \
		c = good;                                                                          \
		c.field = (value);                                                                 \
		assert_int_equal(calibration_check(&c, 5000.0), error);                            \
	} while (0)
	REFUSED(degree, 0, -EINVAL);
	REFUSED(degree, 3, -EINVAL);
	REFUSED(degree, 1, -EINVAL); /* with a curvature */
	REFUSED(zero_counts, (double)NAN, -EINVAL);
	REFUSED(g_per_count, 0.0, -EINVAL);
	REFUSED(g_per_count, -0.0025, -EINVAL);
	REFUSED(g_per_count, (double)INFINITY, -EINVAL);
	REFUSED(g_per_count2, (double)NAN, -EINVAL);
	REFUSED(g_per_count2, 1e-9, -ERANGE); /* turns over at 1562.5 g */
	REFUSED(g_per_count2, -1e-9, -ERANGE);
	REFUSED(residual_sd_g, -0.1, -EINVAL);
#undef REFUSED
	assert_int_equal(calibration_check(&good, 0.0), -EINVAL);
	assert_int_equal(calibration_check(&good, (double)NAN), -EINVAL);
	c = good;
	c.g_per_count2 = -1e-9;
	assert_true(isnan(calibration_counts(&c, 1600.0)));
	assert_true(isfinite(calibration_counts(&c, 1500.0)));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(pontius_quadratic_has_the_certified_digits),
	        cmocka_unit_test(pontius_straight_line_is_refused),
	        cmocka_unit_test(norris_line_has_the_certified_digits),
	        cmocka_unit_test(load_cell_quadratic_and_its_inverse),
	        cmocka_unit_test(a_large_offset_costs_no_digits),
	        cmocka_unit_test(without_repeats_nothing_is_judged),
	        cmocka_unit_test(what_cannot_be_fitted_is_refused),
	        cmocka_unit_test(bending_loads_are_calibrated_by_a_parabola),
	        cmocka_unit_test(straight_loads_are_calibrated_by_a_line),
	        cmocka_unit_test(falling_loads_are_reported_and_not_fitted_through),
	        cmocka_unit_test(loads_that_make_no_calibration_are_refused),
	        cmocka_unit_test(calibration_goes_there_and_back),
	        cmocka_unit_test(calibrations_without_meaning_are_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
