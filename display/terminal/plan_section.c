/* SPDX-License-Identifier: MIT */
/* The piece cut through its middle: walls, layers, inclusions, and what stands out. */
#include <math.h>
#include <stdio.h>

#include "plan_draw_inside.h"

#define PI         3.14159265358979323846
#define PIECES_MAX (CAVITY_VERTICES_MAX / 2u)
#define WALL_STEPS 12 /* of a section's height: a polygon's walls may part on the way up */

/* Where the cut meets the hollow, left to right: a ring and a notched outline have more
 * than one piece. */
struct pieces {
	size_t n;
	double from_mm[PIECES_MAX], to_mm[PIECES_MAX];
};

/* The cut through a polygon lies halfway up its outline; x counts from its middle. */
static struct pieces cut_polygon(const struct cavity_section *section, double offset_mm)
{
	const struct cavity_vertex *v = section->vertices;
	struct cavity_vertex grown[CAVITY_VERTICES_MAX];
	double low = v[0].y_mm, high = low, left = v[0].x_mm, right = left;
	double x[CAVITY_VERTICES_MAX], y;
	struct pieces out = {0};
	size_t n = 0;

	for (size_t i = 1; i < section->n_vertices; i++) {
		low = fmin(low, v[i].y_mm);
		high = fmax(high, v[i].y_mm);
		left = fmin(left, v[i].x_mm);
		right = fmax(right, v[i].x_mm);
	}
	/* A hair off the middle, where a corner may lie. */
	y = low + (high - low) * 0.500001;
	cavity_polygon_grown(section, offset_mm, grown);
	for (size_t i = 0; i < section->n_vertices; i++) {
		const struct cavity_vertex *a = &grown[i];
		const struct cavity_vertex *b = &grown[(i + 1) % section->n_vertices];
		double at;
		size_t to = n;

		if ((a->y_mm > y) == (b->y_mm > y))
			continue;
		at = a->x_mm + (b->x_mm - a->x_mm) * (y - a->y_mm) / (b->y_mm - a->y_mm) -
		     (left + right) / 2.0;
		for (; to > 0 && x[to - 1] > at; to--)
			x[to] = x[to - 1];
		x[to] = at;
		n++;
	}
	for (size_t i = 0; i + 1 < n; i += 2) {
		out.from_mm[out.n] = x[i];
		out.to_mm[out.n++] = x[i + 1];
	}
	return out;
}

static struct pieces cut_section(const struct cavity_section *section, double up_mm)
{
	const double offset = up_mm * tan(section->taper_deg * PI / 180.0);
	const double half = section->width_mm / 2.0 + offset;
	const double core = section->inner_mm / 2.0 - offset;

	if (section->shape == CAVITY_POLYGON)
		return cut_polygon(section, offset);
	if (section->shape == CAVITY_RING && core > 0.0)
		return (struct pieces){2, {-half, core}, {-core, half}};
	return (struct pieces){1, {-half}, {half}};
}

/* The section that holds a height and how far up in it; at a step the upper one. A cavity
 * measured with water has only areas: drawn as if round. */
static struct pieces cut_at(const struct cavity *cavity, double at_mm)
{
	double half;

	for (size_t i = 0; i < cavity->n_sections; i++) {
		if (at_mm < cavity->sections[i].height_mm || i + 1 == cavity->n_sections)
			return cut_section(&cavity->sections[i],
			                   fmin(at_mm, cavity->sections[i].height_mm));
		at_mm -= cavity->sections[i].height_mm;
	}
	half = sqrt(fmax(cavity_area_mm2(cavity, at_mm), 0.0) / PI);
	return (struct pieces){1, {-half}, {half}};
}

/* Millimetres to the page; heights are stretched, since a clock face is flat. */
struct page_scale {
	double middle_x, floor_y, per_mm_x, per_mm_y;
	double half_mm; /* of the widest place */
};

static double page_x(const struct page_scale *scale, double mm)
{
	return scale->middle_x + mm * scale->per_mm_x;
}

static double page_y(const struct page_scale *scale, double mm)
{
	return scale->floor_y - mm * scale->per_mm_y;
}

static struct page_scale scale_of(const struct plan_case *of, const struct box *box, double top_mm)
{
	const struct cavity *cavity = &of->piece.cavity;
	const double height = cavity_height_mm(cavity);
	struct page_scale scale = {.middle_x = box->x + box->width / 2.0,
	                           .floor_y = box->y + box->height,
	                           .half_mm = 1.0};

