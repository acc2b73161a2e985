/* SPDX-License-Identifier: MIT */
/* The ratio of what was weighed, its uncertainty, and the top-up that mends it. */
#include "tests/support/assert_close.h"
#include "tests/support/random.h"

#include <errno.h>
#include <math.h>

#include "daemon/mixing/ratio.h"

static struct ratio mixed(double resin_g, double hardener_g, double target, double u_g)
{
	const struct weighing_point points[] = {
	        {0.0, u_g}, {resin_g, u_g}, {resin_g + hardener_g, u_g}};
	const struct weighed_part parts[] = {{PART_A, 0, 1}, {PART_B, 1, 2}};
	struct ratio ratio;

	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, target, &ratio), 0);
	return ratio;
}

static struct top_up_limits no_limits(double tolerance_pct)
{
	return (struct top_up_limits){
	        .room_g = -1.0, .available_g = {-1.0, -1.0}, .tolerance_pct = tolerance_pct};
}

/* u = 0.1 g a reading, A = 100, B = 50: closed forms, computed by two methods. */
static void shared_reading_costs_more_than_a_fresh_one(void **state)
{
	const struct weighing_point points[] = {{0, 0.1}, {100, 0.1}, {100, 0.1}, {150, 0.1}};
	const struct weighed_part shared[] = {{PART_A, 0, 1}, {PART_B, 1, 3}};
	const struct weighed_part fresh[] = {{PART_A, 0, 1}, {PART_B, 2, 3}};
	struct ratio ratio;

	(void)state;
	assert_int_equal(ratio_of(points, 4, shared, 2, PART_B, 0.5, &ratio), 0);
	assert_within(ratio.u_ratio, 0.00187083, 0.5e-8);
	assert_within(ratio.u_deviation_pct, 0.374166, 0.5e-6);
	assert_close(ratio.u_ratio, 0.1 / 100.0 * sqrt(2.0 * (1.0 + 0.5 + 0.25)), 1e-14);
	assert_int_equal(ratio_of(points, 4, fresh, 2, PART_B, 0.5, &ratio), 0);
	assert_within(ratio.u_ratio, 0.00158114, 0.5e-8);
	assert_within(ratio.u_deviation_pct, 0.316228, 0.5e-6);
	/* The other way up: A taken for the hardener, A/B = 2. */
	assert_int_equal(ratio_of(points, 4, shared, 2, PART_A, 2.0, &ratio), 0);
	assert_within(ratio.ratio, 2.0, 0.0);
	assert_within(ratio.u_ratio, 0.00748331, 0.5e-8);
	assert_within(ratio.u_deviation_pct, 0.374166, 0.5e-6);
}

/* A and B swapped in the cup's order weigh the same. */
static void the_order_of_pouring_does_not_matter(void **state)
{
	const struct weighing_point points[] = {{0, 0.1}, {50, 0.1}, {150, 0.1}};
	const struct weighed_part parts[] = {{PART_B, 0, 1}, {PART_A, 1, 2}};
	struct ratio ratio, usual = mixed(100, 50, 0.5, 0.1);

	(void)state;
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, 0.5, &ratio), 0);
	assert_within(ratio.ratio, usual.ratio, 0.0);
	assert_close(ratio.u_ratio, usual.u_ratio, 1e-14);
}

/* A point that a part passes through (top-up of the same part right after) drops out. */
static void a_part_weighed_in_two_steps_is_one_mass(void **state)
{
	const struct weighing_point points[] = {{0, 0.1}, {60, 5.0}, {100, 0.1}, {150, 0.1}};
	const struct weighed_part parts[] = {{PART_A, 0, 1}, {PART_A, 1, 2}, {PART_B, 2, 3}};
	struct ratio ratio, usual = mixed(100, 50, 0.5, 0.1);

	(void)state;
	assert_int_equal(ratio_of(points, 4, parts, 3, PART_B, 0.5, &ratio), 0);
	assert_close(ratio.resin_g, 100.0, 1e-15);
	assert_close(ratio.u_ratio, usual.u_ratio, 1e-14);
}

static void deviation_is_positive_for_too_much_hardener(void **state)
{
	struct ratio more = mixed(100, 46, 0.45, 0.0), less = mixed(100, 44, 0.45, 0.0);

	(void)state;
	assert_close(more.deviation_pct, 100.0 / 45.0, 1e-12);
	assert_close(less.deviation_pct, -100.0 / 45.0, 1e-12);
}

