/* SPDX-License-Identifier: MIT */
#include "painter.h"

#include <errno.h>
#include <math.h>
#include <pango/pangocairo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FACES 3
#define FOUND 256
#define TRIES 8 /* sizes between the wished and the least */

struct painter {
	PangoContext *context;
	PangoLayout *layout;
	PangoFontDescription *face[FACES];
	double cap_share[FACES]; /* height of a capital over the em, measured */
	PangoAttrList *attributes;
	char note[160];
	/* Sizes found for texts before, by their hash: the search is the dear part. */
	struct {
		uint64_t hash;
		double px_per_mm;
		struct painter_text text;
	} found[FOUND];
};

static bool has_family(PangoFontMap *map, const char *name)
{
	PangoFontFamily **families;
	int n = 0;
	bool found = false;

	pango_font_map_list_families(map, &families, &n);
	for (int i = 0; i < n && !found; i++)
		found = strcmp(pango_font_family_get_name(families[i]), name) == 0;
	g_free(families);
	return found;
}

static double measure_cap(struct painter *painter, PangoFontDescription *face)
{
	PangoRectangle ink;

	pango_font_description_set_absolute_size(face, 1000.0 * PANGO_SCALE);
	pango_layout_set_font_description(painter->layout, face);
	pango_layout_set_width(painter->layout, -1);
	pango_layout_set_text(painter->layout, "H", -1);
	pango_layout_get_extents(painter->layout, &ink, NULL);
	return ink.height > 0 ? (double)ink.height / PANGO_SCALE / 1000.0 : 0.7;
}

static void choose_faces(struct painter *painter, PangoFontMap *map)
{
	bool roboto = has_family(map, "Roboto") && has_family(map, "Roboto Condensed");
	const char *plain = roboto ? "Roboto" : "Sans";
	const char *narrow = roboto                                     ? "Roboto Condensed"
	                     : has_family(map, "DejaVu Sans Condensed") ? "DejaVu Sans Condensed"
	                                                                : "Sans";

	if (!roboto)
		snprintf(painter->note, sizeof painter->note,
		         "font Roboto is missing (package fonts-roboto-unhinted): going on with "
		         "%s",
		         narrow);
	for (int i = 0; i < FACES; i++) {
		painter->face[i] = pango_font_description_new();
		pango_font_description_set_family(painter->face[i],
		                                  i == FACE_NARROW ? narrow : plain);
		pango_font_description_set_weight(painter->face[i], i == FACE_PLAIN
		                                                            ? PANGO_WEIGHT_NORMAL
		                                                            : PANGO_WEIGHT_BOLD);
		if (!roboto && i == FACE_NARROW)
			pango_font_description_set_stretch(painter->face[i],
			                                   PANGO_STRETCH_CONDENSED);
		painter->cap_share[i] = measure_cap(painter, painter->face[i]);
	}
}

int painter_new(struct painter **ret)
{
	struct painter *painter = calloc(1, sizeof *painter);
	PangoFontMap *map = pango_cairo_font_map_get_default();
	cairo_font_options_t *options;

	if (!painter)
		return -ENOMEM;
	painter->context = pango_font_map_create_context(map);
	/* Hinting moves glyphs with the number before them: digits would jitter. */
	options = cairo_font_options_create();
	cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
	cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
	cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
	pango_cairo_context_set_font_options(painter->context, options);
	cairo_font_options_destroy(options);
	pango_cairo_context_set_resolution(painter->context, 96.0);
	painter->layout = pango_layout_new(painter->context);
	painter->attributes = pango_attr_list_new();
	pango_attr_list_insert(painter->attributes, pango_attr_font_features_new("tnum=1"));
	choose_faces(painter, map);
	pango_layout_set_attributes(painter->layout, painter->attributes);
	*ret = painter;
	return 0;
}

void painter_free(struct painter *painter)
{
	if (!painter)
		return;
	for (int i = 0; i < FACES; i++)
		if (painter->face[i])
			pango_font_description_free(painter->face[i]);
	pango_attr_list_unref(painter->attributes);
	g_object_unref(painter->layout);
	g_object_unref(painter->context);
	free(painter);
}

const char *painter_font_note(const struct painter *painter)
{
	return painter->note;
}

static void set_colour(cairo_t *cr, uint32_t colour, double alpha)
{
	cairo_set_source_rgba(cr, (double)(colour >> 16 & 0xffu) / 255.0,
	                      (double)(colour >> 8 & 0xffu) / 255.0,
	                      (double)(colour & 0xffu) / 255.0, alpha);
}

