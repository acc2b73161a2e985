/* SPDX-License-Identifier: MIT */
#include "cavity.h"

#include <errno.h>
#include <math.h>

#include "root.h"
#include "water.h"

#define PI         3.14159265358979323846
#define ML_PER_MM3 1e-3

/* Twice the signed area, by the shoelace formula; positive: counterclockwise. */
static double shoelace_mm2(const struct cavity_vertex *v, size_t n)
{
	double sum = 0.0;

	for (size_t i = 0; i < n; i++) {
		const struct cavity_vertex *next = &v[(i + 1) % n];

		sum += v[i].x_mm * next->y_mm - next->x_mm * v[i].y_mm;
	}
	return sum;
}

/* Unit outward normals' mitre at vertex i: how far the corner moves per mm of offset. */
static struct cavity_vertex mitre(const struct cavity_section *section, size_t i, double sense)
{
	const struct cavity_vertex *v = section->vertices;
	size_t n = section->n_vertices;
	const struct cavity_vertex *before = &v[(i + n - 1) % n], *after = &v[(i + 1) % n];
	double in_x = v[i].x_mm - before->x_mm, in_y = v[i].y_mm - before->y_mm;
	double out_x = after->x_mm - v[i].x_mm, out_y = after->y_mm - v[i].y_mm;
	double in = hypot(in_x, in_y), out = hypot(out_x, out_y);
	/* Outward of a counterclockwise edge (x, y) is (y, -x). */
	double n1_x = sense * in_y / in, n1_y = -sense * in_x / in;
	double n2_x = sense * out_y / out, n2_y = -sense * out_x / out;
	double share = 1.0 / (1.0 + n1_x * n2_x + n1_y * n2_y);

	return (struct cavity_vertex){(n1_x + n2_x) * share, (n1_y + n2_y) * share};
}

void cavity_polygon_grown(const struct cavity_section *section, double offset_mm,
                          struct cavity_vertex *ret)
{
	double sense = shoelace_mm2(section->vertices, section->n_vertices) < 0.0 ? -1.0 : 1.0;

	for (size_t i = 0; i < section->n_vertices; i++) {
		struct cavity_vertex way = mitre(section, i, sense);

		ret[i].x_mm = section->vertices[i].x_mm + offset_mm * way.x_mm;
		ret[i].y_mm = section->vertices[i].y_mm + offset_mm * way.y_mm;
	}
}

double cavity_section_area_mm2(const struct cavity_section *section, double offset_mm)
{
	double w = section->width_mm / 2.0 + offset_mm, l = section->length_mm / 2.0 + offset_mm;
	struct cavity_vertex grown[CAVITY_VERTICES_MAX];

	switch (section->shape) {
	case CAVITY_ROUND:
		return PI * w * w;
	case CAVITY_RECTANGLE:
		return 4.0 * w * l;
	case CAVITY_ELLIPSE:
		return PI * w * l;
	case CAVITY_RING: {
		double core = section->inner_mm / 2.0 - offset_mm;

		return PI * (w * w - core * core);
	}
	case CAVITY_POLYGON:
		cavity_polygon_grown(section, offset_mm, grown);
		return fabs(shoelace_mm2(grown, section->n_vertices)) / 2.0;
	}
	return 0.0;
}

double cavity_height_mm(const struct cavity *cavity)
{
	double height = 0.0;

	if (cavity->n_sections == 0)
		return cavity->n_points > 0 ? cavity->points[cavity->n_points - 1].height_mm : 0.0;
	for (size_t i = 0; i < cavity->n_sections; i++)
		height += cavity->sections[i].height_mm;
	return height;
}

static double section_at(const struct cavity_section *section, double up_mm)
{
	return cavity_section_area_mm2(section, up_mm * tan(section->taper_deg * PI / 180.0));
}

static double measured_ml(const struct cavity *cavity, double height_mm)
{
	const struct cavity_point *p = cavity->points;

	for (size_t i = 1; i < cavity->n_points; i++) {
		double span = p[i].height_mm - p[i - 1].height_mm;

		if (height_mm <= p[i].height_mm)
			return water_volume_ml(
			        p[i - 1].water_g + (p[i].water_g - p[i - 1].water_g) *
			                                   (height_mm - p[i - 1].height_mm) / span,
			        cavity->water_degc);
	}
	return cavity->n_points > 0
	               ? water_volume_ml(p[cavity->n_points - 1].water_g, cavity->water_degc)
	               : 0.0;
}