static void what_has_no_ratio_is_refused(void **state)
{
	struct weighing_point points[] = {{0, 0.1}, {100, 0.1}, {150, 0.1}};
	struct weighed_part parts[] = {{PART_A, 0, 1}, {PART_B, 1, 2}};
	struct ratio ratio = {.ratio = 42.0};

	(void)state;
	assert_int_equal(ratio_of(points, 0, parts, 2, PART_B, 0.5, &ratio), -EINVAL);
	assert_int_equal(ratio_of(points, 2, parts, 2, PART_B, 0.5, &ratio), -EINVAL);
	assert_int_equal(ratio_of(points, 3, parts, 0, PART_B, 0.5, &ratio), -EDOM);
	assert_int_equal(ratio_of(points, 3, parts + 1, 1, PART_B, 0.5, &ratio), -EDOM);
	assert_int_equal(ratio_of(points, 3, parts, 2, (enum part)2, 0.5, &ratio), -EINVAL);
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, 0.0, &ratio), -EINVAL);
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, (double)NAN, &ratio), -EINVAL);
	points[1].gross_g = -0.02; /* nothing poured, and noise */
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, 0.5, &ratio), -EDOM);
	points[1].gross_g = 1e-310;
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, 0.5, &ratio), -EDOM);
	points[1].gross_g = (double)NAN;
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, 0.5, &ratio), -EINVAL);
	points[1].gross_g = 100.0;
	points[2].u_g = (double)INFINITY;
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, 0.5, &ratio), -EINVAL);
	points[2].u_g = -0.1;
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_B, 0.5, &ratio), -EINVAL);
	assert_within(ratio.ratio, 42.0, 0.0); /* untouched throughout */
}

/* ---- the top-up ---- */

/* 330 g at 100:45: A 227.6, B 102.4. B over by 5.0 g is +4.9 %, top-up 11.1 g of A,
 * total 346.1 g (worked by hand). */
static void five_grams_too_much_b_ask_for_eleven_of_a(void **state)
{
	double resin_g = 330.0 / 1.45, hardener_g = 330.0 - resin_g + 5.0;
	struct ratio ratio = mixed(resin_g, hardener_g, 0.45, 0.05);
	struct top_up_limits limits = no_limits(2.0);
	struct top_up top_up;

	(void)state;
	assert_within(resin_g, 227.6, 0.05);
	assert_within(ratio.deviation_pct, 4.9, 0.05);
	limits.u_deviation_pct = ratio.u_deviation_pct;
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.45, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 1);
	assert_int_equal(top_up.reason, TOP_UP_FITS);
	assert_int_equal(top_up.part, PART_A);
	assert_within(top_up.mass_g, 11.1, 0.05);
	assert_within(top_up.total_g, 346.1, 0.05);
	assert_within(top_up.aim_ratio, 0.45, 0.0);
}

static void too_much_a_asks_for_b(void **state)
{
	struct ratio ratio = mixed(120.0, 45.0, 0.45, 0.05);
	struct top_up_limits limits = no_limits(2.0);
	struct top_up top_up;

	(void)state;
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.45, &limits, &top_up), 0);
	assert_int_equal(top_up.part, PART_B);
	assert_close(top_up.mass_g, 9.0, 1e-12);
}

/* A is the hardener: "1 : 2". Too much of it asks for B, the resin. */
static void hardener_may_be_part_a(void **state)
{
	const struct weighing_point points[] = {{0, 0.05}, {55, 0.05}, {155, 0.05}};
	const struct weighed_part parts[] = {{PART_A, 0, 1}, {PART_B, 1, 2}};
	struct top_up_limits limits = no_limits(3.0);
	struct top_up top_up;
	struct ratio ratio;

	(void)state;
	assert_int_equal(ratio_of(points, 3, parts, 2, PART_A, 0.5, &ratio), 0);
	assert_close(ratio.deviation_pct, 10.0, 1e-12);
	assert_int_equal(ratio_top_up(&ratio, PART_A, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.part, PART_B);
	assert_close(top_up.mass_g, 10.0, 1e-12);
	limits.available_g[PART_A] = 0.0; /* the other bottle is empty: no matter */
	assert_int_equal(ratio_top_up(&ratio, PART_A, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 1);
	limits.available_g[PART_B] = 1.0;
	assert_int_equal(ratio_top_up(&ratio, PART_A, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 0);
	assert_int_equal(top_up.reason, TOP_UP_NO_STOCK);
}

/* 100 : 50 with B over by 5 g: 10 g of A would be right. 6 g of room leave the ratio
 * at 55/106, +3.77 %: outside a guarded band of 3 %, inside one of 4 %. */
static void short_of_room_the_nearest_guarded_ratio_is_aimed_at(void **state)
{
	struct ratio ratio = mixed(100.0, 55.0, 0.5, 0.0);
	struct top_up_limits limits = no_limits(4.0);
	struct top_up top_up;

	(void)state;
	limits.room_g = 6.0;
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 1);
	assert_within(top_up.mass_g, 6.0, 0.0);
	assert_close(top_up.aim_ratio, 55.0 / 106.0, 1e-14);

	limits.u_deviation_pct = 0.5; /* guarded: 3 % */
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 0);
	assert_int_equal(top_up.reason, TOP_UP_NO_ROOM);
	assert_close(top_up.mass_g, 55.0 / 0.515 - 100.0, 1e-12);
	assert_close(top_up.short_of_g, top_up.mass_g - 6.0, 1e-12);

	limits.room_g = 0.0; /* already full */
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 0);
	assert_close(top_up.short_of_g, top_up.mass_g, 1e-12);
}

