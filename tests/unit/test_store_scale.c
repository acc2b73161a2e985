/* SPDX-License-Identifier: MIT */
#include "daemon/records/store_scale.h"

#include <errno.h>
#include <math.h>
#include <sqlite3.h>
#include <string.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/temp_folder.h"

static struct store *open_store(void **state)
{
	char path[TEMP_PATH_MAX], message[STORE_MESSAGE_MAX];
	struct store *store;

	temp_path(state, "ambo.db", path);
	assert_int_equal(store_open(path, false, message, &store), 0);
	return store;
}

/* A run that is done, its numbers all different. */
static void made_run(int which, struct calibration_run *ret)
{
	*ret = (struct calibration_run){.step = CALIBRATION_DONE, .n_raw = 36};
	ret->result.calibration = (struct calibration){.degree = 2,
	                                               .zero_counts = 190000.25 + which,
	                                               .g_per_count = 1.0 / 431.25,
	                                               .g_per_count2 = -1e-13,
	                                               .residual_sd_g = 0.0123};
	ret->result.greatest_g = 5000.0;
	ret->result.report.hysteresis_g = 0.21;
	ret->result.repeat_sd_g = 0.034;
	ret->result.off_centre_g[PLACE_RIGHT] = 0.1;
	ret->result.off_centre_g[PLACE_LEFT] = -0.4;
	ret->result.drift_g = -0.05;
	for (int i = 0; i < 36; i++)
		ret->raw[i] = (struct calibration_raw){.kind = (enum calibration_raw_kind)(i % 5),
		                                       .t_us = 1000000 + i,
		                                       .mass_g = 10.0 * i,
		                                       .counts = 190000.5 + 4312.5 * i,
		                                       .sd_counts = 2.5,
		                                       .place = i % 4};
}

static void a_calibration_comes_back_with_every_reading(void **state)
{
	struct store *store = open_store(state);
	struct calibration_raw raw[CALIBRATION_RAW_MAX];
	struct store_calibration back;
	struct calibration_run run;
	struct store_stamp stamp;

	batch_stamp(7, &stamp);
	made_run(0, &run);
	assert_int_equal(store_active_calibration(store, &back), -ENOENT);
	assert_int_equal(store_add_calibration(store, &run, "simulated", 21.5, &stamp), 1);
	store_close(store);
	store = open_store(state);
	assert_int_equal(store_active_calibration(store, &back), 0);
	assert_int_equal(back.id, 1);
	assert_true(back.active);
	assert_string_equal(back.driver, "simulated");
	assert_string_equal(back.stamp.boot_id, stamp.boot_id);
	assert_int_equal(back.stamp.realtime_us, stamp.realtime_us);
	assert_within(back.degc, 21.5, 0.0);
	assert_int_equal(back.calibration.degree, 2);
	assert_within(back.calibration.zero_counts, 190000.25, 0.0);
	assert_within(back.calibration.g_per_count, 1.0 / 431.25, 0.0);
	assert_within(back.calibration.g_per_count2, -1e-13, 0.0);
	assert_within(back.calibration.residual_sd_g, 0.0123, 0.0);
	assert_within(back.hysteresis_g, 0.21, 0.0);
	assert_within(back.repeat_sd_g, 0.034, 0.0);
	assert_within(back.off_centre_g, 0.4, 0.0);
	assert_within(back.drift_g, -0.05, 0.0);
	assert_int_equal(back.n_readings, 36);
	assert_int_equal(store_calibration_readings(store, 1, raw), 36);
	for (int i = 0; i < 36; i++) {
		assert_int_equal(raw[i].kind, run.raw[i].kind);
		assert_int_equal(raw[i].t_us, run.raw[i].t_us);
		assert_within(raw[i].mass_g, run.raw[i].mass_g, 0.0);
		assert_within(raw[i].counts, run.raw[i].counts, 0.0);
		assert_int_equal(raw[i].place, run.raw[i].place);
	}
	assert_int_equal(store_calibration_readings(store, 2, raw), 0);
	store_close(store);
}

static void one_can_go_back_and_to_the_configuration(void **state)
{
	struct store *store = open_store(state);
	struct store_calibration back, list[8];
	struct calibration_run run;
	struct store_stamp stamp;

	batch_stamp(1, &stamp);
	for (int i = 1; i <= 3; i++) {
		made_run(i, &run);
		assert_int_equal(
		        store_add_calibration(store, &run, "simulated", (double)NAN, &stamp), i);
	}
	assert_int_equal(store_use_calibration(store, 2, &stamp), 0);
	assert_int_equal(store_active_calibration(store, &back), 0);
	assert_int_equal(back.id, 2);
	assert_true(isnan(back.degc));
	assert_int_equal(store_use_calibration(store, 9, &stamp), -ENOENT);
	assert_int_equal(store_active_calibration(store, &back), 0);
	assert_int_equal(back.id, 2);
	assert_int_equal(store_calibrations(store, list, 8), 3);
	for (int i = 0; i < 3; i++) {
		assert_int_equal(list[i].id, 3 - i);
		assert_int_equal(list[i].active, list[i].id == 2);
	}
	assert_int_equal(store_calibrations(store, list, 2), 2);
	assert_int_equal(store_use_calibration(store, 0, &stamp), 0);
	assert_int_equal(store_active_calibration(store, &back), -ENOENT);
	assert_int_equal(store_calibrations(store, list, 8), 3);
	assert_false(list[0].active || list[1].active || list[2].active);
	store_close(store);
}

