/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_MIX_SCREEN_H
#define AMBO_TERMINAL_MIX_SCREEN_H

#include <stdio.h>

#include "live.h"

/* The batch drawn as lines of text: a pure function of what the bus tells.
 *
 * The bar closes in: two ends stand as far apart as there is left to pour, and meet
 * in the middle when it is right. Its scale is fixed for the whole of a charge and
 * finer towards the middle (the square root of what is left), so the last gram
 * still moves it. Too much pushes the ends past each other. */

#define MIX_SCREEN_LINES   13
#define MIX_SCREEN_BAR_MAX 512u

struct mix_screen {
	int columns;
	bool utf8, bench; /* bench: the keys that act for the hands are shown */
	const char *note; /* a line of our own: what a second d does, what was refused; or NULL */
};

/* Writes MIX_SCREEN_LINES lines, each cleared to its end. */
void mix_screen_draw(FILE *out, const struct mix_screen *screen, const struct live *live);

/* The bar alone, for @columns cells. share: left / target, below 0 over. */
void mix_screen_bar(double share, int columns, bool utf8, char buffer[MIX_SCREEN_BAR_MAX]);

#endif
