/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "drivers/simulated.h"

static char message[SCALE_MESSAGE_MAX];

static struct scale *open_bench(const char *speed, const char *state)
{
	const struct scale_option options[] = {
	        {"speed", speed, "a.conf:1"},     {"corrupt_ratio", "0", "a.conf:2"},
	        {"creep_ratio", "0", "a.conf:3"}, {"noise_g", "0", "a.conf:4"},
	        {"state", state, "a.conf:5"},
	};
	struct scale *scale = NULL;

	if (simulated_driver.open(options, state != NULL ? 5 : 4, message, &scale) < 0)
		fail_msg("%s", message);
	return scale;
}

static double read_g(struct scale *scale, int n, int64_t *ret_t_us)
{
	struct scale_sample sample = {0};

	for (int i = 0; i < n; i++)
		assert_int_equal(simulated_driver.read(scale, 1000, &sample, message), 1);
	if (ret_t_us != NULL)
		*ret_t_us = sample.t_us;
	return (sample.counts - 190000.0) / 429.5;
}

static void at_speed_0_it_never_waits_and_silence_has_a_length(void **state)
{
	struct scale *scale = open_bench("0", NULL);
	struct scale_sample sample = {0};
	int64_t t_us;

	(void)state;
	assert_int_equal(simulated_driver.act(scale, "object", 100.0), 0);
	assert_within(read_g(scale, 100, &t_us), 100.0, 0.01);
	assert_int_equal(simulated_driver.act(scale, "unplug", 0.0), 0);
	assert_int_equal(simulated_driver.read(scale, 500, &sample, message), 0);
	assert_in_range(sample.t_us, t_us + 500000, t_us + 520000);
	assert_int_equal(simulated_driver.act(scale, "plug", 0.0), 0);
	assert_within(read_g(scale, 1, NULL), 100.0, 0.01);
	assert_int_equal(simulated_driver.act(scale, "juggle", 1.0), -EINVAL);
	simulated_driver.close(scale);
	simulated_driver.close(NULL);
}

static void at_true_speed_it_waits_no_longer_than_told(void **state)
{
	struct scale *scale = open_bench("1", NULL);
	struct scale_sample sample;
	int n_samples = 0, n_waits = 0;

	(void)state;
	while (n_samples < 3) {
		int r = simulated_driver.read(scale, 1, &sample, message);

		assert_true(r == 0 || r == 1);
		n_samples += r;
		n_waits += r == 0;
		assert_in_range(n_waits, 0, 100000);
	}
	assert_true(n_waits > 0);
	simulated_driver.close(scale);
}

static char state_path[64];

static int make_path(void **state)
{
	int fd;

	(void)state;
	strcpy(state_path, "/tmp/ambo-bench-XXXXXX");
	fd = mkstemp(state_path);
	unlink(state_path);
	return fd < 0 ? -1 : close(fd);
}

static int remove_path(void **state)
{
	(void)state;
	unlink(state_path);
	return 0;
}

static void the_pan_keeps_its_load_over_a_restart_and_time_goes_on(void **state)
{
	struct scale *scale = open_bench("0", state_path);
	int64_t before_us, after_us;

	(void)state;
	assert_int_equal(simulated_driver.act(scale, "cup", 20.0), 0);
	assert_int_equal(simulated_driver.act(scale, "spill", 1.0), 0);
	assert_within(read_g(scale, 100, &before_us), 21.0, 0.01);
	simulated_driver.close(scale);
	scale = open_bench("0", state_path);
	assert_within(read_g(scale, 1, &after_us), 21.0, 0.01);
	assert_in_range(after_us - before_us, 11904, 11905); /* one period */
	simulated_driver.close(scale);
}

/* Killed at any moment, the file holds a whole bench: time has passed and the load
 * is what was poured up to then. */
