/* SPDX-License-Identifier: MIT */
/* The panel's pure logic: what a foot means, what lamp and buzzer say. */
#include "tests/support/assert_close.h"

#include <stdbool.h>
#include <string.h>

#include "drivers/panel_button.h"
#include "drivers/panel_pattern.h"
#include "tests/support/random.h"

#define MS INT64_C(1000)

/* Plays level changes at the given times (ms, alternating from up), feeding as a panel
 * does: at every edge and when due. Writes one letter for each event. */
static void play(const int *edges_ms, size_t n_edges, int64_t end_ms, char *ret)
{
	struct panel_button button;
	int64_t now_us = 0;
	size_t next = 0, n = 0;
	bool down = false;

	panel_button_init(&button, false, 0);
	while (now_us < end_ms * MS) {
		const int64_t due_us = panel_button_due_us(&button);
		const int64_t edge_us = next < n_edges ? edges_ms[next] * MS : INT64_MAX;
		enum panel_event event;

		now_us = due_us < edge_us ? due_us : edge_us;
		if (now_us == INT64_MAX)
			break;
		if (now_us == edge_us) {
			down = !down;
			next++;
		}
		event = panel_button_feed(&button, down, now_us);
		if (event != PANEL_NOTHING)
			ret[n++] = ".phaj"[event];
	}
	ret[n] = '\0';
}

static void a_foot_means_press_or_hold_and_nothing_else(void **state)
{
	static const struct {
		const char *expected;
		size_t n;
		int edges_ms[12];
	} rows[] = {
	        {"p", 2, {100, 300}},
	        {"pp", 4, {100, 300, 500, 700}},
	        {"", 2, {100, 129}}, /* a knock: shorter than bouncing */
	        {"p", 2, {100, 131}},
	        {"p",
	         8,
	         {100, 102, 105, 111, 115, 300, 302, 304}}, /* ends up: bouncing both ways */
	        {"p", 6, {100, 103, 104, 300, 305, 306}},   /* ... */
	        {"p", 6, {100, 300, 310, 320, 325, 328}},   /* bounces on letting go */
	        {"h", 2, {100, 1400}},
	        {"p", 2, {100, 1299}},
	        {"h", 4, {100, 700, 710, 1500}}, /* a gap in a long press is no end */
	        {"hp", 4, {100, 2000, 3000, 3200}},
	        {"h", 2, {100, 5099}},
	        {"h", 4, {100, 2000, 2010, 4000}}, /* looked at in between: not yet */
	        {"ha", 2, {100, 5101}}, /* five seconds: the keeper's word */
	        {"ha", 2, {100, 9000}},
	        {"haj", 1, {100}}, /* never let go */
	        {"hajp", 4, {100, 25000, 26000, 26200}},
	};
	char events[16];

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		play(rows[i].edges_ms, rows[i].n, 60000, events);
		assert_string_equal(events, rows[i].expected);
	}
}

static void held_down_at_the_start_it_must_be_let_go_first(void **state)
{
	struct panel_button button;

	(void)state;
	panel_button_init(&button, true, 0);
	assert_int_equal(panel_button_feed(&button, true, 2000 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, false, 3000 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, false, 3100 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, true, 4000 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, true, 4100 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, false, 4200 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, false, 4300 * MS), PANEL_PRESS);
}

static void a_loop_that_was_late_still_tells_long_from_short(void **state)
{
	struct panel_button button;

	(void)state;
	panel_button_init(&button, false, 0);
	assert_int_equal(panel_button_feed(&button, true, 1000 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, false, 2500 * MS), PANEL_NOTHING);
	assert_int_equal(panel_button_feed(&button, false, 9000 * MS), PANEL_HOLD);
}

/* Over 20 s of a signal: when a lamp, any of them, is on. */
static void light(enum panel_signal signal, bool *ret, size_t slots)
{
	for (size_t i = 0; i < slots; i++) {
		ret[i] = false;
		for (int lamp = PANEL_RED; lamp <= PANEL_GREEN; lamp++)
			ret[i] = ret[i] || panel_pattern_level(signal, (enum panel_output)lamp,
			                                       (int64_t)(i + 20) * PANEL_SLOT_US);
	}
}

static void signals_differ_without_their_colours(void **state)
{
	enum { SLOTS = 400, SHIFTS = 200 };
	bool a[SLOTS], b[SLOTS];

	(void)state;
	for (int i = 0; i < PANEL_SIGNALS; i++)
		for (int k = 0; k < i; k++) {
			light((enum panel_signal)i, a, SLOTS);
			light((enum panel_signal)k, b, SLOTS);
			for (size_t shift = 0; shift < SHIFTS; shift++)
				if (memcmp(a + shift, b, SLOTS - SHIFTS) == 0)
					fail_msg("signals %d and %d look alike", i, k);
		}
}

static void colours_mean_what_the_standard_says(void **state)
{
	static const struct {
		enum panel_signal signal;
		bool red, yellow, green;
	} rows[] = {
	        {PANEL_DARK, false, false, false},    {PANEL_READY, false, false, true},
	        {PANEL_POUR, false, false, true},     {PANEL_NEAR, false, false, true},
	        {PANEL_TIP_BACK, false, true, true},  {PANEL_IN_BAND, false, false, true},
	        {PANEL_TOO_MUCH, false, true, false}, {PANEL_HELD, false, true, false},
	        {PANEL_SILENT, true, false, false},   {PANEL_HAZARD, true, false, false},
	};

	(void)state;
	for (size_t i = 0; i < PANEL_SIGNALS; i++) {
		bool on[3] = {false, false, false};

		for (int64_t t = 0; t < 10000 * MS; t += PANEL_SLOT_US)
			for (int lamp = 0; lamp < 3; lamp++)
				on[lamp] |= panel_pattern_level(rows[i].signal,
				                                (enum panel_output)lamp, t);
		assert_int_equal(on[PANEL_RED], rows[i].red);
		assert_int_equal(on[PANEL_YELLOW], rows[i].yellow);
		assert_int_equal(on[PANEL_GREEN], rows[i].green);
	}
}

