/* SPDX-License-Identifier: MIT */
/* A table of 17 weights of +-1.5 kg against the code of a real load cell, which stays
 * with its owner: AMBO_TRACES names the folder that has it. */
#include "tests/support/assert_close.h"
#include "tests/support/csv.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/weighing/calibrate.h"

#define ROWS       17u
#define RESIDUAL_G 0.315 /* 0.31 g, to the digits it was given with */

static void read_loads(struct calibration_load loads[ROWS])
{
	char path[4096];
	struct csv *csv;

	snprintf(path, sizeof(path), "%s/recorded_hx711_calibration_weights.csv",
	         getenv("AMBO_TRACES"));
	csv = csv_read(path);
	assert_int_equal(csv_rows(csv), ROWS);
	for (size_t i = 0; i < ROWS; i++) {
		loads[i].mass_g = csv_number(csv, i, "Weight");
		loads[i].counts = csv_number(csv, i, "Reading");
		/* Pushed one way, pulled the other; the empty cell was read on the pull. */
		loads[i].direction = loads[i].mass_g > 0.0 ? LOAD_RISING : LOAD_FALLING;
	}
	csv_free(csv);
}

static void one_load_direction_lies_on_a_line_within_0_31_g(void **state)
{
	struct calibration_load loads[ROWS];
	struct calibration_report report;
	struct calibration calibration;

	(void)state;
	read_loads(loads);
	assert_int_equal(calibrate(loads, ROWS, &calibration, &report), 0);
	print_message("pushed: greatest residual %.3f g, sd %.3f g, %.3f counts/g\n",
	              report.greatest_residual_g, calibration.residual_sd_g,
	              1.0 / calibration.g_per_count);
	assert_int_equal(report.n_rising, 8);
	assert_true(report.greatest_residual_g <= RESIDUAL_G);
	assert_false(report.straight.judged); /* no load was repeated */
	for (size_t i = 0; i < ROWS; i++)
		loads[i].direction = loads[i].direction == LOAD_RISING ? LOAD_FALLING : LOAD_RISING;
	assert_int_equal(calibrate(loads, ROWS, &calibration, &report), 0);
	print_message("pulled: greatest residual %.3f g, sd %.3f g, %.3f counts/g\n",
	              report.greatest_residual_g, calibration.residual_sd_g,
	              1.0 / calibration.g_per_count);
	assert_true(report.greatest_residual_g <= RESIDUAL_G);
}

static void the_other_direction_is_hysteresis_and_not_fitted_through(void **state)
{
	struct calibration_load loads[ROWS];
	struct calibration_report apart, together;
	struct calibration calibration;

	(void)state;
	read_loads(loads);
	assert_int_equal(calibrate(loads, ROWS, &calibration, &apart), 0);
	for (size_t i = 0; i < ROWS; i++)
		loads[i].direction = LOAD_RISING;
	assert_int_equal(calibrate(loads, ROWS, &calibration, &together), 0);
	print_message("between the directions %.1f g; one line through both wrong by %.1f g\n",
	              apart.hysteresis_g, together.greatest_residual_g);
	assert_int_equal(apart.n_falling, 9);
	assert_true(apart.hysteresis_g > 20.0);
	assert_within(together.greatest_residual_g, 12.6, 0.1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(one_load_direction_lies_on_a_line_within_0_31_g),
	        cmocka_unit_test(the_other_direction_is_hysteresis_and_not_fitted_through),
	};
	const char *folder = getenv("AMBO_TRACES");

	if (folder == NULL || *folder == '\0') {
		puts("skip: AMBO_TRACES does not name the folder of the recorded "
		     "calibration table");
		return 77;
	}
	return cmocka_run_group_tests(tests, NULL, NULL);
}
