/* SPDX-License-Identifier: MIT */
/* The order of samples, ticks and presses on a source's own time. */
#include "tests/support/assert_close.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "daemon/station/timeline.h"

#define NO_PRESS INT64_MAX

/* Runs samples and presses through, writing "S12 T100 P150 ..." in ms. */
static void play(const int64_t *samples_ms, size_t n_samples, const int64_t *presses_ms,
                 size_t n_presses, bool ticks, char *ret, size_t size)
{
	static const char letters[] = {
	        [TIMELINE_PRESS] = 'P', [TIMELINE_TICK] = 'T', [TIMELINE_SAMPLE] = 'S'};
	struct timeline timeline;
	size_t sample = 0, press = 0, used = 0;

	timeline_init(&timeline);
	ret[0] = '\0';
	for (;;) {
		const int64_t press_us = press < n_presses ? presses_ms[press] * 1000 : NO_PRESS;
		const enum timeline_kind kind =
		        timeline_next(&timeline, press_us, INT64_MAX, ticks);

		if (kind == TIMELINE_NOTHING) {
			if (sample == n_samples)
				return;
			timeline_put(
			        &timeline,
			        &(struct ring_item){.kind = RING_SAMPLE,
			                            .sample.t_us = samples_ms[sample++] * 1000});
			continue;
		}
		press += kind == TIMELINE_PRESS;
		used += (size_t)snprintf(ret + used, size - used, "%c%" PRId64 " ", letters[kind],
		                         timeline.now_us / 1000);
		assert_true(used < size);
	}
}

#define PLAY(samples, presses, ticks, expected)                                                    \
	do {                                                                                       \
		const int64_t s[] = samples, p[] = presses;                                        \
		char text[512];                                                                    \
		play(s, sizeof(s) / sizeof(s[0]), p, sizeof(p) / sizeof(p[0]), ticks, text,        \
		     sizeof(text));                                                                \
		assert_string_equal(text, expected);                                               \
	} while (0)
#define LIST(...)                                                                                  \
	{                                                                                          \
		__VA_ARGS__                                                                        \
	}

static void ticks_come_every_100_ms_between_samples(void **state)
{
	(void)state;
	PLAY(LIST(10, 90, 110, 250), LIST(9999), true, "S10 S90 T100 S110 T200 S250 ");
}

static void ticks_run_through_a_gap_when_a_batch_is_open(void **state)
{
	(void)state;
	PLAY(LIST(10, 350), LIST(9999), true, "S10 T100 T200 T300 S350 ");
}

static void without_a_batch_the_ticks_of_a_gap_are_skipped_on_the_same_grid(void **state)
{
	(void)state;
	PLAY(LIST(10, 86400350, 86400401), LIST(INT64_MAX / 1000), false,
	     "S10 T86400300 S86400350 T86400400 S86400401 ");
}

static void a_press_comes_before_what_else_is_due_then(void **state)
{
	(void)state;
	PLAY(LIST(10, 100, 220), LIST(10, 100, 150, 220, 300), true,
	     "P10 S10 P100 T100 S100 P150 T200 P220 S220 ");
}

static void a_press_before_the_first_sample_keeps_its_own_time(void **state)
{
	(void)state;
	PLAY(LIST(250, 310), LIST(130), true, "P130 T200 S250 T300 S310 ");
}

static void the_grid_does_not_depend_on_where_it_begins(void **state)
{
	(void)state;
	PLAY(LIST(170, 310), LIST(9999), true, "S170 T200 T300 S310 ");
	PLAY(LIST(-170, -90, 110), LIST(9999), true, "S-170 T-100 S-90 T0 T100 S110 ");
}

static void time_never_runs_backwards(void **state)
{
	(void)state;
	PLAY(LIST(50, 40, 60), LIST(45), true, "P45 S50 S50 S60 ");
}