static void a_run_that_is_not_done_is_not_kept(void **state)
{
	struct store *store = open_store(state);
	struct calibration_run run;
	struct store_stamp stamp;
	struct store_calibration list[2];

	batch_stamp(1, &stamp);
	made_run(0, &run);
	run.step = CALIBRATION_REPEAT;
	assert_int_equal(store_add_calibration(store, &run, "simulated", 20.0, &stamp), -EINVAL);
	/* Its numbers are no calibration's: the table itself refuses, nothing is left of it. */
	run.step = CALIBRATION_DONE;
	run.result.calibration.g_per_count = -1.0;
	assert_true(store_add_calibration(store, &run, "simulated", 20.0, &stamp) < 0);
	assert_int_equal(store_calibrations(store, list, 2), 0);
	store_close(store);
}

static void nothing_of_the_history_is_changed_or_deleted(void **state)
{
	static const char *const edits[] = {
	        "UPDATE calibration SET zero_counts = 0",    "DELETE FROM calibration",
	        "UPDATE calibration_reading SET counts = 0", "DELETE FROM calibration_reading",
	        "UPDATE scale_check SET verdict = 'passed'", "DELETE FROM scale_check",
	};
	struct store_check check = {.driver = "simulated", .check = {.verdict = CHECK_FAILED}};
	struct store *store = open_store(state);
	struct calibration_run run;
	char path[TEMP_PATH_MAX];
	sqlite3 *db;

	batch_stamp(1, &check.stamp);
	made_run(0, &run);
	assert_int_equal(store_add_calibration(store, &run, "simulated", 20.0, &check.stamp), 1);
	assert_int_equal(store_add_check(store, &check), 1);
	store_close(store);
	temp_path(state, "ambo.db", path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	for (size_t i = 0; i < sizeof edits / sizeof edits[0]; i++)
		assert_int_equal(sqlite3_exec(db, edits[i], NULL, NULL, NULL), SQLITE_CONSTRAINT);
	sqlite3_close(db);
}

static void the_newest_check_is_the_one_that_counts(void **state)
{
	struct store_check check = {.driver = "hx711",
	                            .degc = (double)NAN,
	                            .check = {.nominal_g = 1000.0,
	                                      .indicated_g = 1000.5,
	                                      .weight = WEIGHT_F2,
	                                      .limit_g = 0.2,
	                                      .tolerance_g = 0.016,
	                                      .verdict = CHECK_FAILED}};
	struct store *store = open_store(state);
	struct store_check back;

	batch_stamp(3, &check.stamp);
	assert_int_equal(store_last_check(store, &back), -ENOENT);
	assert_int_equal(store_add_check(store, &check), 1);
	assert_int_equal(store_last_check(store, &back), 0);
	assert_int_equal(back.check.verdict, CHECK_FAILED);
	assert_within(back.check.error_g, 0.5, 1e-9);
	check.check.indicated_g = 1000.19;
	check.check.verdict = CHECK_CANNOT_TELL;
	assert_int_equal(store_add_check(store, &check), 2);
	assert_int_equal(store_last_check(store, &back), 0);
	assert_int_equal(back.id, 2);
	assert_int_equal(back.check.verdict, CHECK_CANNOT_TELL);
	assert_int_equal(back.check.weight, WEIGHT_F2);
	assert_string_equal(back.driver, "hx711");
	assert_int_equal(back.calibration_id, 0);
	assert_true(isnan(back.degc));
	check.check.verdict = CHECK_PASSED;
	assert_int_equal(store_add_check(store, &check), 3);
	assert_int_equal(store_last_check(store, &back), 0);
	assert_int_equal(back.check.verdict, CHECK_PASSED);
	store_close(store);
}

#define test(name) cmocka_unit_test_setup_teardown(name, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(a_calibration_comes_back_with_every_reading),
	        test(one_can_go_back_and_to_the_configuration),
	        test(a_run_that_is_not_done_is_not_kept),
	        test(nothing_of_the_history_is_changed_or_deleted),
	        test(the_newest_check_is_the_one_that_counts),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
