/* SPDX-License-Identifier: MIT */
/* The driver as the station calls it, down to libgpiod's own calls; behind the stand-in
 * for libgpiod a chip. Its clock is the machine's, for that is what the driver measures
 * its pulses and its settling with: were waits skipped, a hundred frames would have to
 * come out unspoilt between a reset and the first good word. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "drivers/hx711_driver.h"
#include "tests/support/fake_gpiod.h"
#include "tests/support/hx711_chip.h"

#define CLOCK  4u
#define DATA_1 5u
#define DATA_2 6u

static char message[SCALE_MESSAGE_MAX];
static struct hx711_chip chips[2];
static int32_t code;
static struct scale *scale;

static int64_t chip_now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static int32_t sample(void *context, int input)
{
	(void)context;
	(void)input;
	return ++code;
}

static int32_t second_sample(void *context, int input)
{
	(void)context;
	(void)input;
	return 3000000;
}

static void on_set(void *context, unsigned line, int level)
{
	(void)context;
	for (size_t i = 0; line == CLOCK && i < 2; i++)
		hx711_chip_clock(&chips[i], level, chip_now_ns());
}

static int on_get(void *context, unsigned line)
{
	(void)context;
	return hx711_chip_data(&chips[line - DATA_1], chip_now_ns());
}

static void on_wait(void *context, unsigned line, int64_t timeout_ns)
{
	struct hx711_chip *chip = &chips[line - DATA_1];
	const int64_t now_ns = chip_now_ns(), next_ns = hx711_chip_next_ns(chip);
	const int64_t until_ns = next_ns < now_ns + timeout_ns ? next_ns : now_ns + timeout_ns;
	const struct timespec until = {.tv_sec = until_ns / 1000000000,
	                               .tv_nsec = until_ns % 1000000000};
	const unsigned falls = chip->falls;

	(void)context;
	clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
	hx711_chip_advance(chip, chip_now_ns());
	if (chip->falls != falls)
		fake_gpiod.line[line].edges++;
}

static int set_up(void **state)
{
	(void)state;
	fake_gpiod_reset();
	code = 0;
	scale = NULL;
	message[0] = '\0';
	hx711_chip_init(&chips[0], 80, sample, NULL, chip_now_ns());
	hx711_chip_init(&chips[1], 80, second_sample, NULL, chip_now_ns());
	fake_gpiod.on_set = on_set;
	fake_gpiod.on_get = on_get;
	fake_gpiod.on_wait = on_wait;
	return 0;
}

static int open_with(const char *data, const char *combine)
{
	const struct scale_option options[] = {
	        {"chip", "bench", "ambo.conf:9"},     {"clock", "4", "ambo.conf:10"},
	        {"data", data, "ambo.conf:11"},       {"rate_hz", "80", "ambo.conf:12"},
	        {"combine", combine, "ambo.conf:13"},
	};

	return hx711_driver.open(options, 5, message, &scale);
}

/* A busy machine spoils conversions, and they are flagged: the next good one is read. */
static struct scale_sample read_good(void)
{
	struct scale_sample got;

	for (int tries = 0; tries < 100; tries++)
		if (hx711_driver.read(scale, 100, &got, message) == 1 &&
		    (got.flags & SCALE_VOID) == 0)
			return got;
	fail_msg("nothing good in 100 reads: %s", message);
	return got;
}

static void reads_what_was_sent(void)
{
	const int32_t counts = read_good().counts;

	assert_int_equal(counts, code);
}

static void words_come_through_the_library_as_the_chip_sent_them(void **state)
{
	(void)state;
	assert_int_equal(open_with("5", "sum"), 0);
	for (int n = 0; n < 100; n++)
		reads_what_was_sent();
	/* A busy machine may stretch a pulse; no other rule may be broken. */
	assert_int_equal(hx711_chip_broken(&chips[0]) - chips[0].long_high, 0);
	hx711_driver.close(scale);
	assert_int_equal(fake_gpiod.line[CLOCK].level, 1); /* powered down */
	assert_int_equal(fake_gpiod.chips, 0);
	hx711_driver.close(NULL);
}

static void two_cells_are_summed_or_one_is_chosen(void **state)
{
	static const char *const ways[] = {"sum", "1", "2"};

	for (size_t i = 0; i < 3; i++) {
		set_up(state);
		assert_int_equal(open_with(" 5 , 6 ", ways[i]), 0);
		for (int n = 0; n < 25; n++) {
			const int32_t counts = read_good().counts;

			assert_int_equal(counts, i == 0   ? (code + 3000000 + 1) / 2
			                         : i == 1 ? code
			                                  : 3000000);
		}
		hx711_driver.close(scale);
	}
}

