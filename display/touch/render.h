/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_RENDER_H
#define AMBO_TOUCH_RENDER_H

#include "layout.h"

/* Any screen to a PNG without a window: --render SCREEN STATE.json -o out.png. SCREEN
 * "auto" takes the one the state names. Returns an exit status, having said why. */
struct render_options {
	const char *screen, *state, *out;
	const char *language, *languages_folder;
	const char *theme, *hand; /* NULL: as the state has it */
	struct glass glass;
};
int render_png(const struct render_options *options);

#endif
