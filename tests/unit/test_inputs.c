/* SPDX-License-Identifier: MIT */
#include "daemon/records/inputs.h"

#include <errno.h>
#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../support/assert_close.h"
#include "../support/temp_folder.h"

static struct inputs *open_inputs(void **state, unsigned batches_max, int64_t bytes_max)
{
	char folder[TEMP_PATH_MAX];
	struct inputs *inputs;

	temp_path(state, "inputs", folder);
	assert_int_equal(inputs_new(folder, batches_max, bytes_max, &inputs), 0);
	return inputs;
}

static void path_of(void **state, int64_t id, const char *name, char *ret)
{
	char relative[128];

	snprintf(relative, sizeof relative, "inputs/%" PRId64 "/%s", id, name);
	temp_path(state, relative, ret);
}

static void assert_file(void **state, int64_t id, const char *name, const char *expected)
{
	char path[TEMP_PATH_MAX], *bytes;
	size_t length;

	path_of(state, id, name, path);
	bytes = read_whole_file(path, &length);
	assert_string_equal(bytes, expected);
	free(bytes);
}

static int is_there(void **state, int64_t id, const char *name)
{
	char path[TEMP_PATH_MAX];

	path_of(state, id, name, path);
	return access(path, F_OK) == 0;
}

static void samples_presses_and_files_are_kept_as_they_came(void **state)
{
	struct inputs *inputs = open_inputs(state, 20, INPUTS_BYTES_MAX);

	inputs_begin(inputs, 7);
	inputs_sample(inputs, 7, 11269, 189956, 2);
	inputs_sample(inputs, 7, 23131, -8388608, 0);
	inputs_event(inputs, 7, 24000, "press");
	inputs_event(inputs, 7, 25000, "scan two\nlines");
	inputs_keep(inputs, 7, "ambo.conf", "driver = 1;\n", 12);
	inputs_flush(inputs);
	assert_file(state, 7, "trace.csv",
	            "# t_us,raw24,driver_flags\n11269,189956,2\n23131,-8388608,0\n");
	assert_file(state, 7, "presses.csv", "# t_us,event\n24000,press\n25000,scan two lines\n");
	assert_file(state, 7, "ambo.conf", "driver = 1;\n");
	assert_null(inputs_problem(inputs));
	inputs_free(inputs);
}

static void two_batches_at_once_stay_apart(void **state)
{
	struct inputs *inputs = open_inputs(state, 20, INPUTS_BYTES_MAX);

	inputs_begin(inputs, 1);
	inputs_begin(inputs, 2);
	inputs_sample(inputs, 1, 10, 1, 0);
	inputs_sample(inputs, 2, 20, 2, 0);
	inputs_end(inputs, 1);
	inputs_sample(inputs, 1, 30, 3, 0); /* over: nothing */
	inputs_sample(inputs, 2, 40, 4, 0);
	inputs_free(inputs);
	assert_file(state, 1, "trace.csv", "# t_us,raw24,driver_flags\n10,1,0\n");
	assert_file(state, 2, "trace.csv", "# t_us,raw24,driver_flags\n20,2,0\n40,4,0\n");
}

static void one_open_batch_too_many_is_a_problem_told_once(void **state)
{
	struct inputs *inputs = open_inputs(state, 20, INPUTS_BYTES_MAX);

	for (int64_t id = 1; id <= (int64_t)INPUTS_OPEN_MAX; id++)
		inputs_begin(inputs, id);
	assert_null(inputs_problem(inputs));
	inputs_begin(inputs, INPUTS_OPEN_MAX + 1);
	assert_non_null(inputs_problem(inputs));
	assert_null(inputs_problem(inputs));
	assert_false(is_there(state, INPUTS_OPEN_MAX + 1, "trace.csv"));
	inputs_free(inputs);
}

static void the_oldest_goes_when_there_is_one_batch_too_many(void **state)
{
	struct inputs *inputs = open_inputs(state, 3, INPUTS_BYTES_MAX);

	/* 9 before 10 and 11: by number, not by name. */
	for (int64_t id = 8; id <= 11; id++) {
		inputs_begin(inputs, id);
		inputs_sample(inputs, id, id, 1, 0);
		inputs_end(inputs, id);
	}
	assert_false(is_there(state, 8, ""));
	assert_true(is_there(state, 9, "trace.csv"));
	assert_true(is_there(state, 11, "trace.csv"));
	inputs_begin(inputs, 12);
	assert_false(is_there(state, 9, ""));
	assert_true(is_there(state, 10, "trace.csv"));
	assert_null(inputs_problem(inputs));
	inputs_free(inputs);
}

