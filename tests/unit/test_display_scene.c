/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <stdio.h>
#include <stdlib.h>

#include "display/touch/scene.h"

static struct scene one, other;
static const struct scene_style style = {.cap_mm = 4.0, .colour = 0xffffff};

static void fill(struct scene *scene, const char *number, double x)
{
	scene_clear(scene, 154.0, 86.0, false, 0);
	scene_rect(scene, (struct box){1, 1, 20, 20}, 2.0, 0x123456);
	scene_text(scene, (struct box){40, 10, 50, 10}, &style, number);
	scene_rect(scene, (struct box){x, 60, 10, 10}, 0.0, 0x00ff00);
	scene_target(scene, (struct box){x, 60, 20, 20}, (struct act){ACT_PRESS, 0});
}

static void nothing_is_painted_when_nothing_moved(void **state)
{
	struct box dirty[SCENE_DIRTY_MAX];

	(void)state;
	fill(&one, "12.3", 100.0);
	fill(&other, "12.3", 100.0);
	assert_int_equal(scene_differs(&one, &other, dirty), 0);
}

static void a_number_alone_spoils_its_own_place_only(void **state)
{
	struct box dirty[SCENE_DIRTY_MAX];

	(void)state;
	fill(&one, "12.3", 100.0);
	fill(&other, "12.2", 100.0);
	assert_int_equal(scene_differs(&one, &other, dirty), 1);
	assert_true(dirty[0].x < 40.0 && dirty[0].x > 35.0 && dirty[0].w < 60.0 &&
	            dirty[0].h < 15.0);
	/* A longer text before it moves its place in the pool: no item differs by that. */
	fill(&other, "1012.3", 100.0);
	assert_int_equal(scene_differs(&one, &other, dirty), 1);
}

static void what_moves_spoils_where_it_was_and_where_it_is(void **state)
{
	struct box dirty[SCENE_DIRTY_MAX];

	(void)state;
	fill(&one, "12.3", 100.0);
	fill(&other, "12.3", 130.0);
	assert_int_equal(scene_differs(&one, &other, dirty), 2);
	fill(&other, "12.3", 100.0);
	scene_rect(&other, (struct box){70, 40, 5, 5}, 0.0, 1);
	assert_int_equal(scene_differs(&one, &other, dirty), 1);
	assert_int_equal(scene_differs(&other, &one, dirty), 1);
	assert_true(box_meets(dirty[0], (struct box){70, 40, 5, 5}));
}

static void a_touch_finds_the_uppermost_target(void **state)
{
	struct box box;

	(void)state;
	fill(&one, "", 100.0);
	assert_int_equal(scene_hit(&one, 101.0, 61.0, &box).kind, ACT_PRESS);
	assert_int_equal(scene_hit(&one, 99.9, 61.0, &box).kind, ACT_NONE);
	scene_target(&one, (struct box){90, 50, 40, 40}, (struct act){ACT_HOLD, 3});
	assert_int_equal(scene_hit(&one, 101.0, 61.0, &box).kind, ACT_HOLD);
	assert_within(box.w, 40.0, 0.0);
}

static void more_than_a_scene_holds_is_left_out(void **state)
{
	double xy[2 * 300] = {0};

	(void)state;
	scene_clear(&one, 154.0, 86.0, false, 0);
	for (unsigned i = 0; i < 3 * SCENE_ITEMS_MAX; i++)
		scene_rect(&one, (struct box){1, 1, 2, 2}, 0.0, i);
	assert_int_equal(one.n_items, SCENE_ITEMS_MAX);
	scene_clear(&one, 154.0, 86.0, false, 0);
	for (unsigned i = 0; i < 100; i++) {
		scene_line(&one, xy, 300, 1.0, i);
		scene_text(
		        &one, (struct box){0, 0, 1, 1}, &style,
		        "a text of some length that fills the pool of texts before long, since it "
		        "is longer than it would have to be for what it says, and goes on");
	}
	assert_true(one.n_points <= SCENE_POINTS_MAX && one.n_text <= SCENE_TEXT_MAX);
	assert_true(one.n_items < SCENE_ITEMS_MAX && one.n_items > 30);
}

/* Random scenes: whatever differs lies inside what is said to be dirty. */
static void all_that_differs_is_dirty(void **state)
{
	struct box dirty[SCENE_DIRTY_MAX];

	(void)state;
	srand(5);
	for (int round = 0; round < 500; round++) {
		uint32_t n;

		scene_clear(&one, 154.0, 86.0, false, 0);
		scene_clear(&other, 154.0, 86.0, false, 0);
		for (int i = 0; i < 40; i++) {
			struct box box = {rand() % 140, rand() % 80, 3, 3};

			if (rand() % 4)
				scene_rect(&one, box, 0.0, 1);
			if (rand() % 4)
				scene_rect(&other, box, 0.0, rand() % 3 ? 1 : 2);
		}
		n = scene_differs(&one, &other, dirty);
		for (uint32_t i = 0; i < one.n_items || i < other.n_items; i++) {
			bool inside = i < one.n_items && i < other.n_items &&
			              one.item[i].hash == other.item[i].hash;

			for (uint32_t d = 0; d < n && !inside && i < other.n_items; d++) {
				struct box b = other.item[i].box, o = dirty[d];

				inside = b.x >= o.x && b.y >= o.y && b.x + b.w <= o.x + o.w &&
				         b.y + b.h <= o.y + o.h;
			}
			assert_true(inside || i >= other.n_items);
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(nothing_is_painted_when_nothing_moved),
	        cmocka_unit_test(a_number_alone_spoils_its_own_place_only),
	        cmocka_unit_test(what_moves_spoils_where_it_was_and_where_it_is),
	        cmocka_unit_test(a_touch_finds_the_uppermost_target),
	        cmocka_unit_test(more_than_a_scene_holds_is_left_out),
	        cmocka_unit_test(all_that_differs_is_dirty),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
