/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "drivers/trace.h"

static char message[TRACE_MESSAGE_MAX];

static int open_bytes(const char *bytes, size_t length, const struct trace_columns *columns,
                      struct trace **ret)
{
	FILE *stream = length > 0 ? fmemopen((void *)(uintptr_t)bytes, length, "r")
	                          : fopen("/dev/null", "r");
	int r;

	assert_non_null(stream);
	r = trace_open_stream(stream, "t.csv", columns, message, ret);
	if (r < 0)
		fclose(stream);
	return r;
}

static int open_text(const char *text, struct trace **ret)
{
	return open_bytes(text, strlen(text), NULL, ret);
}

/* Reads the text to its end or its first mistake; returns the number of samples, the
 * last of them in *ret_last; message is "" at an end without mistake. */
static int read_all(const char *text, struct scale_sample *ret_last)
{
	struct trace *trace;
	int n = 0, r;

	message[0] = '\0';
	if (open_text(text, &trace) < 0)
		return 0;
	while ((r = trace_next(trace, ret_last, message)) > 0)
		n++;
	if (r < 0) { /* and it stays so */
		assert_int_equal(trace_next(trace, ret_last, message), r);
	}
	trace_free(trace);
	return n;
}

static void columns_stand_on_the_last_comment_or_on_a_header_row(void **state)
{
	static const char *const texts[] = {
	        "# t_us,raw24\n10,100\n20,200\n",
	        "# a bench in May\n# more\n# t_us,raw24\n10,100\n20,200\n",
	        "t_us,raw24\n10,100\n20,200\n",
	        "# recorded by hand, twice\nt_us,raw24\n10,100\n20,200\n",
	        "\"t_us\",\"raw24\"\n10,100\n\"20\",\"200\"\n",
	        "# raw24,truth_g,t_us\n100,0.1,10\n200,0.2,20\n",
	        "#t_us, raw24 , corrupt (derived: one row per conversion)\n10, 100 ,0\n20,200,1\n",
	        "# t_us,raw24\r\n10,100\r\n20,200\r\n",
	        "# t_us,raw24\n10,100\n20,200",
	        "\xef\xbb\xbf# t_us,raw24\n\n10,100\n\n# later\n20,200\n\n",
	        "# cpg=3\n# t_us,raw24  fs=10\n# sigma_g=0.1\n10,100.0\n20.,+200\n",
	};

	(void)state;
	for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++) {
		struct scale_sample last = {0};

		if (read_all(texts[i], &last) != 2 || message[0] != '\0')
			fail_msg("text %zu: %s", i, message);
		assert_int_equal(last.t_us, 20);
		assert_int_equal(last.counts, 200);
	}
}

static void pairs_tell_of_the_scale_that_was_recorded(void **state)
{
	struct trace_about about;
	struct trace *trace;

	(void)state;
	assert_int_equal(open_text("# by=hand sigma_g=0.09\n# t_us,raw24,corrupt  cpg=429.5 "
	                           "offset=-190000.25 fs=84.3 flavour=mint\n0,1,0\n",
	                           &trace),
	                 0);
	trace_about(trace, &about);
	trace_free(trace);
	assert_int_equal(about.has, TRACE_HAS_COUNTS_PER_G | TRACE_HAS_ZERO_COUNTS |
	                                    TRACE_HAS_RATE_HZ | TRACE_HAS_NOISE_G);
	assert_close(about.counts_per_g, 429.5, 0.0);
	assert_close(about.zero_counts, -190000.25, 0.0);
	assert_close(about.rate_hz, 84.3, 0.0);
	assert_close(about.noise_g, 0.09, 0.0);
	assert_int_equal(open_text("# t_us,raw24\n0,1\n", &trace), 0);
	trace_about(trace, &about);
	trace_free(trace);
	assert_int_equal(about.has, 0);
}

