/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <string.h>

#include "display/touch/layout.h"
#include "tests/support/display_states.h"

/* NUREG-0700 rev. 3, 1.3.1-4: H = 6.283 D MA / 21600. At 2 m and 20..22 minutes
 * 11.6..12.8 mm. */
static void letters_are_as_high_as_nureg_0700_has_them(void **state)
{
	(void)state;
	assert_within(layout_letter_mm(20.0, 2000.0), 11.6, 0.05);
	assert_within(layout_letter_mm(22.0, 2000.0), 12.8, 0.05);
	assert_close(layout_arc_minutes(layout_letter_mm(17.0, 450.0), 450.0), 17.0, 1e-12);
}

static void a_glass_too_small_is_refused_with_its_size(void **state)
{
	char sentence[256] = "";

	(void)state;
	assert_int_equal(layout_check(154.0, 86.0, sentence, sizeof sentence), 0);
	assert_int_equal(layout_check(86.0, 154.0, sentence, sizeof sentence), 0);
	assert_int_equal(layout_check(152.0, 86.0, sentence, sizeof sentence), -ERANGE);
	assert_int_equal(layout_check(154.0, 84.0, sentence, sizeof sentence), -ERANGE);
	assert_non_null(strstr(sentence, "154 x 84 mm"));
	assert_non_null(strstr(sentence, "at least 154 x 86 mm"));
}

static void nothing_hangs_over_the_edge_and_parts_do_not_meet(void **state)
{
	(void)state;
	for (unsigned i = 0; i < display_n_glasses; i++) {
		const struct display_glass *glass = &display_glasses[i];
		double height = glass->height_px * glass->width_mm / glass->width_px;
		struct layout layout;

		layout_make(glass->width_mm, height, HAND_RIGHT, &layout);
		assert_true(layout.strip.h >= LAYOUT_TARGET_MM);
		assert_true(layout.strip.y + layout.strip.h <= height);
		assert_false(box_meets(layout.strip, layout.body));
		assert_false(box_meets(layout.corner, layout.body));
		assert_true(layout.number_cap_mm >= 25.0);
		assert_true(layout_arc_minutes(layout.headline_cap_mm, LAYOUT_FAR_MM) > 19.99);
		assert_true(layout_arc_minutes(layout.text_cap_mm, LAYOUT_ARM_MM) > 19.99);
	}
}

static void what_is_cut_and_what_is_left_are_the_whole(void **state)
{
	struct box box = {10.0, 10.0, 100.0, 60.0}, cut;

	(void)state;
	cut = layout_cut_away(&box, 30.0, 3.0, HAND_RIGHT);
	assert_within(cut.x, 10.0, 0.0);
	assert_within(box.x, 43.0, 0.0);
	cut = layout_cut_away(&box, 20.0, 3.0, HAND_LEFT);
	assert_within(cut.x + cut.w, 110.0, 1e-12);
	assert_within(box.x + box.w, 87.0, 1e-12);
	/* More than there is: all of it, and nothing is left. */
	cut = layout_cut_top(&box, 100.0, 3.0);
	assert_within(cut.h, 60.0, 0.0);
	assert_within(box.h, 0.0, 0.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(letters_are_as_high_as_nureg_0700_has_them),
	        cmocka_unit_test(a_glass_too_small_is_refused_with_its_size),
	        cmocka_unit_test(nothing_hangs_over_the_edge_and_parts_do_not_meet),
	        cmocka_unit_test(what_is_cut_and_what_is_left_are_the_whole),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
