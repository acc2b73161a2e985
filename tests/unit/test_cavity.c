/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "daemon/casting/cavity.h"
#include "daemon/casting/water.h"
#include "tests/support/random.h"

#define PI 3.14159265358979323846

static char sentence[CAVITY_SENTENCE_MAX];

static struct cavity one(struct cavity_section section)
{
	struct cavity cavity = {.n_sections = 1};

	cavity.sections[0] = section;
	return cavity;
}

static struct cavity_section round_of(double width_mm, double height_mm, double taper_deg)
{
	return (struct cavity_section){.shape = CAVITY_ROUND,
	                               .width_mm = width_mm,
	                               .height_mm = height_mm,
	                               .taper_deg = taper_deg};
}

/* An L, counterclockwise: 60 x 40 less 30 x 20. */
static struct cavity_section the_l(double height_mm, double taper_deg)
{
	struct cavity_section l = {.shape = CAVITY_POLYGON,
	                           .height_mm = height_mm,
	                           .taper_deg = taper_deg,
	                           .n_vertices = 6};
	static const struct cavity_vertex v[] = {{0, 0},   {60, 0},  {60, 20},
	                                         {30, 20}, {30, 40}, {0, 40}};

	memcpy(l.vertices, v, sizeof v);
	return l;
}

/* Formulas of any geometry table. */
static void upright_walls_give_the_textbooks_volumes(void **state)
{
	struct cavity box = one((struct cavity_section){
	        .shape = CAVITY_RECTANGLE, .width_mm = 200, .length_mm = 100, .height_mm = 20});
	struct cavity dish = one(round_of(300.0, 20.0, 0.0));
	struct cavity oval = one((struct cavity_section){
	        .shape = CAVITY_ELLIPSE, .width_mm = 120, .length_mm = 80, .height_mm = 10});
	struct cavity ring = one((struct cavity_section){
	        .shape = CAVITY_RING, .width_mm = 300, .inner_mm = 20, .height_mm = 12});
	struct cavity l = one(the_l(10.0, 0.0));

	(void)state;
	assert_close(cavity_volume_ml(&box, 0, 20), 400.0, 1e-14);
	assert_close(cavity_volume_ml(&dish, 0, 5), PI * 150 * 150 * 5 / 1000, 1e-14);
	assert_close(cavity_volume_ml(&dish, 7, 12), PI * 150 * 150 * 5 / 1000, 1e-14);
	assert_close(cavity_volume_ml(&oval, 0, 10), PI * 60 * 40 * 10 / 1000, 1e-14);
	assert_close(cavity_volume_ml(&ring, 0, 12), PI * (150 * 150 - 10 * 10) * 12 / 1000, 1e-14);
	assert_close(cavity_volume_ml(&l, 0, 10), 1800.0 * 10 / 1000, 1e-14);
	/* Clipped to the cavity. */
	assert_close(cavity_volume_ml(&box, -5, 500), 400.0, 1e-14);
	assert_within(cavity_volume_ml(&box, 12, 8), 0.0, 0.0);
}

/* Frustum of a cone: pi h / 3 (R2 + R r + r2); of a pyramid: h / 3 (A + sqrt(A a) + a) for
 * similar ends. */
static void leaning_walls_give_the_frustum(void **state)
{
	double h = 30.0, s = h * tan(10.0 * PI / 180.0), r = 40.0, top = r + s;
	struct cavity cone = one(round_of(80.0, h, 10.0));
	struct cavity square = one((struct cavity_section){.shape = CAVITY_RECTANGLE,
	                                                   .width_mm = 80,
	                                                   .length_mm = 80,
	                                                   .height_mm = h,
	                                                   .taper_deg = -10});
	double a = 80.0 * 80.0, b = (80.0 - 2 * s) * (80.0 - 2 * s);

	(void)state;
	assert_close(cavity_volume_ml(&cone, 0, h),
	             PI * h / 3 * (r * r + r * top + top * top) / 1000, 1e-14);
	assert_close(cavity_volume_ml(&square, 0, h), h / 3 * (a + sqrt(a * b) + b) / 1000, 1e-14);
	/* A polygon that is the same square, given clockwise. */
	{
		struct cavity_section p = {.shape = CAVITY_POLYGON,
		                           .height_mm = h,
		                           .taper_deg = -10,
		                           .n_vertices = 4,
		                           .vertices = {{0, 0}, {0, 80}, {80, 80}, {80, 0}}};
		struct cavity polygon = one(p);

		assert_int_equal(cavity_check(&polygon, sentence), 0);
		assert_close(cavity_volume_ml(&polygon, 0, h), cavity_volume_ml(&square, 0, h),
		             1e-13);
	}
}

