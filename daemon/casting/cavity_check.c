/* SPDX-License-Identifier: MIT */
#include "cavity.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "water.h"

#define PI            3.14159265358979323846
#define SIZE_MAX_MM   10000.0
#define TAPER_MAX_DEG 80.0
/* A thimble. A cavity that holds less was most likely measured in centimetres. */
#define DOUBTFUL_ML 3.0

static int wrong(char *ret_sentence, const char *format, ...) __attribute__((format(printf, 2, 3)));

static int wrong(char *ret_sentence, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(ret_sentence, CAVITY_SENTENCE_MAX, format, arguments);
	va_end(arguments);
	return -EINVAL;
}

/* Twice the area of a, b, c: its sign tells the side of c. */
static double side(const struct cavity_vertex *a, const struct cavity_vertex *b,
                   const struct cavity_vertex *c)
{
	return (b->x_mm - a->x_mm) * (c->y_mm - a->y_mm) -
	       (b->y_mm - a->y_mm) * (c->x_mm - a->x_mm);
}

static bool within(const struct cavity_vertex *a, const struct cavity_vertex *b,
                   const struct cavity_vertex *c)
{
	return fmin(a->x_mm, b->x_mm) <= c->x_mm && c->x_mm <= fmax(a->x_mm, b->x_mm) &&
	       fmin(a->y_mm, b->y_mm) <= c->y_mm && c->y_mm <= fmax(a->y_mm, b->y_mm);
}

/* Whether two edges cross or touch. */
static bool meet(const struct cavity_vertex *a, const struct cavity_vertex *b,
                 const struct cavity_vertex *c, const struct cavity_vertex *d)
{
	double c_side = side(a, b, c), d_side = side(a, b, d);
	double a_side = side(c, d, a), b_side = side(c, d, b);

	if (((c_side > 0.0 && d_side < 0.0) || (c_side < 0.0 && d_side > 0.0)) &&
	    ((a_side > 0.0 && b_side < 0.0) || (a_side < 0.0 && b_side > 0.0)))
		return true;
	return (c_side == 0.0 && within(a, b, c)) || (d_side == 0.0 && within(a, b, d)) ||
	       (a_side == 0.0 && within(c, d, a)) || (b_side == 0.0 && within(c, d, b));
}

/* 0, or 1 with the two edges, counted from 1. */
static int crossing(const struct cavity_vertex *v, size_t n, size_t *ret_one, size_t *ret_other)
{
	for (size_t i = 0; i < n; i++)
		for (size_t j = i + 2; j < n; j++) {
			if (i == 0 && j == n - 1)
				continue; /* neighbours: they share a corner */
			if (meet(&v[i], &v[i + 1], &v[j], &v[(j + 1) % n])) {
				*ret_one = i + 1;
				*ret_other = j + 1;
				return 1;
			}
		}
	return 0;
}

/* A corner of no angle, whose walls would lean out for ever. */
static bool folds_back(const struct cavity_vertex *before, const struct cavity_vertex *corner,
                       const struct cavity_vertex *after)
{
	double in_x = corner->x_mm - before->x_mm, in_y = corner->y_mm - before->y_mm;
	double out_x = after->x_mm - corner->x_mm, out_y = after->y_mm - corner->y_mm;

	return in_x * out_x + in_y * out_y <
	       -(1.0 - 1e-9) * hypot(in_x, in_y) * hypot(out_x, out_y);
}

