/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "drivers/replay.h"

static char message[SCALE_MESSAGE_MAX];
static char path[64];

static int write_trace(void **state)
{
	FILE *stream;
	int fd;

	(void)state;
	strcpy(path, "/tmp/ambo-replay-XXXXXX");
	fd = mkstemp(path);
	stream = fdopen(fd, "w");
	fprintf(stream, "# when,units\n1000000,5\n1080000,6\n2000000,-7\n");
	return fclose(stream);
}

static int remove_trace(void **state)
{
	(void)state;
	return unlink(path);
}

static struct scale *open_at(const char *speed)
{
	const struct scale_option options[] = {
	        {"file", path, "a.conf:1"},
	        {"speed", speed, "a.conf:2"},
	        {"columns", "t_us=when,raw24=units", "a.conf:3"},
	};
	struct scale *scale = NULL;

	if (replay_driver.open(options, 3, message, &scale) < 0)
		fail_msg("%s", message);
	return scale;
}

static void at_speed_0_every_sample_comes_at_once_with_the_traces_time(void **state)
{
	struct scale *scale = open_at("0");
	struct scale_sample sample;

	(void)state;
	assert_int_equal(replay_driver.own_time, 1);
	assert_int_equal(replay_driver.read(scale, 0, &sample, message), 1);
	assert_int_equal(sample.t_us, 1000000);
	assert_int_equal(sample.counts, 5);
	assert_int_equal(replay_driver.read(scale, 0, &sample, message), 1);
	assert_int_equal(sample.counts, 6);
	assert_int_equal(replay_driver.read(scale, 0, &sample, message), 1);
	assert_int_equal(sample.t_us, 2000000);
	assert_int_equal(sample.flags, SCALE_GAP);
	assert_int_equal(replay_driver.read(scale, 0, &sample, message), -ENODATA);
	assert_int_equal(replay_driver.read(scale, 0, &sample, message), -ENODATA);
	replay_driver.close(scale);
}

static void at_true_speed_a_sample_that_is_not_due_is_waited_for(void **state)
{
	struct scale *scale = open_at("1");
	struct scale_sample sample = {0};
	int64_t last_t_us = 1000000;
	int n_waits = 0, r;

	(void)state;
	assert_int_equal(replay_driver.read(scale, 1000, &sample, message), 1);
	while ((r = replay_driver.read(scale, 1, &sample, message)) == 0) {
		n_waits++;
		/* A wait has a length on the trace's clock, but does not pass the sample. */
		assert_in_range(sample.t_us, last_t_us, 1080000);
		last_t_us = sample.t_us;
	}
	assert_int_equal(r, 1);
	assert_int_equal(sample.t_us, 1080000);
	assert_true(n_waits > 0);
	replay_driver.close(scale);
}

static void a_missing_file_is_named_with_its_place_in_the_configuration(void **state)
{
	const struct scale_option options[] = {{"file", "/nowhere/t.csv", "a.conf:4"}};
	struct scale *scale;

	(void)state;
	assert_int_equal(replay_driver.open(options, 1, message, &scale), -EINVAL);
	assert_string_equal(message,
	                    "a.conf:4: file: '/nowhere/t.csv' cannot be read (No such file "
	                    "or directory); expected the path of a file");
	assert_int_equal(replay_driver.open(NULL, 0, message, &scale), -EINVAL);
	assert_string_equal(message, "scale: file: is missing for the driver replay; expected the "
	                             "path of a trace");
}

static void a_trace_with_a_mistake_ends_with_its_sentence(void **state)
{
	struct scale_sample sample;
	struct scale *scale;
	FILE *stream = fopen(path, "w");

	(void)state;
	fprintf(stream, "# when,units\n1,5\n2,x\n");
	fclose(stream);
	scale = open_at("0");
	assert_int_equal(replay_driver.read(scale, 0, &sample, message), 1);
	assert_int_equal(replay_driver.read(scale, 0, &sample, message), -EBADMSG);
	assert_non_null(strstr(message, ":3: the code 'x' is no whole number"));
	replay_driver.close(scale);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup_teardown(
	                at_speed_0_every_sample_comes_at_once_with_the_traces_time, write_trace,
	                remove_trace),
	        cmocka_unit_test_setup_teardown(
	                at_true_speed_a_sample_that_is_not_due_is_waited_for, write_trace,
	                remove_trace),
	        cmocka_unit_test(a_missing_file_is_named_with_its_place_in_the_configuration),
	        cmocka_unit_test_setup_teardown(a_trace_with_a_mistake_ends_with_its_sentence,
	                                        write_trace, remove_trace),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