/* Whether a point lies in a polygon: crossings of a ray. */
static bool inside_polygon(const struct cavity_vertex *v, size_t n, double x, double y)
{
	bool in = false;

	for (size_t i = 0, j = n - 1; i < n; j = i++)
		if ((v[i].y_mm > y) != (v[j].y_mm > y) &&
		    x < (v[j].x_mm - v[i].x_mm) * (y - v[i].y_mm) / (v[j].y_mm - v[i].y_mm) +
		                    v[i].x_mm)
			in = !in;
	return in;
}

/* How far a point lies outside an edge's line, along its normal. */
static bool inside_leaning(const struct cavity_section *s, double x, double y, double z)
{
	double grow = z * tan(s->taper_deg * PI / 180.0), w = s->width_mm / 2 + grow;
	double l = s->length_mm / 2 + grow, core = s->inner_mm / 2 - grow;
	struct cavity_vertex v[CAVITY_VERTICES_MAX];

	switch (s->shape) {
	case CAVITY_ROUND:
		return hypot(x, y) < w;
	case CAVITY_RECTANGLE:
		return fabs(x) < w && fabs(y) < l;
	case CAVITY_ELLIPSE:
		return x * x / (w * w) + y * y / (l * l) < 1.0;
	case CAVITY_RING:
		return hypot(x, y) < w && hypot(x, y) > core;
	case CAVITY_POLYGON: {
		/* The L's own sides are square to the axes: its walls move by `grow` along them,
		 * worked out by hand. */
		const double at[6][2] = {{-grow, -grow},         {60 + grow, -grow},
		                         {60 + grow, 20 + grow}, {30 + grow, 20 + grow},
		                         {30 + grow, 40 + grow}, {-grow, 40 + grow}};

		for (int i = 0; i < 6; i++)
			v[i] = (struct cavity_vertex){at[i][0], at[i][1]};
		return inside_polygon(v, 6, x, y);
	}
	}
	return false;
}

#define SHOTS 400000

static void monte_carlo_finds_the_same_volumes(void **state)
{
	struct cavity_section sections[] = {
	        round_of(80.0, 30.0, 12.0),
	        {.shape = CAVITY_RECTANGLE,
	         .width_mm = 70,
	         .length_mm = 50,
	         .height_mm = 25,
	         .taper_deg = -8},
	        {.shape = CAVITY_ELLIPSE,
	         .width_mm = 90,
	         .length_mm = 60,
	         .height_mm = 20,
	         .taper_deg = 15},
	        {.shape = CAVITY_RING,
	         .width_mm = 90,
	         .inner_mm = 30,
	         .height_mm = 25,
	         .taper_deg = 9},
	        the_l(15.0, 10.0),
	        the_l(15.0, -10.0),
	};
	struct random random = {5};

	(void)state;
	for (size_t k = 0; k < sizeof sections / sizeof *sections; k++) {
		struct cavity cavity = one(sections[k]);
		double h = sections[k].height_mm, low = -70.0, size = 150.0;
		double share, truth, sd;
		int hits = 0;

		assert_int_equal(cavity_check(&cavity, sentence), 0);
		for (int i = 0; i < SHOTS; i++)
			hits += inside_leaning(&sections[k], low + size * random_uniform(&random),
			                       low + size * random_uniform(&random),
			                       h * random_uniform(&random));
		share = (double)hits / SHOTS;
		truth = size * size * h / 1000.0;
		sd = truth * sqrt(share * (1.0 - share) / SHOTS);
		assert_within(cavity_volume_ml(&cavity, 0, h), share * truth, 4.0 * sd);
	}
}

static void a_stepped_cavity_adds_its_sections(void **state)
{
	struct cavity cavity = {.n_sections = 2};
	double level;

	(void)state;
	cavity.sections[0] = round_of(100.0, 10.0, 0.0);
	cavity.sections[1] = round_of(140.0, 6.0, 5.0);
	assert_int_equal(cavity_check(&cavity, sentence), 0);
	assert_within(cavity_height_mm(&cavity), 16.0, 0.0);
	assert_close(cavity_area_mm2(&cavity, 9.999), PI * 2500, 1e-14);
	assert_close(cavity_area_mm2(&cavity, 10.0), PI * 4900, 1e-14);
	assert_close(cavity_volume_ml(&cavity, 8, 12),
	             cavity_volume_ml(&cavity, 8, 10) + cavity_volume_ml(&cavity, 10, 12), 1e-14);
	/* A pour over the step. */
	assert_int_equal(
	        cavity_level_mm(&cavity, NULL, 0, 8.0, PI * 2500 * 2 / 1000 + 20.0, &level), 0);
	assert_close(cavity_volume_ml(&cavity, 10.0, level), 20.0, 1e-9);
}

