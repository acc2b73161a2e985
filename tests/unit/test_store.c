/* SPDX-License-Identifier: MIT */
#include "daemon/records/store.h"

#include <errno.h>
#include <math.h>
#include <sched.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/temp_folder.h"
#include "daemon/records/canonical.h"

static char message[STORE_MESSAGE_MAX];

static struct store *open_store(void **state, bool read_only)
{
	char path[TEMP_PATH_MAX];
	struct store *store;

	temp_path(state, "ambo.db", path);
	if (store_open(path, read_only, message, &store) < 0)
		fail_msg("%s", message);
	return store;
}

/* One whole sentence: what, where, why; what to do. */
static void assert_sentence(const char *text, const char *reason)
{
	assert_non_null(strstr(text, "cannot "));
	assert_non_null(strstr(text, "ambo.db"));
	assert_non_null(strstr(text, "; "));
	if (!strstr(text, reason))
		fail_msg("\"%s\" does not say \"%s\"", text, reason);
}

static void refuses(void **state, bool read_only, int expected, const char *reason)
{
	char path[TEMP_PATH_MAX];
	struct store *store = NULL;

	temp_path(state, "ambo.db", path);
	memset(message, 0, sizeof message);
	assert_int_equal(store_open(path, read_only, message, &store), expected);
	assert_null(store);
	assert_sentence(message, reason);
}

static int64_t begin(struct store *store, int64_t parent_id)
{
	struct store_stamp stamp;
	struct guide guide;
	int64_t id;

	batch_stamp(0, &stamp);
	batch_guide(GUIDE_READY, 0, &guide);
	id = store_begin(store, &guide, parent_id, &stamp);
	assert_true(id > 0);
	return id;
}

static int step(struct store *store, int64_t id, int64_t t_us, enum guide_step step, uint32_t n)
{
	struct store_stamp stamp;
	struct guide guide;

	batch_stamp(t_us, &stamp);
	batch_guide(step, n, &guide);
	return store_step(store, id, t_us, &guide, &stamp);
}

