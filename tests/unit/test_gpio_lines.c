/* SPDX-License-Identifier: MIT */
/* gpio_lines against a stand-in for libgpiod, of whichever version is compiled. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <string.h>

#include "drivers/gpio_lines.h"
#include "tests/support/fake_gpiod.h"

static char message[GPIO_MESSAGE_MAX];
static struct gpio_lines *lines;

static const struct gpio_line_want wants[] = {
        {.line = "3", .use = GPIO_OUTPUT, .value = 1},
        {.line = "LAMP", .use = GPIO_OUTPUT, .active_low = true},
        {.line = "7", .use = GPIO_FALLING},
        {.line = "8", .use = GPIO_BOTH, .active_low = true, .pull_up = true},
};

static int set_up(void **state)
{
	(void)state;
	fake_gpiod_reset();
	fake_gpiod.line[5].name = "LAMP";
	fake_gpiod.line[7].level = 1;
	fake_gpiod.line[8].level = 1;
	message[0] = '\0';
	lines = NULL;
	return 0;
}

static int open_bench(void)
{
	return gpio_lines_open("bench", "a test", wants, 4, message, &lines);
}

static void nothing_is_held(void)
{
	assert_int_equal(fake_gpiod.chips, 0);
	assert_int_equal(fake_gpiod.requests, 0);
	assert_int_equal(fake_gpiod.others, 0);
	for (size_t i = 0; i < FAKE_LINES; i++)
		assert_false(fake_gpiod.line[i].held);
}

static void lines_are_known_by_offset_and_by_name(void **state)
{
	(void)state;
	assert_int_equal(open_bench(), 0);
	assert_int_equal(fake_gpiod.line[3].level, 1); /* from the first moment on */
	assert_int_equal(fake_gpiod.line[5].level, 1); /* off, active low */
	assert_true(fake_gpiod.line[8].pull_up);
	assert_int_equal(gpio_lines_set(lines, 0, 0), 0);
	assert_int_equal(gpio_lines_set(lines, 1, 1), 0);
	assert_int_equal(fake_gpiod.line[3].level, 0);
	assert_int_equal(fake_gpiod.line[5].level, 0);
	assert_int_equal(gpio_lines_get(lines, 2), 1);
	assert_int_equal(gpio_lines_get(lines, 3), 0);
	fake_gpiod.line[8].level = 0;
	assert_int_equal(gpio_lines_get(lines, 3), 1);
	assert_true(gpio_lines_fd(lines, 3) >= 0);
	assert_int_equal(gpio_lines_fd(lines, 0), -EINVAL);
	gpio_lines_close(lines);
	nothing_is_held();
	gpio_lines_close(NULL);
}

static void a_chip_is_known_by_path_name_or_label(void **state)
{
	static const char *const ways[] = {"/dev/gpiochip0", "gpiochip0", "bench"};

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		assert_int_equal(gpio_lines_open(ways[i], "a test", wants, 4, message, &lines), 0);
		gpio_lines_close(lines);
		nothing_is_held();
	}
}

static void edges_are_taken_once_and_drained_to_the_last(void **state)
{
	int64_t edge_ns = 0;

	(void)state;
	assert_int_equal(open_bench(), 0);
	assert_int_equal(gpio_lines_wait(lines, 2, 1000, &edge_ns), 0);
	fake_gpiod_level(7, 0, 123456789);
	assert_int_equal(gpio_lines_wait(lines, 2, 1000, &edge_ns), 1);
	assert_int_equal(edge_ns, 123456789);
	assert_int_equal(gpio_lines_wait(lines, 2, 1000, &edge_ns), 0);
	for (int i = 0; i < 24; i++) /* a frame's worth, more than the kernel keeps */
		fake_gpiod_level(7, (i + 1) % 2, i);
	assert_int_equal(gpio_lines_drain(lines, 2), 0);
	assert_int_equal(fake_gpiod.line[7].edges, 0);
	assert_int_equal(gpio_lines_wait(lines, 2, 1000, &edge_ns), 0);
	assert_int_equal(gpio_lines_drain(lines, 2), 0);
	gpio_lines_close(lines);
	nothing_is_held();
}

static void another_lines_edge_is_not_taken_for_this_ones(void **state)
{
	int64_t edge_ns = 0;

	(void)state;
	assert_int_equal(open_bench(), 0);
	fake_gpiod_level(8, 0, 77);
	assert_int_equal(gpio_lines_wait(lines, 2, 100, &edge_ns), 0);
	gpio_lines_close(lines);
	nothing_is_held();
}

