/* SPDX-License-Identifier: MIT */
/* Pours in the person's hours, and no deadline in their night. */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/piece_case.h"

#define DAY_S  86400.0
#define HOUR_S 3600.0

static int setup(void **state)
{
	struct piece_case *made = malloc(sizeof *made);

	assert_non_null(made);
	piece_case_make(made);
	made->systems[0].label.depth_max_mm = 7.0; /* three layers */
	made->piece.room_degc = 20.0;
	*state = made;
	return 0;
}

static int teardown(void **state)
{
	free(*state);
	return 0;
}

static void assert_in_hours(const struct piece_case *of)
{
	for (size_t i = 0; i < of->plan.n_layers; i++) {
		const struct plan_layer *layer = &of->plan.layers[i];

		assert_true(plan_in_hours(&of->piece.hours, layer->pour_at_s,
		                          layer->pour_at_s + layer->session_s + PLAN_WATCH_S));
	}
}

static double poured_s(const struct plan_layer *layer)
{
	return layer->pour_at_s + layer->session_s;
}

static void times_of_the_week_are_written_so(void **state)
{
	char text[PLAN_TIME_MAX];

	(void)state;
	plan_time_text(0.0, text);
	assert_string_equal(text, "mon 00:00");
	plan_time_text(5 * DAY_S + 9.5 * HOUR_S, text);
	assert_string_equal(text, "sat 09:30");
	plan_time_text(8 * DAY_S + 61.0, text); /* up: never earlier than it is */
	assert_string_equal(text, "tue 00:02 (week 2)");
}

static void a_moment_lies_in_the_hours_of_its_own_day_only(void **state)
{
	const struct piece_hours hours = {
	        .opens_min = 8 * 60, .closes_min = 20 * 60, .days = 1u << 1 | 1u << 5};

	(void)state;
	assert_true(plan_in_hours(&hours, DAY_S + 8 * HOUR_S, DAY_S + 20 * HOUR_S));
	assert_false(plan_in_hours(&hours, DAY_S + 8 * HOUR_S - 1.0, DAY_S + 9 * HOUR_S));
	assert_false(plan_in_hours(&hours, DAY_S + 19 * HOUR_S, DAY_S + 20 * HOUR_S + 1.0));
	assert_false(plan_in_hours(&hours, 9 * HOUR_S, 10 * HOUR_S)); /* a Monday */
	assert_true(plan_in_hours(&hours, 12 * DAY_S + 9 * HOUR_S, 12 * DAY_S + 10 * HOUR_S));
	assert_false(plan_in_hours(&hours, DAY_S + 19 * HOUR_S, 2 * DAY_S + 9 * HOUR_S));
}

static void each_layer_is_poured_in_hours_between_opening_and_closing(void **state)
{
	struct piece_case *of = *state;

	piece_case_plan(of);
	assert_true(of->plan.n_layers >= 3);
	assert_in_hours(of);
	for (size_t i = 1; i < of->plan.n_layers; i++) {
		const struct plan_layer *before = &of->plan.layers[i - 1];
		const double since = poured_s(&of->plan.layers[i]) - poured_s(before);

		assert_false(of->plan.layers[i].sand_first);
		assert_true(since >= before->opens_s);
		assert_true(since <= before->closes_s);
	}
}

/* The label: 8 to 24 h at 23 C. From 19:00 to 23:00 the next evening is just in time; a
 * window that closes after 12 h lies in the night whenever one begins: then it is sanded. */
static void a_window_that_would_close_at_night_is_not_counted_on(void **state)
{
	struct piece_case *of = *state;

	of->piece.hours.opens_min = 19 * 60;
	of->piece.hours.closes_min = 23 * 60;
	of->piece.hours.start_min = 19 * 60;
	piece_case_plan(of);
	assert_in_hours(of);
	assert_false(of->plan.layers[1].sand_first);
	assert_true(poured_s(&of->plan.layers[1]) - poured_s(&of->plan.layers[0]) <= DAY_S);
	of->systems[0].course.closes_s *= 0.5;
	piece_case_plan(of);
	assert_in_hours(of);
	assert_true(of->plan.layers[1].sand_first);
	assert_true(of->plan.layers[1].pour_at_s >=
	            poured_s(&of->plan.layers[0]) + of->plan.layers[0].handle_s);
	assert_true(of->plan.layers[1].session_s >= PLAN_SAND_S);
}