static int check_polygon(const struct cavity_section *section, char *ret_sentence)
{
	const struct cavity_vertex *v = section->vertices;
	size_t n = section->n_vertices, one, other;

	if (n < 3 || n > CAVITY_VERTICES_MAX)
		return wrong(ret_sentence, "a polygon of %zu corners; expected 3 to %u", n,
		             CAVITY_VERTICES_MAX);
	for (size_t i = 0; i < n; i++) {
		const struct cavity_vertex *next = &v[(i + 1) % n];

		if (!(fabs(v[i].x_mm) <= SIZE_MAX_MM && fabs(v[i].y_mm) <= SIZE_MAX_MM))
			return wrong(ret_sentence,
			             "corner %zu lies at %.6g, %.6g mm; expected within %g mm",
			             i + 1, v[i].x_mm, v[i].y_mm, SIZE_MAX_MM);
		if (hypot(next->x_mm - v[i].x_mm, next->y_mm - v[i].y_mm) < 1e-6)
			return wrong(ret_sentence,
			             "corners %zu and %zu of the polygon are the same point; leave "
			             "one out",
			             i + 1, (i + 1) % n + 1);
	}
	for (size_t i = 0; i < n; i++)
		if (folds_back(&v[(i + n - 1) % n], &v[i], &v[(i + 1) % n]))
			return wrong(ret_sentence,
			             "the outline turns back on itself at corner %zu (%.6g, %.6g "
			             "mm); leave "
			             "the spike out",
			             i + 1, v[i].x_mm, v[i].y_mm);
	if (crossing(v, n, &one, &other))
		return wrong(
		        ret_sentence,
		        "the polygon crosses itself: edge %zu meets edge %zu; give its corners "
		        "in order around the outline",
		        one, other);
	return 0;
}

static const char *closes =
        "walls that lean in by %.6g degrees close at %.6g mm, below the section's "
        "height of %.6g mm; check the sign of the taper or the height";

/* The smallest half width that a lean of -1 mm each side takes 1 mm off. */
static double half_width_mm(const struct cavity_section *section)
{
	switch (section->shape) {
	case CAVITY_ROUND:
		return section->width_mm / 2.0;
	case CAVITY_RECTANGLE:
	case CAVITY_ELLIPSE:
		return fmin(section->width_mm, section->length_mm) / 2.0;
	case CAVITY_RING:
		return (section->width_mm - section->inner_mm) / 4.0;
	case CAVITY_POLYGON:
		break;
	}
	return INFINITY;
}

/* A grown polygon is right while every edge keeps its direction and none cross. */
static bool polygon_holds(const struct cavity_section *section, double offset_mm)
{
	struct cavity_vertex grown[CAVITY_VERTICES_MAX];
	const struct cavity_vertex *v = section->vertices;
	size_t n = section->n_vertices, one, other;

	cavity_polygon_grown(section, offset_mm, grown);
	for (size_t i = 0; i < n; i++) {
		size_t j = (i + 1) % n;

		if ((v[j].x_mm - v[i].x_mm) * (grown[j].x_mm - grown[i].x_mm) +
		            (v[j].y_mm - v[i].y_mm) * (grown[j].y_mm - grown[i].y_mm) <=
		    0.0)
			return false;
	}
	return !crossing(grown, n, &one, &other);
}

static int check_taper(const struct cavity_section *section, char *ret_sentence)
{
	double slope = tan(section->taper_deg * PI / 180.0);
	double offset = slope * section->height_mm, half = half_width_mm(section);

	if (!(fabs(section->taper_deg) <= TAPER_MAX_DEG))
		return wrong(ret_sentence, "a taper of %.6g degrees; expected -%g to %g",
		             section->taper_deg, TAPER_MAX_DEG, TAPER_MAX_DEG);
	if (offset < 0.0 && -offset >= half)
		return wrong(ret_sentence, closes, -section->taper_deg, half / -slope,
		             section->height_mm);
	if (section->shape == CAVITY_RING && offset > section->inner_mm / 2.0)
		return wrong(ret_sentence,
		             "the ring's core of %.6g mm tapers to a point at %.6g mm, below the "
		             "section's height of %.6g mm; check the taper or the height",
		             section->inner_mm, section->inner_mm / 2.0 / slope,
		             section->height_mm);
	if (section->shape == CAVITY_POLYGON && offset != 0.0 && !polygon_holds(section, offset)) {
		/* Where it stops to hold, by halving. */
		double low = 0.0, high = section->height_mm;

		for (int i = 0; i < 40; i++) {
			double middle = (low + high) / 2.0;

			if (polygon_holds(section, slope * middle))
				low = middle;
			else
				high = middle;
		}
		return wrong(ret_sentence,
		             "walls with a taper of %.6g degrees run into each other at %.6g mm, "
		             "below the section's height of %.6g mm; check the taper or the height",
		             section->taper_deg, low, section->height_mm);
	}
	return 0;
}

