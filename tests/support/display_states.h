/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_DISPLAY_STATES_H
#define AMBO_TESTS_DISPLAY_STATES_H

#include "display/touch/screens.h"

/* The states of tests/data/display, and the glasses, themes and languages every one of
 * them must look right on. */

struct display_glass {
	const char *name;
	int width_px, height_px;
	double width_mm;
};
extern const struct display_glass display_glasses[];
extern const unsigned display_n_glasses;

extern const char *const display_languages[]; /* "en" first */
extern const unsigned display_n_languages;

/* Calls each with a scene for every state file there is. Returns how many. */
struct display_state {
	const char *name;
	struct model *model;
	struct ui *ui;
};
unsigned display_each_state(void (*each)(struct display_state *state, void *context),
                            void *context);

/* One state by name; fails the program when it cannot be read. */
void display_load(const char *name, struct model *model, struct ui *ui);

#endif
