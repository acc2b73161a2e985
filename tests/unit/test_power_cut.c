/* SPDX-License-Identifier: MIT */
#include "daemon/records/store.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/power_cut_vfs.h"
#include "../support/temp_folder.h"

/* The same work throughout: batch after batch of COMMITS commits, the first of them
 * its beginning, the last its end. So how many commits there are says everything that
 * must be in the store. */
#define COMMITS           6
#define FRESH_STORE_EVERY 50 /* cuts: the first open is cut too, and the store stays small */

static int cuts_wanted(void)
{
	const char *is_long = getenv("AMBO_LONG");

	return is_long && is_long[0] == '1' ? 1000 : 200;
}

/* The commit after n. 0 or -errno. */
static int commit_next(struct store *store, int64_t n)
{
	int64_t batch = n / COMMITS + 1, seq = n % COMMITS;
	struct store_stamp stamp;
	struct guide guide;
	int64_t r;

	batch_stamp(n, &stamp);
	batch_guide(seq == COMMITS - 1 ? GUIDE_DONE : GUIDE_CHARGE, seq > 2 ? 2 : 0, &guide);
	if (seq > 0)
		return store_step(store, batch, seq, &guide, &stamp);
	r = store_begin(store, &guide, 0, &stamp);
	if (r > 0)
		assert_int_equal(r, batch);
	return r < 0 ? (int)r : 0;
}

/* One batch is there with so many steps, each once and in order. */
static void check_batch(struct store *store, int64_t id, size_t n_steps)
{
	struct store_step_row *steps;
	size_t n;

	assert_int_equal(store_steps(store, id, &steps, &n), 0);
	assert_int_equal(n, n_steps);
	for (size_t i = 0; i < n; i++) {
		assert_int_equal(steps[i].seq, i + 1);
		assert_int_equal(steps[i].t_us, i);
	}
	free(steps);
}

/* Looks at all there is and returns how many commits that makes. */
static int64_t commits_in(struct store *store)
{
	struct store_row row = {0};
	struct store_step_row *steps;
	struct store_open_batch open[2];
	int64_t next, n, links = -1, bad_id = -1;
	size_t n_last;

	if (store_list(store, 0, &row, 1, &next) == 0)
		return 0;
	assert_int_equal(store_steps(store, row.id, &steps, &n_last), 0);
	free(steps);
	assert_in_range(n_last, 1, COMMITS);
	for (int64_t id = 1; id < row.id; id++)
		check_batch(store, id, COMMITS);
	check_batch(store, row.id, n_last);
	n = (row.id - 1) * COMMITS + (int64_t)n_last;
	assert_int_equal(store_verify(store, &links, &bad_id), 0);
	assert_int_equal(links, n / COMMITS);
	assert_int_equal(store_open_batches(store, open, 2), n % COMMITS != 0);
	return n;
}

static void child_commits_until_killed(const char *path, int acknowledge_fd)
{
	char message[STORE_MESSAGE_MAX];
	struct store *store;
	int64_t n;

	alarm(60);
	if (store_open(path, false, message, &store) < 0) {
		fprintf(stderr, "%s\n", message);
		_exit(2);
	}
	for (n = commits_in(store);; n++) {
		int64_t acknowledged = n;

		/* n are told of; now the next. */
		if (write(acknowledge_fd, &acknowledged, sizeof acknowledged) !=
		            sizeof acknowledged ||
		    commit_next(store, n) < 0)
			_exit(3);
	}
}

/* Returns the last number the child told of before it was killed; told is what had
 * been told before it. */
static int64_t kill_while_committing(const char *path, int64_t told, unsigned *random)
{
	int64_t number;
	int pipe_fd[2], status;
	pid_t child;

	assert_int_equal(pipe(pipe_fd), 0);
	child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		close(pipe_fd[0]);
		child_commits_until_killed(path, pipe_fd[1]);
	}
	close(pipe_fd[1]);
	/* One time in eight it dies while it opens. */
	if (rand_r(random) % 8 != 0 && read(pipe_fd[0], &number, sizeof number) == sizeof number)
		told = number;
	nanosleep(&(struct timespec){.tv_nsec = rand_r(random) % 20000000}, NULL);
	kill(child, SIGKILL);
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
	while (read(pipe_fd[0], &number, sizeof number) == sizeof number)
		told = number;
	close(pipe_fd[0]);
	return told;
}

/* SQLite keeps it for the process; the killed children below do without. */
static void install_once(void)
{
	static bool installed;

	if (!installed)
		power_cut_install();
	installed = true;
}

