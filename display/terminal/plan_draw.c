/* SPDX-License-Identifier: MIT */
#include "plan_draw.h"

#include <cairo-svg.h>
#include <math.h>
#include <stdio.h>

#include "plan_draw_inside.h"

/* Points; a PNG has a pixel for each. */
#define WIDTH  1200.0
#define HEIGHT 980.0
#define MARGIN 70.0
#define FONT   "sans-serif"

/* Dark enough on white for text and lines (7:1 or near), apart for the colour blind by
 * lightness too; and each layer is named in words where it lies. */
static const double inks[][3] = {
        {0.00, 0.27, 0.45}, {0.55, 0.20, 0.00}, {0.00, 0.36, 0.27},
        {0.42, 0.10, 0.40}, {0.35, 0.30, 0.00}, {0.15, 0.15, 0.15},
};
#define N_INKS (sizeof inks / sizeof *inks)

void draw_ink(cairo_t *cr, size_t i, double alpha)
{
	const double *c = inks[i % N_INKS];

	cairo_set_source_rgba(cr, c[0], c[1], c[2], alpha);
}

void draw_black(cairo_t *cr)
{
	cairo_set_source_rgb(cr, 0.1, 0.1, 0.1);
}

void draw_text(cairo_t *cr, double x, double y, double size, enum draw_align align,
               const char *words)
{
	cairo_text_extents_t extents;

	cairo_set_font_size(cr, size);
	cairo_text_extents(cr, words, &extents);
	x -= align == DRAW_CENTRE  ? extents.x_advance / 2.0
	     : align == DRAW_RIGHT ? extents.x_advance
	                           : 0.0;
	cairo_move_to(cr, x, y);
	cairo_show_text(cr, words);
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

	draw_black(cr);
	cairo_set_line_width(cr, 1.0);
	cairo_rectangle(cr, box->x, box->y, box->width, box->height);
	cairo_stroke(cr);
	draw_text(cr, box->x, box->y - 10.0, 14.0, DRAW_LEFT, title);
	for (double v = ceil(axes->low / step) * step; v <= axes->high + 1e-9; v += step) {
		const double y = box->y + box->height * (axes->high - v) / (axes->high - axes->low);

		cairo_set_source_rgb(cr, 0.85, 0.85, 0.85);
		cairo_move_to(cr, box->x, y);
		cairo_line_to(cr, box->x + box->width, y);
		cairo_stroke(cr);
		draw_black(cr);
		snprintf(label, sizeof label, "%.10g", v);
		draw_text(cr, box->x - 8.0, y + 4.0, 12.0, DRAW_RIGHT, label);
	}
	for (double h = 0.0; hours && h * 3600.0 <= axes->span_s + 1.0; h += h_step) {
		snprintf(label, sizeof label, "%.10g", h);
		draw_text(cr, box->x + box->width * h * 3600.0 / axes->span_s,
		          box->y + box->height + 18.0, 12.0, DRAW_CENTRE, label);
	}
	if (hours)
		draw_text(cr, box->x + box->width, box->y + box->height + 36.0, 12.0, DRAW_RIGHT,
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
	draw_text(cr, box->x + box->width - 6.0, y - 5.0, 12.0, DRAW_RIGHT, name);
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
		draw_ink(cr, i, 1.0);
		cairo_set_line_width(cr, 2.0);
		draw_line(cr, &degc, &plan->layers[i].curve, plan->layers[i].curve.middle_degc);
		draw_line(cr, &share, &plan->layers[i].curve, plan->layers[i].curve.top_conversion);
		snprintf(name, sizeof name, "%zu", i + 1);
		draw_text(cr, heat->x + heat->width + 14.0 + 26.0 * (double)(i % 3),
		          heat->y + 16.0 + 20.0 * (double)(i / 3), 14.0, DRAW_LEFT, name);
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
	draw_black(cr);
	draw_text(cr, MARGIN, 48.0, 26.0, DRAW_LEFT, of->piece.name);
	snprintf(title, sizeof title, "%zu layers, %.0f ml, %.0f g to weigh; room %.1f C",
	         of->plan.n_layers, of->plan.volume_ml, of->plan.total_g, of->piece.room_degc);
	draw_text(cr, MARGIN, 76.0, 15.0, DRAW_LEFT, title);
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
