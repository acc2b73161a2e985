/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <string.h>

#include "drivers/gpio_panel.h"
#include "tests/support/fake_gpiod.h"

static char message[GPIO_MESSAGE_MAX];
static struct gpio_panel *panel;
static enum panel_event event;
static int64_t due_us;

static int set_up(void **state)
{
	(void)state;
	fake_gpiod_reset();
	fake_gpiod.line[1].level = 1; /* the foot switch is open, pulled up */
	panel = NULL;
	return 0;
}

static const struct gpio_panel_config whole = {
        .chip = "bench",
        .foot = "1",
        .output = {"2", "3", "4", "5", "6"},
        .foot_active_low = true,
};

static void every_output_has_its_line(void **state)
{
	static const struct {
		enum panel_signal signal;
		int level[5]; /* lines 2..6 at once */
	} rows[] = {
	        {PANEL_READY, {0, 0, 1, 0, 0}},    {PANEL_TIP_BACK, {0, 1, 1, 1, 1}},
	        {PANEL_HAZARD, {1, 0, 0, 1, 1}},   {PANEL_HELD, {0, 1, 0, 0, 0}},
	        {PANEL_TOO_MUCH, {0, 1, 0, 1, 1}}, {PANEL_DARK, {0, 0, 0, 0, 0}},
	};
	int64_t now_us = 0;

	(void)state;
	assert_int_equal(gpio_panel_open(&whole, 0, message, &panel), 0);
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		now_us += 5000000;
		gpio_panel_signal(panel, rows[i].signal, now_us);
		assert_int_equal(gpio_panel_step(panel, now_us, &event, &due_us), 0);
		for (size_t k = 0; k < 5; k++)
			assert_int_equal(fake_gpiod.line[2 + k].level, rows[i].level[k]);
	}
	gpio_panel_signal(panel, PANEL_HAZARD, now_us + 5000000);
	assert_int_equal(gpio_panel_step(panel, now_us + 5000000, &event, &due_us), 0);
	assert_int_equal(due_us, now_us + 5200000);
	gpio_panel_close(panel);
	for (size_t k = 0; k < 5; k++)
		assert_int_equal(fake_gpiod.line[2 + k].level, 0);
	assert_int_equal(fake_gpiod.chips, 0);
	gpio_panel_close(NULL);
}

static void the_foot_switch_presses_and_holds(void **state)
{
	(void)state;
	assert_int_equal(gpio_panel_open(&whole, 0, message, &panel), 0);
	assert_true(gpio_panel_fd(panel) >= 0);
	assert_true(fake_gpiod.line[1].pull_up);
	fake_gpiod_level(1, 0, 0);
	assert_int_equal(gpio_panel_step(panel, 1000000, &event, &due_us), 0);
	assert_int_equal(fake_gpiod.line[1].edges, 0); /* taken, or the loop would spin */
	assert_int_equal(due_us, 1030000);
	assert_int_equal(gpio_panel_step(panel, due_us, &event, &due_us), 0);
	assert_int_equal(event, PANEL_NOTHING);
	fake_gpiod_level(1, 1, 0);
	assert_int_equal(gpio_panel_step(panel, 1200000, &event, &due_us), 0);
	assert_int_equal(gpio_panel_step(panel, due_us, &event, &due_us), 0);
	assert_int_equal(event, PANEL_PRESS);
	fake_gpiod_level(1, 0, 0);
	assert_int_equal(gpio_panel_step(panel, 2000000, &event, &due_us), 0);
	assert_int_equal(gpio_panel_step(panel, due_us, &event, &due_us), 0);
	assert_int_equal(due_us, 3200000);
	assert_int_equal(gpio_panel_step(panel, due_us, &event, &due_us), 0);
	assert_int_equal(event, PANEL_HOLD);
	gpio_panel_close(panel);
}

static void a_panel_may_lack_anything(void **state)
{
	const struct gpio_panel_config lamp = {.chip = "bench", .output = {[PANEL_YELLOW] = "3"}};

	(void)state;
	assert_int_equal(gpio_panel_open(&lamp, 0, message, &panel), 0);
	assert_int_equal(gpio_panel_fd(panel), -ENODEV);
	gpio_panel_signal(panel, PANEL_TIP_BACK, 0);
	assert_int_equal(gpio_panel_step(panel, 0, &event, &due_us), 0);
	assert_int_equal(fake_gpiod.line[3].level, 1);
	assert_false(fake_gpiod.line[4].held);
	gpio_panel_close(panel);
}

static void a_line_that_fails_is_told_and_tried_again(void **state)
{
	(void)state;
	assert_int_equal(gpio_panel_open(&whole, 0, message, &panel), 0);
	gpio_panel_signal(panel, PANEL_TIP_BACK, 0);
	fake_gpiod.fail_errno = EIO;
	fake_gpiod.fail_at = fake_gpiod.calls + 1; /* yellow */
	assert_int_equal(gpio_panel_step(panel, 0, &event, &due_us), -EIO);
	assert_int_equal(fake_gpiod.line[3].level, 0);
	assert_int_equal(fake_gpiod.line[5].level, 1); /* the buzzer sounds all the same */
	assert_int_equal(gpio_panel_step(panel, 1000, &event, &due_us), 0);
	assert_int_equal(fake_gpiod.line[3].level, 1);
	gpio_panel_close(panel);
	fake_gpiod.line[3].used_by = "leds-gpio";
	assert_int_equal(gpio_panel_open(&whole, 0, message, &panel), -EBUSY);
	assert_non_null(strstr(message, "line '3' of chip 'bench' is in use by leds-gpio"));
	assert_int_equal(fake_gpiod.chips, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test_setup(every_output_has_its_line, set_up),
	        cmocka_unit_test_setup(the_foot_switch_presses_and_holds, set_up),
	        cmocka_unit_test_setup(a_panel_may_lack_anything, set_up),
	        cmocka_unit_test_setup(a_line_that_fails_is_told_and_tried_again, set_up),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