static void each_call_may_fail_and_nothing_stays_held(void **state)
{
	unsigned calls;

	(void)state;
	assert_int_equal(open_bench(), 0);
	calls = fake_gpiod.calls;
	gpio_lines_close(lines);
	assert_true(calls >= 9);
	for (unsigned at = 1; at <= calls; at++) {
		const struct gpio_lines *before;

		set_up(NULL);
		fake_gpiod.fail_at = at;
		fake_gpiod.fail_errno = EIO;
		before = lines;
		if (open_bench() == 0) { /* a name that was tried before the label may fail */
			gpio_lines_close(lines);
			assert_true(at <= 2);
		} else {
			assert_ptr_equal(lines, before);
		}
		nothing_is_held();
	}
	set_up(NULL);
	assert_int_equal(open_bench(), 0);
	fake_gpiod.fail_errno = EIO;
	fake_gpiod.fail_at = fake_gpiod.calls + 1;
	assert_int_equal(gpio_lines_set(lines, 0, 1), -EIO);
	fake_gpiod.fail_at = fake_gpiod.calls + 1;
	assert_int_equal(gpio_lines_get(lines, 2), -EIO);
	fake_gpiod.fail_at = fake_gpiod.calls + 1;
	assert_int_equal(gpio_lines_wait(lines, 2, 1000, &(int64_t){0}), -EIO);
	fake_gpiod.fail_at = fake_gpiod.calls + 1;
	assert_int_equal(gpio_lines_drain(lines, 2), -EIO);
	/* A signal is no failure of the line. */
	fake_gpiod.fail_errno = EINTR;
	fake_gpiod.fail_at = fake_gpiod.calls + 1;
	assert_int_equal(gpio_lines_wait(lines, 2, 1000, &(int64_t){0}), 0);
	gpio_lines_close(lines);
	nothing_is_held();
}

static void says(int r, int expected, const char *const *words)
{
	assert_int_equal(r, expected);
	assert_null(lines);
	for (; *words != NULL; words++)
		if (strstr(message, *words) == NULL)
			fail_msg("'%s' does not say '%s'", message, *words);
	nothing_is_held();
}

static void what_cannot_be_had_is_named_with_what_to_change(void **state)
{
	struct gpio_line_want other[2] = {wants[0], {.line = "MISSING", .use = GPIO_INPUT}};

	(void)state;
	says(gpio_lines_open("/dev/gpiochip9", "a test", wants, 4, message, &lines), -ENOENT,
	     (const char *[]){"/dev/gpiochip9", "is not there", "gpiodetect", NULL});
	fake_gpiod.open_error = EACCES;
	says(open_bench(), -EACCES,
	     (const char *[]){"bench", "Permission denied", "the group '", NULL});
	fake_gpiod.open_error = ENOTTY;
	says(open_bench(), -ENOTTY, (const char *[]){"is no GPIO chip", NULL});
	fake_gpiod.open_error = 0;
	fake_gpiod.line[7].used_by = "w1-gpio";
	says(open_bench(), -EBUSY,
	     (const char *[]){"line '7' of chip 'bench'", "in use by w1-gpio", "another line",
	                      NULL});
	fake_gpiod.line[7].used_by = NULL;
	says(gpio_lines_open("bench", "a test", other, 2, message, &lines), -ENOENT,
	     (const char *[]){"line 'MISSING' is not on chip 'bench'", "gpioinfo", NULL});
	other[1].line = "99";
	says(gpio_lines_open("bench", "a test", other, 2, message, &lines), -EINVAL,
	     (const char *[]){"line '99' is not on chip 'bench'", NULL});
	assert_int_equal(gpio_lines_open("bench", "a test", wants, 0, message, &lines), -EINVAL);
	assert_int_equal(
	        gpio_lines_open("bench", "a test", wants, GPIO_LINES_MAX + 1, message, &lines),
	        -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup(lines_are_known_by_offset_and_by_name, set_up),
	        cmocka_unit_test_setup(a_chip_is_known_by_path_name_or_label, set_up),
	        cmocka_unit_test_setup(edges_are_taken_once_and_drained_to_the_last, set_up),
	        cmocka_unit_test_setup(another_lines_edge_is_not_taken_for_this_ones, set_up),
	        cmocka_unit_test_setup(each_call_may_fail_and_nothing_stays_held, set_up),
	        cmocka_unit_test_setup(what_cannot_be_had_is_named_with_what_to_change, set_up),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