static void the_level_is_the_volumes_inverse(void **state)
{
	struct random random = {11};
	struct cavity cavity = one(the_l(30.0, -5.0));

	(void)state;
	for (int i = 0; i < 200; i++) {
		double from = random_between(&random, 0, 29),
		       to = random_between(&random, from, 30), got;

		assert_int_equal(cavity_level_mm(&cavity, NULL, 0, from,
		                                 cavity_volume_ml(&cavity, from, to), &got),
		                 0);
		assert_within(got, to, 1e-6);
	}
}

/* Sea glass on the floor lifts the level by what it takes up, as far as it reaches. */
static void inclusions_lift_the_level(void **state)
{
	struct cavity box = one((struct cavity_section){
	        .shape = CAVITY_RECTANGLE, .width_mm = 100, .length_mm = 100, .height_mm = 20});
	struct inclusion glass[] = {{0.0, 8.0, inclusion_volume_ml(50.0, 2.5)}, {10.0, 2.0, 5.0}};
	double level;

	(void)state;
	assert_close(glass[0].volume_ml, 20.0, 1e-15);
	assert_close(cavity_displaced_ml(glass, 2, 0, 20), 25.0, 1e-15);
	assert_close(cavity_displaced_ml(glass, 2, 4, 11), 12.5, 1e-15);
	assert_int_equal(cavity_level_mm(&box, glass, 2, 0.0, 60.0, &level), 0);
	assert_within(level, 8.0, 1e-7); /* 80 ml to 8 mm, less 20 */
	assert_int_equal(cavity_level_mm(&box, glass, 2, 8.0, 45.0, &level), 0);
	assert_within(level, 13.0, 1e-7);
	/* Full to the brim, and a drop more. */
	assert_int_equal(cavity_level_mm(&box, glass, 2, 0.0, 175.0, &level), 0);
	assert_within(level, 20.0, 0.0);
	assert_int_equal(cavity_level_mm(&box, glass, 2, 0.0, 175.001, &level), -ERANGE);
	assert_int_equal(cavity_level_mm(&box, glass, 2, 0.0, -1.0, &level), -EINVAL);
	assert_int_equal(cavity_level_mm(&box, glass, 2, 3.0, 0.0, &level), 0);
	assert_within(level, 3.0, 0.0);
}

static void a_cavity_measured_with_water_is_a_table(void **state)
{
	struct cavity cavity = {
	        .n_points = 3, .water_degc = 20.0, .points = {{0, 0}, {5, 99.821}, {12, 299.463}}};
	double level;

	(void)state;
	assert_int_equal(cavity_check(&cavity, sentence), 0);
	assert_close(cavity_volume_ml(&cavity, 0, 5), 100.0, 1e-5);
	assert_close(cavity_volume_ml(&cavity, 0, 12), 300.0, 1e-5);
	assert_close(cavity_volume_ml(&cavity, 2.5, 8.5), 50.0 + 100.0, 1e-5);
	assert_close(cavity_area_mm2(&cavity, 3.0), 20000.0, 1e-5);
	assert_int_equal(cavity_level_mm(&cavity, NULL, 0, 0.0, 200.0, &level), 0);
	assert_within(level, 8.5, 1e-3);
	cavity.points[2].water_g = 99.0;
	assert_true(cavity_check(&cavity, sentence) < 0);
	assert_string_equal(sentence,
	                    "level 3 (12 mm, 99 g) does not lie above level 2 (5 mm, 99.821 g); "
	                    "expected both to grow");
}

/* g/cm3 of air-free water (handbook; 20 C published here, the others from memory). */
static void water_has_the_handbooks_density(void **state)
{
	static const double table[][2] = {{0, 0.99984},  {4, 0.99997},  {10, 0.99970},
	                                  {15, 0.99910}, {20, 0.99821}, {25, 0.99705},
	                                  {30, 0.99565}, {40, 0.99222}};

	(void)state;
	for (size_t i = 0; i < sizeof table / sizeof *table; i++)
		assert_within(water_density_g_per_ml(table[i][0]), table[i][1], 6e-6);
	assert_true(isnan(water_density_g_per_ml(-0.1)));
	assert_true(isnan(water_density_g_per_ml(41.0)));
	assert_close(water_volume_ml(99.821, 20.0), 100.0, 6e-6);
}