static void path_rounded(cairo_t *cr, struct box b, double r)
{
	r = fmin(r, fmin(b.w, b.h) / 2.0);
	if (r <= 0.0) {
		cairo_rectangle(cr, b.x, b.y, b.w, b.h);
		return;
	}
	cairo_new_sub_path(cr);
	cairo_arc(cr, b.x + b.w - r, b.y + r, r, -M_PI_2, 0.0);
	cairo_arc(cr, b.x + b.w - r, b.y + b.h - r, r, 0.0, M_PI_2);
	cairo_arc(cr, b.x + r, b.y + b.h - r, r, M_PI_2, M_PI);
	cairo_arc(cr, b.x + r, b.y + r, r, M_PI, 1.5 * M_PI);
	cairo_close_path(cr);
}

static void paint_rect(cairo_t *cr, const struct scene_item *item)
{
	struct box b = item->box;

	path_rounded(cr, b, item->radius_mm);
	set_colour(cr, item->colour, 1.0);
	if (item->hatch == HATCH_NONE) {
		cairo_fill(cr);
		return;
	}
	cairo_fill_preserve(cr);
	cairo_save(cr);
	cairo_clip(cr);
	set_colour(cr, item->on, 1.0);
	cairo_set_line_width(cr, 0.7);
	for (double x = b.x - b.h; x < b.x + b.w; x += 2.2) {
		cairo_move_to(cr, x, b.y);
		cairo_line_to(cr, x + b.h, b.y + b.h);
	}
	cairo_stroke(cr);
	cairo_restore(cr);
}

static void paint_frame(cairo_t *cr, const struct scene_item *item)
{
	const double dash[] = {1.6, 1.1};

	path_rounded(cr, box_inset(item->box, item->width_mm / 2.0), item->radius_mm);
	set_colour(cr, item->colour, 1.0);
	cairo_set_line_width(cr, item->width_mm);
	cairo_set_dash(cr, dash, item->dashed ? 2 : 0, 0.0);
	cairo_stroke(cr);
	cairo_set_dash(cr, dash, 0, 0.0);
}

static void paint_points(cairo_t *cr, const struct scene *scene, const struct scene_item *item)
{
	const double *xy = &scene->point[item->points];

	for (uint32_t i = 0; i < item->n_points; i++)
		cairo_line_to(cr, xy[2u * i], xy[2u * i + 1u]);
	set_colour(cr, item->colour, 1.0);
	if (item->kind == SCENE_SHAPE) {
		cairo_close_path(cr);
		cairo_fill(cr);
		return;
	}
	cairo_set_line_width(cr, item->width_mm);
	cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
	cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
	cairo_stroke(cr);
}

static void paint_soft(cairo_t *cr, const struct scene_item *item)
{
	struct box b = item->box;
	cairo_pattern_t *fade = cairo_pattern_create_linear(b.x, 0.0, b.x + b.w, 0.0);
	double r = (double)(item->colour >> 16 & 0xffu) / 255.0;
	double g = (double)(item->colour >> 8 & 0xffu) / 255.0;
	double blue = (double)(item->colour & 0xffu) / 255.0;

	cairo_pattern_add_color_stop_rgba(fade, 0.0, r, g, blue, 0.0);
	cairo_pattern_add_color_stop_rgba(fade, 0.5, r, g, blue, 0.85);
	cairo_pattern_add_color_stop_rgba(fade, 1.0, r, g, blue, 0.0);
	cairo_rectangle(cr, b.x, b.y, b.w, b.h);
	cairo_set_source(cr, fade);
	cairo_fill(cr);
	cairo_pattern_destroy(fade);
}

/* Headlines of two lines: capitals only, set as tight as they can be read. */
static bool display_size(const struct scene_item *item)
{
	return item->wrap && item->cap_mm > 8.0;
}

static void set_size(struct painter *painter, const struct scene_item *item, double cap_mm,
                     double px_per_mm)
{
	PangoFontDescription *face = painter->face[item->face];

	pango_font_description_set_absolute_size(
	        face, cap_mm * px_per_mm / painter->cap_share[item->face] * PANGO_SCALE);
	pango_layout_set_font_description(painter->layout, face);
}

/* Of a short unit that text begins with; 0: it begins with something else. */
static size_t unit_bytes(const char *text)
{
	size_t n = 0;

	if (text[0] == '%' || strncmp(text, "°", 2) == 0)
		return 1;
	while ((text[n] >= 'a' && text[n] <= 'z') || (text[n] >= 'A' && text[n] <= 'Z'))
		n++;
	return n <= 3 && (unsigned char)text[n] < 0x80 ? n : 0;
}