/* Bytes in all plain files below inputs/, counted apart from the code under test. */
static int64_t bytes_on_disk(void **state)
{
	char command[TEMP_PATH_MAX + 64], folder[TEMP_PATH_MAX];
	int64_t bytes = 0, size;
	FILE *sizes;

	temp_path(state, "inputs", folder);
	snprintf(command, sizeof command, "find '%s' -type f -printf '%%s\\n'", folder);
	sizes = popen(command, "r");
	assert_non_null(sizes);
	while (fscanf(sizes, "%" SCNd64, &size) == 1)
		bytes += size;
	pclose(sizes);
	return bytes;
}

static void the_bytes_of_all_batches_stay_under_the_limit(void **state)
{
	const int64_t limit = 200000;
	struct inputs *inputs = open_inputs(state, 20, limit);

	for (int64_t id = 1; id <= 8; id++) {
		inputs_begin(inputs, id);
		for (int i = 0; i < 3000; i++) /* about 58 kB a batch */
			inputs_sample(inputs, id, 1000000000 + i, 190000, 0);
		inputs_end(inputs, id);
		assert_in_range(bytes_on_disk(state), 1, limit);
	}
	assert_null(inputs_problem(inputs));
	/* Three whole ones fit, the newest. */
	for (int64_t id = 1; id <= 8; id++)
		assert_int_equal(is_there(state, id, "trace.csv"), id > 5);
	/* Counted again from the disk by the next one that opens. */
	inputs_free(inputs);
	inputs = open_inputs(state, 20, limit);
	inputs_begin(inputs, 9);
	for (int i = 0; i < 3000; i++)
		inputs_sample(inputs, 9, 1000000000 + i, 190000, 0);
	inputs_free(inputs);
	assert_in_range(bytes_on_disk(state), 1, limit);
	assert_false(is_there(state, 6, "trace.csv"));
}

static void a_batch_that_alone_is_too_long_is_cut_short_and_says_so(void **state)
{
	struct inputs *inputs = open_inputs(state, 20, 100000);
	const char *problem;

	inputs_begin(inputs, 1);
	for (int i = 0; i < 20000; i++)
		inputs_sample(inputs, 1, 1000000000 + i, 190000, 0);
	problem = inputs_problem(inputs);
	assert_non_null(problem);
	assert_non_null(strstr(problem, "batch 1 "));
	assert_non_null(strstr(problem, "used up"));
	assert_null(inputs_problem(inputs));
	inputs_free(inputs);
	assert_true(is_there(state, 1, "cut-short"));
	assert_in_range(bytes_on_disk(state), 1, 100000);
}

static void after_a_crash_a_new_part_begins_and_the_old_one_loses_its_cut_off_line(void **state)
{
	struct inputs *inputs = open_inputs(state, 20, INPUTS_BYTES_MAX);
	char path[TEMP_PATH_MAX];
	FILE *file;

	assert_int_equal(inputs_begin(inputs, 3), 0);
	inputs_sample(inputs, 3, 100, 1, 0);
	inputs_free(inputs);
	path_of(state, 3, "trace.csv", path);
	file = fopen(path, "ab");
	assert_non_null(file);
	fputs("200,18", file);
	fclose(file);
	for (int part = 1; part <= 2; part++) {
		inputs = open_inputs(state, 20, INPUTS_BYTES_MAX);
		assert_int_equal(inputs_begin(inputs, 3), part);
		inputs_sample(inputs, 3, 300 * part, 3, 0);
		inputs_free(inputs);
	}
	assert_file(state, 3, "trace-1.csv", "# t_us,raw24,driver_flags\n100,1,0\n");
	assert_file(state, 3, "presses-1.csv", "# t_us,event\n");
	assert_file(state, 3, "trace-2.csv", "# t_us,raw24,driver_flags\n300,3,0\n");
	assert_file(state, 3, "trace.csv", "# t_us,raw24,driver_flags\n600,3,0\n");
}

