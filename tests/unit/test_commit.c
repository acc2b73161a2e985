/* SPDX-License-Identifier: MIT */
/* Nothing is told that is not in the store. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/station/commit.h"

static struct commit *commit_new(void)
{
	const struct resin_system system = {
	        .id = "tidepool-clear",
	        .name = "Tidepool Clear",
	        .part = {{.label = "resin",
	                  .parts = 100.0,
	                  .available_g = -1.0,
	                  .bottle_gross_g = -1.0},
	                 {.label = "hardener",
	                  .parts = 45.0,
	                  .available_g = -1.0,
	                  .bottle_gross_g = -1.0}},
	        .hardener = PART_B,
	        .basis = BASIS_WEIGHT,
	        .tolerance_pct = 2.0,
	        .working_life_s = 2400.0,
	        .working_life_mass_g = 400.0,
	        .working_life_degc = 23.0,
	};
	const struct recipe_request request = {.total_g = 330.0, .resin_degc = NAN};
	const struct recipe_scale scale = {.max_g = 5000.0,
	                                   .interval_g = 0.1,
	                                   .u_reading_g = 0.05,
	                                   .default_tolerance_pct = 2.0};
	struct commit *commit = malloc(sizeof(*commit));
	struct message why, warning;
	struct recipe recipe;
	struct guide guide;

	assert_non_null(commit);
	assert_int_equal(recipe_make(&system, &request, &scale, NULL, &recipe, &why, &warning), 0);
	guide_begin(&recipe, &guide);
	commit_init(commit, &guide);
	return commit;
}

static struct guide_event press(int64_t t_us)
{
	return (struct guide_event){.kind = GUIDE_PRESS, .t_us = t_us};
}

static struct guide_event tick(int64_t t_us)
{
	return (struct guide_event){.kind = GUIDE_TICK, .t_us = t_us};
}

static enum guide_step step_shown(const struct commit *commit)
{
	struct guide_view view;

	commit_look(commit, &view);
	return view.step;
}

static void a_step_is_shown_only_when_it_is_stored(void **state)
{
	struct commit *commit = commit_new();
	struct guide_event event = press(1000000);

	(void)state;
	assert_int_equal(step_shown(commit), GUIDE_READY);
	assert_int_equal(commit_feed(commit, &event), 1);
	assert_int_equal(step_shown(commit), GUIDE_READY);
	assert_int_equal(commit->pending.step, GUIDE_CUP);
	assert_int_equal(commit_done(commit, 0, "", 1100000), 0);
	assert_int_equal(step_shown(commit), GUIDE_CUP);
	free(commit);
}

static void inputs_queue_behind_a_commit_in_their_order(void **state)
{
	struct commit *commit = commit_new();
	struct guide_event events[] = {press(1000000),
	                               tick(1100000),
	                               {.kind = GUIDE_HOLD, .t_us = 1200000},
	                               {.kind = GUIDE_DISCARD, .t_us = 1300000}};

	(void)state;
	assert_int_equal(commit_feed(commit, &events[0]), 1);
	for (int i = 1; i < 4; i++)
		assert_int_equal(commit_feed(commit, &events[i]), -EAGAIN);
	assert_int_equal(commit->fill, 3);
	assert_int_equal(commit_done(commit, 0, "", 1400000), 1); /* the hold is next */
	assert_int_equal(step_shown(commit), GUIDE_CUP);
	assert_int_equal(commit->pending.step, GUIDE_HELD);
	assert_int_equal(commit_done(commit, 0, "", 1500000), 1);
	assert_int_equal(step_shown(commit), GUIDE_HELD);
	assert_int_equal(commit->pending.step, GUIDE_DISCARDED);
	assert_int_equal(commit_done(commit, 0, "", 1600000), 0);
	assert_int_equal(step_shown(commit), GUIDE_DISCARDED);
	free(commit);
}