/* Opens after 8 h, closes after 11: poured at 8 it would have to be poured on by 19:00 and
 * the person leaves at 17:00 but is there from 5:00. Beginning later would spare nothing;
 * where waiting within a day spares the sanding it is waited. */
static void a_pour_waits_within_a_day_where_that_spares_the_sanding(void **state)
{
	struct piece_case *of = *state;

	of->systems[0].course.closes_s = of->systems[0].course.opens_s * 1.4;
	of->piece.hours.opens_min = 6 * 60;
	of->piece.hours.closes_min = 22 * 60;
	of->piece.hours.start_min = 14 * 60; /* + 8 h is after closing, + 11.2 h at night */
	piece_case_plan(of);
	assert_in_hours(of);
	assert_false(of->plan.layers[1].sand_first);
	assert_true(of->plan.layers[0].pour_at_s > 14 * HOUR_S);
	assert_true(of->plan.layers[0].pour_at_s < 14 * HOUR_S + DAY_S);
}

static void days_that_are_not_theirs_are_left_out(void **state)
{
	struct piece_case *of = *state;

	of->piece.hours.days = 1u << 5 | 1u << 6; /* at the weekend */
	of->piece.hours.start_day = 2;
	piece_case_plan(of);
	assert_in_hours(of);
	for (size_t i = 0; i < of->plan.n_layers; i++) {
		const long day = (long)floor(of->plan.layers[i].pour_at_s / DAY_S) % 7;

		assert_true(day == 5 || day == 6);
	}
}

/* Fast top coat at 23 C: its tape wants taking off a few hours later. */
static void edge_tape_comes_off_in_hours(void **state)
{
	struct piece_case *of = *state;
	const struct plan_layer *top;

	of->piece.n_coats = 2;
	of->piece.coats[1] = (struct piece_coat){.name = "gloss",
	                                         .system = "top",
	                                         .top_coat = true,
	                                         .depth_mm = 1.0,
	                                         .edge_tape = true};
	of->piece.hours.opens_min = 17 * 60;
	of->piece.hours.closes_min = 21 * 60 + 30;
	piece_case_plan(of);
	assert_in_hours(of);
	top = &of->plan.layers[of->plan.n_layers - 1];
	assert_true(top->top_coat);
	assert_true(plan_in_hours(&of->piece.hours, poured_s(top) + top->opens_s,
	                          poured_s(top) + top->opens_s) ||
	            plan_in_hours(&of->piece.hours, poured_s(top) + top->closes_s,
	                          poured_s(top) + top->closes_s));
	/* In eighty minutes a day it cannot: poured in hours, off outside them. */
	of->piece.hours.closes_min = 18 * 60 + 20;
	piece_case_refused(of, "edge tape");
}

static void hours_too_short_for_a_pour_are_refused_with_their_minutes(void **state)
{
	struct piece_case *of = *state;

	of->piece.hours.opens_min = 12 * 60;
	of->piece.hours.closes_min = 12 * 60 + 20;
	piece_case_refused(of, "from 12:00 to 12:20 have 20 min");
}

static void a_room_in_which_it_never_hardens_is_refused(void **state)
{
	struct piece_case *of = *state;

	/* A resin that would be glass long before it is hard. */
	of->systems[0].fit.resin.cure.tginf_degc = 200.0;
	of->piece.room_degc = 1.0;
	/* Opens on a day that is not theirs and closes soon: sanding is all that is left. */
	of->systems[0].course.closes_s = 1.1 * of->systems[0].course.opens_s;
	of->piece.hours.days = 1u;
	piece_case_refused(of, "never gets hard enough");
}

#define test(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(times_of_the_week_are_written_so),
	        cmocka_unit_test(a_moment_lies_in_the_hours_of_its_own_day_only),
	        test(each_layer_is_poured_in_hours_between_opening_and_closing),
	        test(a_window_that_would_close_at_night_is_not_counted_on),
	        test(a_pour_waits_within_a_day_where_that_spares_the_sanding),
	        test(days_that_are_not_theirs_are_left_out),
	        test(edge_tape_comes_off_in_hours),
	        test(hours_too_short_for_a_pour_are_refused_with_their_minutes),
	        test(a_room_in_which_it_never_hardens_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