static void other_columns_are_mapped_by_name(void **state)
{
	static const char text[] = "# elapsed,hx711_units,reference\n5,2020,1775\n";
	struct trace_columns columns;
	struct scale_sample sample;
	struct trace *trace;

	(void)state;
	assert_int_equal(trace_columns_read("t_us=elapsed,raw24=hx711_units", &columns, message),
	                 0);
	assert_int_equal(open_bytes(text, strlen(text), &columns, &trace), 0);
	assert_int_equal(trace_next(trace, &sample, message), 1);
	assert_int_equal(sample.t_us, 5);
	assert_int_equal(sample.counts, 2020);
	trace_free(trace);
	assert_int_equal(trace_columns_read("raw24=x", &columns, message), 0);
	assert_string_equal(columns.t_us, "t_us");
	assert_int_equal(trace_columns_read("raw=x", &columns, message), -EINVAL);
	assert_string_equal(message,
	                    "columns: 'raw=x' names no column; expected t_us=NAME,raw24=NAME");
	assert_int_equal(trace_columns_read("t_us=", &columns, message), -EINVAL);
	assert_int_equal(trace_columns_read("t_us", &columns, message), -EINVAL);
	assert_int_equal(trace_columns_read(",", &columns, message), -EINVAL);
}

static void bad_input_is_named_by_file_and_line(void **state)
{
	static const struct {
		const char *text;
		int n_good;
		const char *sentence;
	} cases[] = {
	        {"", 0, "t.csv:1: the file is empty; expected rows of t_us,raw24"},
	        {"# t_us,raw24\n", 0,
	         "t.csv:2: the file has no samples; expected rows of t_us,raw24"},
	        {"1,2\n", 0,
	         "t.csv:1: there are no column names; expected '# t_us,raw24' before the first "
	         "row"},
	        {"# t_us,raw\n1,2\n", 0,
	         "t.csv:1: there is no column raw24 among the names 't_us,raw'; expected "
	         "t_us,raw24, "
	         "or their own names mapped as t_us=NAME,raw24=NAME"},
	        {"time,raw24\n1,2\n", 0,
	         "t.csv:1: there is no column t_us among the names 'time,raw24'; expected "
	         "t_us,raw24, or their own names mapped as t_us=NAME,raw24=NAME"},
	        {"# t_us,raw24\n1,2\n2,3\n1,4\n", 2,
	         "t.csv:4: the time runs backwards, from 2 to 1 us; expected rows in order of "
	         "time"},
	        {"# t_us,raw24\n1,8388607\n2,8388608\n", 1,
	         "t.csv:3: the code '8388608' is out of 24 bits; expected a whole number from "
	         "-8388608 to 8388607"},
	        {"# t_us,raw24\n1,-8388608\n2,-8388609\n", 1,
	         "t.csv:3: the code '-8388609' is out of 24 bits; expected a whole number from "
	         "-8388608 to 8388607"},
	        {"# t_us,raw24\n1,99999999999999999999999\n", 0,
	         "t.csv:2: the code '99999999999999999999999' is out of 24 bits; expected a whole "
	         "number from -8388608 to 8388607"},
	        {"# t_us,raw24\n1,12a\n", 0,
	         "t.csv:2: the code '12a' is no whole number; expected a whole number from "
	         "-8388608 "
	         "to 8388607"},
	        {"# t_us,raw24\n1,\n", 0,
	         "t.csv:2: the code '' is no whole number; expected a whole number from -8388608 "
	         "to "
	         "8388607"},
	        {"# t_us,raw24\n1,2.5\n", 0,
	         "t.csv:2: the code '2.5' is no whole number; expected a whole number from "
	         "-8388608 "
	         "to 8388607"},
	        {"# t_us,raw24\n1,2\nnoon,3\n", 1,
	         "t.csv:3: the time 'noon' is no whole number; expected whole microseconds"},
	        {"# t_us,raw24\n9007199254740993,3\n", 0,
	         "t.csv:2: the time '9007199254740993' is out of range; expected whole "
	         "microseconds"},
	        {"# t_us,raw24\n1,2\n3\n", 1,
	         "t.csv:3: the row has 1 field; expected 2, as there are column names"},
	        {"# t_us,raw24\n1,2,3\n", 0,
	         "t.csv:2: the row has 3 fields; expected 2, as there are column names"},
	        {"# t_us,raw24 cpg=many\n1,2\n", 0,
	         "t.csv:1: cpg: 'many' is no such value; expected a number over 0"},
	        {"# t_us,raw24 fs=0\n1,2\n", 0,
	         "t.csv:1: fs: '0' is no such value; expected a number over 0"},
	        {"# t_us,raw24,driver_flags\n1,2,8\n", 0,
	         "t.csv:2: the driver_flags '8' are not known; expected a sum of 1 (rail), 2 "
	         "(void), 4 (gap), 256 (moving) and 512 (repeat)"},
	        {"# t_us,raw24\n1,\x01\x7f\xc3\n", 0,
	         "t.csv:2: the code '?\?\?' is no whole number; expected a whole number from "
	         "-8388608 "
	         "to 8388607"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct scale_sample last;

		assert_int_equal(read_all(cases[i].text, &last), cases[i].n_good);
		assert_string_equal(message, cases[i].sentence);
	}
}

static void a_line_of_4096_bytes_passes_and_one_more_does_not(void **state)
{
	static char text[16384];
	struct trace *trace;

	(void)state;
	for (int over = 0; over < 2; over++) {
		size_t n = (size_t)snprintf(text, sizeof(text), "# t_us,raw24,note\n1,2,");

		memset(text + n, 'x', (size_t)(4096 - 4 + over));
		strcpy(text + n + 4096 - 4 + over, "\r\n");
		assert_int_equal(open_text(text, &trace), over ? -EBADMSG : 0);
		if (!over)
			trace_free(trace);
	}
	assert_string_equal(message,
	                    "t.csv:2: the line is over 4096 bytes long; expected a row of numbers");
	memset(text, 'x', sizeof(text) - 1); /* and one without any end */
	assert_int_equal(open_text(text, &trace), -EBADMSG);
	assert_int_equal(open_bytes("# t_us,raw24\n1,\0002\n", 18, NULL, &trace), -EBADMSG);
	assert_string_equal(message, "t.csv:2: the line holds a NUL byte; expected text");
}

static void files_that_cannot_be_read_are_named(void **state)
{
	struct trace *trace;

	(void)state;
	assert_int_equal(trace_open("/nowhere/t.csv", NULL, message, &trace), -ENOENT);
	assert_string_equal(message, "/nowhere/t.csv: cannot be opened: No such file or directory");
	assert_int_equal(trace_open("/", NULL, message, &trace), -EISDIR);
	assert_string_equal(message, "/:1: cannot be read: Is a directory");
}

static void equal_times_pass(void **state)
{
	struct scale_sample last;

	(void)state;
	assert_int_equal(read_all("# t_us,raw24\n1,2\n1,3\n1,4\n", &last), 3);
	assert_string_equal(message, "");
}

static uint32_t flags_of_last(const char *text)
{
	struct scale_sample last = {0};

	assert_true(read_all(text, &last) > 0);
	assert_string_equal(message, "");
	return last.flags;
}

static void gaps_and_rails_are_marked(void **state)
{
	(void)state;
	assert_int_equal(flags_of_last("# t_us,raw24 fs=100\n0,1\n14999,1\n"), 0);
	assert_int_equal(flags_of_last("# t_us,raw24 fs=100\n0,1\n15001,1\n"), SCALE_GAP);
	assert_int_equal(flags_of_last("# t_us,raw24\n0,1\n10000,1\n20000,1\n60000,1\n"),
	                 SCALE_GAP);
	assert_int_equal(flags_of_last("# t_us,raw24\n0,1\n10000,1\n20000,1\n60000,1\n70000,1\n"),
	                 0);
	/* Even a long gap does not hide the next. */
	assert_int_equal(flags_of_last("# t_us,raw24\n0,1\n10000,1\n20000,1\n2000000,1\n"
	                               "2010000,1\n2050000,1\n"),
	                 SCALE_GAP);
	assert_int_equal(flags_of_last("# t_us,raw24\n0,8388607\n"), SCALE_RAIL);
	assert_int_equal(flags_of_last("# t_us,raw24\n0,-8388608\n"), SCALE_RAIL);
	/* A driver that knew more wrote it down. */
	assert_int_equal(flags_of_last("# t_us,raw24,driver_flags\n0,1,2\n"), SCALE_VOID);
	assert_int_equal(flags_of_last("# t_us,raw24,driver_flags\n0,1,772\n"),
	                 SCALE_GAP | SCALE_MOVING | SCALE_REPEAT);
	assert_int_equal(flags_of_last("# t_us,raw24,driver_flags fs=100\n0,1,0\n50000,1,0\n"), 0);
}

static void what_is_written_is_read_back(void **state)
{
	const struct trace_about about = {15, 429.5, -0.1, 84.3, 0.09};
	struct trace_about back;
	struct scale_sample sample;
	FILE *stream = tmpfile();
	struct trace *trace;

	(void)state;
	assert_int_equal(trace_write_header(stream, &about), 0);
	for (int i = 0; i < 1000; i++) {
		sample = (struct scale_sample){i * INT64_C(10000000000), i * 16777 - 8388608,
		                               (uint32_t)i % 8};
		assert_int_equal(trace_write_row(stream, &sample), 0);
	}
	rewind(stream);
	assert_int_equal(trace_open_stream(stream, "t.csv", NULL, message, &trace), 0);
	trace_about(trace, &back);
	assert_int_equal(back.has, about.has);
	assert_close(back.counts_per_g, about.counts_per_g, 0.0);
	assert_close(back.zero_counts, about.zero_counts, 0.0);
	assert_close(back.rate_hz, about.rate_hz, 0.0);
	assert_close(back.noise_g, about.noise_g, 0.0);
	for (int i = 0; i < 1000; i++) {
		assert_int_equal(trace_next(trace, &sample, message), 1);
		assert_int_equal(sample.t_us, i * INT64_C(10000000000));
		assert_int_equal(sample.counts, i * 16777 - 8388608);
		assert_int_equal(sample.flags, (uint32_t)i % 8);
	}
	assert_int_equal(trace_next(trace, &sample, message), 0);
	trace_free(trace);
	stream = fopen("/dev/full", "w");
	if (stream != NULL) {
		setvbuf(stream, NULL, _IONBF, 0);
		assert_int_equal(trace_write_row(stream, &sample), -ENOSPC);
		fclose(stream);
	}
}

static long resident_kb(void)
{
	struct rusage usage;

	getrusage(RUSAGE_SELF, &usage);
	return usage.ru_maxrss;
}

#define BLOCK_ROWS 16
#define TWO_GB     (INT64_C(1) << 31)

/* Over 2 GB of long comments and rows between them, through a pipe: the file need not
 * lie anywhere. Returns the number of rows. */
static int64_t pipe_two_gigabytes(int fd)
{
	static char block[BLOCK_ROWS * 4096];
	FILE *stream = fdopen(fd, "w");
	int64_t rows = 0;

	memset(block, 'x', sizeof(block));
	for (int i = 0; i < BLOCK_ROWS; i++) {
		block[i * 4096] = '#';
		block[i * 4096 + 4095] = '\n';
	}
	fprintf(stream, "# t_us,raw24\n");
	for (int64_t bytes = 0; bytes < TWO_GB; bytes += (int64_t)sizeof(block), rows++) {
		fprintf(stream, "%lld,%d\n", (long long)rows * 10, (int)(rows % 1000));
		fwrite(block, 1, sizeof(block), stream);
	}
	fclose(stream);
	return rows;
}

static void two_gigabytes_are_read_in_bounded_memory(void **state)
{
	struct scale_sample sample;
	struct trace *trace;
	int ends[2], status, r;
	int64_t rows = 0;
	long before_kb;
	pid_t child;

	(void)state;
	assert_int_equal(pipe(ends), 0);
	child = fork();
	if (child == 0) {
		close(ends[0]);
		pipe_two_gigabytes(ends[1]);
		_exit(0);
	}
	close(ends[1]);
	before_kb = resident_kb();
	assert_int_equal(trace_open_stream(fdopen(ends[0], "r"), "pipe", NULL, message, &trace), 0);
	while ((r = trace_next(trace, &sample, message)) > 0)
		rows++;
	assert_int_equal(r, 0);
	assert_int_equal(rows, TWO_GB / (BLOCK_ROWS * 4096));
	assert_int_equal(sample.t_us, (rows - 1) * 10);
	trace_free(trace);
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(status, 0);
	assert_in_range(resident_kb() - before_kb, 0, 1024);
}

static void a_hole_of_two_gigabytes_is_one_clear_mistake(void **state)
{
	FILE *stream = tmpfile();
	struct scale_sample sample;
	struct trace *trace;
	long before_kb;

	(void)state;
	fprintf(stream, "# t_us,raw24\n1,2\n");
	fflush(stream);
	assert_int_equal(ftruncate(fileno(stream), TWO_GB + 100), 0);
	rewind(stream);
	before_kb = resident_kb();
	assert_int_equal(trace_open_stream(stream, "t.csv", NULL, message, &trace), 0);
	assert_int_equal(trace_next(trace, &sample, message), 1);
	assert_int_equal(trace_next(trace, &sample, message), -EBADMSG);
	assert_string_equal(message,
	                    "t.csv:3: the line is over 4096 bytes long; expected a row of numbers");
	trace_free(trace);
	assert_in_range(resident_kb() - before_kb, 0, 1024);
}

static const char *write_file(const char *text)
{
	static char path[] = "/tmp/ambo-presses-XXXXXX";
	int fd;

	strcpy(path, "/tmp/ambo-presses-XXXXXX");
	fd = mkstemp(path);
	assert_true(fd >= 0);
	assert_int_equal(write(fd, text, strlen(text)), (ssize_t)strlen(text));
	close(fd);
	return path;
}

static int read_presses(const char *text, struct trace_press *ret, int64_t *ret_last_t_us)
{
	const char *path = write_file(text);
	struct trace_presses *presses;
	int n = 0, r;

	assert_int_equal(trace_presses_open(path, message, &presses), 0);
	while ((r = trace_presses_next(presses, ret, message)) > 0) {
		*ret_last_t_us = ret->t_us;
		n++;
		assert_true(ret->event[0] != '\0');
	}
	trace_presses_free(presses);
	unlink(path);
	return r < 0 ? r : n;
}

static void presses_are_rows_of_time_and_event(void **state)
{
	struct trace_presses *presses;
	struct trace_press press;
	const char *path;
	int64_t last = 0;

	(void)state;
	path = write_file("# a batch\nt_us,event\r\n10,press\r\n10, begin a,b c\n20,hold");
	assert_int_equal(trace_presses_open(path, message, &presses), 0);
	unlink(path);
	assert_int_equal(trace_presses_next(presses, &press, message), 1);
	assert_int_equal(press.t_us, 10);
	assert_string_equal(press.event, "press");
	assert_int_equal(press.line, 3);
	assert_int_equal(trace_presses_next(presses, &press, message), 1);
	assert_string_equal(press.event, "begin a,b c");
	assert_int_equal(trace_presses_next(presses, &press, message), 1);
	assert_string_equal(press.event, "hold");
	assert_int_equal(trace_presses_next(presses, &press, message), 0);
	trace_presses_free(presses);
	assert_int_equal(read_presses("", &press, &last), 0);
	assert_int_equal(read_presses("5,a\n4,b\n", &press, &last), -EBADMSG);
	assert_non_null(strstr(message, ":2: the time runs backwards, from 5 to 4 us"));
	assert_int_equal(read_presses("5\n", &press, &last), -EBADMSG);
	assert_non_null(strstr(message, ":1: the row has no event; expected t_us,event"));
	assert_int_equal(read_presses("x,y\n", &press, &last), -EBADMSG);
	assert_int_equal(trace_presses_open("/nowhere/p", message, &presses), -ENOENT);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(columns_stand_on_the_last_comment_or_on_a_header_row),
	        cmocka_unit_test(pairs_tell_of_the_scale_that_was_recorded),
	        cmocka_unit_test(other_columns_are_mapped_by_name),
	        cmocka_unit_test(bad_input_is_named_by_file_and_line),
	        cmocka_unit_test(a_line_of_4096_bytes_passes_and_one_more_does_not),
	        cmocka_unit_test(files_that_cannot_be_read_are_named),
	        cmocka_unit_test(equal_times_pass),
	        cmocka_unit_test(gaps_and_rails_are_marked),
	        cmocka_unit_test(what_is_written_is_read_back),
	        cmocka_unit_test(two_gigabytes_are_read_in_bounded_memory),
	        cmocka_unit_test(a_hole_of_two_gigabytes_is_one_clear_mistake),
	        cmocka_unit_test(presses_are_rows_of_time_and_event),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