static void edit(void **state, const char *sql)
{
	char path[TEMP_PATH_MAX];
	sqlite3 *db;

	temp_path(state, "ambo.db", path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s", sqlite3_errmsg(db));
	sqlite3_close(db);
}

static void steps_come_back_in_order_and_number(void **state)
{
	struct store *store = open_store(state, false);
	int64_t id = begin(store, 0);
	struct store_step_row *steps;
	size_t n;

	assert_int_equal(step(store, id, 100, GUIDE_CUP, 0), 0);
	assert_int_equal(step(store, id, 200, GUIDE_CHARGE, 1), 0);
	assert_int_equal(step(store, id, 300, GUIDE_DONE, 2), 0);
	store_close(store);
	store = open_store(state, true);
	assert_int_equal(store_steps(store, id, &steps, &n), 0);
	assert_int_equal(n, 4);
	for (size_t i = 0; i < n; i++) {
		assert_int_equal(steps[i].seq, i + 1);
		assert_int_equal(steps[i].t_us, 100 * i);
		assert_int_equal(steps[i].stamp.boottime_us, 5000000000 + 100 * (int64_t)i);
		assert_true(steps[i].stamp.synchronised);
		assert_int_equal(strlen(steps[i].stamp.boot_id), 36);
	}
	assert_string_equal(steps[0].step, "ready");
	assert_string_equal(steps[2].step, "charge");
	assert_string_equal(steps[3].step, "done");
	assert_string_equal(steps[3].verdict, "within");
	assert_string_equal(steps[3].message, "done");
	free(steps);
	assert_int_equal(store_steps(store, id + 1, &steps, &n), -ENOENT);
	store_close(store);
}

static void an_open_batch_comes_back_with_its_last_committed_state(void **state)
{
	struct store *store = open_store(state, false);
	int64_t first = begin(store, 0), second = begin(store, first), third = begin(store, 0);
	char before[16384], after[16384];
	struct store_open_batch open[4];
	struct guide guide;

	assert_int_equal(step(store, first, 500, GUIDE_STIR, 2), 0);
	assert_int_equal(step(store, second, 600, GUIDE_CHARGE, 1), 0);
	assert_int_equal(step(store, third, 700, GUIDE_DISCARDED, 1), 0);
	store_close(store);
	store = open_store(state, false);
	assert_int_equal(store_open_batches(store, open, 4), 2);
	assert_int_equal(open[0].id, first);
	assert_int_equal(open[0].parent_id, 0);
	assert_int_equal(open[0].t_us, 500);
	assert_int_equal(open[1].id, second);
	assert_int_equal(open[1].parent_id, first);
	assert_int_equal(open[1].stamp.realtime_us, 1790000000000600);
	batch_guide(GUIDE_STIR, 2, &guide);
	canonical_write(&guide, before, sizeof before);
	canonical_write(&open[0].guide, after, sizeof after);
	assert_string_equal(after, before);
	assert_int_equal(store_open_batches(store, open, 1), 1);
	assert_int_equal(open[0].id, first);
	store_close(store);
}

static void a_state_that_cannot_be_read_is_said_with_its_batch_and_line(void **state)
{
	struct store *store = open_store(state, false);
	struct store_open_batch open[1];

	begin(store, 0);
	store_close(store);
	edit(state, "UPDATE step SET state = 'no such thing'");
	store = open_store(state, false);
	assert_int_equal(store_open_batches(store, open, 1), -EBADMSG);
	assert_sentence(store_message(store), "batch 1 ");
	assert_non_null(strstr(store_message(store), "line 1 "));
	store_close(store);
}

static void a_finished_batch_never_changes(void **state)
{
	struct store *store = open_store(state, false);
	int64_t id = begin(store, 0);
	char *before, *after;

	assert_int_equal(step(store, id, 100, GUIDE_DONE, 2), 0);
	assert_int_equal(store_canonical(store, id, &before), 0);
	assert_int_equal(step(store, id, 200, GUIDE_DISCARDED, 2), -EALREADY);
	assert_sentence(store_message(store), "finished");
	assert_int_equal(step(store, id + 1, 200, GUIDE_DONE, 2), -ENOENT);
	assert_int_equal(store_canonical(store, id, &after), 0);
	assert_string_equal(before, after);
	free(before);
	free(after);
	store_close(store);
}

static void the_record_of_an_open_batch_is_told_as_it_stands(void **state)
{
	struct store *store = open_store(state, false);
	int64_t id = begin(store, 0);
	char expected[16384], *told;
	struct guide guide;

	assert_int_equal(step(store, id, 100, GUIDE_CHARGE, 1), 0);
	batch_guide(GUIDE_CHARGE, 1, &guide);
	canonical_write(&guide, expected, sizeof expected);
	assert_int_equal(store_canonical(store, id, &told), 0);
	assert_string_equal(told, expected);
	free(told);
	assert_int_equal(store_canonical(store, 99, &told), -ENOENT);
	store_close(store);
}

static void a_row_tells_what_the_record_tells(void **state)
{
	struct store *store = open_store(state, false);
	int64_t id = begin(store, 0);
	struct store_row row;

	assert_int_equal(store_get(store, id, &row), 0);
	assert_false(row.has_ratio);
	assert_int_equal(row.ended_realtime_us, 0);
	assert_string_equal(row.step, "ready");
	assert_int_equal(step(store, id, 900, GUIDE_DONE, 3), 0);
	assert_int_equal(store_get(store, id, &row), 0);
	assert_int_equal(row.id, id);
	assert_string_equal(row.system_id, "tidepool-clear");
	assert_string_equal(row.system_name, "Tidepool Clear");
	assert_string_equal(row.piece, "fern clock");
	assert_string_equal(row.layer, "1");
	assert_string_equal(row.step, "done");
	assert_string_equal(row.verdict, "within");
	assert_int_equal(row.begun_realtime_us, 1790000000000000);
	assert_int_equal(row.ended_realtime_us, 1790000000000900);
	assert_true(row.synchronised);
	assert_within(row.resin_g, 227.5, 1e-6);
	assert_within(row.hardener_g, 102.4, 1e-6);
	assert_within(row.total_g, 329.9, 1e-6);
	assert_within(row.tint_g, 0, 0); /* by eye: the scale saw none of it */
	assert_within(row.target_total_g, 330, 1e-6);
	assert_true(row.has_ratio);
	assert_within(row.ratio, 102.4 / 227.5, 1e-6);
	assert_within(row.target_ratio, 0.45, 1e-6);
	assert_within(row.deviation_pct, 100 * (102.4 / 227.5 / 0.45 - 1), 1e-6);
	assert_within(row.tolerance_pct, 2, 1e-6);
	assert_true(row.u_deviation_pct > 0);
	assert_int_equal(store_get(store, 99, &row), -ENOENT);
	store_close(store);
}

static void a_list_is_paged_newest_first_without_gap_or_repeat(void **state)
{
	struct store *store = open_store(state, false);
	int64_t next = 0, expected = 7;
	struct store_row rows[3];
	int n, pages = 0;

	assert_int_equal(store_list(store, 0, rows, 3, &next), 0);
	assert_int_equal(next, 0);
	for (int i = 0; i < 7; i++)
		begin(store, 0);
	do {
		n = store_list(store, next, rows, 3, &next);
		assert_int_equal(n, pages < 2 ? 3 : 1);
		for (int i = 0; i < n; i++)
			assert_int_equal(rows[i].id, expected--);
		pages++;
	} while (next != 0);
	assert_int_equal(pages, 3);
	assert_int_equal(expected, 0);
	store_close(store);
}

static void a_curve_comes_back_bit_for_bit(void **state)
{
	struct store *store = open_store(state, false);
	struct store_curve_point points[100], *back;
	int64_t id = begin(store, 0);
	size_t n;

	for (int i = 0; i < 100; i++)
		points[i] = (struct store_curve_point){100000 * i - 7, i / 3.0 - 1};
	assert_int_equal(store_curve(store, id, points, 60), 0);
	assert_int_equal(store_curve(store, id, points + 60, 40), 0);
	assert_int_equal(store_curve(store, id, points, 0), 0);
	points[0].gross_g = NAN;
	assert_int_equal(store_curve(store, id, points, 1), -EINVAL);
	points[0].gross_g = -1;
	assert_int_equal(store_curve(store, 99, points, 1), -EINVAL); /* no such batch */
	assert_int_equal(store_curve_read(store, id, &back, &n), 0);
	assert_int_equal(n, 100);
	assert_memory_equal(back, points, sizeof points);
	free(back);
	assert_int_equal(store_curve_read(store, 99, &back, &n), 0);
	assert_int_equal(n, 0);
	free(back);
	store_close(store);
}

static void numbers_bottles_and_lots_outlive_the_daemon(void **state)
{
	struct store *store = open_store(state, false);
	struct store_stamp stamp, kept;
	char lot[SYSTEM_LABEL_MAX];
	double value = -1;
	int64_t id;

	batch_stamp(0, &stamp);
	assert_int_equal(store_get_number(store, "zero", &value), -ENOENT);
	assert_int_equal(store_set_number(store, "zero", 190000.25), 0);
	assert_int_equal(store_set_number(store, "zero", 1 / 3.0), 0);
	assert_int_equal(store_set_number(store, "zero", NAN), -EINVAL);
	assert_int_equal(store_set_shelf(store, "tidepool-clear", PART_B, "H-22", 612.5, &stamp),
	                 0);
	assert_int_equal(store_last_stamp(store, &kept), -ENOENT);
	assert_int_equal(store_keep_stamp(store, &stamp), 0);
	batch_stamp(60000000, &stamp);
	assert_int_equal(store_keep_stamp(store, &stamp), 0);
	assert_int_equal(store_last_lot(store, "tidepool-clear", PART_A, lot), -ENOENT);
	id = begin(store, 0);
	assert_int_equal(step(store, id, 100, GUIDE_CHARGE, 1), 0);
	store_close(store);
	store = open_store(state, false);
	assert_int_equal(store_get_number(store, "zero", &value), 0);
	assert_true(value == 1 / 3.0);
	assert_int_equal(store_get_shelf(store, "tidepool-clear", PART_B, "H-22", &value), 0);
	assert_true(value == 612.5);
	assert_int_equal(store_get_shelf(store, "tidepool-clear", PART_A, "H-22", &value), -ENOENT);
	assert_int_equal(store_last_stamp(store, &kept), 0);
	assert_string_equal(kept.boot_id, stamp.boot_id);
	assert_int_equal(kept.boottime_us, stamp.boottime_us);
	assert_int_equal(kept.realtime_us, stamp.realtime_us);
	assert_true(kept.synchronised);
	/* A went into the cup, B not yet. */
	assert_int_equal(store_last_lot(store, "tidepool-clear", PART_A, lot), 0);
	assert_string_equal(lot, "T-0417");
	assert_int_equal(store_last_lot(store, "tidepool-clear", PART_B, lot), -ENOENT);
	assert_int_equal(store_last_lot(store, "another", PART_A, lot), -ENOENT);
	store_close(store);
}

static void the_clocks_of_this_machine_make_a_stamp(void **state)
{
	struct store_stamp first, second;

	(void)state;
	store_stamp_now(&first);
	store_stamp_now(&second);
	assert_true(strlen(first.boot_id) == 36 || first.boot_id[0] == '\0');
	assert_string_equal(first.boot_id, second.boot_id);
	assert_true(second.boottime_us >= first.boottime_us);
	assert_true(first.realtime_us > 1600000000000000); /* after 2020 */
}

static void only_the_owner_may_read_the_files(void **state)
{
	static const char *const names[] = {"ambo.db", "ambo.db-wal", "ambo.db.lock"};
	struct store *store;
	char path[TEMP_PATH_MAX];
	struct stat info;

	umask(0);
	store = open_store(state, false);
	begin(store, 0);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		temp_path(state, names[i], path);
		assert_int_equal(stat(path, &info), 0);
		assert_int_equal(info.st_mode & 0777, 0600);
	}
	store_close(store);
	umask(022);
	temp_path(state, "ambo.db", path);
	assert_int_equal(chmod(path, 0644), 0);
	store_close(open_store(state, false));
	assert_int_equal(stat(path, &info), 0);
	assert_int_equal(info.st_mode & 0777, 0600);
}

