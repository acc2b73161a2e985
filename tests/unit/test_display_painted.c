/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <cairo.h>
#include <glob.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "display/touch/painter.h"
#include "display/touch/say.h"
#include "tests/support/display_states.h"

/* Pictures against those in tests/data/display/golden: looked at by eye, made anew by
 *   AMBO_GOLDEN=make test_display_painted
 * A pixel may differ by a little everywhere (fonts are rasterised a little otherwise by
 * other versions), and by much almost nowhere. */

#define LITTLE     40 /* of 255, in a channel */
#define EDGE       20
#define MUCH_SHARE 0.004 /* of all pixels may differ by more */

static struct scene scene, before;
static struct painter *painter;

static cairo_surface_t *paint(const struct scene *what, const struct display_glass *glass)
{
	cairo_surface_t *surface =
	        cairo_image_surface_create(CAIRO_FORMAT_RGB24, glass->width_px, glass->height_px);
	cairo_t *cr = cairo_create(surface);

	painter_paint(painter, cr, what, glass->width_px / glass->width_mm, NULL, 0);
	cairo_destroy(cr);
	cairo_surface_flush(surface);
	return surface;
}

static double differing(cairo_surface_t *a, cairo_surface_t *b, int little)
{
	int w = cairo_image_surface_get_width(a), h = cairo_image_surface_get_height(a), n = 0;

	if (w != cairo_image_surface_get_width(b) || h != cairo_image_surface_get_height(b))
		return 1.0;
	for (int y = 0; y < h; y++) {
		const unsigned char *pa =
		        cairo_image_surface_get_data(a) + y * cairo_image_surface_get_stride(a);
		const unsigned char *pb =
		        cairo_image_surface_get_data(b) + y * cairo_image_surface_get_stride(b);

		for (int x = 0; x < w; x++) {
			bool much = false;

			for (int c = 0; c < 3; c++)
				much = much || abs(pa[4 * x + c] - pb[4 * x + c]) > little;
			n += much;
		}
	}
	return (double)n / (w * h);
}

static void draw(struct display_state *state, const struct display_glass *glass)
{
	screens_draw(state->model, state->ui, glass->width_mm,
	             glass->height_px * glass->width_mm / glass->width_px, &scene);
}

/* FNV-1a: which glass, theme and hand a state gets hangs on no other state. */
static unsigned lot_of(const char *name)
{
	uint32_t hash = 2166136261u;

	for (; *name; name++)
		hash = (hash ^ (unsigned char)*name) * 16777619u;
	return hash >> 8;
}

static void compare(struct display_state *state, void *context)
{
	/* Every state once, the glasses, themes and hands by lot. */
	unsigned lot = lot_of(state->name);
	const struct display_glass *glass = &display_glasses[lot % display_n_glasses];
	bool make = getenv("AMBO_GOLDEN") && strcmp(getenv("AMBO_GOLDEN"), "make") == 0;
	cairo_surface_t *painted, *golden;
	char path[512];
	double differs;

	(void)context;
	state->ui->settings.theme = lot / 7 % 3 == 2 ? THEME_DAY : THEME_DARK;
	state->ui->settings.hand = lot / 31 % 4 == 3 ? HAND_LEFT : HAND_RIGHT;
	draw(state, glass);
	painted = paint(&scene, glass);
	snprintf(path, sizeof path, "%s/display/golden/%.*s.png", AMBO_TEST_DATA,
	         (int)(strlen(state->name) - strlen(".json")), state->name);
	if (make)
		assert_int_equal(cairo_surface_write_to_png(painted, path), CAIRO_STATUS_SUCCESS);
	golden = cairo_image_surface_create_from_png(path);
	if (cairo_surface_status(golden) != CAIRO_STATUS_SUCCESS)
		fail_msg("%s cannot be read", path);
	differs = differing(painted, golden, LITTLE);
	if (differs > MUCH_SHARE)
		fail_msg("%s: %.2f %% of the pixels differ by much", path, 100.0 * differs);
	cairo_surface_destroy(painted);
	cairo_surface_destroy(golden);
}

static void every_state_looks_as_it_was_approved(void **state)
{
	(void)state;
	assert_true(display_each_state(compare, NULL) >= 25);
}

/* Painting what is dirty over the picture before gives the very picture that painting
 * all of it gives. From every state to the next, and from number to number. */
static void over_what_was(struct display_state *state, void *context)
{
	const struct display_glass *glass = &display_glasses[1];
	cairo_surface_t **old = context;
	struct box dirty[SCENE_DIRTY_MAX];

	for (int i = 0; i < 3; i++) {
		cairo_surface_t *fresh;
		uint32_t n;

		state->model->reading.remaining_g -= 3.7 * i;
		ui_follow(state->ui, state->model);
		draw(state, glass);
		fresh = paint(&scene, glass);
		n = scene_differs(&before, &scene, dirty);
		if (*old && n > 0) {
			cairo_t *cr = cairo_create(*old);

			painter_paint(painter, cr, &scene, glass->width_px / glass->width_mm, dirty,
			              n);
			cairo_destroy(cr);
			cairo_surface_flush(*old);
		}
		/* Under a clip Cairo cuts slanted edges, and their blend with the ground
		 * comes out a few levels otherwise: nothing an eye sees. */
		if (*old && differing(*old, fresh, EDGE) > 0.0)
			fail_msg("%s, %d: %.4f %% of the pixels are not as painted afresh",
			         state->name, i, 100.0 * differing(*old, fresh, EDGE));
		cairo_surface_destroy(*old);
		*old = fresh;
		before = scene;
	}
}

static void painting_what_is_dirty_is_painting_all(void **state)
{
	cairo_surface_t *old = NULL;

	(void)state;
	display_each_state(over_what_was, &old);
	cairo_surface_destroy(old);
}

/* Digits stand in places of their own: another digit moves none of its neighbours. */
static void digits_are_as_wide_as_each_other(void **state)
{
	const struct display_glass *glass = &display_glasses[0];
	const struct scene_style style = {
	        .face = FACE_NARROW, .cap_mm = 25.0, .align = ALIGN_START, .colour = 0xffffff};
	cairo_surface_t *painted[2];

	(void)state;
	for (int i = 0; i < 2; i++) {
		scene_clear(&scene, 154.0, 86.0, false, 0);
		scene_text(&scene, (struct box){10, 20, 130, 40}, &style, i ? "818.8" : "111.8");
		/* Only the last digit is left to see. */
		scene_rect(&scene, (struct box){0, 0, 10 + 55.5, 86}, 0.0, 0);
		painted[i] = paint(&scene, glass);
	}
	assert_true(differing(painted[0], painted[1], 0) == 0.0);
	cairo_surface_destroy(painted[0]);
	cairo_surface_destroy(painted[1]);
}

static int open_painter(void **state)
{
	char sentence[512];

	(void)state;
	say_language(AMBO_CATALOGUES, "en", sentence, sizeof sentence);
	/* Dates in golden pictures. */
	setenv("TZ", "UTC", 1);
	return painter_new(&painter);
}

static int close_painter(void **state)
{
	(void)state;
	painter_free(painter);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(every_state_looks_as_it_was_approved),
	        cmocka_unit_test(painting_what_is_dirty_is_painting_all),
	        cmocka_unit_test(digits_are_as_wide_as_each_other),
	};

	return cmocka_run_group_tests(tests, open_painter, close_painter);
}
