/* SPDX-License-Identifier: MIT */
#include "plan_draw.h"

#include <cairo-svg.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* Points; a PNG has a pixel for each. */
#define WIDTH  1200.0
#define HEIGHT 980.0
#define MARGIN 70.0
#define FONT   "sans-serif"

struct box {
	double x, y, width, height;
};

/* Dark enough on white for text and lines (7:1 or near), apart for the colour blind by
 * lightness too; and each layer is named in words where it lies. */
static const double inks[][3] = {
        {0.00, 0.27, 0.45}, {0.55, 0.20, 0.00}, {0.00, 0.36, 0.27},
        {0.42, 0.10, 0.40}, {0.35, 0.30, 0.00}, {0.15, 0.15, 0.15},
};
#define N_INKS (sizeof inks / sizeof *inks)

static void ink(cairo_t *cr, size_t i, double alpha)
{
	const double *c = inks[i % N_INKS];

	cairo_set_source_rgba(cr, c[0], c[1], c[2], alpha);
}

static void black(cairo_t *cr)
{
	cairo_set_source_rgb(cr, 0.1, 0.1, 0.1);
}

enum align { LEFT, CENTRE, RIGHT };

static void text(cairo_t *cr, double x, double y, double size, enum align align, const char *words)
{
	cairo_text_extents_t extents;

	cairo_set_font_size(cr, size);
	cairo_text_extents(cr, words, &extents);
	x -= align == CENTRE ? extents.x_advance / 2.0 : align == RIGHT ? extents.x_advance : 0.0;
	cairo_move_to(cr, x, y);
	cairo_show_text(cr, words);
}

/* Half the width of the cavity at a height, as a section through its middle shows it. */
static double half_width_mm(const struct cavity *cavity, double at_mm)
{
	double from = 0.0;

	for (size_t i = 0; i < cavity->n_sections; i++) {
		const struct cavity_section *section = &cavity->sections[i];
		const double up = at_mm - from;

		if (up <= section->height_mm || i + 1 == cavity->n_sections) {
			const double grown =
			        up * tan(section->taper_deg * 3.14159265358979 / 180.0);
			double low = 0.0, high = 0.0;

			if (section->shape != CAVITY_POLYGON)
				return section->width_mm / 2.0 + grown;
			for (size_t v = 0; v < section->n_vertices; v++) {
				low = v ? fmin(low, section->vertices[v].x_mm)
				        : section->vertices[v].x_mm;
				high = v ? fmax(high, section->vertices[v].x_mm)
				         : section->vertices[v].x_mm;
			}
			return (high - low) / 2.0 + grown;
		}
		from += section->height_mm;
	}
	/* Measured with water: only the area is known; drawn as if round. */
	return sqrt(fmax(cavity_area_mm2(cavity, at_mm), 0.0) / 3.14159265358979);
}

/* Millimetres to the page; heights are stretched, since a clock face is flat. */
struct page_scale {
	double middle_x, floor_y, per_mm_x, per_mm_y;
};

static struct page_scale scale_of(const struct plan_case *of, const struct box *box, double top_mm)
{
	const struct cavity *cavity = &of->piece.cavity;
	const double height = cavity_height_mm(cavity);
	double half = 1.0;
	struct page_scale scale = {.middle_x = box->x + box->width / 2.0,
	                           .floor_y = box->y + box->height};

	for (int i = 0; i <= 20; i++)
		half = fmax(half, half_width_mm(cavity, height * i / 20.0));
	scale.per_mm_x = (box->width - 300.0) / 2.0 / half;
	scale.per_mm_y = fmin(box->height / fmax(top_mm, height), 12.0 * scale.per_mm_x);
	return scale;
}

static double page_y(const struct page_scale *scale, double mm)
{
	return scale->floor_y - mm * scale->per_mm_y;
}

/* The outline of the cavity between two heights, wall by wall. */
static void trace_between(cairo_t *cr, const struct cavity *cavity, const struct page_scale *scale,
                          double from_mm, double to_mm)
{
	const double height = cavity_height_mm(cavity);
	const int n = 24;

	for (int side = -1; side <= 1; side += 2)
		for (int i = 0; i <= n; i++) {
			double at = side < 0 ? from_mm + (to_mm - from_mm) * i / n
			                     : to_mm - (to_mm - from_mm) * i / n;

			cairo_line_to(cr,
			              scale->middle_x +
			                      side * scale->per_mm_x *
			                              half_width_mm(cavity, fmin(at, height)),
			              page_y(scale, at));
		}
	cairo_close_path(cr);
}

