/* SPDX-License-Identifier: MIT */
#include "daemon/records/store.h"

#include <sys/types.h>

#include <sha2.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/temp_folder.h"

#define BATCHES 4

static void open_at(const char *path, struct store **ret)
{
	char message[STORE_MESSAGE_MAX];

	if (store_open(path, false, message, ret) < 0)
		fail_msg("%s", message);
}

/* A store at path with so many finished batches, each of another mass. */
static void make_store(void **state, char *path)
{
	struct store_stamp stamp;
	struct store *store;
	struct guide guide;

	temp_path(state, "ambo.db", path);
	open_at(path, &store);
	batch_stamp(0, &stamp);
	for (int i = 0; i < BATCHES; i++) {
		int64_t id;

		batch_guide(GUIDE_READY, 0, &guide);
		id = store_begin(store, &guide, 0, &stamp);
		assert_int_equal(id, i + 1);
		batch_guide(i == 2 ? GUIDE_DISCARDED : GUIDE_DONE, 2, &guide);
		guide.dispense[0].mass_g += i;
		assert_int_equal(store_step(store, id, 100, &guide, &stamp), 0);
	}
	store_close(store);
}

static void verify(const char *path, int expected, int64_t n_expected, int64_t bad_expected)
{
	int64_t n = -1, bad_id = 0;
	struct store *store;

	open_at(path, &store);
	assert_int_equal(store_verify(store, &n, &bad_id), expected);
	assert_int_equal(n, n_expected);
	assert_int_equal(bad_id, bad_expected);
	store_close(store);
}

/* As someone with the sqlite3 shell might. */
static void edit(const char *path, const char *sql)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s", sqlite3_errmsg(db));
	sqlite3_close(db);
}

static void hex_of(const char *text, char ret[65])
{
	SHA256Data((const uint8_t *)text, strlen(text), ret);
}

/* FIPS 180-2 (and the examples NIST keeps for 180-4), appendix B.1 and B.2. */
static void the_hash_is_sha_256_of_fips_180(void **state)
{
	char hex[65];

	(void)state;
	hex_of("abc", hex);
	assert_string_equal(hex, "ba7816bf8f01cfea414140de5dae2223"
	                         "b00361a396177a9cb410ff61f20015ad");
	hex_of("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", hex);
	assert_string_equal(hex, "248d6a61d20638b8e5c026930c3e6039"
	                         "a33ce45964ff2167f6ecedd419db06c1");
}

/* hash_n by sha256sum of coreutils, over the bytes the header of the store names. */
static void the_chain_is_what_sha256sum_makes_of_it(void **state)
{
	char path[TEMP_PATH_MAX], bytes_path[TEMP_PATH_MAX], command[TEMP_PATH_MAX + 32];
	unsigned char previous[32] = {0};
	struct sqlite3_stmt *statement;
	sqlite3 *db;

	make_store(state, path);
	temp_path(state, "bytes", bytes_path);
	snprintf(command, sizeof command, "sha256sum '%s'", bytes_path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db,
	                                    "SELECT record, lower(hex(hash)), hash FROM link"
	                                    " JOIN batch ON batch.id = batch_id ORDER BY seq",
	                                    -1, &statement, NULL),
	                 SQLITE_OK);
	for (int i = 0; i < BATCHES; i++) {
		char hex[65];
		FILE *file;

		assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
		file = fopen(bytes_path, "wb");
		assert_non_null(file);
		fwrite(previous, 1, sizeof previous, file);
		fputs((const char *)sqlite3_column_text(statement, 0), file);
		fclose(file);
		file = popen(command, "r");
		assert_non_null(file);
		assert_int_equal(fscanf(file, "%64s", hex), 1);
		pclose(file);
		assert_string_equal((const char *)sqlite3_column_text(statement, 1), hex);
		memcpy(previous, sqlite3_column_blob(statement, 2), sizeof previous);
	}
	sqlite3_finalize(statement);
	sqlite3_close(db);
}

