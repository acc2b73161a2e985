/* SPDX-License-Identifier: MIT */
#include "daemon/records/store_thread.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/temp_folder.h"

#define PATIENCE_MS 20000 /* for a hung test only */

struct fixture {
	void *folder;
	char path[TEMP_PATH_MAX];
	struct store_thread *thread;
};
static struct fixture fixture;

static int set_up(void **state)
{
	char message[STORE_MESSAGE_MAX];
	struct store *store;

	(void)state;
	if (temp_folder_make(&fixture.folder) < 0)
		return -1;
	temp_path(&fixture.folder, "ambo.db", fixture.path);
	if (store_open(fixture.path, false, message, &store) < 0)
		return -1;
	return store_thread_start(store, &fixture.thread);
}

static int tear_down(void **state)
{
	(void)state;
	store_thread_stop(fixture.thread);
	return temp_folder_remove(&fixture.folder);
}

/* What jobs and completions note down; jobs on their thread, the rest on ours. */
static char jobs_run[256], jobs_done[256];
static pthread_t main_thread, job_thread;
static pthread_mutex_t gate = PTHREAD_MUTEX_INITIALIZER; /* held: jobs wait at it */

static void note(char *list, const void *context)
{
	strncat(list, context, 1);
}

static void noting_job(struct store *store, void *context)
{
	assert_non_null(store);
	job_thread = pthread_self();
	note(jobs_run, context);
}

static void waiting_job(struct store *store, void *context)
{
	pthread_mutex_lock(&gate);
	pthread_mutex_unlock(&gate);
	noting_job(store, context);
}

static void noting_done(void *context)
{
	assert_true(pthread_equal(pthread_self(), main_thread));
	note(jobs_done, context);
}

static void start_notes(void)
{
	jobs_run[0] = jobs_done[0] = '\0';
	main_thread = pthread_self();
}

/* As the main loop does: wait for the descriptor, dispatch. */
static void dispatch_until(int n)
{
	while (n > 0) {
		struct pollfd ready = {.fd = store_thread_fd(fixture.thread), .events = POLLIN};

		assert_int_equal(poll(&ready, 1, PATIENCE_MS), 1);
		n -= store_thread_dispatch(fixture.thread);
	}
	assert_int_equal(n, 0);
}

static int submit(void (*job)(struct store *, void *), const char *name)
{
	return store_thread_submit(fixture.thread, job, noting_done, (void *)(uintptr_t)name);
}

static void jobs_run_in_order_on_the_other_thread_and_complete_on_ours(void **state)
{
	(void)state;
	start_notes();
	assert_int_equal(submit(noting_job, "a"), 0);
	assert_int_equal(submit(noting_job, "b"), 0);
	assert_int_equal(
	        store_thread_submit(fixture.thread, noting_job, NULL, (void *)(uintptr_t) "c"), 0);
	assert_int_equal(submit(noting_job, "d"), 0);
	dispatch_until(4);
	assert_string_equal(jobs_run, "abcd");
	assert_string_equal(jobs_done, "abd");
	assert_false(pthread_equal(job_thread, main_thread));
	assert_int_equal(store_thread_dispatch(fixture.thread), 0);
}

static void nothing_is_readable_before_a_job_completes(void **state)
{
	struct pollfd ready = {.fd = store_thread_fd(fixture.thread), .events = POLLIN};

	(void)state;
	start_notes();
	pthread_mutex_lock(&gate);
	assert_int_equal(submit(waiting_job, "a"), 0);
	assert_int_equal(poll(&ready, 1, 0), 0);
	assert_int_equal(store_thread_dispatch(fixture.thread), 0);
	assert_string_equal(jobs_done, "");
	pthread_mutex_unlock(&gate);
	dispatch_until(1);
	assert_string_equal(jobs_done, "a");
}

static void a_full_queue_says_busy_and_takes_again_after_dispatch(void **state)
{
	unsigned taken = 0;
	int one_more;

	(void)state;
	start_notes();
	/* Nothing is asserted while jobs wait at the gate: tear-down would wait too. */
	pthread_mutex_lock(&gate);
	for (unsigned i = 0; i < STORE_THREAD_JOBS_MAX; i++)
		taken += submit(waiting_job, "x") == 0;
	one_more = submit(waiting_job, "y");
	pthread_mutex_unlock(&gate);
	assert_int_equal(taken, STORE_THREAD_JOBS_MAX);
	assert_int_equal(one_more, -EBUSY);
	dispatch_until((int)STORE_THREAD_JOBS_MAX);
	assert_int_equal(strlen(jobs_run), STORE_THREAD_JOBS_MAX);
	assert_null(strchr(jobs_run, 'y'));
	assert_int_equal(submit(noting_job, "z"), 0);
	dispatch_until(1);
	assert_string_equal(jobs_done + STORE_THREAD_JOBS_MAX, "z");
}

