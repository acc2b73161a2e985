/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>

#include "draw.h"

/* The section of a piece: what is poured is solid, what is planned a ghost, the layer
 * that comes next framed. Heights are stretched, since a clock face is flat. */

struct scale {
	double middle_x, floor_y, per_mm_x, per_mm_y;
};

static void grow(const struct model_layer *layer, double *width_mm, double *top_mm)
{
	double top = layer->from_mm + layer->depth_mm;

	if (isfinite(layer->top_mm))
		*width_mm = fmax(*width_mm, fmax(layer->top_mm, layer->bottom_mm));
	if (isfinite(top))
		*top_mm = fmax(*top_mm, top);
}

static bool slab(const struct model_layer *layer, const struct scale *scale, double xy[8])
{
	double low = scale->floor_y - layer->from_mm * scale->per_mm_y;
	double high = scale->floor_y - (layer->from_mm + layer->depth_mm) * scale->per_mm_y;
	double bottom = layer->bottom_mm / 2.0 * scale->per_mm_x;
	double top = layer->top_mm / 2.0 * scale->per_mm_x;

	if (!isfinite(low) || !isfinite(high) || !isfinite(bottom) || !isfinite(top))
		return false;
	xy[0] = scale->middle_x - bottom, xy[1] = low;
	xy[2] = scale->middle_x + bottom, xy[3] = low;
	xy[4] = scale->middle_x + top, xy[5] = high;
	xy[6] = scale->middle_x - top, xy[7] = high;
	return true;
}

static void outline(const struct draw *draw, const double xy[8], double width_mm, uint32_t colour)
{
	const double closed[10] = {xy[0], xy[1], xy[2], xy[3], xy[4],
	                           xy[5], xy[6], xy[7], xy[0], xy[1]};

	scene_line(draw->scene, closed, 5, width_mm, colour);
}

/* The layer's number where it lies, if there is room for it. */
static void number(const struct draw *draw, const struct model_layer *layer, const double xy[8])
{
	const uint32_t on = draw->palette->panel;
	struct scene_style style = draw_style(draw, draw->palette->ink, on);
	struct box box = {(xy[0] + xy[2]) / 2.0 - 6.0, xy[5], 12.0, xy[1] - xy[5]};
	char text[16];

	style.align = ALIGN_CENTRE;
	style.face = FACE_BOLD;
	if (box.h < style.cap_min_mm * 1.7)
		return;
	snprintf(text, sizeof text, "%.0f", layer->layer);
	scene_rect(draw->scene, box_inset(box, 0.3), 0.5, on);
	scene_text(draw->scene, box, &style, text);
}

void draw_section(const struct draw *draw, struct box box)
{
	const struct model *model = draw->model;
	struct box plot = box_inset(box, 3.0);
	double width_mm = 1.0, top_mm = 1.0, xy[8];
	struct scale scale;

	scene_rect(draw->scene, box, 2.0, draw->palette->panel);
	for (uint32_t i = 0; i < model->n_layers; i++)
		grow(&model->layers[i], &width_mm, &top_mm);
	for (uint32_t i = 0; i < model->n_plan; i++)
		grow(&model->plan[i], &width_mm, &top_mm);
	scale = (struct scale){plot.x + plot.w / 2.0, plot.y + plot.h, plot.w / width_mm,
	                       plot.h / top_mm};
	for (uint32_t i = 0; i < model->n_plan; i++) {
		if (!slab(&model->plan[i], &scale, xy))
			continue;
		scene_shape(draw->scene, xy, 4, draw->palette->raised);
		number(draw, &model->plan[i], xy);
		outline(draw, xy, 0.3, draw->palette->ghost);
	}
	for (uint32_t i = 0; i < model->n_layers; i++) {
		if (!slab(&model->layers[i], &scale, xy))
			continue;
		scene_shape(draw->scene, xy, 4, draw->palette->poured);
		number(draw, &model->layers[i], xy);
		outline(draw, xy, 0.4, draw->palette->panel);
	}
	if (model->n_plan > 0 && slab(&model->plan[0], &scale, xy))
		outline(draw, xy, 0.9, draw->palette->ink);
}