	for (int i = 0; i <= 200; i++) {
		const struct pieces at = cut_at(cavity, height * i / 200.0);

		if (at.n > 0)
			scale.half_mm =
			        fmax(scale.half_mm, fmax(-at.from_mm[0], at.to_mm[at.n - 1]));
	}
	scale.per_mm_x = (box->width - 300.0) / 2.0 / scale.half_mm;
	scale.per_mm_y = fmin(box->height / fmax(top_mm, height), 12.0 * scale.per_mm_x);
	return scale;
}

/* What lies between two heights of one section, as one path to fill. */
static void slab(cairo_t *cr, const struct page_scale *scale, const struct pieces *low,
                 double low_mm, const struct pieces *high, double high_mm)
{
	for (size_t i = 0; i < low->n && i < high->n; i++) {
		cairo_move_to(cr, page_x(scale, low->from_mm[i]), page_y(scale, low_mm));
		cairo_line_to(cr, page_x(scale, low->to_mm[i]), page_y(scale, low_mm));
		cairo_line_to(cr, page_x(scale, high->to_mm[i]), page_y(scale, high_mm));
		cairo_line_to(cr, page_x(scale, high->from_mm[i]), page_y(scale, high_mm));
		cairo_close_path(cr);
	}
}

/* The next height at which the walls bend: a step's, or a level of the water's. */
static double next_bend_mm(const struct cavity *cavity, double at_mm)
{
	double top = 0.0;

	for (size_t i = 0; i < cavity->n_sections; i++) {
		top += cavity->sections[i].height_mm;
		if (top > at_mm + 1e-9)
			return top;
	}
	for (size_t i = 0; i < cavity->n_points; i++)
		if (cavity->points[i].height_mm > at_mm + 1e-9)
			return cavity->points[i].height_mm;
	return INFINITY;
}

static void fill_between(cairo_t *cr, const struct cavity *cavity, const struct page_scale *scale,
                         double from_mm, double to_mm)
{
	cairo_new_path(cr);
	while (from_mm < to_mm - 1e-9) {
		const double end = fmin(next_bend_mm(cavity, from_mm), to_mm);
		struct pieces low = cut_at(cavity, from_mm);

		for (int i = 1; i <= WALL_STEPS; i++) {
			/* Just under a step it is still the lower section. */
			const double below = from_mm + (end - from_mm) * (i - 1) / WALL_STEPS;
			const double above = from_mm + (end - from_mm) * i / WALL_STEPS;
			const struct pieces high = cut_at(cavity, above - 1e-9 * (i == WALL_STEPS));

			slab(cr, scale, &low, below, &high, above);
			low = high;
		}
		from_mm = end;
	}
	cairo_fill(cr);
}

/* A top coat lies over everything, the rim's width all round. */
static void fill_over(cairo_t *cr, const struct cavity *cavity, const struct page_scale *scale,
                      double from_mm, double to_mm)
{
	const struct pieces rim = cut_at(cavity, cavity_height_mm(cavity) - 1e-9);

	cairo_new_path(cr);
	slab(cr, scale, &rim, from_mm, &rim, to_mm);
	cairo_fill(cr);
}

/* The part of a..b that no piece of the one below covers: a floor or a step's ledge. */
static void floor_line(cairo_t *cr, const struct page_scale *scale, const struct pieces *below,
                       double a, double b, double at_mm)
{
	for (size_t i = 0; i < below->n && a < b; i++) {
		if (below->to_mm[i] <= a || below->from_mm[i] >= b)
			continue;
		if (below->from_mm[i] > a) {
			cairo_move_to(cr, page_x(scale, a), page_y(scale, at_mm));
			cairo_line_to(cr, page_x(scale, below->from_mm[i]), page_y(scale, at_mm));
		}
		a = fmax(a, below->to_mm[i]);
	}
	if (a < b) {
		cairo_move_to(cr, page_x(scale, a), page_y(scale, at_mm));
		cairo_line_to(cr, page_x(scale, b), page_y(scale, at_mm));
	}
}