/* "331.2 g", "2 h 5 min": the line does not break between a number and its short unit, nor
 * within an option of the terminal's. */
static void glue_units(const char *text, char *ret, size_t size)
{
	size_t n = 0;

	for (const char *c = text; *c && n + 6 < size; c++) {
		bool glued = *c == ' ' && c > text && c[-1] >= '0' && c[-1] <= '9' &&
		             unit_bytes(c + 1) > 0;

		if (glued)
			memcpy(ret + n, "\u00a0", 2);
		else
			ret[n] = *c;
		n += glued ? 2 : 1;
		/* "--approve" is one word (a word joiner). */
		if (strncmp(c, "--", 2) != 0 && *c == '-' && c > text && c[-1] == '-') {
			memcpy(ret + n, "\u2060", 3);
			n += 3;
		}
	}
	ret[n] = '\0';
}

static void set_text(struct painter *painter, const struct scene *scene,
                     const struct scene_item *item, double px_per_mm)
{
	PangoLayout *layout = painter->layout;
	bool right = (item->align == ALIGN_END) != scene->rtl;
	char glued[SCENE_TEXT_MAX];

	if (item->wrap)
		glue_units(scene_item_text(scene, item), glued, sizeof glued);
	pango_layout_set_text(layout, item->wrap ? glued : scene_item_text(scene, item), -1);
	pango_layout_set_auto_dir(layout, FALSE);
	pango_context_set_base_dir(painter->context,
	                           scene->rtl ? PANGO_DIRECTION_RTL : PANGO_DIRECTION_LTR);
	pango_layout_context_changed(layout);
	pango_layout_set_wrap(layout, PANGO_WRAP_WORD);
	pango_layout_set_line_spacing(layout, display_size(item) ? 0.78f : 1.0f);
	pango_layout_set_alignment(layout, item->align == ALIGN_CENTRE ? PANGO_ALIGN_CENTER
	                                   : right                     ? PANGO_ALIGN_RIGHT
	                                                               : PANGO_ALIGN_LEFT);
	pango_layout_set_width(layout,
	                       item->wrap ? (int)(item->box.w * px_per_mm * PANGO_SCALE) : -1);
}

/* The largest size from the wished to the least that fits. */
static struct painter_text search(struct painter *painter, const struct scene_item *item,
                                  double px_per_mm)
{
	double w = item->box.w * px_per_mm, h = item->box.h * px_per_mm;
	struct painter_text text = {0};

	for (int i = 0; i <= TRIES; i++) {
		int width, height;
		PangoRectangle ink;

		text.cap_mm = item->cap_mm + (item->cap_min_mm - item->cap_mm) * i / TRIES;
		set_size(painter, item, text.cap_mm, px_per_mm);
		pango_layout_get_pixel_size(painter->layout, &width, &height);
		if (display_size(item)) {
			pango_layout_get_pixel_extents(painter->layout, &ink, NULL);
			height = ink.height;
		}
		text.fits = width <= w + 1.0 && (!item->wrap || height <= h + 1.0);
		if (text.fits || item->cap_min_mm >= item->cap_mm)
			break;
	}
	return text;
}

/* The layout in pixels at the largest size that fits. */
static struct painter_text lay_out(struct painter *painter, const struct scene *scene,
                                   const struct scene_item *item, double px_per_mm)
{
	size_t slot = item->hash % FOUND;
	struct painter_text text;

	set_text(painter, scene, item, px_per_mm);
	if (painter->found[slot].hash == item->hash &&
	    painter->found[slot].px_per_mm == px_per_mm) {
		text = painter->found[slot].text;
		set_size(painter, item, text.cap_mm, px_per_mm);
	} else {
		text = search(painter, item, px_per_mm);
		painter->found[slot].hash = item->hash;
		painter->found[slot].px_per_mm = px_per_mm;
		painter->found[slot].text = text;
	}
	if (!item->wrap)
		pango_layout_set_width(painter->layout,
		                       (int)(item->box.w * px_per_mm * PANGO_SCALE));
	return text;
}

struct painter_text painter_measure(struct painter *painter, const struct scene *scene,
                                    const struct scene_item *item, double px_per_mm)
{
	return lay_out(painter, scene, item, px_per_mm);
}

