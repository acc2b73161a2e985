/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_PLAN_DRAW_INSIDE_H
#define AMBO_TERMINAL_PLAN_DRAW_INSIDE_H

#include <cairo.h>
#include <stddef.h>

#include "plan_load.h"

/* What the two halves of the picture share: plan_draw.c has the page and the curves,
 * plan_section.c the cross-section. */

struct box {
	double x, y, width, height;
};

enum draw_align { DRAW_LEFT, DRAW_CENTRE, DRAW_RIGHT };

/* Each layer has an ink, the same in the section and in the curves. */
void draw_ink(cairo_t *cr, size_t layer, double alpha);
void draw_black(cairo_t *cr);
void draw_text(cairo_t *cr, double x, double y, double size, enum draw_align align,
               const char *words);

void draw_section(cairo_t *cr, const struct plan_case *of, const struct box *box);

#endif