static void a_second_daemon_is_refused_and_a_reader_is_not(void **state)
{
	struct store *store = open_store(state, false), *reader;
	char process[32];
	struct store_row row;
	int64_t id;

	snprintf(process, sizeof process, "(process %ld)", (long)getpid());
	refuses(state, false, -EBUSY, process);
	assert_non_null(strstr(message, "another ambod"));
	reader = open_store(state, true);
	id = begin(store, 0);
	assert_int_equal(store_get(reader, id, &row), 0);
	assert_int_equal(step(store, id, 100, GUIDE_CUP, 0), 0);
	assert_int_equal(store_get(reader, id, &row), 0);
	assert_string_equal(row.step, "cup");
	assert_int_equal(step(reader, id, 200, GUIDE_CUP, 0), -EACCES);
	assert_sentence(store_message(reader), "permission");
	store_close(store);
	store_close(reader);
	store_close(open_store(state, false));
}

/* The bytes of the store before and after fn must be the same. */
static void leaves_the_store_alone(void **state, bool read_only, int expected, const char *reason)
{
	char path[TEMP_PATH_MAX], *before, *after;
	size_t n_before, n_after;

	temp_path(state, "ambo.db", path);
	before = read_whole_file(path, &n_before);
	refuses(state, read_only, expected, reason);
	after = read_whole_file(path, &n_after);
	assert_int_equal(n_after, n_before);
	assert_memory_equal(after, before, n_before);
	free(before);
	free(after);
}

