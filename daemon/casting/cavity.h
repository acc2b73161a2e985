/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CAVITY_H
#define AMBO_CASTING_CAVITY_H

#include <stdbool.h>
#include <stddef.h>

/* The hollow that is filled: one section on another, each an outline with leaning
 * walls, or a table measured by filling it with water. Heights count up from the floor.
 *
 * Every section's area is a quadratic in height, so the prismatoid formula
 * h/6 (A_low + 4 A_middle + A_high) gives its volume exactly. */

enum cavity_shape { CAVITY_ROUND, CAVITY_RECTANGLE, CAVITY_ELLIPSE, CAVITY_RING, CAVITY_POLYGON };

#define CAVITY_SECTIONS_MAX 8u
#define CAVITY_VERTICES_MAX 64u
#define CAVITY_POINTS_MAX   64u
#define CAVITY_SENTENCE_MAX 256u

struct cavity_vertex {
	double x_mm, y_mm;
};

struct cavity_section {
	enum cavity_shape shape;
	double height_mm;
	/* At the section's lower edge. Round and ring: width is the outer diameter. */
	double width_mm, length_mm;
	double inner_mm;                                    /* the ring's core: diameter */
	struct cavity_vertex vertices[CAVITY_VERTICES_MAX]; /* of the polygon, either way round */
	size_t n_vertices;
	/* Each wall leans outward by this from upright; negative: inward. A ring's core
	 * tapers with it (draught), an ellipse's half axes grow alike, a polygon's corners
	 * stay mitred. */
	double taper_deg;
};

/* A level and the water it took to reach it. */
struct cavity_point {
	double height_mm, water_g;
};

struct cavity {
	struct cavity_section
	        sections[CAVITY_SECTIONS_MAX]; /* floor first; more than one: stepped */
	size_t n_sections;
	/* Or measured: n_sections is 0. Between two points the area is taken as even. */
	struct cavity_point points[CAVITY_POINTS_MAX]; /* ascending; from the empty floor, 0 g */
	size_t n_points;
	double water_degc;
};

/* What displaces resin. Its volume is taken as even over its height. */
struct inclusion {
	double rests_on_mm, height_mm;
	double volume_ml;
};

/* 0, or -EINVAL with the first thing wrong in one sentence with its numbers: sizes out of
 * range, a core wider than its ring, walls that close, a polygon that crosses itself. */
int cavity_check(const struct cavity *cavity, char *ret_sentence);
/* 1 with a question where the numbers look like centimetres given as millimetres: the
 * whole holds less than a thimble; else 0. Of a cavity that passed the check. */
int cavity_question(const struct cavity *cavity, char *ret_sentence);

double cavity_height_mm(const struct cavity *cavity);
/* The horizontal area at a height; at a step, that of the upper section. */
double cavity_area_mm2(const struct cavity *cavity, double height_mm);
/* Between two heights, clipped to the cavity; 0 where to lies below from. */
double cavity_volume_ml(const struct cavity *cavity, double from_mm, double to_mm);

double inclusion_volume_ml(double mass_g, double density_g_per_ml);
/* What inclusions take up between two heights. */
double cavity_displaced_ml(const struct inclusion *inclusions, size_t n, double from_mm,
                           double to_mm);

/* The level that resin poured on from_mm reaches, inclusions displaced. -ERANGE with
 * *ret_mm the cavity's height where it does not fit; -EINVAL for a negative volume. */
int cavity_level_mm(const struct cavity *cavity, const struct inclusion *inclusions, size_t n,
                    double from_mm, double resin_ml, double *ret_mm);

/* Area of the outline grown by offset_mm on all sides, negative: shrunk. For tests and
 * drawings; the polygon's is signed by its sense of rotation made positive. */
double cavity_section_area_mm2(const struct cavity_section *section, double offset_mm);
/* The polygon's outline so grown, into ret[n_vertices]. */
void cavity_polygon_grown(const struct cavity_section *section, double offset_mm,
                          struct cavity_vertex *ret);

#endif
