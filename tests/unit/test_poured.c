/* SPDX-License-Identifier: MIT */
/* A layer as it was poured: depth, ratio and clocks from weighed masses and the room. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/casting/poured.h"
#include "tests/support/piece_case.h"

#define PI 3.14159265358979323846

static int setup(void **state)
{
	struct piece_case *made = malloc(sizeof *made);
	const char *key;

	assert_non_null(made);
	piece_case_make(made);
	assert_int_equal(piece_complete(&made->piece, made->sentence, &key), 0);
	*state = made;
	return 0;
}

static int teardown(void **state)
{
	free(*state);
	return 0;
}

static struct poured_batch batch(double a_g, double b_g)
{
	return (struct poured_batch){
	        .a_g = a_g, .b_g = b_g, .stayed_g = (double)NAN, .resin_degc = (double)NAN};
}

static void pour(const struct piece_case *of, double from_mm, const struct poured_batch *batches,
                 size_t n, struct poured_layer *ret)
{
	assert_int_equal(poured_layer(&of->piece, &of->systems[0], false, from_mm, batches, n, 5.0,
	                              23.0, ret),
	                 0);
}

static void course_of(const struct piece_case *of, const struct poured_layer *layer,
                      const struct room_reading *room, size_t n, struct layer_course *ret)
{
	assert_int_equal(poured_course(layer, &of->systems[0], 0.0, room, n, ret), 0);
}

static void the_depth_is_what_the_weighed_mass_fills(void **state)
{
	const struct piece_case *of = *state;
	struct poured_batch one = batch(100.0, 40.0);
	struct poured_layer layer;
	const double per_mm_g = PI / 4.0 * 400.0 * 0.1 * of->systems[0].density_g_per_ml;

	pour(of, 2.0, &one, 1, &layer);
	assert_close(layer.in_piece_g, 135.0, 1e-12); /* the usual loss */
	assert_close(layer.depth_mm, 135.0 / per_mm_g, 1e-6);
	assert_close(layer.ratio, 0.4, 1e-12);
	assert_within(layer.deviation_pct, 0.0, 1e-9);
	one.stayed_g = 12.0;
	one.tint_g = 2.0;
	pour(of, 2.0, &one, 1, &layer);
	assert_close(layer.in_piece_g, 130.0, 1e-12); /* weighed back */
	/* More than it holds: said, and full. */
	one = batch(1000.0, 400.0);
	pour(of, 2.0, &one, 1, &layer);
	assert_close(layer.depth_mm, 18.0, 1e-9);
	assert_close(layer.over_ml, layer.volume_ml - PI / 4.0 * 400.0 * 1.8, 1e-9);
}

static void two_batches_make_one_layer(void **state)
{
	const struct piece_case *of = *state;
	const struct poured_batch both[] = {batch(100.0, 41.0), batch(200.0, 79.0)};
	struct poured_layer layer;

	pour(of, 0.0, both, 2, &layer);
	assert_close(layer.in_piece_g, 420.0 - 10.0, 1e-12);
	assert_close(layer.ratio, 0.4, 1e-12);
}

static void masses_that_are_none_are_refused(void **state)
{
	const struct piece_case *of = *state;
	struct poured_layer layer;
	const struct poured_batch wrong[] = {batch(0.0, 0.0), batch(-1.0, 5.0), batch(NAN, 1.0),
	                                     batch(0.0, 5.0), batch(5.0, 0.0)};

	for (int i = 0; i < 5; i++)
		assert_int_equal(poured_layer(&of->piece, &of->systems[0], false, 0.0, &wrong[i], 1,
		                              5.0, 23.0, &layer),
		                 -EINVAL);
	assert_int_equal(
	        poured_layer(&of->piece, &of->systems[0], false, 0.0, wrong, 0, 5.0, 23.0, &layer),
	        -EINVAL);
}

/* The same mass, so that nothing but the ratio can tell: an excess of amine reacts faster
 * all along, da/dt ~ (B - a). */
static void too_much_hardener_cures_faster_and_is_told(void **state)
{
	const struct piece_case *of = *state;
	const struct poured_batch right = batch(200.0, 80.0);
	const struct poured_batch over = batch(280.0 / 1.44, 280.0 / 1.44 * 0.44);
	const struct room_reading room = {0.0, 23.0};
	struct layer_course course, hot;
	struct poured_layer layer;

	pour(of, 0.0, &right, 1, &layer);
	course_of(of, &layer, &room, 1, &course);
	pour(of, 0.0, &over, 1, &layer);
	assert_close(layer.deviation_pct, 10.0, 1e-9);
	course_of(of, &layer, &room, 1, &hot);
	assert_true(hot.at_s[CLOCK_HANDLE] < course.at_s[CLOCK_HANDLE] - 60.0);
	assert_true(hot.heat.peak_degc > course.heat.peak_degc);
}