static void a_dose_this_scale_cannot_weigh_is_never_asked_for(void **state)
{
	struct ratio ratio = mixed(100.0, 50.4, 0.5, 0.0);
	struct top_up_limits limits = no_limits(2.0);
	struct top_up top_up;

	(void)state;
	limits.smallest_dose_g = 2.0; /* right would be 0.8 g; 2 g lead to -1.2 % */
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 1);
	assert_within(top_up.mass_g, 2.0, 0.0);
	assert_close(top_up.aim_ratio, 50.4 / 102.0, 1e-14);
	limits.smallest_dose_g = 4.0; /* 4 g lead to -3.1 % */
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 0);
	assert_int_equal(top_up.reason, TOP_UP_DOSE_TOO_SMALL);
	assert_within(top_up.short_of_g, 0.0, 0.0);
	limits.smallest_dose_g = 2.0;
	limits.room_g = 1.5; /* what is right would fit, what can be weighed does not */
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 0);
	assert_int_equal(top_up.reason, TOP_UP_NO_ROOM);
	assert_close(top_up.short_of_g, 0.5, 1e-12);
}

static void an_empty_guarded_band_is_said_so(void **state)
{
	struct ratio ratio = mixed(10.0, 5.5, 0.5, 0.1);
	struct top_up_limits limits = no_limits(3.0);
	struct top_up top_up;

	(void)state;
	limits.u_deviation_pct = ratio.u_deviation_pct; /* 3.9 % of doubt */
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), 0);
	assert_int_equal(top_up.fits, 0);
	assert_int_equal(top_up.reason, TOP_UP_CANNOT_BE_TOLD);
}

static void senseless_limits_are_refused(void **state)
{
	struct ratio ratio = mixed(100.0, 55.0, 0.5, 0.0), right = mixed(100.0, 50.0, 0.5, 0.0);
	struct top_up_limits limits;
	struct top_up top_up;

	(void)state;
#define REFUSED(field, value)                                                                      \
	do {                                                                                       \
		limits = no_limits(2.0);                                                           \
		limits.field = (value);                                                            \
		assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), -EINVAL);    \
	} while (0)
	REFUSED(room_g, (double)NAN);
	REFUSED(room_g, (double)INFINITY);
	REFUSED(available_g[PART_A], (double)NAN);
	REFUSED(smallest_dose_g, -1.0);
	REFUSED(tolerance_pct, 0.0);
	REFUSED(tolerance_pct, (double)NAN);
	REFUSED(u_deviation_pct, (double)INFINITY);
#undef REFUSED
	limits = no_limits(2.0);
	assert_int_equal(ratio_top_up(&ratio, PART_B, (double)NAN, &limits, &top_up), -EINVAL);
	assert_int_equal(ratio_top_up(&right, PART_B, 0.5, &limits, &top_up), -EDOM);
	ratio.resin_g = 0.0;
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), -EDOM);
	ratio.resin_g = (double)NAN;
	assert_int_equal(ratio_top_up(&ratio, PART_B, 0.5, &limits, &top_up), -EINVAL);
}

static double ratio_after(const struct ratio *ratio, enum part hardener, enum part part,
                          double dose)
{
	return part == hardener ? (ratio->hardener_g + dose) / ratio->resin_g
	                        : ratio->hardener_g / (ratio->resin_g + dose);
}

/* Slow and obvious: walk over every dose this scale can weigh and that fits, and keep
 * the one whose ratio lies nearest to the target inside the guarded band. */
static int nearest_by_walking(const struct ratio *ratio, enum part hardener, enum part part,
                              double target, double guarded_pct, double least_g, double cap_g,
                              double *ret_off)
{
	int found = 0;

	for (int i = 0; i <= 4000; i++) {
		double dose = least_g + (cap_g - least_g) * i / 4000.0;
		double off = fabs(ratio_after(ratio, hardener, part, dose) / target - 1.0);

		if (dose < least_g || dose > cap_g || 100.0 * off > guarded_pct)
			continue;
		if (!found || off < *ret_off)
			*ret_off = off;
		found = 1;
	}
	return found;
}