static void a_silence_has_ticks_too(void **state)
{
	struct timeline timeline;

	(void)state;
	timeline_init(&timeline);
	timeline_put(&timeline, &(struct ring_item){.kind = RING_SAMPLE, .sample.t_us = 10});
	assert_int_equal(timeline_next(&timeline, NO_PRESS, INT64_MAX, true), TIMELINE_SAMPLE);
	timeline_put(&timeline, &(struct ring_item){.kind = RING_TIME, .sample.t_us = 100010});
	assert_int_equal(timeline_next(&timeline, NO_PRESS, INT64_MAX, true), TIMELINE_TICK);
	assert_int_equal(timeline_next(&timeline, NO_PRESS, INT64_MAX, true), TIMELINE_NOTHING);
}

static void silence_is_told_at_its_moment_before_what_else_is_due_then(void **state)
{
	struct timeline timeline;

	(void)state;
	timeline_init(&timeline);
	timeline_put(&timeline, &(struct ring_item){.kind = RING_SAMPLE, .sample.t_us = 10});
	assert_int_equal(timeline_next(&timeline, NO_PRESS, INT64_MAX, true), TIMELINE_SAMPLE);
	timeline_put(&timeline, &(struct ring_item){.kind = RING_SAMPLE, .sample.t_us = 250000});
	assert_int_equal(timeline_next(&timeline, NO_PRESS, 130000, true), TIMELINE_TICK);
	assert_int_equal(timeline_next(&timeline, 130000, 130000, true), TIMELINE_PRESS);
	assert_int_equal(timeline_next(&timeline, NO_PRESS, 130000, true), TIMELINE_SILENCE);
	assert_int_equal(timeline.now_us, 130000);
	assert_int_equal(timeline_next(&timeline, NO_PRESS, INT64_MAX, true), TIMELINE_TICK);
	assert_int_equal(timeline_next(&timeline, NO_PRESS, 250000, true), TIMELINE_SILENCE);
	assert_int_equal(timeline_next(&timeline, NO_PRESS, 250001, true), TIMELINE_SAMPLE);
	/* Nobody waits for ticks, and still it is not passed over. */
	timeline_put(&timeline, &(struct ring_item){.kind = RING_TIME, .sample.t_us = 9000000});
	assert_int_equal(timeline_next(&timeline, NO_PRESS, 555000, false), TIMELINE_TICK);
	assert_int_equal(timeline.now_us, 500000);
	assert_int_equal(timeline_next(&timeline, NO_PRESS, 555000, false), TIMELINE_SILENCE);
	assert_int_equal(timeline.now_us, 555000);
}

/* What comes in from outside is stamped so that, recorded and replayed as a press,
 * it comes at the same place again. */
static void a_stamp_lies_after_what_came_and_before_what_comes(void **state)
{
	struct timeline timeline;

	(void)state;
	timeline_init(&timeline);
	timeline_put(&timeline, &(struct ring_item){.kind = RING_SAMPLE, .sample.t_us = 500});
	assert_int_equal(timeline_next(&timeline, NO_PRESS, INT64_MAX, true), TIMELINE_SAMPLE);
	assert_int_equal(timeline_stamp(&timeline, INT64_MIN), 501);
	assert_int_equal(timeline_stamp(&timeline, INT64_MIN), 502);
	assert_int_equal(timeline_stamp(&timeline, 700), 700);
	timeline_put(&timeline, &(struct ring_item){.kind = RING_SAMPLE, .sample.t_us = 600});
	assert_int_equal(timeline_next(&timeline, NO_PRESS, INT64_MAX, true), TIMELINE_SAMPLE);
	assert_int_equal(timeline.now_us, 700);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(ticks_come_every_100_ms_between_samples),
	        cmocka_unit_test(ticks_run_through_a_gap_when_a_batch_is_open),
	        cmocka_unit_test(without_a_batch_the_ticks_of_a_gap_are_skipped_on_the_same_grid),
	        cmocka_unit_test(a_press_comes_before_what_else_is_due_then),
	        cmocka_unit_test(a_press_before_the_first_sample_keeps_its_own_time),
	        cmocka_unit_test(the_grid_does_not_depend_on_where_it_begins),
	        cmocka_unit_test(time_never_runs_backwards),
	        cmocka_unit_test(a_silence_has_ticks_too),
	        cmocka_unit_test(silence_is_told_at_its_moment_before_what_else_is_due_then),
	        cmocka_unit_test(a_stamp_lies_after_what_came_and_before_what_comes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