static void what_cured_in_the_cup_is_not_cured_again(void **state)
{
	const struct piece_case *of = *state;
	struct poured_batch one = batch(200.0, 80.0);
	const struct room_reading room = {0.0, 23.0};
	struct layer_course fresh, late;
	struct poured_layer layer;

	pour(of, 0.0, &one, 1, &layer);
	course_of(of, &layer, &room, 1, &fresh);
	one.cup_s = 3600.0;
	pour(of, 0.0, &one, 1, &layer);
	assert_true(layer.heat.start_conversion > 0.0);
	course_of(of, &layer, &room, 1, &late);
	/* An hour in the cup, which warms it a little, is an hour or more. */
	assert_true(fresh.at_s[CLOCK_GEL] - late.at_s[CLOCK_GEL] > 3000.0);
	assert_true(fresh.at_s[CLOCK_GEL] - late.at_s[CLOCK_GEL] < 7200.0);
}

/* The same resin two hours later: what must be heeded comes with the first batch, what may
 * be done waits for the last. One batch of the same mass is as deep, and tells both. */
static void the_earliest_batch_sets_deadlines_and_the_last_gives_leave(void **state)
{
	const struct piece_case *of = *state;
	const struct room_reading room = {0.0, 23.0};
	struct poured_batch both[] = {batch(100.0, 40.0), batch(100.0, 40.0)};
	struct poured_batch single = batch(200.0, 80.0);
	struct layer_course one, two;
	struct poured_layer layer;

	single.stayed_g = both[0].stayed_g = both[1].stayed_g = 0.0;
	both[1].poured_s = 7200.0;
	pour(of, 0.0, &single, 1, &layer);
	course_of(of, &layer, &room, 1, &one);
	pour(of, 0.0, both, 2, &layer);
	course_of(of, &layer, &room, 1, &two);
	assert_close(two.at_s[CLOCK_STICKY], one.at_s[CLOCK_STICKY], 1e-9);
	assert_close(two.at_s[CLOCK_GEL], one.at_s[CLOCK_GEL], 1e-9);
	assert_close(two.at_s[CLOCK_BOND_CLOSES], one.at_s[CLOCK_BOND_CLOSES], 1e-9);
	assert_close(two.at_s[LAYER_OPENS], one.at_s[LAYER_OPENS] + 7200.0, 1e-9);
	assert_close(two.at_s[LAYER_TAPE_OFF], one.at_s[CLOCK_GEL] + 7200.0, 1e-9);
	assert_close(two.at_s[CLOCK_HANDLE], one.at_s[CLOCK_HANDLE] + 7200.0, 1e-9);
}

/* Poured last and yet the oldest: it was mixed first, and stood in its cup. */
static void a_batch_that_stood_in_its_cup_governs_though_poured_last(void **state)
{
	const struct piece_case *of = *state;
	const struct room_reading room = {0.0, 23.0};
	struct poured_batch both[] = {batch(100.0, 40.0), batch(100.0, 40.0)};
	struct layer_course fresh, old;
	struct poured_layer layer;
	double fresh_s, old_s;

	both[1].poured_s = 600.0;
	pour(of, 0.0, both, 2, &layer);
	course_of(of, &layer, &room, 1, &fresh);
	assert_int_equal(poured_holds_now(&layer, &of->systems[0], &room, 1, 1000.0, &fresh_s), 0);
	both[1].cup_s = 5400.0;
	pour(of, 0.0, both, 2, &layer);
	course_of(of, &layer, &room, 1, &old);
	assert_true(old.at_s[CLOCK_GEL] < fresh.at_s[CLOCK_GEL] - 4000.0);
	/* The first batch still has to gel before anything goes on top. */
	assert_close(old.at_s[LAYER_TAPE_OFF], fresh.at_s[CLOCK_GEL], 1e-9);
	/* What a report teaches counts from the pour, as the clock does that it sets. */
	assert_int_equal(poured_holds_now(&layer, &of->systems[0], &room, 1, 1000.0, &old_s), 0);
	assert_close(old_s, fresh_s, 0.02);
	assert_true(fresh_s > 700.0 && fresh_s < 1000.0);
}

/* The label's times are for 23 C; at a steady room they scale by exp(E/R (1/T - 1/T0)). */
static void the_labels_times_follow_the_room(void **state)
{
	const struct piece_case *of = *state;
	const struct poured_batch one = batch(100.0, 40.0);
	const struct cure *cure = &of->systems[0].fit.resin.cure;
	struct layer_course course;
	struct poured_layer layer;

	pour(of, 0.0, &one, 1, &layer);
	for (double degc = 18.0; degc <= 28.0; degc += 5.0) {
		const struct room_reading room = {0.0, degc};
		const double slower = exp(cure->e2_j_per_mol / 8.314462618 *
		                          (1.0 / (degc + 273.15) - 1.0 / (23.0 + 273.15)));

		course_of(of, &layer, &room, 1, &course);
		assert_close(course.at_s[CLOCK_BOND_CLOSES], 86400.0 * slower, 1e-6);
		assert_true(course.at_s[LAYER_OPENS] >= 28800.0 * slower * (1.0 - 1e-9));
		assert_true(course.at_s[LAYER_OPENS] >= course.at_s[CLOCK_GEL]);
	}
}