static void a_whole_chain_is_found_whole(void **state)
{
	char path[TEMP_PATH_MAX];

	make_store(state, path);
	verify(path, 0, BATCHES, 0);
}

static void an_empty_chain_is_whole(void **state)
{
	char path[TEMP_PATH_MAX];

	temp_path(state, "ambo.db", path);
	verify(path, 0, 0, 0);
}

static void one_changed_byte_on_the_disk_is_found_with_its_batch(void **state)
{
	static const char wanted[] = "\"mass_ug\":229500000"; /* batch 3: 227.5 g + 2 g */
	char path[TEMP_PATH_MAX], *bytes, *at;
	size_t length, found = 0;

	make_store(state, path);
	bytes = read_whole_file(path, &length);
	for (size_t i = 0; i + sizeof wanted < length; i++) {
		if (memcmp(bytes + i, wanted, sizeof wanted - 1) != 0)
			continue;
		at = bytes + i + sizeof wanted - 2;
		*at = '1';
		found++;
	}
	assert_int_equal(found, 1);
	write_whole_file(path, bytes, length);
	free(bytes);
	verify(path, 1, 2, 3);
}

static void a_careless_edit_is_refused_and_a_careful_one_found(void **state)
{
	char path[TEMP_PATH_MAX];
	sqlite3 *db;

	make_store(state, path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_not_equal(sqlite3_exec(db,
	                                  "UPDATE batch SET record = replace(record, "
	                                  "'\"within\"', '\"outside\"') WHERE id = 2",
	                                  NULL, NULL, NULL),
	                     SQLITE_OK);
	assert_string_equal(sqlite3_errmsg(db), "a finished batch never changes");
	assert_int_not_equal(sqlite3_exec(db, "DELETE FROM batch WHERE id = 2", NULL, NULL, NULL),
	                     SQLITE_OK);
	sqlite3_close(db);
	verify(path, 0, BATCHES, 0);
	edit(path, "DROP TRIGGER batch_ended_stays;"
	           "UPDATE batch SET record = replace(record, '\"within\"', '\"outside\"')"
	           " WHERE id = 2");
	verify(path, 1, 1, 2);
}

static void a_batch_taken_out_is_found(void **state)
{
	char path[TEMP_PATH_MAX];

	make_store(state, path);
	edit(path, "PRAGMA foreign_keys = OFF; DROP TRIGGER batch_stays;"
	           "DELETE FROM batch WHERE id = 2");
	verify(path, 1, 1, 2);
}

static void a_link_taken_out_is_found_in_the_middle_and_at_the_end(void **state)
{
	char path[TEMP_PATH_MAX];

	make_store(state, path);
	edit(path, "DELETE FROM link WHERE seq = 4");
	verify(path, 1, 3, 4);
	edit(path, "DELETE FROM link WHERE seq = 2");
	verify(path, 1, 1, 3);
}

static void two_links_in_the_wrong_order_are_found(void **state)
{
	char path[TEMP_PATH_MAX];

	make_store(state, path);
	edit(path, "UPDATE link SET seq = 9 WHERE seq = 2; UPDATE link SET seq = 2 WHERE seq = 3;"
	           "UPDATE link SET seq = 3 WHERE seq = 9");
	verify(path, 1, 1, 3);
}

#define test(name) cmocka_unit_test_setup_teardown(name, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_hash_is_sha_256_of_fips_180),
	        test(the_chain_is_what_sha256sum_makes_of_it),
	        test(a_whole_chain_is_found_whole),
	        test(an_empty_chain_is_whole),
	        test(one_changed_byte_on_the_disk_is_found_with_its_batch),
	        test(a_careless_edit_is_refused_and_a_careful_one_found),
	        test(a_batch_taken_out_is_found),
	        test(a_link_taken_out_is_found_in_the_middle_and_at_the_end),
	        test(two_links_in_the_wrong_order_are_found),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