/* Whole pixels: a clip through one would blend it with what is there, twice. */
static void clip_add(cairo_t *cr, struct box box, double px_per_mm)
{
	double x0 = floor(box.x * px_per_mm), y0 = floor(box.y * px_per_mm);
	double x1 = ceil((box.x + box.w) * px_per_mm), y1 = ceil((box.y + box.h) * px_per_mm);

	cairo_rectangle(cr, x0 / px_per_mm, y0 / px_per_mm, (x1 - x0) / px_per_mm,
	                (y1 - y0) / px_per_mm);
}

static void paint_text(struct painter *painter, cairo_t *cr, const struct scene *scene,
                       const struct scene_item *item, double px_per_mm)
{
	struct painter_text text = lay_out(painter, scene, item, px_per_mm);
	struct box bounds = scene_bounds(item);
	double y = item->box.y * px_per_mm, h = item->box.h * px_per_mm;
	PangoRectangle ink;
	int width, height, lines = pango_layout_get_line_count(painter->layout);

	if (!item->wrap && !text.fits) {
		/* Still readable from its start: the rest is cut at the box. */
		pango_layout_set_width(painter->layout,
		                       (int)(item->box.w * px_per_mm * PANGO_SCALE));
		pango_layout_set_ellipsize(painter->layout, PANGO_ELLIPSIZE_END);
	}
	pango_layout_get_pixel_size(painter->layout, &width, &height);
	pango_layout_get_pixel_extents(painter->layout, &ink, NULL);
	if (lines == 1 && !item->top)
		/* One line stands with its capitals in the middle of the box. */
		y += (h + text.cap_mm * px_per_mm) / 2.0 -
		     (double)pango_layout_get_baseline(painter->layout) / PANGO_SCALE;
	else if (display_size(item))
		y += (h - ink.height) / 2.0 - ink.y;
	else if (!item->top)
		y += fmax(0.0, (h - height) / 2.0);
	cairo_save(cr);
	clip_add(cr, bounds, px_per_mm);
	cairo_clip(cr);
	set_colour(cr, item->colour, 1.0);
	cairo_scale(cr, 1.0 / px_per_mm, 1.0 / px_per_mm);
	cairo_move_to(cr, item->box.x * px_per_mm, y);
	pango_cairo_show_layout(cr, painter->layout);
	cairo_restore(cr);
	pango_layout_set_ellipsize(painter->layout, PANGO_ELLIPSIZE_NONE);
}

static void paint_item(struct painter *painter, cairo_t *cr, const struct scene *scene,
                       const struct scene_item *item, double px_per_mm)
{
	/* Nothing is inherited: which items were painted before hangs on what was dirty. */
	cairo_new_path(cr);
	cairo_set_line_cap(cr, CAIRO_LINE_CAP_BUTT);
	cairo_set_line_join(cr, CAIRO_LINE_JOIN_MITER);
	switch (item->kind) {
	case SCENE_RECT:
		paint_rect(cr, item);
		break;
	case SCENE_FRAME:
		paint_frame(cr, item);
		break;
	case SCENE_TEXT:
		paint_text(painter, cr, scene, item, px_per_mm);
		break;
	case SCENE_LINE:
	case SCENE_SHAPE:
		paint_points(cr, scene, item);
		break;
	case SCENE_SOFT:
		paint_soft(cr, item);
		break;
	case SCENE_TARGET:
		break;
	}
}

/* One rectangle at a time: what lies in one of them only is painted once. */
static void paint_box(struct painter *painter, cairo_t *cr, const struct scene *scene,
                      double px_per_mm, struct box box)
{
	cairo_save(cr);
	clip_add(cr, box, px_per_mm);
	cairo_clip(cr);
	set_colour(cr, scene->ground, 1.0);
	cairo_paint(cr);
	for (uint32_t i = 0; i < scene->n_items; i++)
		if (box_meets(scene_bounds(&scene->item[i]), box_inset(box, -0.5)))
			paint_item(painter, cr, scene, &scene->item[i], px_per_mm);
	cairo_restore(cr);
}

void painter_paint(struct painter *painter, cairo_t *cr, const struct scene *scene,
                   double px_per_mm, const struct box *boxes, uint32_t n_boxes)
{
	const struct box all = {-1.0, -1.0, scene->page.w + 2.0, scene->page.h + 2.0};

	cairo_save(cr);
	cairo_scale(cr, px_per_mm, px_per_mm);
	for (uint32_t i = 0; i < n_boxes; i++)
		paint_box(painter, cr, scene, px_per_mm, boxes[i]);
	if (n_boxes == 0)
		paint_box(painter, cr, scene, px_per_mm, all);
	cairo_restore(cr);
}