static void refused(struct cavity cavity, const char *expected)
{
	assert_int_equal(cavity_check(&cavity, sentence), -EINVAL);
	assert_string_equal(sentence, expected);
}

static void what_cannot_be_filled_is_refused_in_one_sentence(void **state)
{
	struct cavity_section bow = {.shape = CAVITY_POLYGON,
	                             .height_mm = 5,
	                             .n_vertices = 4,
	                             .vertices = {{0, 0}, {50, 50}, {50, 0}, {0, 50}}};
	struct cavity_section line = {.shape = CAVITY_POLYGON,
	                              .height_mm = 5,
	                              .n_vertices = 3,
	                              .vertices = {{0, 0}, {50, 0}, {20, 0}}};
	struct cavity_section ring = {
	        .shape = CAVITY_RING, .width_mm = 50, .inner_mm = 60, .height_mm = 5};
	struct cavity_section ell = the_l(15.0, -60.0), touch = the_l(15.0, 0.0);
	struct cavity none = {0};

	(void)state;
	refused(one(bow),
	        "the polygon crosses itself: edge 1 meets edge 3; give its corners in order "
	        "around the outline");
	refused(one(line),
	        "the outline turns back on itself at corner 1 (0, 0 mm); leave the spike out");
	refused(one(round_of(20.0, 30.0, -30.0)), "walls that lean in by 30 degrees close at "
	                                          "17.3205 mm, below the section's height of 30 "
	                                          "mm; check the sign of the taper or the height");
	refused(one(ring),
	        "a ring with a core of 60 mm in 50 mm; expected more than 0 and less than the "
	        "outer diameter");
	ring.inner_mm = 10.0;
	ring.taper_deg = 60.0;
	refused(one(ring),
	        "the ring's core of 10 mm tapers to a point at 2.88675 mm, below the section's "
	        "height of 5 mm; check the taper or the height");
	/* The L's arms are 20 wide: they close at 10 mm of lean. */
	refused(one(ell),
	        "walls with a taper of -60 degrees run into each other at 5.7735 mm, below the "
	        "section's height of 15 mm; check the taper or the height");
	refused(one(round_of(-5.0, 10.0, 0.0)),
	        "a cavity -5 mm wide; expected more than 0 to 10000 mm");
	refused(one(round_of(50.0, 0.0, 0.0)),
	        "a cavity 0 mm high; expected more than 0 to 10000 mm");
	refused(one(round_of((double)NAN, 5.0, 0.0)),
	        "a cavity nan mm wide; expected more than 0 to 10000 mm");
	refused(one(round_of(50.0, 5.0, 85.0)), "a taper of 85 degrees; expected -80 to 80");
	refused(none, "a cavity measured at 0 levels; expected 2 to 64, the empty floor first");
	touch.vertices[3] = (struct cavity_vertex){30, 0}; /* a corner on another edge */
	assert_int_equal(
	        cavity_check(&(struct cavity){.n_sections = 1, .sections = {touch}}, sentence),
	        -EINVAL);
	assert_non_null(strstr(sentence, "crosses itself"));
	bow.n_vertices = 2;
	refused(one(bow), "a polygon of 2 corners; expected 3 to 64");
}

/* A clock face of 30 cm, 2 cm deep, typed as 30 and 2. */
static void centimetres_are_guessed_and_asked(void **state)
{
	struct cavity small = one(round_of(30.0, 2.0, 0.0)),
	              right = one(round_of(300.0, 20.0, 0.0));

	(void)state;
	assert_int_equal(cavity_question(&small, sentence), 1);
	assert_string_equal(sentence,
	                    "this cavity holds only 1.41 ml: were its sizes centimetres? then it "
	                    "holds 1414 ml");
	assert_int_equal(cavity_question(&right, sentence), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(upright_walls_give_the_textbooks_volumes),
	        cmocka_unit_test(leaning_walls_give_the_frustum),
	        cmocka_unit_test(monte_carlo_finds_the_same_volumes),
	        cmocka_unit_test(a_stepped_cavity_adds_its_sections),
	        cmocka_unit_test(the_level_is_the_volumes_inverse),
	        cmocka_unit_test(inclusions_lift_the_level),
	        cmocka_unit_test(a_cavity_measured_with_water_is_a_table),
	        cmocka_unit_test(water_has_the_handbooks_density),
	        cmocka_unit_test(what_cannot_be_filled_is_refused_in_one_sentence),
	        cmocka_unit_test(centimetres_are_guessed_and_asked),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
