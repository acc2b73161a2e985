/* SPDX-License-Identifier: MIT */
#include "store_scale.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "store_internal.h"

/* 'd' binds NaN as NULL: SQLite has no NaN. */

static double worst_off_centre_g(const struct calibration_result *result)
{
	double worst_g = 0.0;

	for (size_t i = 0; i < CALIBRATION_PLACES; i++)
		worst_g = fmax(worst_g, fabs(result->off_centre_g[i]));
	return worst_g;
}

static int add_row(struct store *store, const char *doing, const struct calibration_result *result,
                   const char *driver, double degc, const struct store_stamp *stamp)
{
	const struct calibration *calibration = &result->calibration;

	return store_run(store, doing,
	                 "INSERT INTO calibration (boot_id, boottime_us, realtime_us, synchronised,"
	                 " driver, degc, degree, zero_counts, g_per_count, g_per_count2,"
	                 " residual_sd_g, greatest_g, hysteresis_g, repeat_sd_g, off_centre_g,"
	                 " drift_g) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
	                 "tiiitdiddddddddd", stamp->boot_id, stamp->boottime_us, stamp->realtime_us,
	                 (int64_t)stamp->synchronised, driver, degc, (int64_t)calibration->degree,
	                 calibration->zero_counts, calibration->g_per_count,
	                 calibration->g_per_count2, calibration->residual_sd_g, result->greatest_g,
	                 result->report.hysteresis_g, result->repeat_sd_g,
	                 worst_off_centre_g(result), result->drift_g);
}

static int add_readings(struct store *store, const char *doing, int64_t id,
                        const struct calibration_run *run)
{
	int r = 0;

	for (size_t i = 0; i < run->n_raw && r >= 0; i++) {
		const struct calibration_raw *raw = &run->raw[i];

		r = store_run(store, doing,
		              "INSERT INTO calibration_reading (calibration_id, seq, kind, t_us,"
		              " mass_g, counts, sd_counts, place) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		              "iitidddi", id, (int64_t)i + 1, calibration_raw_name(raw->kind),
		              raw->t_us, raw->mass_g, raw->counts, raw->sd_counts,
		              (int64_t)raw->place);
	}
	return r;
}

static int add_use(struct store *store, const char *doing, int64_t id,
                   const struct store_stamp *stamp)
{
	return store_run(store, doing,
	                 "INSERT INTO calibration_use (calibration_id, realtime_us, synchronised)"
	                 " VALUES (nullif(?, 0), ?, ?)",
	                 "iii", id, stamp->realtime_us, (int64_t)stamp->synchronised);
}

int64_t store_add_calibration(struct store *store, const struct calibration_run *run,
                              const char *driver, double degc, const struct store_stamp *stamp)
{
	static const char doing[] = "keep a calibration in";
	int64_t id = 0;
	int r;

	if (run->step != CALIBRATION_DONE)
		return store_refuse(store, doing, -EINVAL);
	r = store_transaction(store, doing);
	if (r < 0)
		return r;
	r = add_row(store, doing, &run->result, driver, degc, stamp);
	id = sqlite3_last_insert_rowid(store->db);
	if (r >= 0)
		r = add_readings(store, doing, id, run);
	if (r >= 0)
		r = add_use(store, doing, id, stamp);
	return store_finish(store, doing, r < 0 ? r : id);
}

int store_use_calibration(struct store *store, int64_t id, const struct store_stamp *stamp)
{
	struct store_calibration calibration;
	int r = id != 0 ? store_get_calibration(store, id, &calibration) : 0;

	return r < 0 ? r : add_use(store, "choose a calibration in", id, stamp);
}

#define ACTIVE "(SELECT calibration_id FROM calibration_use ORDER BY seq DESC LIMIT 1)"
#define COLUMNS                                                                                    \
	"SELECT id, boot_id, boottime_us, realtime_us, synchronised, driver, degc, degree,"        \
	" zero_counts, g_per_count, g_per_count2, residual_sd_g, greatest_g, hysteresis_g,"        \
	" repeat_sd_g, off_centre_g, drift_g,"                                                     \
	" (SELECT count(*) FROM calibration_reading WHERE calibration_id = id), id IS " ACTIVE     \
	" FROM calibration"

static double number_or_nan(sqlite3_stmt *statement, int column)
{
	return sqlite3_column_type(statement, column) == SQLITE_NULL
	               ? (double)NAN
	               : sqlite3_column_double(statement, column);
}

static void take_calibration(sqlite3_stmt *statement, void *element)
{
	struct store_calibration *ret = element;

	*ret = (struct store_calibration){
	        .id = sqlite3_column_int64(statement, 0),
	        .degc = number_or_nan(statement, 6),
	        .calibration = {.degree = sqlite3_column_int(statement, 7),
	                        .zero_counts = sqlite3_column_double(statement, 8),
	                        .g_per_count = sqlite3_column_double(statement, 9),
	                        .g_per_count2 = sqlite3_column_double(statement, 10),
	                        .residual_sd_g = sqlite3_column_double(statement, 11)},
	        .greatest_g = sqlite3_column_double(statement, 12),
	        .hysteresis_g = sqlite3_column_double(statement, 13),
	        .repeat_sd_g = sqlite3_column_double(statement, 14),
	        .off_centre_g = sqlite3_column_double(statement, 15),
	        .drift_g = sqlite3_column_double(statement, 16),
	        .n_readings = sqlite3_column_int(statement, 17),
	        .active = sqlite3_column_int(statement, 18) != 0,
	};
	store_copy_stamp(&ret->stamp, statement, 1);
	store_copy_text(ret->driver, sizeof ret->driver, statement, 5);
}