static void walls(cairo_t *cr, const struct page_scale *scale, const struct pieces *low,
                  double low_mm, const struct pieces *high, double high_mm)
{
	for (size_t i = 0; i < low->n && i < high->n; i++) {
		cairo_move_to(cr, page_x(scale, low->from_mm[i]), page_y(scale, low_mm));
		cairo_line_to(cr, page_x(scale, high->from_mm[i]), page_y(scale, high_mm));
		cairo_move_to(cr, page_x(scale, low->to_mm[i]), page_y(scale, low_mm));
		cairo_line_to(cr, page_x(scale, high->to_mm[i]), page_y(scale, high_mm));
	}
}

/* The mould's inside: walls, floor, ledges; open above. */
static void draw_mould(cairo_t *cr, const struct cavity *cavity, const struct page_scale *scale)
{
	const double height = cavity_height_mm(cavity);
	struct pieces below = {0};
	double at = 0.0;

	cairo_new_path(cr);
	while (at < height - 1e-9) {
		const double end = fmin(next_bend_mm(cavity, at), height);
		struct pieces low = cut_at(cavity, at);

		for (size_t i = 0; i < low.n; i++)
			floor_line(cr, scale, &below, low.from_mm[i], low.to_mm[i], at);
		for (size_t i = 0; i < below.n; i++)
			floor_line(cr, scale, &low, below.from_mm[i], below.to_mm[i], at);
		for (int i = 1; i <= WALL_STEPS; i++) {
			const double up = at + (end - at) * i / WALL_STEPS;
			const struct pieces high = cut_at(cavity, up - 1e-9 * (i == WALL_STEPS));

			walls(cr, scale, &low, at + (end - at) * (i - 1) / WALL_STEPS, &high, up);
			low = high;
		}
		below = low;
		at = end;
	}
	draw_black(cr);
	cairo_set_line_width(cr, 2.5);
	cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
	cairo_stroke(cr);
}

static void draw_layer(cairo_t *cr, const struct plan_case *of, const struct page_scale *scale,
                       size_t i)
{
	const struct plan_layer *layer = &of->plan.layers[i];
	const struct cavity *cavity = &of->piece.cavity;
	const double to = layer->from_mm + layer->depth_mm;
	const struct pieces at = cut_at(cavity, fmin(to, cavity_height_mm(cavity)) - 1e-9);
	const double middle_y = page_y(scale, layer->from_mm + layer->depth_mm / 2.0);
	char label[128];

	draw_ink(cr, i, i % 2 ? 0.30 : 0.18);
	(layer->top_coat ? fill_over : fill_between)(cr, cavity, scale, layer->from_mm, to);
	draw_ink(cr, i, 0.9);
	cairo_set_line_width(cr, 1.0);
	for (size_t p = 0; p < at.n; p++) {
		cairo_move_to(cr, page_x(scale, at.from_mm[p]), page_y(scale, to));
		cairo_line_to(cr, page_x(scale, at.to_mm[p]), page_y(scale, to));
	}
	cairo_stroke(cr);
	snprintf(label, sizeof label, "%zu %s  %.1f mm, %.0f g", i + 1,
	         of->piece.coats[layer->coat].name, layer->depth_mm, layer->total_g);
	draw_ink(cr, i, 1.0);
	draw_text(cr, page_x(scale, scale->half_mm) + 14.0, middle_y + 5.0, 14.0, DRAW_LEFT, label);
}

static void draw_one(cairo_t *cr, const struct page_scale *scale, const struct piece_inclusion *it,
                     double x_mm, double across_mm, double filled_mm)
{
	const double top = it->rests_on_mm + it->height_mm, x = page_x(scale, x_mm);
	const double width = across_mm * scale->per_mm_x;

	cairo_rectangle(cr, x, page_y(scale, top), width, it->height_mm * scale->per_mm_y);
	cairo_set_source_rgba(cr, 0.20, 0.30, 0.05, 0.55);
	cairo_fill_preserve(cr);
	draw_black(cr);
	cairo_set_line_width(cr, 0.8);
	cairo_stroke(cr);
	if (top <= filled_mm)
		return;
	cairo_rectangle(cr, x, page_y(scale, top), width, (top - filled_mm) * scale->per_mm_y);
	cairo_set_source_rgb(cr, 0.70, 0.10, 0.0);
	cairo_fill(cr);
}

