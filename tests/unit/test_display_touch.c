/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>

#include "display/touch/touch.h"

#define MS 1000

static const struct touch_frame upright = {800, 480, 0, 5.0};

/* The picture's own corner, 8 by 4 mm from its upper left, under every turn. */
static void a_turn_of_the_picture_turns_the_touch(void **state)
{
	const struct {
		int turn_deg;
		double x_px, y_px;
	} rows[] = {
	        {0, 40, 20},
	        {90, 800 - 20, 40},        /* the upper left goes to the upper right */
	        {180, 800 - 40, 480 - 20}, /* ... to the lower right */
	        {270, 20, 480 - 40},       /* ... to the lower left */
	};

	(void)state;
	for (size_t i = 0; i < 4; i++) {
		struct touch_frame frame = upright;
		double x, y;

		frame.turn_deg = rows[i].turn_deg;
		touch_convert(&frame, rows[i].x_px / 800.0, rows[i].y_px / 480.0, &x, &y);
		assert_within(x, 8.0, 1e-9);
		assert_within(y, 4.0, 1e-9);
	}
}

static void there_and_back_is_the_same_place(void **state)
{
	(void)state;
	for (int turn = 0; turn < 360; turn += 90)
		for (int i = 0; i <= 10; i++)
			for (int j = 0; j <= 10; j++) {
				struct touch_frame frame = upright;
				double x, y, x_px, y_px;

				frame.turn_deg = turn;
				touch_convert(&frame, i / 10.0, j / 10.0, &x, &y);
				touch_to_window(&frame, x, y, &x_px, &y_px);
				assert_within(x_px, 80.0 * i, 1e-9);
				assert_within(y_px, 48.0 * j, 1e-9);
			}
}

static void what_lies_outside_is_clamped(void **state)
{
	double x, y;

	(void)state;
	touch_convert(&upright, -0.5, 1.5, &x, &y);
	assert_within(x, 0.0, 0.0);
	assert_within(y, 96.0, 1e-9);
	touch_convert(&upright, (double)NAN, (double)INFINITY, &x, &y);
	assert_within(x, 0.0, 0.0);
	assert_within(y, 96.0, 1e-9);
}

static enum touch_result held(int64_t us, struct touch_tap *tap)
{
	struct touch touch = {0};

	assert_int_equal(touch_down(&touch, 7, 10.0, 20.0, 1000 * MS), TOUCH_NOTHING);
	return touch_up(&touch, 7, 11.0, 21.0, 1000 * MS + us, tap);
}

static void a_touch_acts_on_release_between_80_and_1500_ms(void **state)
{
	struct touch_tap tap = {0};

	(void)state;
	assert_int_equal(held(79 * MS, &tap), TOUCH_NOTHING);
	assert_int_equal(held(80 * MS, &tap), TOUCH_TAP);
	assert_within(tap.from_x_mm, 10.0, 0.0);
	assert_within(tap.to_y_mm, 21.0, 0.0);
	assert_int_equal(held(1500 * MS, &tap), TOUCH_TAP);
	assert_int_equal(held(1501 * MS, &tap), TOUCH_NOTHING);
	assert_int_equal(held(5000 * MS, &tap), TOUCH_NOTHING);
	assert_int_equal(held(5001 * MS, &tap), TOUCH_WET);
}

static void a_wet_glove_is_said_once_while_it_still_lies_there(void **state)
{
	struct touch touch = {0};
	struct touch_tap tap;

	(void)state;
	touch_down(&touch, 1, 0.0, 0.0, 0);
	assert_int_equal(touch_tick(&touch, 5000 * MS), TOUCH_NOTHING);
	assert_int_equal(touch_tick(&touch, 5001 * MS), TOUCH_WET);
	assert_int_equal(touch_tick(&touch, 9000 * MS), TOUCH_NOTHING);
	assert_int_equal(touch_up(&touch, 1, 0.0, 0.0, 9000 * MS, &tap), TOUCH_NOTHING);
	assert_false(touch_any_down(&touch));
}

static void two_at_once_are_none_and_three_are_a_wet_glove(void **state)
{
	struct touch touch = {0};
	struct touch_tap tap;

	(void)state;
	assert_int_equal(touch_down(&touch, 1, 0.0, 0.0, 0), TOUCH_NOTHING);
	assert_int_equal(touch_down(&touch, 2, 50.0, 0.0, 10 * MS), TOUCH_NOTHING);
	assert_int_equal(touch_up(&touch, 1, 0.0, 0.0, 200 * MS, &tap), TOUCH_NOTHING);
	assert_int_equal(touch_up(&touch, 2, 50.0, 0.0, 200 * MS, &tap), TOUCH_NOTHING);
	touch_down(&touch, 1, 0.0, 0.0, 300 * MS);
	touch_down(&touch, 2, 5.0, 0.0, 300 * MS);
	assert_int_equal(touch_down(&touch, 3, 9.0, 0.0, 300 * MS), TOUCH_WET);
	for (int64_t id = 1; id <= 3; id++)
		assert_int_equal(touch_up(&touch, id, 0.0, 0.0, 500 * MS, &tap), TOUCH_NOTHING);
	/* Then a finger is a finger again. */
	touch_down(&touch, 4, 0.0, 0.0, 600 * MS);
	assert_int_equal(touch_up(&touch, 4, 0.0, 0.0, 700 * MS, &tap), TOUCH_TAP);
}

static void more_fingers_than_there_is_room_for_do_no_harm(void **state)
{
	struct touch touch = {0};
	struct touch_tap tap;

	(void)state;
	for (int64_t id = 0; id < 3 * TOUCH_FINGERS_MAX; id++)
		touch_down(&touch, id, 0.0, 0.0, 0);
	for (int64_t id = 0; id < 3 * TOUCH_FINGERS_MAX; id++)
		assert_int_equal(touch_up(&touch, id, 0.0, 0.0, 200 * MS, &tap), TOUCH_NOTHING);
	assert_false(touch_any_down(&touch));
	assert_int_equal(touch_up(&touch, 99, 0.0, 0.0, 200 * MS, &tap), TOUCH_NOTHING);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_turn_of_the_picture_turns_the_touch),
	        cmocka_unit_test(there_and_back_is_the_same_place),
	        cmocka_unit_test(what_lies_outside_is_clamped),
	        cmocka_unit_test(a_touch_acts_on_release_between_80_and_1500_ms),
	        cmocka_unit_test(a_wet_glove_is_said_once_while_it_still_lies_there),
	        cmocka_unit_test(two_at_once_are_none_and_three_are_a_wet_glove),
	        cmocka_unit_test(more_fingers_than_there_is_room_for_do_no_harm),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
