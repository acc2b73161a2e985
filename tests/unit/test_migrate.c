/* SPDX-License-Identifier: MIT */
#include "daemon/records/store_migrate.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/temp_folder.h"
#include "daemon/records/store.h"

/* Versions to come, as far as this test is concerned: what a later schema may do. */
static const char later_column[] = "ALTER TABLE shelf ADD COLUMN opened TEXT;"
                                   "UPDATE shelf SET opened = 'long ago'";
static const char later_table[] = "CREATE TABLE stock (system_id TEXT, mass_g REAL);"
                                  "INSERT INTO stock SELECT system_id, gross_g FROM shelf";
static const char rewrites_records[] =
        "CREATE TABLE half_way (x);"
        "UPDATE batch SET record = replace(record, 'within', 'outside')";
static const char broken[] = "CREATE TABLE half_way (x); CREATE TABLE half_way (x)";

/* A store of this version with a bottle and a finished batch, open to plain SQLite. */
static sqlite3 *store_of_this_version(void **state)
{
	char path[TEMP_PATH_MAX], message[STORE_MESSAGE_MAX];
	struct store_stamp stamp;
	struct store *store;
	struct guide guide;
	sqlite3 *db;

	temp_path(state, "ambo.db", path);
	assert_int_equal(store_open(path, false, message, &store), 0);
	batch_stamp(0, &stamp);
	batch_guide(GUIDE_DONE, 2, &guide);
	assert_int_equal(store_begin(store, &guide, 0, &stamp), 1);
	assert_int_equal(store_step(store, 1, 1, &guide, &stamp), 0);
	assert_int_equal(store_set_shelf(store, "tidepool-clear", PART_A, "T", 612.5, &stamp), 0);
	store_close(store);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	return db;
}

#define LATER (STORE_VERSION + 2)

/* All there is, then two steps more. */
static void steps_to(const char *steps[LATER], const char *next, const char *last)
{
	for (int i = 0; i < STORE_VERSION; i++)
		steps[i] = store_migrations[i];
	steps[STORE_VERSION] = next;
	steps[STORE_VERSION + 1] = last;
}

/* The one text a query answers with; "" for none or an error. */
static void ask(sqlite3 *db, const char *sql, char *ret, size_t size)
{
	sqlite3_stmt *statement = NULL;
	const char *text = NULL;

	if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) == SQLITE_OK &&
	    sqlite3_step(statement) == SQLITE_ROW)
		text = (const char *)sqlite3_column_text(statement, 0);
	assert_true(!text || strlen(text) < size);
	strcpy(ret, text ? text : "");
	sqlite3_finalize(statement);
}

static void assert_answer(sqlite3 *db, const char *sql, const char *expected)
{
	char answer[256];

	ask(db, sql, answer, sizeof answer);
	assert_string_equal(answer, expected);
}

static void an_empty_file_becomes_this_version(void **state)
{
	int version = -1;
	sqlite3 *db;

	(void)state;
	assert_int_equal(sqlite3_open(":memory:", &db), SQLITE_OK);
	assert_int_equal(store_version(db, STORE_VERSION, &version), 0);
	assert_int_equal(version, 0);
	assert_int_equal(store_migrate(db, store_migrations, STORE_VERSION), SQLITE_OK);
	assert_int_equal(store_version(db, STORE_VERSION, &version), STORE_VERSION);
	assert_int_equal(version, STORE_VERSION);
	assert_answer(db, "PRAGMA application_id", "1097687663"); /* 0x416d626f, "Ambo" */
	sqlite3_close(db);
}

/* What an older Ambo wrote comes along: its records, and a place for all that is new. */
static void a_store_of_the_first_version_comes_along(void **state)
{
	int version;
	sqlite3 *db;

	(void)state;
	assert_int_equal(sqlite3_open(":memory:", &db), SQLITE_OK);
	assert_int_equal(store_migrate(db, store_migrations, 1), SQLITE_OK);
	assert_int_equal(
	        sqlite3_exec(db, "INSERT INTO number VALUES ('zero_g', 1.5)", NULL, NULL, NULL),
	        SQLITE_OK);
	assert_int_equal(store_migrate(db, store_migrations, STORE_VERSION), SQLITE_OK);
	assert_int_equal(store_version(db, STORE_VERSION, &version), STORE_VERSION);
	assert_answer(db, "SELECT value FROM number", "1.5");
	assert_answer(db, "SELECT count(*) FROM calibration", "0");
	sqlite3_close(db);
}