static void a_full_disk_is_a_problem_and_nothing_worse(void **state)
{
	const struct rlimit small = {.rlim_cur = 4096, .rlim_max = RLIM_INFINITY};
	struct inputs *inputs = open_inputs(state, 20, INPUTS_BYTES_MAX);
	struct rlimit before;

	signal(SIGXFSZ, SIG_IGN);
	assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
	assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
	inputs_begin(inputs, 1);
	for (int i = 0; i < 10000; i++)
		inputs_sample(inputs, 1, 1000000000 + i, 190000, 0);
	inputs_flush(inputs);
	assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
	assert_non_null(inputs_problem(inputs));
	assert_true(is_there(state, 1, "cut-short"));
	inputs_end(inputs, 1);
	inputs_begin(inputs, 2);
	inputs_sample(inputs, 2, 5, 5, 0);
	inputs_free(inputs);
	assert_file(state, 2, "trace.csv", "# t_us,raw24,driver_flags\n5,5,0\n");
}

static void no_folder_is_a_problem_and_nothing_worse(void **state)
{
	char path[TEMP_PATH_MAX];
	struct inputs *inputs;

	temp_path(state, "not-there/inputs", path);
	assert_int_equal(inputs_new(path, 20, INPUTS_BYTES_MAX, &inputs), 0);
	assert_non_null(inputs_problem(inputs));
	inputs_begin(inputs, 1);
	inputs_sample(inputs, 1, 1, 1, 0);
	inputs_event(inputs, 1, 1, "press");
	inputs_keep(inputs, 1, "ambo.conf", "", 0);
	inputs_end(inputs, 1);
	inputs_free(inputs);
	inputs_free(NULL);
	assert_int_equal(inputs_new(path, 0, 1, &inputs), -EINVAL);
	assert_int_equal(inputs_new(path, 1, 0, &inputs), -EINVAL);
}

static void names_that_lead_elsewhere_are_refused(void **state)
{
	static const char *const names[] = {"", ".", "..", "../out", "a/b", ".hidden"};

	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		struct inputs *inputs = open_inputs(state, 20, INPUTS_BYTES_MAX);

		inputs_begin(inputs, 1);
		inputs_keep(inputs, 1, names[i], "x", 1);
		assert_non_null(inputs_problem(inputs));
		inputs_free(inputs);
	}
	/* Each time a part of headers alone. */
	assert_int_equal(bytes_on_disk(state), strlen("# t_us,raw24,driver_flags\n# t_us,event\n") *
	                                               (sizeof names / sizeof names[0]));
}

static void what_is_not_ours_in_the_folder_is_left_alone(void **state)
{
	struct inputs *inputs = open_inputs(state, 1, INPUTS_BYTES_MAX);
	char path[TEMP_PATH_MAX];

	temp_path(state, "inputs/notes", path);
	assert_int_equal(mkdir(path, 0700), 0);
	temp_path(state, "inputs/1x", path);
	assert_int_equal(mkdir(path, 0700), 0);
	temp_path(state, "inputs/01", path);
	assert_int_equal(mkdir(path, 0700), 0);
	for (int64_t id = 5; id < 8; id++) {
		inputs_begin(inputs, id);
		inputs_end(inputs, id);
	}
	inputs_free(inputs);
	assert_true(access(path, F_OK) == 0);
	assert_false(is_there(state, 6, ""));
	assert_true(is_there(state, 7, ""));
}

#define test(name) cmocka_unit_test_setup_teardown(name, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(samples_presses_and_files_are_kept_as_they_came),
	        test(two_batches_at_once_stay_apart),
	        test(one_open_batch_too_many_is_a_problem_told_once),
	        test(the_oldest_goes_when_there_is_one_batch_too_many),
	        test(the_bytes_of_all_batches_stay_under_the_limit),
	        test(a_batch_that_alone_is_too_long_is_cut_short_and_says_so),
	        test(after_a_crash_a_new_part_begins_and_the_old_one_loses_its_cut_off_line),
	        test(a_full_disk_is_a_problem_and_nothing_worse),
	        test(no_folder_is_a_problem_and_nothing_worse),
	        test(names_that_lead_elsewhere_are_refused),
	        test(what_is_not_ours_in_the_folder_is_left_alone),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
