/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <linux/input-event-codes.h>
#include <string.h>

#include "drivers/code_reader.h"

static struct code_keys keys;
static char code[CODE_KEYS_MAX + 1];
static int64_t now_us;

static int set_up(void **state)
{
	(void)state;
	code_keys_clear(&keys);
	code[0] = '\0';
	now_us = 1000000;
	return 0;
}

/* A key as the kernel tells of it: scan code, down, report, up, report. */
static int strike(unsigned key)
{
	int r;

	now_us += 2000;
	assert_int_equal(code_keys_feed(&keys, EV_MSC, MSC_SCAN, 0x70000, now_us, code), 0);
	r = code_keys_feed(&keys, EV_KEY, key, 1, now_us, code);
	assert_int_equal(code_keys_feed(&keys, EV_SYN, SYN_REPORT, 0, now_us, code), 0);
	assert_int_equal(code_keys_feed(&keys, EV_KEY, key, 0, now_us, code), 0);
	return r;
}

static void shift(int down)
{
	code_keys_feed(&keys, EV_KEY, KEY_LEFTSHIFT, down, now_us, code);
}

static void a_code_ends_with_enter_or_tab(void **state)
{
	(void)state;
	shift(1);
	strike(KEY_L);
	strike(KEY_O);
	strike(KEY_T);
	shift(0);
	strike(KEY_MINUS);
	strike(KEY_4);
	strike(KEY_KP7);
	strike(KEY_B);
	assert_int_equal(strike(KEY_ENTER), 1);
	assert_string_equal(code, "LOT-47b");
	strike(KEY_1);
	assert_int_equal(strike(KEY_TAB), 1);
	assert_string_equal(code, "1");
	assert_int_equal(strike(KEY_ENTER), 0); /* the second key of "tab, enter": no code */
}

static void what_is_not_whole_is_no_code(void **state)
{
	(void)state;
	strike(KEY_1);
	code_keys_feed(&keys, EV_SYN, SYN_DROPPED, 0, now_us, code);
	strike(KEY_2);
	assert_int_equal(strike(KEY_ENTER), 0);
	strike(KEY_1);
	strike(KEY_F5);
	assert_int_equal(strike(KEY_ENTER), 0);
	for (unsigned i = 0; i < CODE_KEYS_MAX; i++)
		strike(KEY_9);
	assert_int_equal(strike(KEY_ENTER), 1);
	assert_int_equal(strlen(code), CODE_KEYS_MAX);
	for (unsigned i = 0; i < CODE_KEYS_MAX + 1; i++)
		strike(KEY_9);
	assert_int_equal(strike(KEY_ENTER), 0);
	strike(KEY_3);
	assert_int_equal(strike(KEY_ENTER), 1); /* nothing stays spoilt */
	assert_string_equal(code, "3");
}

static void half_a_code_does_not_wait_for_the_next(void **state)
{
	(void)state;
	strike(KEY_1);
	strike(KEY_2);
	now_us += 2000000;
	strike(KEY_3);
	assert_int_equal(strike(KEY_ENTER), 1);
	assert_string_equal(code, "3");
}

static void a_held_key_types_once(void **state)
{
	(void)state;
	code_keys_feed(&keys, EV_KEY, KEY_5, 1, now_us, code);
	for (int i = 0; i < 5; i++)
		code_keys_feed(&keys, EV_KEY, KEY_5, 2, now_us, code);
	code_keys_feed(&keys, EV_KEY, KEY_5, 0, now_us, code);
	assert_int_equal(strike(KEY_ENTER), 1);
	assert_string_equal(code, "5");
}

static void what_is_no_reader_is_named(void **state)
{
	struct code_reader *reader = NULL;
	char message[CODE_READER_MESSAGE_MAX];

	(void)state;
	assert_int_equal(code_reader_open("/dev/input/by-id/none", message, &reader), -ENOENT);
	assert_non_null(strstr(message, "'/dev/input/by-id/none' is no code reader"));
	assert_int_equal(code_reader_open("/dev/null", message, &reader), -ENOTTY);
	assert_null(reader);
	code_reader_close(NULL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup(a_code_ends_with_enter_or_tab, set_up),
	        cmocka_unit_test_setup(what_is_not_whole_is_no_code, set_up),
	        cmocka_unit_test_setup(half_a_code_does_not_wait_for_the_next, set_up),
	        cmocka_unit_test_setup(a_held_key_types_once, set_up),
	        cmocka_unit_test_setup(what_is_no_reader_is_named, set_up),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