static void two_versions_forward_keep_what_was_there(void **state)
{
	const char *steps[LATER];
	sqlite3 *db = store_of_this_version(state);
	char before[65536], after[65536];
	int version;

	steps_to(steps, later_column, later_table);
	ask(db, "SELECT record || hex(hash) FROM batch JOIN link", before, sizeof before);
	assert_int_equal(store_migrate(db, steps, LATER), SQLITE_OK);
	assert_int_equal(store_version(db, LATER, &version), LATER);
	assert_answer(db, "SELECT opened || gross_g FROM shelf", "long ago612.5");
	assert_answer(db, "SELECT mass_g FROM stock", "612.5");
	ask(db, "SELECT record || hex(hash) FROM batch JOIN link", after, sizeof after);
	assert_true(strlen(before) > 1000);
	assert_string_equal(after, before);
	/* Again: nothing left to do. */
	assert_int_equal(store_migrate(db, steps, LATER), SQLITE_OK);
	assert_answer(db, "SELECT count(*) FROM stock", "1");
	sqlite3_close(db);
}

static void a_migration_that_fails_leaves_all_as_it_was(void **state)
{
	const char *steps[LATER];
	sqlite3 *db = store_of_this_version(state);
	int version;

	steps_to(steps, later_column, broken);
	assert_int_not_equal(store_migrate(db, steps, LATER), SQLITE_OK);
	assert_int_equal(store_version(db, LATER, &version), STORE_VERSION);
	assert_answer(db, "SELECT count(*) FROM sqlite_schema WHERE name = 'half_way'", "0");
	assert_answer(db, "SELECT count(*) FROM pragma_table_info('shelf') WHERE name = 'opened'",
	              "0");
	assert_int_equal(sqlite3_get_autocommit(db), 1);
	sqlite3_close(db);
}

static void a_migration_may_not_rewrite_a_finished_record(void **state)
{
	const char *steps[LATER];
	sqlite3 *db = store_of_this_version(state);
	int version;

	steps_to(steps, rewrites_records, later_table);
	assert_int_not_equal(store_migrate(db, steps, STORE_VERSION + 1), SQLITE_OK);
	assert_int_equal(store_version(db, LATER, &version), STORE_VERSION);
	assert_answer(db, "SELECT record ->> '$.verdict' FROM batch", "within");
	sqlite3_close(db);
}

static void a_version_from_the_future_is_told_apart(void **state)
{
	sqlite3 *db = store_of_this_version(state);
	int version = 0;

	assert_int_equal(store_version(db, STORE_VERSION - 1, &version), -EPROTO);
	assert_int_equal(version, STORE_VERSION);
	assert_int_equal(store_version(db, STORE_VERSION, &version), STORE_VERSION);
	sqlite3_exec(db, "PRAGMA application_id = 7", NULL, NULL, NULL);
	assert_int_equal(store_version(db, 3, &version), -EBADMSG);
	sqlite3_close(db);
}

static void a_store_without_pieces_gets_their_tables_and_keeps_its_batches(void **state)
{
	const char batch[] = "INSERT INTO batch (begun_realtime_us, begun_synchronised, record)"
	                     " VALUES (1, 1, '{\"verdict\":\"within\"}');"
	                     "UPDATE batch SET ended_realtime_us = 2, ended_synchronised = 1";
	sqlite3 *db;
	int version;

	(void)state;
	assert_int_equal(sqlite3_open(":memory:", &db), SQLITE_OK);
	assert_int_equal(store_migrate(db, store_migrations, 1), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, batch, NULL, NULL, NULL), SQLITE_OK);
	assert_answer(db, "SELECT count(*) FROM sqlite_schema WHERE name = 'pour'", "0");
	assert_int_equal(store_migrate(db, store_migrations, STORE_VERSION), SQLITE_OK);
	assert_int_equal(store_version(db, STORE_VERSION, &version), STORE_VERSION);
	assert_answer(db, "SELECT record FROM batch", "{\"verdict\":\"within\"}");
	assert_answer(db,
	              "SELECT count(*) FROM sqlite_schema WHERE name IN"
	              " ('piece', 'pour', 'room', 'report', 'drying')",
	              "5");
	sqlite3_close(db);
}

#define test(name) cmocka_unit_test_setup_teardown(name, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(an_empty_file_becomes_this_version),
	        cmocka_unit_test(a_store_of_the_first_version_comes_along),
	        cmocka_unit_test(a_store_without_pieces_gets_their_tables_and_keeps_its_batches),
	        test(two_versions_forward_keep_what_was_there),
	        test(a_migration_that_fails_leaves_all_as_it_was),
	        test(a_migration_may_not_rewrite_a_finished_record),
	        test(a_version_from_the_future_is_told_apart),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