static void draw_layer(cairo_t *cr, const struct plan_case *of, const struct page_scale *scale,
                       size_t i)
{
	const struct plan_layer *layer = &of->plan.layers[i];
	const double to = layer->from_mm + layer->depth_mm;
	const double right =
	        scale->middle_x +
	        scale->per_mm_x * half_width_mm(&of->piece.cavity,
	                                        fmin(to, cavity_height_mm(&of->piece.cavity)));
	const double y = page_y(scale, layer->from_mm + layer->depth_mm / 2.0);
	char label[128];

	cairo_new_path(cr);
	trace_between(cr, &of->piece.cavity, scale, layer->from_mm, to);
	ink(cr, i, i % 2 ? 0.30 : 0.18);
	cairo_fill_preserve(cr);
	ink(cr, i, 0.9);
	cairo_set_line_width(cr, 1.0);
	cairo_stroke(cr);
	snprintf(label, sizeof label, "%zu %s  %.1f mm, %.0f g", i + 1,
	         of->piece.coats[layer->coat].name, layer->depth_mm, layer->total_g);
	ink(cr, i, 1.0);
	text(cr, right + 14.0, y + 5.0, 14.0, LEFT, label);
}

/* Spread evenly over the coat they rest on. What stands out of the last layer is drawn
 * solid there. */
static void draw_inclusions(cairo_t *cr, const struct plan_case *of, const struct page_scale *scale)
{
	const struct piece *piece = &of->piece;
	const double filled = piece_filled_mm(piece);

	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const struct piece_inclusion *it = &piece->inclusions[i];
		const double across = it->across_mm > 0.0 ? it->across_mm : it->height_mm;
		const double half = half_width_mm(&piece->cavity, it->rests_on_mm) - across / 2.0;
		const double top = it->rests_on_mm + it->height_mm;
		/* A section meets a few of many: as many as a line across would. */
		const int met = (int)fmin(it->count, ceil(1.3 * sqrt(it->count)));

		for (int c = 0; c < met; c++) {
			const double place = met > 1 ? -1.0 + 2.0 * c / (met - 1.0) : 0.0;
			const double shift = (i % 2 ? 0.5 : 0.0) * across;
			const double middle = fmax(fmin(0.92 * half * place + shift, half), -half);
			const double x =
			        scale->middle_x + scale->per_mm_x * (middle - across / 2.0);

			cairo_rectangle(cr, x, page_y(scale, top), across * scale->per_mm_x,
			                it->height_mm * scale->per_mm_y);
			cairo_set_source_rgba(cr, 0.20, 0.30, 0.05, 0.55);
			cairo_fill_preserve(cr);
			black(cr);
			cairo_set_line_width(cr, 0.8);
			cairo_stroke(cr);
			if (top <= filled)
				continue;
			cairo_rectangle(cr, x, page_y(scale, top), across * scale->per_mm_x,
			                (top - filled) * scale->per_mm_y);
			cairo_set_source_rgb(cr, 0.70, 0.10, 0.0);
			cairo_fill(cr);
		}
	}
}

static void draw_rulers(cairo_t *cr, const struct plan_case *of, const struct page_scale *scale,
                        double top_mm)
{
	const double left = scale->middle_x -
	                    scale->per_mm_x * half_width_mm(&of->piece.cavity,
	                                                    cavity_height_mm(&of->piece.cavity)) -
	                    18.0;
	const double step = top_mm > 60.0 ? 20.0 : top_mm > 25.0 ? 10.0 : 5.0;
	char label[96];

	black(cr);
	cairo_set_line_width(cr, 1.0);
	for (double mm = 0.0; mm <= top_mm + 1e-9; mm += step) {
		cairo_move_to(cr, left - 6.0, page_y(scale, mm));
		cairo_line_to(cr, left, page_y(scale, mm));
		cairo_stroke(cr);
		snprintf(label, sizeof label, "%.0f", mm);
		text(cr, left - 10.0, page_y(scale, mm) + 4.0, 12.0, RIGHT, label);
	}
	text(cr, left - 10.0, page_y(scale, top_mm) - 14.0, 12.0, RIGHT, "mm");
	snprintf(label, sizeof label, "cross-section; heights drawn %.1f times as large as widths",
	         scale->per_mm_y / scale->per_mm_x);
	text(cr, scale->middle_x, scale->floor_y + 26.0, 13.0, CENTRE, label);
}