int store_active_calibration(struct store *store, struct store_calibration *ret)
{
	static const char doing[] = "read the calibration of";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement, COLUMNS " WHERE id = " ACTIVE, "");

	return r < 0 ? r : store_read_one(store, doing, statement, take_calibration, ret);
}

int store_get_calibration(struct store *store, int64_t id, struct store_calibration *ret)
{
	static const char doing[] = "read a calibration of";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement, COLUMNS " WHERE id = ?", "i", id);

	return r < 0 ? r : store_read_one(store, doing, statement, take_calibration, ret);
}

int store_calibrations(struct store *store, struct store_calibration *ret, int max)
{
	static const char doing[] = "list the calibrations of";
	sqlite3_stmt *statement;
	int n = 0, r = store_query(store, doing, &statement, COLUMNS " ORDER BY id DESC LIMIT ?",
	                           "i", (int64_t)max);

	if (r < 0)
		return r;
	while (n < max && (r = store_next(store, doing, statement)) > 0)
		take_calibration(statement, &ret[n++]);
	sqlite3_finalize(statement);
	return r < 0 ? r : n;
}

static enum calibration_raw_kind kind_named(const char *name)
{
	int kind = RAW_ZERO;

	while (kind < RAW_PLACE &&
	       strcmp(calibration_raw_name((enum calibration_raw_kind)kind), name) != 0)
		kind++;
	return (enum calibration_raw_kind)kind;
}

int store_calibration_readings(struct store *store, int64_t id, struct calibration_raw *ret)
{
	static const char doing[] = "read a calibration of";
	sqlite3_stmt *statement;
	int n = 0, r = store_query(store, doing, &statement,
	                           "SELECT kind, t_us, mass_g, counts, sd_counts, place FROM"
	                           " calibration_reading WHERE calibration_id = ? ORDER BY seq",
	                           "i", id);

	if (r < 0)
		return r;
	while (n < (int)CALIBRATION_RAW_MAX && (r = store_next(store, doing, statement)) > 0) {
		char kind[16];

		store_copy_text(kind, sizeof kind, statement, 0);
		ret[n++] = (struct calibration_raw){
		        .kind = kind_named(kind),
		        .t_us = sqlite3_column_int64(statement, 1),
		        .mass_g = sqlite3_column_double(statement, 2),
		        .counts = sqlite3_column_double(statement, 3),
		        .sd_counts = sqlite3_column_double(statement, 4),
		        .place = sqlite3_column_int(statement, 5),
		};
	}
	sqlite3_finalize(statement);
	return r < 0 ? r : n;
}

int64_t store_add_check(struct store *store, const struct store_check *check)
{
	const struct store_stamp *stamp = &check->stamp;
	int r = store_run(store, "keep a check in",
	                  "INSERT INTO scale_check (boot_id, boottime_us, realtime_us,"
	                  " synchronised, driver, calibration_id, degc, nominal_g, weight_class,"
	                  " indicated_g, limit_g, tolerance_g, verdict)"
	                  " VALUES (?, ?, ?, ?, ?, nullif(?, 0), ?, ?, ?, ?, ?, ?, ?)",
	                  "tiiitiddtdddt", stamp->boot_id, stamp->boottime_us, stamp->realtime_us,
	                  (int64_t)stamp->synchronised, check->driver, check->calibration_id,
	                  check->degc, check->check.nominal_g,
	                  weight_class_name(check->check.weight), check->check.indicated_g,
	                  check->check.limit_g, check->check.tolerance_g,
	                  check_verdict_name(check->check.verdict));

	return r < 0 ? r : sqlite3_last_insert_rowid(store->db);
}

static enum check_verdict verdict_named(const char *name)
{
	if (strcmp(name, check_verdict_name(CHECK_PASSED)) == 0)
		return CHECK_PASSED;
	return strcmp(name, check_verdict_name(CHECK_CANNOT_TELL)) == 0 ? CHECK_CANNOT_TELL
	                                                                : CHECK_FAILED;
}

int store_last_check(struct store *store, struct store_check *ret)
{
	static const char doing[] = "read the last check of";
	char text[16];
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT id, boot_id, boottime_us, realtime_us, synchronised, driver,"
	                    " calibration_id, degc, nominal_g, weight_class, indicated_g, limit_g,"
	                    " tolerance_g, verdict FROM scale_check ORDER BY id DESC LIMIT 1",
	                    "");

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r > 0) {
		struct daily_check *check = &ret->check;
		int weight;

		*ret = (struct store_check){.id = sqlite3_column_int64(statement, 0),
		                            .calibration_id = sqlite3_column_int64(statement, 6),
		                            .degc = number_or_nan(statement, 7)};
		store_copy_stamp(&ret->stamp, statement, 1);
		store_copy_text(ret->driver, sizeof ret->driver, statement, 5);
		check->nominal_g = sqlite3_column_double(statement, 8);
		store_copy_text(text, sizeof text, statement, 9);
		weight = weight_class_from_name(text);
		check->weight = weight < 0 ? WEIGHT_M3 : (enum weight_class)weight;
		check->indicated_g = sqlite3_column_double(statement, 10);
		check->error_g = check->indicated_g - check->nominal_g;
		check->limit_g = sqlite3_column_double(statement, 11);
		check->tolerance_g = sqlite3_column_double(statement, 12);
		store_copy_text(text, sizeof text, statement, 13);
		check->verdict = verdict_named(text);
	}
	sqlite3_finalize(statement);
	return r > 0 ? 0 : r < 0 ? r : -ENOENT;
}