static void a_failed_commit_holds_the_batch_and_forgets_what_answered_it(void **state)
{
	struct commit *commit = commit_new();
	struct guide_event event = press(1000000), discard = {.kind = GUIDE_DISCARD};
	struct guide_view view;

	(void)state;
	assert_int_equal(commit_feed(commit, &event), 1);
	assert_int_equal(commit_feed(commit, &discard), -EAGAIN);
	assert_int_equal(commit_done(commit, -ENOSPC, "the disk is full", 1100000), 0);
	commit_look(commit, &view);
	assert_int_equal(view.step, GUIDE_HELD);
	assert_int_equal(view.message.id, MESSAGE_STORE_FAILED);
	assert_string_equal(view.message.text, "the disk is full");
	assert_int_equal(commit->fill, 0);
	/* A press goes on, and is stored like any other step. */
	event = press(2000000);
	assert_int_equal(commit_feed(commit, &event), 1);
	assert_int_equal(commit_done(commit, 0, "", 2100000), 0);
	assert_int_equal(step_shown(commit), GUIDE_READY);
	free(commit);
}

static void the_queue_is_bounded_and_keeps_room_for_presses(void **state)
{
	struct commit *commit = commit_new();
	struct guide_event event = press(1000000);

	(void)state;
	assert_int_equal(commit_feed(commit, &event), 1);
	event = tick(1000001);
	for (uint32_t i = 0; i < COMMIT_QUEUE_MAX - COMMIT_QUEUE_RESERVE; i++)
		assert_int_equal(commit_feed(commit, &event), -EAGAIN);
	for (int i = 0; i < 1000; i++)
		assert_int_equal(commit_feed(commit, &event), -ENOBUFS);
	assert_int_equal(commit->dropped, 1000);
	event = press(1000002);
	for (uint32_t i = 0; i < COMMIT_QUEUE_RESERVE; i++)
		assert_int_equal(commit_feed(commit, &event), -EAGAIN);
	assert_int_equal(commit_feed(commit, &event), -ENOBUFS);
	assert_int_equal(commit->dropped, 1000);
	free(commit);
}

/* Without a commit under way and with one, the same inputs lead to the same guide. */
static void how_long_a_commit_takes_changes_nothing(void **state)
{
	struct commit *quick = commit_new(), *slow = commit_new();
	char a[16384], b[16384];

	(void)state;
	for (int64_t i = 0; i < 200; i++) {
		struct guide_event event =
		        i % 37 == 5 ? press(i * 100000)
		        : i % 2     ? tick(i * 100000)
		                    : (struct guide_event){
		                              .kind = GUIDE_READING,
		                              .t_us = i * 100000,
		                              .u_reading_g = 0.05,
		                              .reading = {.t_us = i * 100000,
		                                          .known = true,
		                                          .warm = true,
		                                          .state = READING_SETTLED,
		                                          .gross_g = i < 60 ? 0.0 : 12.5,
		                                          .n_averaged = 40,
		                                          .still_since_us = i < 60 ? 0 : 6000000}};

		if (commit_feed(quick, &event) == 1)
			while (commit_done(quick, 0, "", event.t_us) == 1)
				;
		commit_feed(slow, &event);
		if (i % 50 == 49)
			while (slow->waiting)
				commit_done(slow, 0, "", event.t_us);
	}
	assert_true(guide_write(&quick->committed, a, sizeof(a)) < sizeof(a));
	assert_true(guide_write(&slow->committed, b, sizeof(b)) < sizeof(b));
	assert_string_equal(a, b);
	assert_int_not_equal(quick->committed.step, GUIDE_READY);
	free(quick);
	free(slow);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_step_is_shown_only_when_it_is_stored),
	        cmocka_unit_test(inputs_queue_behind_a_commit_in_their_order),
	        cmocka_unit_test(a_failed_commit_holds_the_batch_and_forgets_what_answered_it),
	        cmocka_unit_test(the_queue_is_bounded_and_keeps_room_for_presses),
	        cmocka_unit_test(how_long_a_commit_takes_changes_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
