/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_PAINTER_H
#define AMBO_TOUCH_PAINTER_H

#include <cairo.h>

#include "scene.h"

/* Paints a scene with Cairo and Pango: the only file that knows fonts. Where Roboto
 * is missing a readable face stands in, and painter_font_note() says so. */
struct painter;

int painter_new(struct painter **ret); /* -ENOMEM */
void painter_free(struct painter *painter);
const char *painter_font_note(const struct painter *painter); /* a sentence, or "" */

/* What became of a text: read by tests. */
struct painter_text {
	double cap_mm; /* as painted */
	bool fits;     /* the whole of it inside its box */
};

/* Paints what lies in one of the boxes (n 0: all), at px_per_mm, unrotated. */
void painter_paint(struct painter *painter, cairo_t *cr, const struct scene *scene,
                   double px_per_mm, const struct box *boxes, uint32_t n_boxes);

/* How a text of the scene comes out. */
struct painter_text painter_measure(struct painter *painter, const struct scene *scene,
                                    const struct scene_item *item, double px_per_mm);

#endif
