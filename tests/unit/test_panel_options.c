/* SPDX-License-Identifier: MIT */
/* The configuration's group `panel`: each mistake once, with its file and line. */
#include "tests/support/assert_close.h"

#include <stdio.h>
#include <string.h>

#include "drivers/panel_options.h"

static char heard[8][SCALE_MESSAGE_MAX];
static int n_heard;

static void hear(void *context, const char *sentence)
{
	(void)context;
	assert_in_range(n_heard, 0, 7);
	snprintf(heard[n_heard++], SCALE_MESSAGE_MAX, "%s", sentence);
}

static int read_group(const struct scale_option *options, size_t n, struct panel_options *ret)
{
	n_heard = 0;
	return panel_options_read(options, n, hear, NULL, ret);
}

static void no_group_is_no_panel(void **state)
{
	struct panel_options read;

	(void)state;
	assert_int_equal(read_group(NULL, 0, &read), 0);
	assert_null(read.gpio.chip);
	assert_null(read.codes);
}

static void everything_is_read(void **state)
{
	static const struct scale_option options[] = {
	        {"chip", "bench", "c:1"},
	        {"foot", "17", "c:2"},
	        {"red", "22", "c:3"},
	        {"yellow", "23", "c:4"},
	        {"green", "LAMP_G", "c:5"},
	        {"buzzer", "25", "c:6"},
	        {"vibration", "27", "c:7"},
	        {"foot_active", "high", "c:8"},
	        {"outputs_active", "low", "c:9"},
	        {"codes", "/dev/input/by-id/x", "c:10"},
	};
	struct panel_options read;

	(void)state;
	assert_int_equal(read_group(options, 10, &read), 0);
	assert_string_equal(read.gpio.chip, "bench");
	assert_string_equal(read.gpio.foot, "17");
	assert_string_equal(read.gpio.output[PANEL_RED], "22");
	assert_string_equal(read.gpio.output[PANEL_YELLOW], "23");
	assert_string_equal(read.gpio.output[PANEL_GREEN], "LAMP_G");
	assert_string_equal(read.gpio.output[PANEL_BUZZER], "25");
	assert_string_equal(read.gpio.output[PANEL_VIBRATION], "27");
	assert_false(read.gpio.foot_active_low);
	assert_true(read.gpio.outputs_active_low);
	assert_string_equal(read.codes, "/dev/input/by-id/x");
	assert_string_equal(read.where, "c:1");
}

static void a_foot_switch_is_to_ground_and_outputs_are_high_unless_told(void **state)
{
	static const struct scale_option options[] = {{"chip", "bench", "c:1"},
	                                              {"foot", "1", "c:2"}};
	struct panel_options read;

	(void)state;
	assert_int_equal(read_group(options, 2, &read), 0);
	assert_true(read.gpio.foot_active_low);
	assert_false(read.gpio.outputs_active_low);
}

static void a_code_reader_needs_no_chip(void **state)
{
	static const struct scale_option options[] = {{"codes", "/dev/input/by-id/x", "c:1"}};
	struct panel_options read;

	(void)state;
	assert_int_equal(read_group(options, 1, &read), 0);
	assert_null(read.gpio.chip);
}

static void each_mistake_is_said_once_with_its_place(void **state)
{
	static const struct {
		struct scale_option options[3];
		size_t n;
		const char *expected;
	} rows[] = {
	        {{{"foot", "1", "ambo.conf:4"}}, 1, "ambo.conf:4: chip: is missing although lines"},
	        {{{"chip", "bench", "ambo.conf:4"}},
	         1,
	         "ambo.conf:4: chip: is given without a line"},
	        {{{"chip", "bench", "c:1"}, {"foot", "1", "c:2"}, {"foot_active", "down", "c:3"}},
	         3,
	         "c:3: foot_active: is no level; expected \"low\" or \"high\""},
	        {{{"chip", "bench", "c:1"}, {"foot", "1", "c:2"}, {"outputs_active", "", "c:3"}},
	         3,
	         "c:3: outputs_active"},
	        {{{"chip", "bench", "c:1"}, {"foot", "1", "c:2"}, {"pedal", "3", "c:3"}},
	         3,
	         "c:3: pedal"},
	        {{{"chip", "bench", "c:1"}, {"foot", "1", "c:2"}, {"foot", "2", "c:3"}},
	         3,
	         "c:3: foot"},
	};
	struct panel_options read;

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		assert_int_equal(read_group(rows[i].options, rows[i].n, &read), 1);
		assert_int_equal(n_heard, 1);
		if (strstr(heard[0], rows[i].expected) != heard[0])
			fail_msg("'%s' is not '%s'", heard[0], rows[i].expected);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(no_group_is_no_panel),
	        cmocka_unit_test(everything_is_read),
	        cmocka_unit_test(a_foot_switch_is_to_ground_and_outputs_are_high_unless_told),
	        cmocka_unit_test(a_code_reader_needs_no_chip),
	        cmocka_unit_test(each_mistake_is_said_once_with_its_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