static bool a_size(double mm)
{
	return mm > 0.0 && mm <= SIZE_MAX_MM;
}

static int check_section(const struct cavity_section *section, char *ret_sentence)
{
	bool two = section->shape == CAVITY_RECTANGLE || section->shape == CAVITY_ELLIPSE;
	int r = 0;

	if (!a_size(section->height_mm))
		return wrong(ret_sentence, "a cavity %.6g mm high; expected more than 0 to %g mm",
		             section->height_mm, SIZE_MAX_MM);
	if (section->shape == CAVITY_POLYGON)
		r = check_polygon(section, ret_sentence);
	else if (!a_size(section->width_mm) || (two && !a_size(section->length_mm)))
		return wrong(ret_sentence, "a cavity %.6g mm wide; expected more than 0 to %g mm",
		             a_size(section->width_mm) ? section->length_mm : section->width_mm,
		             SIZE_MAX_MM);
	if (section->shape == CAVITY_RING &&
	    !(section->inner_mm > 0.0 && section->inner_mm < section->width_mm))
		return wrong(
		        ret_sentence,
		        "a ring with a core of %.6g mm in %.6g mm; expected more than 0 and less "
		        "than the outer diameter",
		        section->inner_mm, section->width_mm);
	return r < 0 ? r : check_taper(section, ret_sentence);
}

static int check_points(const struct cavity *cavity, char *ret_sentence)
{
	const struct cavity_point *p = cavity->points;

	if (cavity->n_points < 2 || cavity->n_points > CAVITY_POINTS_MAX)
		return wrong(
		        ret_sentence,
		        "a cavity measured at %zu levels; expected 2 to %u, the empty floor first",
		        cavity->n_points, CAVITY_POINTS_MAX);
	if (isnan(water_density_g_per_ml(cavity->water_degc)))
		return wrong(ret_sentence, "water at %.6g C; expected %g to %g", cavity->water_degc,
		             WATER_MIN_DEGC, WATER_MAX_DEGC);
	if (p[0].height_mm != 0.0 || p[0].water_g != 0.0)
		return wrong(
		        ret_sentence,
		        "the first level is %.6g mm with %.6g g; expected the empty floor, 0 and 0",
		        p[0].height_mm, p[0].water_g);
	for (size_t i = 1; i < cavity->n_points; i++)
		if (!(p[i].height_mm > p[i - 1].height_mm && p[i].water_g > p[i - 1].water_g &&
		      p[i].height_mm <= SIZE_MAX_MM && p[i].water_g <= 1e9))
			return wrong(ret_sentence,
			             "level %zu (%.6g mm, %.6g g) does not lie above level %zu "
			             "(%.6g mm, "
			             "%.6g g); expected both to grow",
			             i + 1, p[i].height_mm, p[i].water_g, i, p[i - 1].height_mm,
			             p[i - 1].water_g);
	return 0;
}

int cavity_check(const struct cavity *cavity, char *ret_sentence)
{
	if (cavity->n_sections == 0)
		return check_points(cavity, ret_sentence);
	if (cavity->n_sections > CAVITY_SECTIONS_MAX)
		return wrong(ret_sentence, "a cavity of %zu sections; expected 1 to %u",
		             cavity->n_sections, CAVITY_SECTIONS_MAX);
	for (size_t i = 0; i < cavity->n_sections; i++) {
		int r = check_section(&cavity->sections[i], ret_sentence);

		if (r < 0)
			return r;
	}
	return 0;
}

int cavity_question(const struct cavity *cavity, char *ret_sentence)
{
	double ml = cavity_volume_ml(cavity, 0.0, cavity_height_mm(cavity));

	if (ml >= DOUBTFUL_ML)
		return 0;
	snprintf(
	        ret_sentence, CAVITY_SENTENCE_MAX,
	        "this cavity holds only %.3g ml: were its sizes centimetres? then it holds %.4g ml",
	        ml, ml * 1000.0);
	return 1;
}