static unsigned notes(enum panel_signal signal, enum panel_output output, int64_t from_ms,
                      int64_t to_ms)
{
	unsigned n = 0;

	for (int64_t t = from_ms * MS; t < to_ms * MS; t += PANEL_SLOT_US)
		n += panel_pattern_level(signal, output, t) &&
		     (t == 0 || !panel_pattern_level(signal, output, t - PANEL_SLOT_US));
	return n;
}

static void tip_back_and_hazards_are_repeated_for_ever_the_rest_once(void **state)
{
	(void)state;
	for (int i = PANEL_BUZZER; i <= PANEL_VIBRATION; i++) {
		const enum panel_output output = (enum panel_output)i;

		assert_int_equal(notes(PANEL_TIP_BACK, output, 60000, 70000), 20);
		assert_in_range(notes(PANEL_HAZARD, output, 60000, 72000), 9, 11);
		assert_int_equal(notes(PANEL_IN_BAND, output, 0, 60000), 2);
		assert_int_equal(notes(PANEL_TOO_MUCH, output, 0, 60000), 1);
		assert_int_equal(notes(PANEL_POUR, output, 0, 60000), 0);
	}
	assert_in_range(notes(PANEL_SILENT, PANEL_BUZZER, 60000, 120000), 9, 11);
}

/* Counted here in another way than there: by all pairs of rising edges. */
static unsigned most_in_a_second(const int64_t *rises_us, size_t n)
{
	unsigned most = 0;

	for (size_t i = 0; i < n; i++) {
		unsigned in = 0;

		for (size_t k = i; k < n && rises_us[k] - rises_us[i] < 1000 * MS; k++)
			in++;
		most = in > most ? in : most;
	}
	return most;
}

static void lamps_never_flash_more_than_three_times_a_second(void **state)
{
	static int64_t rises_us[20000];
	struct random random = {7};

	(void)state;
	for (int round = 0; round < PANEL_SIGNALS + 20; round++) {
		struct panel_show show;
		int64_t now_us = 0, due_us = 0, switch_us = 0;
		bool before[3] = {false, false, false};
		size_t n = 0;

		panel_show_init(&show);
		if (round < PANEL_SIGNALS)
			panel_show_set(&show, (enum panel_signal)round, 0);
		while (now_us < 60000 * MS) {
			bool rose = false;

			if (round >= PANEL_SIGNALS && now_us >= switch_us) {
				/* Signals that change as if mad. */
				panel_show_set(&show,
				               (enum panel_signal)(PANEL_SIGNALS *
				                                   random_uniform(&random)),
				               now_us);
				switch_us = now_us + (int64_t)(300e3 * random_uniform(&random));
			}
			due_us = panel_show_step(&show, now_us);
			for (int i = 0; i < 3; i++) {
				rose = rose || (show.level[i] && !before[i]);
				before[i] = show.level[i];
			}
			if (rose && n < 20000)
				rises_us[n++] = now_us;
			if (round >= PANEL_SIGNALS && switch_us < due_us)
				due_us = switch_us;
			if (due_us == INT64_MAX)
				break;
			assert_true(due_us > now_us || due_us == switch_us);
			now_us = due_us > now_us ? due_us : now_us + 1;
		}
		assert_true(most_in_a_second(rises_us, n) <= PANEL_FLASHES_MAX);
		if (round >= PANEL_SIGNALS)
			assert_true(n > 60);
	}
}

static void a_flash_that_was_put_off_comes_later(void **state)
{
	struct panel_show show;
	int64_t due_us = 0;

	(void)state;
	panel_show_init(&show);
	for (int i = 0; i < 4; i++) { /* on and off within 0.4 s: the fourth is too much */
		panel_show_set(&show, PANEL_READY, i * 100 * MS);
		due_us = panel_show_step(&show, i * 100 * MS);
		assert_int_equal(show.level[PANEL_GREEN], i < 3);
		if (i == 3)
			break;
		panel_show_set(&show, PANEL_DARK, i * 100 * MS + 50 * MS);
		panel_show_step(&show, i * 100 * MS + 50 * MS);
	}
	assert_int_equal(due_us, 1000 * MS);
	assert_int_equal(panel_show_step(&show, due_us), INT64_MAX);
	assert_true(show.level[PANEL_GREEN]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_foot_means_press_or_hold_and_nothing_else),
	        cmocka_unit_test(held_down_at_the_start_it_must_be_let_go_first),
	        cmocka_unit_test(a_loop_that_was_late_still_tells_long_from_short),
	        cmocka_unit_test(signals_differ_without_their_colours),
	        cmocka_unit_test(colours_mean_what_the_standard_says),
	        cmocka_unit_test(tip_back_and_hazards_are_repeated_for_ever_the_rest_once),
	        cmocka_unit_test(lamps_never_flash_more_than_three_times_a_second),
	        cmocka_unit_test(a_flash_that_was_put_off_comes_later),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