static void draw_section(cairo_t *cr, const struct plan_case *of, const struct box *box)
{
	const struct cavity *cavity = &of->piece.cavity;
	double top = cavity_height_mm(cavity), left_out = 0.0;
	struct page_scale scale;

	for (size_t i = 0; i < of->plan.n_layers; i++)
		top = fmax(top, of->plan.layers[i].from_mm + of->plan.layers[i].depth_mm);
	for (size_t i = 0; i < of->piece.n_inclusions; i++)
		left_out = fmax(left_out, of->piece.inclusions[i].rests_on_mm +
		                                  of->piece.inclusions[i].height_mm);
	scale = scale_of(of, box, fmax(top, left_out));
	for (size_t i = 0; i < of->plan.n_layers; i++)
		draw_layer(cr, of, &scale, i);
	cairo_new_path(cr);
	trace_between(cr, cavity, &scale, 0.0, cavity_height_mm(cavity));
	black(cr);
	cairo_set_line_width(cr, 2.5);
	cairo_stroke(cr);
	draw_inclusions(cr, of, &scale);
	draw_rulers(cr, of, &scale, top);
}

/* How long the curves are worth looking at: until the slowest surface has been handled
 * for a while. */
static double span_s(const struct plan *plan)
{
	double span = 0.0;

	for (size_t i = 0; i < plan->n_layers; i++) {
		const struct layer_curve *curve = &plan->layers[i].curve;
		double enough = plan->layers[i].gel_top_s * 2.0;

		if (!isfinite(enough))
			enough = curve->t_s[curve->n - 1];
		span = fmax(span, fmin(enough, curve->t_s[curve->n - 1]));
	}
	return span > 0.0 ? span : 3600.0;
}

struct axes {
	struct box box;
	double low, high, span_s;
};

static double nice_step(double span, int at_most)
{
	const double rough = span / at_most, ten = pow(10.0, floor(log10(rough)));

	for (int i = 0; i < 3; i++) {
		static const double nice[] = {1.0, 2.0, 5.0};

		if (nice[i] * ten >= rough)
			return nice[i] * ten;
	}
	return 10.0 * ten;
}

static void draw_axes(cairo_t *cr, const struct axes *axes, const char *title, bool hours)
{
	const struct box *box = &axes->box;
	const double step = nice_step(axes->high - axes->low, 6);
	const double h_step = nice_step(axes->span_s / 3600.0, 8);
	char label[64];

	black(cr);
	cairo_set_line_width(cr, 1.0);
	cairo_rectangle(cr, box->x, box->y, box->width, box->height);
	cairo_stroke(cr);
	text(cr, box->x, box->y - 10.0, 14.0, LEFT, title);
	for (double v = ceil(axes->low / step) * step; v <= axes->high + 1e-9; v += step) {
		const double y = box->y + box->height * (axes->high - v) / (axes->high - axes->low);

		cairo_set_source_rgb(cr, 0.85, 0.85, 0.85);
		cairo_move_to(cr, box->x, y);
		cairo_line_to(cr, box->x + box->width, y);
		cairo_stroke(cr);
		black(cr);
		snprintf(label, sizeof label, "%.10g", v);
		text(cr, box->x - 8.0, y + 4.0, 12.0, RIGHT, label);
	}
	for (double h = 0.0; hours && h * 3600.0 <= axes->span_s + 1.0; h += h_step) {
		snprintf(label, sizeof label, "%.10g", h);
		text(cr, box->x + box->width * h * 3600.0 / axes->span_s,
		     box->y + box->height + 18.0, 12.0, CENTRE, label);
	}
	if (hours)
		text(cr, box->x + box->width, box->y + box->height + 36.0, 12.0, RIGHT,
		     "hours since each layer's pour");
}

static void draw_line(cairo_t *cr, const struct axes *axes, const struct layer_curve *curve,
                      const double *values)
{
	const struct box *box = &axes->box;

	cairo_save(cr);
	cairo_rectangle(cr, box->x, box->y, box->width, box->height);
	cairo_clip(cr);
	cairo_new_path(cr);
	for (size_t i = 0; i < curve->n; i++)
		cairo_line_to(cr, box->x + box->width * curve->t_s[i] / axes->span_s,
		              box->y + box->height * (axes->high - values[i]) /
		                               (axes->high - axes->low));
	cairo_stroke(cr);
	cairo_restore(cr);
}

