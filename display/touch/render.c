/* SPDX-License-Identifier: MIT */
#include "render.h"

#include <cairo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "model_json.h"
#include "painter.h"
#include "say.h"
#include "screens.h"

static int paint(const struct render_options *options, const struct scene *scene)
{
	const struct glass *glass = &options->glass;
	cairo_surface_t *surface =
	        cairo_image_surface_create(CAIRO_FORMAT_RGB24, glass->width_px, glass->height_px);
	cairo_t *cr = cairo_create(surface);
	struct painter *painter = NULL;
	int status = EXIT_FAILURE;

	if (painter_new(&painter) >= 0) {
		cairo_status_t wrote;

		if (*painter_font_note(painter))
			fprintf(stderr, "ambo-display: %s\n", painter_font_note(painter));
		painter_paint(painter, cr, scene, glass->px_per_mm, NULL, 0);
		wrote = cairo_surface_write_to_png(surface, options->out);
		if (wrote == CAIRO_STATUS_SUCCESS)
			status = EXIT_SUCCESS;
		else
			fprintf(stderr, "ambo-display: %s: %s\n", options->out,
			        cairo_status_to_string(wrote));
	}
	painter_free(painter);
	cairo_destroy(cr);
	cairo_surface_destroy(surface);
	return status;
}

int render_png(const struct render_options *options)
{
	struct model *model = calloc(1, sizeof *model);
	struct scene *scene = calloc(1, sizeof *scene);
	char sentence[512] = "";
	struct settings settings;
	struct ui ui;
	int status = EXIT_FAILURE, screen = screen_from_name(options->screen);

	if (!model || !scene)
		goto out;
	if (screen < 0 && strcmp(options->screen, "auto") != 0) {
		fprintf(stderr, "ambo-display: there is no screen \"%s\"; expected auto",
		        options->screen);
		for (int i = 0; i < SCREEN_COUNT; i++)
			fprintf(stderr, " %s", screen_name((enum screen)i));
		fprintf(stderr, "\n");
		status = 2;
		goto out;
	}
	if (say_language(options->languages_folder, options->language, sentence, sizeof sentence) <
	    0)
		fprintf(stderr, "ambo-display: %s\n", sentence);
	settings_default(&settings);
	settings.first_run_done = true;
	ui_init(&ui, &settings);
	model_init(model);
	if (model_json_read(options->state, model, &ui, sentence, sizeof sentence) < 0) {
		fprintf(stderr, "ambo-display: %s\n", sentence);
		goto out;
	}
	if (options->theme)
		ui.settings.theme = strcmp(options->theme, "day") == 0 ? THEME_DAY : THEME_DARK;
	if (options->hand)
		ui.settings.hand = strcmp(options->hand, "left") == 0 ? HAND_LEFT : HAND_RIGHT;
	ui_follow(&ui, model);
	if (screen >= 0)
		ui.screen = (enum screen)screen;
	screens_draw(model, &ui, options->glass.width_px / options->glass.px_per_mm,
	             options->glass.height_px / options->glass.px_per_mm, scene);
	status = paint(options, scene);
out:
	free(scene);
	free(model);
	return status;
}