static void dead_wires_are_silence_or_named(void **state)
{
	struct scale_sample got;

	(void)state;
	assert_int_equal(open_with("5", "sum"), 0);
	read_good();
	chips[0].dead_high = true;
	for (int n = 0; n < 5; n++)
		assert_int_equal(hx711_driver.read(scale, 5, &got, message), 0);
	chips[0].dead_high = false;
	read_good();
	chips[0].dead_low = true;
	for (int n = 0; n < 3; n++) /* one that is void, then the fault */
		if (hx711_driver.read(scale, 100, &got, message) == -EIO)
			break;
	assert_non_null(strstr(message, "data line '5' is low straight after a reset"));
	chips[0].dead_low = false;
	reads_what_was_sent();
	fake_gpiod.fail_errno = ENODEV;
	fake_gpiod.fail_at = fake_gpiod.calls + 1;
	assert_int_equal(hx711_driver.read(scale, 100, &got, message), -ENODEV);
	assert_non_null(strstr(message, "the GPIO lines fail (No such device)"));
	reads_what_was_sent();
	hx711_driver.close(scale);
}

static void after_long_idleness_it_is_powered_down_and_wakes_when_wanted(void **state)
{
	const struct scale_option options[] = {
	        {"chip", "bench", "c:1"}, {"clock", "4", "c:2"},     {"data", "5", "c:3"},
	        {"rate_hz", "80", "c:4"}, {"idle_s", "1e-6", "c:5"},
	};
	struct scale_sample got;

	(void)state;
	assert_int_equal(hx711_driver.open(options, 5, message, &scale), 0);
	read_good();
	hx711_driver.idle(scale, 1);
	/* Within the same microsecond it is not idle for long enough. */
	for (int n = 0; n < 100 && hx711_driver.read(scale, 2, &got, message) != -ESHUTDOWN; n++)
		;
	assert_int_equal(hx711_driver.read(scale, 2, &got, message), -ESHUTDOWN);
	hx711_chip_advance(&chips[0], chip_now_ns() + 1000000);
	assert_true(chips[0].off);
	hx711_driver.idle(scale, 0);
	reads_what_was_sent();
	assert_false(chips[0].off);
	assert_null(hx711_driver.act); /* nothing on the bus can touch a real scale */
	hx711_driver.close(scale);
}

static void no_right_to_real_time_is_said_once(void **state)
{
	struct scale_sample got;
	char notice[SCALE_MESSAGE_MAX] = "";
	int said;

	(void)state;
	assert_int_equal(open_with("5", "sum"), 0);
	(void)hx711_driver.read(scale, 100, &got, message);
	said = hx711_driver.notice(scale, notice);
	assert_in_range(said, 0, 1); /* as the machine allows it */
	if (said == 1)
		assert_non_null(strstr(notice, "not allowed"));
	assert_int_equal(hx711_driver.notice(scale, notice), 0);
	hx711_driver.close(scale);
}

static char heard[16][SCALE_MESSAGE_MAX];
static int n_heard;

static void hear(void *context, const char *sentence)
{
	(void)context;
	assert_in_range(n_heard, 0, 15);
	snprintf(heard[n_heard++], SCALE_MESSAGE_MAX, "%s", sentence);
}

static void every_mistake_in_the_options_is_said_with_its_place(void **state)
{
	const struct scale_option wrong[] = {
	        {"clock", "4", "ambo.conf:10"},   {"data", "5,5", "ambo.conf:11"},
	        {"input", "A32", "ambo.conf:12"}, {"rate_hz", "40", "ambo.conf:13"},
	        {"combine", "3", "ambo.conf:14"}, {"idle_s", "-1", "ambo.conf:15"},
	};
	static const char *const expected[] = {
	        "ambo.conf:15: idle_s: '-1' is out of range",
	        "chip: is missing for the driver hx711",
	        "ambo.conf:13: rate_hz",
	        "ambo.conf:11: data: '5,5' is no list of lines",
	        "ambo.conf:12: input: 'A32' is no input; expected A128, A64 or B32",
	        "ambo.conf:14: combine: '3' is neither",
	};
	static const char *const lists[] = {"1,2,3,4,5", ",1", "1,", "1,,2", ""};

	(void)state;
	n_heard = 0;
	assert_int_equal(hx711_driver.check(wrong, 6, hear, NULL), 6);
	for (size_t i = 0; i < 6; i++)
		if (strstr(heard[i], expected[i]) == NULL)
			fail_msg("'%s' is not '%s'", heard[i], expected[i]);
	for (size_t i = 0; i < 5; i++) {
		assert_int_equal(open_with(lists[i], "sum"), -EINVAL);
		assert_non_null(strstr(message, "ambo.conf:11: data"));
		message[0] = '\0';
	}
	fake_gpiod.line[5].used_by = "hx711 of the kernel";
	assert_int_equal(open_with("5", "sum"), -EBUSY);
	assert_non_null(strstr(message, "ambo.conf:9: hx711: line '5' of chip 'bench' is in use by "
	                                "hx711 of the kernel"));
	assert_int_equal(fake_gpiod.chips, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup(words_come_through_the_library_as_the_chip_sent_them,
	                               set_up),
	        cmocka_unit_test_setup(two_cells_are_summed_or_one_is_chosen, set_up),
	        cmocka_unit_test_setup(dead_wires_are_silence_or_named, set_up),
	        cmocka_unit_test_setup(after_long_idleness_it_is_powered_down_and_wakes_when_wanted,
	                               set_up),
	        cmocka_unit_test_setup(no_right_to_real_time_is_said_once, set_up),
	        cmocka_unit_test_setup(every_mistake_in_the_options_is_said_with_its_place, set_up),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
