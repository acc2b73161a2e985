/* SPDX-License-Identifier: MIT */
#include "display_states.h"

#include <glob.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "display/touch/model_json.h"

const struct display_glass display_glasses[] = {
        {"smallest", 800, 447, 154.0},  {"800x480", 800, 480, 154.0},
        {"1024x600", 1024, 600, 154.2}, {"1280x800", 1280, 800, 217.0},
        {"portrait", 480, 860, 86.0},   {"portrait 800x1280", 800, 1280, 136.0},
};
const unsigned display_n_glasses = sizeof display_glasses / sizeof *display_glasses;

const char *const display_languages[] = {"en", "de", "long", "rtl"};
const unsigned display_n_languages = sizeof display_languages / sizeof *display_languages;

static void load_path(const char *path, struct model *model, struct ui *ui)
{
	struct settings settings;
	char sentence[512];

	settings_default(&settings);
	settings.first_run_done = true;
	ui_init(ui, &settings);
	model_init(model);
	if (model_json_read(path, model, ui, sentence, sizeof sentence) < 0) {
		fprintf(stderr, "%s\n", sentence);
		exit(EXIT_FAILURE);
	}
	ui_follow(ui, model);
}

void display_load(const char *name, struct model *model, struct ui *ui)
{
	char path[512];

	snprintf(path, sizeof path, "%s/display/%s.json", AMBO_TEST_DATA, name);
	load_path(path, model, ui);
}

unsigned display_each_state(void (*each)(struct display_state *state, void *context), void *context)
{
	struct model *model = calloc(1, sizeof *model);
	unsigned n = 0;
	struct ui ui;
	glob_t found;

	if (!model || glob(AMBO_TEST_DATA "/display/*.json", 0, NULL, &found) != 0)
		exit(EXIT_FAILURE);
	for (; n < found.gl_pathc; n++) {
		const char *slash = strrchr(found.gl_pathv[n], '/');
		struct display_state state = {slash + 1, model, &ui};

		load_path(found.gl_pathv[n], model, &ui);
		each(&state, context);
	}
	globfree(&found);
	free(model);
	return n;
}