/* Half the time at one temperature and half at another is the sum of both shares. */
static void a_room_that_warms_moves_what_is_still_to_come(void **state)
{
	const struct piece_case *of = *state;
	const struct poured_batch one = batch(100.0, 40.0);
	const struct room_reading steady = {0.0, 23.0};
	const struct room_reading warms[] = {{-500.0, 23.0}, {20000.0, 33.0}};
	const struct cure *cure = &of->systems[0].fit.resin.cure;
	const double faster = exp(cure->e2_j_per_mol / 8.314462618 * (1.0 / 296.15 - 1.0 / 306.15));
	struct layer_course before, after;
	struct poured_layer layer;

	pour(of, 0.0, &one, 1, &layer);
	course_of(of, &layer, &steady, 1, &before);
	course_of(of, &layer, warms, 2, &after);
	assert_close(after.at_s[CLOCK_BOND_CLOSES], 20000.0 + (86400.0 - 20000.0) / faster, 1e-6);
	for (int event = 0; event < LAYER_EVENTS; event++)
		if (!isnan(before.at_s[event]) && before.at_s[event] > 20000.0)
			assert_true(after.at_s[event] < before.at_s[event]);
}

static void a_report_teaches_the_system_and_moves_no_other_clock(void **state)
{
	const struct piece_case *of = *state;
	const struct poured_batch one = batch(100.0, 40.0);
	const struct room_reading at_20 = {0.0, 20.0}, at_30 = {0.0, 30.0};
	struct layer_course course, taught;
	struct poured_layer layer;
	struct clocks clocks;
	double holds_s;

	pour(of, 0.0, &one, 1, &layer);
	course_of(of, &layer, &at_20, 1, &course);
	assert_true(isnan(course.at_s[CLOCK_HOLDS]));
	assert_int_equal(layer_clocks_at(&course, &layer.heat, &at_20, 1, 9000.0, &clocks), 0);
	assert_close(clocks.t_s, 9000.0, 1e-12);
	holds_s = clocks_teach_holds(&clocks);
	assert_int_equal(poured_course(&layer, &of->systems[0], holds_s, &at_20, 1, &taught), 0);
	/* Within a slice of 2 K the clocks go straight. */
	assert_close(taught.at_s[CLOCK_HOLDS], 9000.0, 1e-4);
	for (int event = 0; event < LAYER_EVENTS; event++)
		if (event != CLOCK_HOLDS && !isnan(course.at_s[event]))
			assert_close(taught.at_s[event], course.at_s[event], 1e-12);
	/* In a warmer room it holds sooner, by the resin's own energy. */
	assert_int_equal(poured_course(&layer, &of->systems[0], holds_s, &at_30, 1, &taught), 0);
	assert_true(taught.at_s[CLOCK_HOLDS] < 5500.0 && taught.at_s[CLOCK_HOLDS] > 3000.0);
}

/* A label that contradicts itself never becomes a system. */
static void contradictory_label_times_are_refused(void **state)
{
	struct resin_system system;
	struct casting_label label;
	struct casting_system made;
	char sentence[CASTING_SENTENCE_MAX];
	const char *key;

	(void)state;
	piece_case_system(&system, &label);
	label.recoat_closes_s = 20000.0;
	assert_int_equal(casting_system_make(&system, &label, &made, sentence, &key), -EINVAL);
	assert_string_equal(key, "casting.recoat");
	assert_non_null(strstr(sentence, "closes after 20000 s and opens after 28800 s"));
	piece_case_system(&system, &label);
	label.film_gel_s = 3600.0; /* sooner than the cup */
	assert_int_equal(casting_system_make(&system, &label, &made, sentence, &key), -EINVAL);
	piece_case_system(&system, &label);
	label.holds_s = 40000.0;
	label.holds_degc = 23.0;
	assert_int_equal(casting_system_make(&system, &label, &made, sentence, &key), -EINVAL);
	assert_string_equal(key, "casting.holds");
	piece_case_system(&system, &label);
	label.full_cure_s = 50000.0;
	label.full_cure_degc = 23.0;
	assert_int_equal(casting_system_make(&system, &label, &made, sentence, &key), -EINVAL);
	assert_string_equal(key, "casting.full_cure");
	piece_case_system(&system, &label);
	label.levelling_min_mm = 16.0;
	assert_int_equal(casting_system_make(&system, &label, &made, sentence, &key), -EINVAL);
	assert_string_equal(key, "casting.levelling_min_mm");
}

#define test(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(the_depth_is_what_the_weighed_mass_fills),
	        test(two_batches_make_one_layer),
	        test(masses_that_are_none_are_refused),
	        test(too_much_hardener_cures_faster_and_is_told),
	        test(what_cured_in_the_cup_is_not_cured_again),
	        test(the_earliest_batch_sets_deadlines_and_the_last_gives_leave),
	        test(a_batch_that_stood_in_its_cup_governs_though_poured_last),
	        test(the_labels_times_follow_the_room),
	        test(a_room_that_warms_moves_what_is_still_to_come),
	        test(a_report_teaches_the_system_and_moves_no_other_clock),
	        cmocka_unit_test(contradictory_label_times_are_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