/* Across the plot, with its name at the right. */
static void draw_level(cairo_t *cr, const struct axes *axes, double value, const char *name)
{
	const struct box *box = &axes->box;
	const double y = box->y + box->height * (axes->high - value) / (axes->high - axes->low);
	const double dash[] = {6.0, 4.0};

	cairo_save(cr);
	cairo_set_source_rgb(cr, 0.65, 0.05, 0.0);
	cairo_set_dash(cr, dash, 2, 0.0);
	cairo_set_line_width(cr, 1.2);
	cairo_move_to(cr, box->x, y);
	cairo_line_to(cr, box->x + box->width, y);
	cairo_stroke(cr);
	text(cr, box->x + box->width - 6.0, y - 5.0, 12.0, RIGHT, name);
	cairo_restore(cr);
}

static void draw_curves(cairo_t *cr, const struct plan_case *of, const struct box *heat,
                        const struct box *cure)
{
	const struct plan *plan = &of->plan;
	struct axes degc = {*heat, of->piece.room_degc - 5.0, of->piece.room_degc + 5.0,
	                    span_s(plan)};
	struct axes share = {*cure, 0.0, 1.0, degc.span_s};
	double limit = INFINITY;
	char name[96];

	for (size_t i = 0; i < plan->n_layers; i++) {
		limit = fmin(limit, plan->layers[i].heat_limit_degc);
		degc.high = fmax(degc.high, plan->layers[i].peak_degc + 3.0);
		degc.high = fmax(degc.high, plan->layers[i].heat_limit_degc + 4.0);
	}
	draw_axes(cr, &degc, "temperature in the middle of each layer, C", false);
	draw_axes(cr, &share, "cured share at each surface", true);
	for (size_t i = 0; i < plan->n_layers; i++) {
		ink(cr, i, 1.0);
		cairo_set_line_width(cr, 2.0);
		draw_line(cr, &degc, &plan->layers[i].curve, plan->layers[i].curve.middle_degc);
		draw_line(cr, &share, &plan->layers[i].curve, plan->layers[i].curve.top_conversion);
		snprintf(name, sizeof name, "%zu", i + 1);
		text(cr, heat->x + heat->width + 14.0 + 26.0 * (double)(i % 3),
		     heat->y + 16.0 + 20.0 * (double)(i / 3), 14.0, LEFT, name);
	}
	snprintf(name, sizeof name, "limit %.0f C", limit);
	draw_level(cr, &degc, limit, name);
}

static void draw_page(cairo_t *cr, const struct plan_case *of)
{
	const struct box section = {MARGIN, 110.0, WIDTH - 2 * MARGIN, 270.0};
	const struct box heat = {MARGIN + 20.0, 480.0, WIDTH - 2 * MARGIN - 120.0, 190.0};
	const struct box cure = {MARGIN + 20.0, 730.0, WIDTH - 2 * MARGIN - 120.0, 170.0};
	char title[256];

	cairo_set_source_rgb(cr, 1.0, 1.0, 1.0);
	cairo_paint(cr);
	cairo_select_font_face(cr, FONT, CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
	black(cr);
	text(cr, MARGIN, 48.0, 26.0, LEFT, of->piece.name);
	snprintf(title, sizeof title, "%zu layers, %.0f ml, %.0f g to weigh; room %.1f C",
	         of->plan.n_layers, of->plan.volume_ml, of->plan.total_g, of->piece.room_degc);
	text(cr, MARGIN, 76.0, 15.0, LEFT, title);
	draw_section(cr, of, &section);
	draw_curves(cr, of, &heat, &cure);
}

static int failed(const char *path, cairo_status_t status)
{
	complain("%s: the picture cannot be written (%s)", path, cairo_status_to_string(status));
	return EXIT_FAILED;
}

int plan_draw(const struct plan_case *of, enum plan_draw_kind kind, const char *path)
{
	cairo_surface_t *surface =
	        kind == PLAN_DRAW_SVG
	                ? cairo_svg_surface_create(path, WIDTH, HEIGHT)
	                : cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)WIDTH, (int)HEIGHT);
	cairo_t *cr = cairo_create(surface);
	cairo_status_t status;

	draw_page(cr, of);
	status = cairo_status(cr);
	cairo_destroy(cr);
	if (status == CAIRO_STATUS_SUCCESS && kind == PLAN_DRAW_PNG)
		status = cairo_surface_write_to_png(surface, path);
	cairo_surface_finish(surface);
	if (status == CAIRO_STATUS_SUCCESS)
		status = cairo_surface_status(surface);
	cairo_surface_destroy(surface);
	return status == CAIRO_STATUS_SUCCESS ? EXIT_OK : failed(path, status);
}