/* Its name and, where it does, how far it stands out, under the section. */
static void name_inclusion(cairo_t *cr, const struct page_scale *scale,
                           const struct piece_inclusion *it, size_t i, double filled_mm)
{
	const double out = it->rests_on_mm + it->height_mm - filled_mm;
	const double y = scale->floor_y + 46.0 + 17.0 * (double)(i / 3);
	const double x = scale->middle_x + 300.0 * ((double)(i % 3) - 1.0);
	char words[128];

	if (out > 0.0)
		snprintf(words, sizeof words, "%c %d x %s, %.1f mm high, %.1f stand out",
		         (int)('a' + i), it->count, it->name, it->height_mm, out);
	else
		snprintf(words, sizeof words, "%c %d x %s, %.1f mm high", (int)('a' + i), it->count,
		         it->name, it->height_mm);
	if (out > 0.0)
		cairo_set_source_rgb(cr, 0.60, 0.08, 0.0);
	else
		draw_black(cr);
	draw_text(cr, x, y, 12.0, DRAW_CENTRE, words);
}

#define NAMED_MAX 6u /* what two lines take */

/* Spread evenly over the coat they rest on: a section meets as many of a kind as a line
 * across would. What stands out of the last layer is solid red there. */
static void draw_inclusions(cairo_t *cr, const struct plan_case *of, const struct page_scale *scale)
{
	const struct piece *piece = &of->piece;
	const double filled = piece_filled_mm(piece);

	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const struct piece_inclusion *it = &piece->inclusions[i];
		const struct pieces at = cut_at(&piece->cavity, it->rests_on_mm);
		const double wanted = it->across_mm > 0.0 ? it->across_mm : it->height_mm;
		const int met = (int)fmin(it->count, ceil(1.3 * sqrt(it->count)));
		char letter[2] = {(char)('a' + i), '\0'};

		for (int c = 0; c < met && at.n > 0; c++) {
			const size_t p = (size_t)c % at.n;
			const int row = c / (int)at.n, rows = (met - 1 - (int)p) / (int)at.n + 1;
			const double width = at.to_mm[p] - at.from_mm[p];
			const double across = fmin(wanted, width);
			const double share = rows > 1 ? (double)row / (rows - 1) : 0.5;
			const double shift = i % 2 ? 0.5 * across : 0.0;
			const double x =
			        at.from_mm[p] +
			        fmin(0.04 * width + shift + share * 0.92 * (width - across),
			             width - across);

			draw_one(cr, scale, it, x, across, filled);
			if (i < NAMED_MAX) {
				draw_black(cr);
				draw_text(cr, page_x(scale, x + across / 2.0),
				          page_y(scale, it->rests_on_mm + it->height_mm) - 3.0,
				          11.0, DRAW_CENTRE, letter);
			}
		}
		if (i < NAMED_MAX)
			name_inclusion(cr, scale, it, i, filled);
	}
}

static void draw_rulers(cairo_t *cr, const struct page_scale *scale, double top_mm)
{
	const double left = scale->middle_x - scale->per_mm_x * scale->half_mm - 18.0;
	const double step = top_mm > 60.0 ? 20.0 : top_mm > 25.0 ? 10.0 : 5.0;
	char label[96];

	draw_black(cr);
	cairo_set_line_width(cr, 1.0);
	for (double mm = 0.0; mm <= top_mm + 1e-9; mm += step) {
		cairo_move_to(cr, left - 6.0, page_y(scale, mm));
		cairo_line_to(cr, left, page_y(scale, mm));
		cairo_stroke(cr);
		snprintf(label, sizeof label, "%.0f", mm);
		draw_text(cr, left - 10.0, page_y(scale, mm) + 4.0, 12.0, DRAW_RIGHT, label);
	}
	draw_text(cr, left - 10.0, page_y(scale, top_mm) - 14.0, 12.0, DRAW_RIGHT, "mm");
	snprintf(label, sizeof label, "cross-section; heights drawn %.1f times as large as widths",
	         scale->per_mm_y / scale->per_mm_x);
	draw_text(cr, scale->middle_x, scale->floor_y + 26.0, 13.0, DRAW_CENTRE, label);
}

void draw_section(cairo_t *cr, const struct plan_case *of, const struct box *box)
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
	draw_mould(cr, cavity, &scale);
	draw_inclusions(cr, of, &scale);
	draw_rulers(cr, &scale, top);
}