static void a_bench_killed_in_mid_pour_is_whole(void **state)
{
	double last_g = 20.0;

	(void)state;
	for (int round = 0; round < 5; round++) {
		int ends[2], status;
		struct scale *scale;
		pid_t child;
		char byte;
		double now_g;

		assert_int_equal(pipe(ends), 0);
		child = fork();
		if (child == 0) {
			struct scale_sample sample;

			scale = open_bench("0", state_path);
			if (round == 0)
				simulated_driver.act(scale, "cup", 20.0);
			simulated_driver.act(scale, "pour-a", 0.05);
			for (int i = 0; i < 200000; i++) {
				simulated_driver.read(scale, 1000, &sample, message);
				if (i == 200 && write(ends[1], "x", 1) != 1)
					_exit(1);
			}
			_exit(0);
		}
		close(ends[1]);
		assert_int_equal(read(ends[0], &byte, 1), 1);
		close(ends[0]);
		kill(child, SIGKILL);
		assert_int_equal(waitpid(child, &status, 0), child);
		scale = open_bench("0", state_path);
		now_g = read_g(scale, 1, NULL);
		assert_true(now_g > last_g);
		assert_true(now_g < 200.0);
		last_g = now_g;
		simulated_driver.close(scale);
	}
}

static void expect_refusal(int result, const char *sentence)
{
	const struct scale_option options[] = {{"state", state_path, "a.conf:5"}};
	char expected[SCALE_MESSAGE_MAX];
	struct scale *scale = NULL;

	assert_int_equal(simulated_driver.open(options, 1, message, &scale), result);
	assert_null(scale);
	snprintf(expected, sizeof(expected), "a.conf:5: state: '%s' %s", state_path, sentence);
	assert_string_equal(message, expected);
}

static void a_state_file_that_is_none_is_refused_and_left_alone(void **state)
{
	static const char foreign[2][32] = {"something of somebody else's",
	                                    "\0\0\0\0\0\0\0\0zeros"};

	(void)state;
	for (int i = 0; i < 2; i++) {
		char back[sizeof(foreign[0])] = "";
		FILE *stream = fopen(state_path, "w");

		fwrite(foreign[i], 1, sizeof(foreign[i]), stream);
		fclose(stream);
		expect_refusal(-EINVAL, "holds no bench of this version; expected one, or no file");
		stream = fopen(state_path, "r");
		assert_int_equal(fread(back, 1, sizeof(back), stream), sizeof(back));
		fclose(stream);
		assert_memory_equal(back, foreign[i], sizeof(back));
		unlink(state_path);
	}
	strcpy(state_path, "/nowhere/bench");
	expect_refusal(-ENOENT, "cannot be used (No such file or directory); expected a file that "
	                        "can be written");
}

static void two_daemons_do_not_share_a_bench(void **state)
{
	struct scale *scale = open_bench("0", state_path);
	int status;
	pid_t child = fork();

	(void)state;
	if (child == 0) {
		const struct scale_option options[] = {{"state", state_path, "a.conf:5"}};
		struct scale *other;

		_exit(simulated_driver.open(options, 1, message, &other) == -EBUSY &&
		                      strstr(message, "is in use by another process") != NULL
		              ? 0
		              : 1);
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(status, 0);
	simulated_driver.close(scale);
}

#define ACTS 20000

static void *put_and_take(void *scale)
{
	for (int i = 0; i < ACTS; i++)
		simulated_driver.act(scale, "object", 1.0);
	return NULL;
}

static void acts_of_two_threads_all_count(void **state)
{
	struct scale *scale = open_bench("0", NULL);
	pthread_t threads[2];

	(void)state;
	for (int i = 0; i < 2; i++)
		assert_int_equal(pthread_create(&threads[i], NULL, put_and_take, scale), 0);
	read_g(scale, 1000, NULL);
	for (int i = 0; i < 2; i++)
		pthread_join(threads[i], NULL);
	/* 40 kg rail the converter: take off all but a few. */
	assert_int_equal(simulated_driver.act(scale, "object", 300.0 - 2 * ACTS), 0);
	assert_within(read_g(scale, 100, NULL), 300.0, 0.01);
	simulated_driver.close(scale);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(at_speed_0_it_never_waits_and_silence_has_a_length),
	        cmocka_unit_test(at_true_speed_it_waits_no_longer_than_told),
	        cmocka_unit_test_setup_teardown(
	                the_pan_keeps_its_load_over_a_restart_and_time_goes_on, make_path,
	                remove_path),
	        cmocka_unit_test_setup_teardown(a_bench_killed_in_mid_pour_is_whole, make_path,
	                                        remove_path),
	        cmocka_unit_test_setup_teardown(a_state_file_that_is_none_is_refused_and_left_alone,
	                                        make_path, remove_path),
	        cmocka_unit_test_setup_teardown(two_daemons_do_not_share_a_bench, make_path,
	                                        remove_path),
	        cmocka_unit_test(acts_of_two_threads_all_count),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