static void a_newer_version_is_refused_and_left_alone(void **state)
{
	struct store *store = open_store(state, false);

	begin(store, 0);
	store_close(store);
	edit(state, "PRAGMA user_version = 99");
	leaves_the_store_alone(state, false, -EPROTO, "version 99");
	leaves_the_store_alone(state, true, -EPROTO, "version 99");
}

/* The newer version stands in the write-ahead log only: a crash before the checkpoint. */
static void a_newer_version_still_in_the_log_is_left_alone_too(void **state)
{
	struct store *store = open_store(state, false);
	char path[TEMP_PATH_MAX];
	sqlite3 *db;

	begin(store, 0);
	store_close(store);
	temp_path(state, "ambo.db", path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	sqlite3_db_config(db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
	assert_int_equal(sqlite3_exec(db, "PRAGMA user_version = 99", NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
	leaves_the_store_alone(state, false, -EPROTO, "version 99");
}

static void what_is_no_store_is_refused_and_left_alone(void **state)
{
	char path[TEMP_PATH_MAX], garbage[5000];
	struct stat info;

	temp_path(state, "ambo.db", path);
	for (size_t i = 0; i < sizeof garbage; i++)
		garbage[i] = (char)(i * 131 + i / 7);
	write_whole_file(path, garbage, sizeof garbage);
	leaves_the_store_alone(state, false, -EBADMSG, "no store");
	leaves_the_store_alone(state, true, -EBADMSG, "no store");
	assert_int_equal(unlink(path), 0);
	/* SQLite, but someone else's. */
	edit(state, "CREATE TABLE fern (dried); INSERT INTO fern VALUES (1)");
	leaves_the_store_alone(state, false, -EBADMSG, "no store");
	assert_int_equal(unlink(path), 0);
	/* A reader makes nothing. */
	refuses(state, true, -ENOENT, "not there");
	assert_int_equal(stat(path, &info), -1);
}

static void a_damaged_page_is_said_and_left_alone(void **state)
{
	struct store *store = open_store(state, false);
	char path[TEMP_PATH_MAX], *bytes;
	size_t length;

	for (int i = 0; i < 20; i++)
		begin(store, 0);
	store_close(store);
	temp_path(state, "ambo.db", path);
	bytes = read_whole_file(path, &length);
	assert_true(length > 20 * 4096);
	for (size_t page = 4; page < length / 4096; page += 5)
		memset(bytes + page * 4096, 0xa5, 200);
	write_whole_file(path, bytes, length);
	free(bytes);
	leaves_the_store_alone(state, false, -EBADMSG, "damaged");
}

static void a_store_cut_in_half_is_said_and_left_alone(void **state)
{
	struct store *store = open_store(state, false);
	char path[TEMP_PATH_MAX];
	struct stat info;

	for (int i = 0; i < 20; i++)
		begin(store, 0);
	store_close(store);
	temp_path(state, "ambo.db", path);
	assert_int_equal(stat(path, &info), 0);
	assert_int_equal(truncate(path, info.st_size / 2), 0);
	leaves_the_store_alone(state, false, -EBADMSG, "damaged");
}

/* Runs fn in a child that may give away its rights; its exit code. */
static int in_child(int (*fn)(void **state), void **state)
{
	pid_t child = fork();
	int status;

	assert_true(child >= 0);
	if (child == 0)
		_exit(fn(state));
	assert_int_equal(waitpid(child, &status, 0), child);
	return WIFEXITED(status) ? WEXITSTATUS(status) : 255;
}

static int open_as_nobody(void **state)
{
	char path[TEMP_PATH_MAX];
	struct store *store;
	int r;

	temp_path(state, "ambo.db", path);
	/* For root every file is writable: be someone else. */
	if (getuid() == 0 && (setgid(65534) < 0 || setuid(65534) < 0))
		return 77;
	r = store_open(path, false, message, &store);
	if (r != -EACCES || !strstr(message, "permission denied; give")) {
		fprintf(stderr, "%d %s\n", r, message);
		return 1;
	}
	return 0;
}

static void a_store_without_permission_is_said_and_left_alone(void **state)
{
	struct store *store = open_store(state, false);
	char path[TEMP_PATH_MAX];

	begin(store, 0);
	store_close(store);
	temp_path(state, "ambo.db.lock", path);
	/* Once the folder, once the file stands in the way. */
	assert_int_equal(unlink(path), 0);
	assert_int_equal(chmod(*state, 0555), 0);
	assert_int_equal(in_child(open_as_nobody, state), 0);
	assert_int_equal(chmod(*state, 0777), 0);
	temp_path(state, "ambo.db", path);
	assert_int_equal(chmod(path, 0444), 0);
	assert_int_equal(in_child(open_as_nobody, state), 0);
	assert_int_equal(chmod(*state, 0700), 0);
}

static int open_on_read_only_mount(void **state)
{
	char path[TEMP_PATH_MAX];
	struct store *store;
	int r;

	if (unshare(CLONE_NEWNS) < 0 || mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) < 0 ||
	    mount(*state, *state, NULL, MS_BIND, NULL) < 0 ||
	    mount(NULL, *state, NULL, MS_BIND | MS_REMOUNT | MS_RDONLY, NULL) < 0)
		return 77;
	temp_path(state, "ambo.db", path);
	r = store_open(path, false, message, &store);
	if (r != -EROFS || !strstr(message, "read-only file system; mount")) {
		fprintf(stderr, "%d %s\n", r, message);
		return 1;
	}
	return 0;
}

static void a_read_only_file_system_is_said(void **state)
{
	int r;

	store_close(open_store(state, false));
	r = in_child(open_on_read_only_mount, state);
	if (r == 77) {
		print_message("skipped: this user may not mount\n");
		skip();
	}
	assert_int_equal(r, 0);
}

static void limit_file_size(rlim_t bytes)
{
	struct rlimit limit;

	signal(SIGXFSZ, SIG_IGN);
	assert_int_equal(getrlimit(RLIMIT_FSIZE, &limit), 0);
	limit.rlim_cur = bytes;
	assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

/* A file that may not grow stands for the disk that is full. */
static void a_full_disk_loses_nothing_committed_and_goes_on_when_there_is_room(void **state)
{
	struct store *store = open_store(state, false);
	struct store_step_row *steps;
	int64_t id = begin(store, 0), t = 0, n_links, bad_id;
	size_t n;
	int r;

	limit_file_size(400000);
	while ((r = step(store, id, t + 1, GUIDE_CHARGE, 1)) == 0 && t < 1000)
		t++;
	assert_int_equal(r, -ENOSPC);
	assert_sentence(store_message(store), "the disk is full");
	assert_string_equal(store_reason(r), "the disk is full");
	assert_int_equal(step(store, id, t + 1, GUIDE_CHARGE, 1), -ENOSPC);
	limit_file_size(RLIM_INFINITY);
	assert_int_equal(step(store, id, t + 1, GUIDE_DONE, 2), 0);
	store_close(store);
	store = open_store(state, false);
	assert_int_equal(store_steps(store, id, &steps, &n), 0);
	assert_int_equal(n, t + 2);
	for (size_t i = 0; i < n; i++)
		assert_int_equal(steps[i].t_us, i);
	free(steps);
	assert_int_equal(store_verify(store, &n_links, &bad_id), 0);
	assert_int_equal(n_links, 1);
	store_close(store);
}

static int fill_a_small_disk(void **state)
{
	char path[TEMP_PATH_MAX];
	struct store_step_row *steps;
	struct store *store;
	int64_t id, t = 0;
	size_t n;
	int r;

	if (unshare(CLONE_NEWNS) < 0 || mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) < 0 ||
	    mount("small", *state, "tmpfs", 0, "size=1m") < 0)
		return 77;
	temp_path(state, "ambo.db", path);
	if (store_open(path, false, message, &store) < 0)
		return 2;
	id = begin(store, 0);
	while ((r = step(store, id, t + 1, GUIDE_CHARGE, 1)) == 0 && t < 2000)
		t++;
	if (r != -ENOSPC || !strstr(store_message(store), "the disk is full"))
		return 3;
	store_close(store);
	/* What was committed is still there, on a disk that is still full. */
	if (store_open(path, false, message, &store) < 0) {
		fprintf(stderr, "%s\n", message);
		return 4;
	}
	if (store_steps(store, id, &steps, &n) < 0 || n != (size_t)t + 1)
		return 5;
	free(steps);
	store_close(store);
	return 0;
}

static void a_file_system_without_room_loses_nothing_committed(void **state)
{
	int r = in_child(fill_a_small_disk, state);

	if (r == 77) {
		print_message("skipped: this user may not mount\n");
		skip();
	}
	assert_int_equal(r, 0);
}

static void a_disk_full_from_the_start_leaves_no_half_made_store(void **state)
{
	char path[TEMP_PATH_MAX];

	limit_file_size(8192);
	refuses(state, false, -ENOSPC, "the disk is full");
	limit_file_size(RLIM_INFINITY);
	temp_path(state, "ambo.db", path);
	assert_int_equal(access(path, F_OK), -1);
	store_close(open_store(state, false));
}

static void a_missing_folder_is_said(void **state)
{
	char path[TEMP_PATH_MAX];
	struct store *store;

	temp_path(state, "missing/ambo.db", path);
	assert_int_equal(store_open(path, false, message, &store), -ENOENT);
	assert_sentence(message, "not there");
}

static void every_reason_fits_a_label(void **state)
{
	(void)state;
	for (int error = 1; error < 134; error++)
		assert_in_range(strlen(store_reason(-error)), 3, SYSTEM_LABEL_MAX - 1);
}

#define test(name) cmocka_unit_test_setup_teardown(name, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(steps_come_back_in_order_and_number),
	        test(an_open_batch_comes_back_with_its_last_committed_state),
	        test(a_state_that_cannot_be_read_is_said_with_its_batch_and_line),
	        test(a_finished_batch_never_changes),
	        test(the_record_of_an_open_batch_is_told_as_it_stands),
	        test(a_row_tells_what_the_record_tells),
	        test(a_list_is_paged_newest_first_without_gap_or_repeat),
	        test(a_curve_comes_back_bit_for_bit),
	        test(numbers_bottles_and_lots_outlive_the_daemon),
	        test(the_clocks_of_this_machine_make_a_stamp),
	        test(only_the_owner_may_read_the_files),
	        test(a_second_daemon_is_refused_and_a_reader_is_not),
	        test(a_newer_version_is_refused_and_left_alone),
	        test(a_newer_version_still_in_the_log_is_left_alone_too),
	        test(what_is_no_store_is_refused_and_left_alone),
	        test(a_damaged_page_is_said_and_left_alone),
	        test(a_store_cut_in_half_is_said_and_left_alone),
	        test(a_store_without_permission_is_said_and_left_alone),
	        test(a_read_only_file_system_is_said),
	        test(a_full_disk_loses_nothing_committed_and_goes_on_when_there_is_room),
	        test(a_file_system_without_room_loses_nothing_committed),
	        test(a_disk_full_from_the_start_leaves_no_half_made_store),
	        test(a_missing_folder_is_said),
	        cmocka_unit_test(every_reason_fits_a_label),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