static void submitting_done(void *context)
{
	noting_done(context);
	assert_int_equal(submit(noting_job, "2"), 0);
}

static void a_completion_may_submit_the_next_job(void **state)
{
	(void)state;
	start_notes();
	assert_int_equal(store_thread_submit(fixture.thread, noting_job, submitting_done,
	                                     (void *)(uintptr_t) "1"),
	                 0);
	dispatch_until(2);
	assert_string_equal(jobs_done, "12");
}

struct commit {
	struct guide guide;
	struct store_stamp stamp;
	int64_t id;
};

static void begin_job(struct store *store, void *context)
{
	struct commit *commit = context;

	commit->id = store_begin(store, &commit->guide, 0, &commit->stamp);
}

static void step_job(struct store *store, void *context)
{
	struct commit *commit = context;

	assert_int_equal(store_step(store, commit->id, 1, &commit->guide, &commit->stamp), 0);
}

static void stopping_drains_what_was_submitted_and_closes_the_store(void **state)
{
	char message[STORE_MESSAGE_MAX];
	struct store_step_row *steps;
	struct commit commit;
	struct store *store;
	size_t n;

	(void)state;
	start_notes();
	batch_guide(GUIDE_CHARGE, 0, &commit.guide);
	batch_stamp(0, &commit.stamp);
	assert_int_equal(store_thread_submit(fixture.thread, begin_job, NULL, &commit), 0);
	for (int i = 0; i < 20; i++)
		assert_int_equal(store_thread_submit(fixture.thread, step_job, NULL, &commit), 0);
	assert_int_equal(submit(noting_job, "l"), 0);
	store_thread_stop(fixture.thread);
	fixture.thread = NULL;
	assert_string_equal(jobs_done, "l");
	/* It can be opened again: the lock is free, and all is in it. */
	assert_int_equal(store_open(fixture.path, false, message, &store), 0);
	assert_int_equal(store_steps(store, commit.id, &steps, &n), 0);
	assert_int_equal(n, 21);
	free(steps);
	store_close(store);
}

static int result_while_stopping;

static void late_done(void *context)
{
	(void)context;
	result_while_stopping = submit(noting_job, "n");
}

static void nothing_is_taken_while_it_stops(void **state)
{
	(void)state;
	start_notes();
	result_while_stopping = 0;
	assert_int_equal(
	        store_thread_submit(fixture.thread, noting_job, late_done, (void *)(uintptr_t) "a"),
	        0);
	store_thread_stop(fixture.thread);
	fixture.thread = NULL;
	assert_int_equal(result_while_stopping, -ESHUTDOWN);
	assert_string_equal(jobs_run, "a");
	store_thread_stop(NULL);
}

static sigset_t mask_seen;

static void mask_job(struct store *store, void *context)
{
	(void)store;
	(void)context;
	pthread_sigmask(SIG_BLOCK, NULL, &mask_seen);
}

static void the_store_thread_takes_no_signals(void **state)
{
	sigset_t ours;

	(void)state;
	start_notes();
	assert_int_equal(store_thread_submit(fixture.thread, mask_job, NULL, NULL), 0);
	dispatch_until(1);
	assert_int_equal(sigismember(&mask_seen, SIGTERM), 1);
	assert_int_equal(sigismember(&mask_seen, SIGINT), 1);
	pthread_sigmask(SIG_BLOCK, NULL, &ours);
	assert_int_equal(sigismember(&ours, SIGTERM), 0);
}

#define test(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(jobs_run_in_order_on_the_other_thread_and_complete_on_ours),
	        test(nothing_is_readable_before_a_job_completes),
	        test(a_full_queue_says_busy_and_takes_again_after_dispatch),
	        test(a_completion_may_submit_the_next_job),
	        test(stopping_drains_what_was_submitted_and_closes_the_store),
	        test(nothing_is_taken_while_it_stops),
	        test(the_store_thread_takes_no_signals),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