static void killing_the_daemon_loses_and_doubles_nothing(void **state)
{
	char path[TEMP_PATH_MAX], name[32], message[STORE_MESSAGE_MAX];
	int64_t told = 0, all = 0;
	unsigned random = 20260417;

	for (int i = 0; i < cuts_wanted(); i++) {
		struct store *store;
		int64_t n;

		if (i % FRESH_STORE_EVERY == 0) {
			snprintf(name, sizeof name, "killed-%d.db", i);
			temp_path(state, name, path);
			all += told;
			told = 0;
		}
		told = kill_while_committing(path, told, &random);
		assert_int_equal(store_open(path, false, message, &store), 0);
		n = commits_in(store);
		store_close(store);
		/* One more at most: committed, and killed before it could be told. */
		assert_in_range(n, told, told + 1);
		told = n;
	}
	all += told;
	print_message("%d kills, %lld commits, none lost or doubled\n", cuts_wanted(),
	              (long long)all);
	assert_true(all > cuts_wanted());
}

/* Opens, looks, commits a few and closes again, over and over until the power goes:
 * told is what must be there, and returns what now was told of. */
static int64_t work_until_cut(const char *path, int64_t told)
{
	char message[STORE_MESSAGE_MAX];
	struct store *store;

	while (!power_cut_happened()) {
		int64_t n, r = store_open(path, false, message, &store);

		if (r < 0) {
			if (!power_cut_happened())
				fail_msg("%s", message);
			break;
		}
		n = commits_in(store);
		assert_in_range(n, told, told + 1);
		for (told = n; told < n + 10 && commit_next(store, told) == 0; told++)
			;
		assert_true(told == n + 10 || power_cut_happened());
		store_close(store);
	}
	return told;
}

static void a_power_cut_loses_and_doubles_nothing(void **state)
{
	char path[TEMP_PATH_MAX], name[32];
	int64_t told = 0, all = 0;
	unsigned random = 7;
	int cuts = cuts_wanted();

	install_once();
	for (int i = 0; i < cuts; i++) {
		if (i % FRESH_STORE_EVERY == 0) {
			snprintf(name, sizeof name, "cut-%d.db", i);
			temp_path(state, name, path);
			all += told;
			told = 0;
		}
		power_cut_arm(1 + (uint64_t)(rand_r(&random) % 400), (uint32_t)i + 1);
		told = work_until_cut(path, told);
		power_cut_restore();
	}
	all += told;
	print_message("%d power cuts, %lld commits told of, none lost or doubled\n", cuts,
	              (long long)all);
	assert_true(all > cuts);
}

static size_t steps_of(struct store *store, int64_t id)
{
	struct store_step_row *steps;
	size_t n;

	assert_int_equal(store_steps(store, id, &steps, &n), 0);
	free(steps);
	return n;
}

/* A divided batch's mass and its parent's loss of it: both, or neither. */
static void a_power_cut_never_parts_steps_committed_at_once(void **state)
{
	char path[TEMP_PATH_MAX], message[STORE_MESSAGE_MAX];
	struct store_stamp stamp;
	struct store *store;
	struct guide guide;
	unsigned random = 11;
	size_t told = 1, all = 0;

	install_once();
	temp_path(state, "two.db", path);
	batch_guide(GUIDE_CHARGE, 2, &guide);
	batch_stamp(0, &stamp);
	assert_int_equal(store_open(path, false, message, &store), 0);
	assert_int_equal(store_begin(store, &guide, 0, &stamp), 1);
	assert_int_equal(store_begin(store, &guide, 1, &stamp), 2);
	store_close(store);
	for (int i = 0; i < cuts_wanted() / 4; i++) {
		power_cut_arm(1 + (uint64_t)(rand_r(&random) % 150), (uint32_t)i + 1);
		for (bool cut = store_open(path, false, message, &store) < 0; !cut;) {
			const struct store_step steps[] = {{2, (int64_t)told, &guide},
			                                   {1, (int64_t)told, &guide}};

			cut = store_steps_at_once(store, steps, 2, &stamp) < 0;
			if (cut)
				store_close(store);
			told += !cut;
		}
		power_cut_restore();
		assert_int_equal(store_open(path, false, message, &store), 0);
		assert_int_equal(steps_of(store, 1), steps_of(store, 2));
		assert_in_range(steps_of(store, 1), told, told + 1);
		all += steps_of(store, 1) - told;
		told = steps_of(store, 1);
		store_close(store);
	}
	print_message("%zu pairs of steps, %zu of them committed but not told of\n", told, all);
	assert_true(told > (size_t)cuts_wanted() / 4);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup_teardown(killing_the_daemon_loses_and_doubles_nothing,
	                                        temp_folder_make, temp_folder_remove),
	        cmocka_unit_test_setup_teardown(a_power_cut_loses_and_doubles_nothing,
	                                        temp_folder_make, temp_folder_remove),
	        cmocka_unit_test_setup_teardown(a_power_cut_never_parts_steps_committed_at_once,
	                                        temp_folder_make, temp_folder_remove),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