/* Over random systems, overshoots, rooms and stocks: within every limit, never under
 * the least dose, right where it fits, and nothing nearer was to be had. */
static void no_top_up_breaks_a_limit_or_misses_a_nearer_ratio(void **state)
{
	struct random random = {20270531};
	int fitted = 0, aimed = 0, partial = 0, refused = 0;

	(void)state;
	for (int k = 0; k < 3000; k++) {
		enum part hardener = random_uniform(&random) < 0.5 ? PART_A : PART_B;
		double target = exp(random_between(&random, log(0.05), log(20.0)));
		double resin_g = random_between(&random, 20.0, 500.0), off = 0.0, cap_g;
		double wrong = random_between(&random, -15.0, 15.0), dose, guarded_pct;
		struct ratio ratio = {.resin_g = resin_g,
		                      .hardener_g = resin_g * target * (1.0 + wrong / 100.0)};
		struct top_up_limits limits = {
		        .room_g = random_between(&random, -5.0, 60.0),
		        .available_g = {random_between(&random, -10.0, 100.0),
		                        random_between(&random, -10.0, 100.0)},
		        .smallest_dose_g = random_between(&random, 0.0, 3.0),
		        .tolerance_pct = random_between(&random, 1.0, 6.0),
		        .u_deviation_pct = random_between(&random, 0.0, 0.45),
		};
		struct top_up top_up;
		int found;

		assert_int_equal(ratio_top_up(&ratio, hardener, target, &limits, &top_up), 0);
		assert_true((top_up.part == hardener) == (wrong < 0.0));
		guarded_pct = limits.tolerance_pct - 2.0 * limits.u_deviation_pct;
		cap_g = 2000.0;
		if (limits.room_g >= 0.0)
			cap_g = fmin(cap_g, limits.room_g);
		if (limits.available_g[top_up.part] >= 0.0)
			cap_g = fmin(cap_g, limits.available_g[top_up.part]);
		found = limits.smallest_dose_g <= cap_g &&
		        nearest_by_walking(&ratio, hardener, top_up.part, target, guarded_pct,
		                           limits.smallest_dose_g, cap_g, &off);
		dose = top_up.mass_g;
		assert_true(dose > 0.0);
		assert_close(top_up.total_g, ratio.resin_g + ratio.hardener_g + dose, 1e-14);
		assert_true((top_up.reason == TOP_UP_FITS) == (top_up.fits == 1));
		if (!top_up.fits) {
			/* The walk may only have slipped in between by rounding. */
			assert_false(found);
			refused++;
			continue;
		}
		fitted++;
		assert_true(dose >= limits.smallest_dose_g);
		assert_true(dose <= cap_g);
		assert_close(ratio_after(&ratio, hardener, top_up.part, dose), top_up.aim_ratio,
		             1e-12);
		assert_true(100.0 * fabs(top_up.aim_ratio / target - 1.0) <= guarded_pct + 1e-9);
		if (top_up.aim_ratio == target)
			aimed++;
		else
			partial++;
		if (found)
			assert_true(fabs(top_up.aim_ratio / target - 1.0) <= off + 1e-12);
	}
	print_message("%d at the ratio itself, %d at the nearest, %d refused\n", aimed, partial,
	              refused);
	assert_int_equal(fitted + refused, 3000);
	assert_true(aimed > 300 && partial > 300 && refused > 300);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(shared_reading_costs_more_than_a_fresh_one),
	        cmocka_unit_test(the_order_of_pouring_does_not_matter),
	        cmocka_unit_test(a_part_weighed_in_two_steps_is_one_mass),
	        cmocka_unit_test(deviation_is_positive_for_too_much_hardener),
	        cmocka_unit_test(what_has_no_ratio_is_refused),
	        cmocka_unit_test(five_grams_too_much_b_ask_for_eleven_of_a),
	        cmocka_unit_test(too_much_a_asks_for_b),
	        cmocka_unit_test(hardener_may_be_part_a),
	        cmocka_unit_test(short_of_room_the_nearest_guarded_ratio_is_aimed_at),
	        cmocka_unit_test(a_dose_this_scale_cannot_weigh_is_never_asked_for),
	        cmocka_unit_test(an_empty_guarded_band_is_said_so),
	        cmocka_unit_test(senseless_limits_are_refused),
	        cmocka_unit_test(no_top_up_breaks_a_limit_or_misses_a_nearer_ratio),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