double cavity_area_mm2(const struct cavity *cavity, double height_mm)
{
	double floor_mm = 0.0;

	if (cavity->n_sections == 0) {
		size_t i = 1;

		while (i + 1 < cavity->n_points && height_mm >= cavity->points[i].height_mm)
			i++;
		return (measured_ml(cavity, cavity->points[i].height_mm) -
		        measured_ml(cavity, cavity->points[i - 1].height_mm)) /
		       (cavity->points[i].height_mm - cavity->points[i - 1].height_mm) / ML_PER_MM3;
	}
	for (size_t i = 0; i + 1 < cavity->n_sections; i++) {
		if (height_mm < floor_mm + cavity->sections[i].height_mm)
			return section_at(&cavity->sections[i], height_mm - floor_mm);
		floor_mm += cavity->sections[i].height_mm;
	}
	return section_at(&cavity->sections[cavity->n_sections - 1], height_mm - floor_mm);
}

double cavity_volume_ml(const struct cavity *cavity, double from_mm, double to_mm)
{
	double floor_mm = 0.0, sum = 0.0;

	from_mm = fmax(from_mm, 0.0);
	to_mm = fmin(to_mm, cavity_height_mm(cavity));
	if (!(to_mm > from_mm))
		return 0.0;
	if (cavity->n_sections == 0)
		return measured_ml(cavity, to_mm) - measured_ml(cavity, from_mm);
	for (size_t i = 0; i < cavity->n_sections; i++) {
		const struct cavity_section *section = &cavity->sections[i];
		double low = fmax(from_mm - floor_mm, 0.0);
		double high = fmin(to_mm - floor_mm, section->height_mm);

		if (high > low)
			sum += (high - low) / 6.0 *
			       (section_at(section, low) +
			        4.0 * section_at(section, (low + high) / 2.0) +
			        section_at(section, high));
		floor_mm += section->height_mm;
	}
	return sum * ML_PER_MM3;
}

double inclusion_volume_ml(double mass_g, double density_g_per_ml)
{
	return mass_g / density_g_per_ml;
}

double cavity_displaced_ml(const struct inclusion *inclusions, size_t n, double from_mm,
                           double to_mm)
{
	double sum = 0.0;

	for (size_t i = 0; i < n; i++) {
		const struct inclusion *one = &inclusions[i];
		double low = fmax(from_mm, one->rests_on_mm);
		double high = fmin(to_mm, one->rests_on_mm + one->height_mm);

		if (high > low)
			sum += one->volume_ml * (high - low) / one->height_mm;
	}
	return sum;
}

struct filling {
	const struct cavity *cavity;
	const struct inclusion *inclusions;
	size_t n;
	double from_mm, resin_ml;
};

static double over(double level_mm, void *context)
{
	const struct filling *f = context;

	return cavity_volume_ml(f->cavity, f->from_mm, level_mm) -
	       cavity_displaced_ml(f->inclusions, f->n, f->from_mm, level_mm) - f->resin_ml;
}

int cavity_level_mm(const struct cavity *cavity, const struct inclusion *inclusions, size_t n,
                    double from_mm, double resin_ml, double *ret_mm)
{
	struct filling filling = {cavity, inclusions, n, from_mm, resin_ml};
	double top = cavity_height_mm(cavity), room;

	if (!(resin_ml >= 0.0))
		return -EINVAL;
	room = over(top, &filling);
	/* A full cavity is full, whatever the last bit says. */
	if (room < -1e-9 * resin_ml) {
		*ret_mm = top;
		return -ERANGE;
	}
	if (resin_ml <= 0.0) {
		*ret_mm = from_mm;
		return 0;
	}
	if (room <= 0.0) {
		*ret_mm = top;
		return 0;
	}
	return root_find(over, &filling, from_mm, top, 1e-9, ret_mm) < 0 ? -EINVAL : 0;
}
