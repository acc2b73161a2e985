/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "display/touch/reaction.h"
#include "tests/support/random.h"

static struct reaction_key key_of(const char *person, const char *component)
{
	struct reaction_key key;

	reaction_key(person, component, "tidepool-clear", &key);
	return key;
}

/* A stop by one who needs reaction_s, tips back in 0.25 s and leaves the usual drip. */
static struct reaction_stop stop_of(double reaction_s, double rate_g_per_s)
{
	return (struct reaction_stop){
	        .rate_g_per_s = rate_g_per_s,
	        .poured_g = rate_g_per_s * (reaction_s + 0.02 + 0.125) + 0.05,
	        .output_delay_s = 0.02,
	};
}

static int learn(struct reactions *reactions, const char *person, const char *component,
                 double reaction_s)
{
	struct reaction_key key = key_of(person, component);
	struct reaction_stop stop = stop_of(reaction_s, 12.0);

	return reaction_learn(reactions, &key, &stop);
}

static double of(const struct reactions *reactions, const char *person, const char *component)
{
	struct reaction_key key = key_of(person, component);

	return reaction_of(reactions, &key);
}

static void what_is_not_known_yet_is_the_usual_reaction(void **state)
{
	struct reactions reactions;

	(void)state;
	reaction_init(&reactions);
	assert_close(of(&reactions, "ana", "a"), 0.23, 1e-12);
}

static void a_person_of_230_or_400_ms_is_found_within_ten_stops(void **state)
{
	static const double truth_s[] = {0.23, 0.40};

	(void)state;
	for (int i = 0; i < 2; i++)
		for (uint64_t seed = 1; seed <= 50; seed++) {
			struct random random = {seed};
			struct reactions reactions;

			reaction_init(&reactions);
			for (int k = 0; k < 60; k++) {
				assert_int_equal(learn(&reactions, "ana", "a",
				                       truth_s[i] + 0.04 * random_normal(&random)),
				                 1);
				/* 40 ms by ten or more: four times their standard deviation,
				 * and what is left of the first guess. */
				if (k >= 9)
					assert_within(of(&reactions, "ana", "a"), truth_s[i],
					              4.0 * 0.04 / sqrt(10.0) +
					                      fabs(truth_s[i] - 0.23) * 0.2);
			}
			assert_within(of(&reactions, "ana", "a"), truth_s[i], 0.04);
		}
}

static void it_stays_between_150_and_600_ms(void **state)
{
	struct reactions reactions;

	(void)state;
	reaction_init(&reactions);
	for (int i = 0; i < 200; i++) {
		learn(&reactions, "quick", "a", 0.03);
		learn(&reactions, "slow", "a", 0.95);
	}
	assert_close(of(&reactions, "quick", "a"), 0.15, 1e-12);
	assert_close(of(&reactions, "slow", "a"), 0.60, 1e-12);
}

static void person_component_and_container_are_kept_apart(void **state)
{
	struct reaction_key canister;
	struct reactions reactions;

	(void)state;
	reaction_init(&reactions);
	for (int i = 0; i < 30; i++)
		learn(&reactions, "ana", "a", 0.35);
	reaction_key("ana", "a", "canister", &canister);
	assert_within(of(&reactions, "ana", "a"), 0.35, 0.02);
	assert_close(of(&reactions, "ana", "b"), 0.23, 1e-12);
	assert_close(of(&reactions, "ben", "a"), 0.23, 1e-12);
	assert_close(reaction_of(&reactions, &canister), 0.23, 1e-12);
}

static void knocks_holds_and_what_is_no_reaction_are_left_out(void **state)
{
	struct reaction_key key = key_of("ana", "a");
	struct reaction_stop stop = stop_of(0.4, 12.0);
	struct reactions reactions;

	(void)state;
	reaction_init(&reactions);
	stop.knocked = true;
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of(0.4, 12.0);
	stop.held = true;
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of(-0.1, 12.0); /* stopped before the cue */
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of(1.3, 12.0); /* looked away */
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of(0.4, 0.8); /* too slow to tell */
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of(0.4, 80.0);
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of(0.4, 3.0);
	stop.doubt_g = 0.5;
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of(0.4, (double)NAN);
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	stop = stop_of((double)NAN, 12.0);
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 0);
	assert_close(reaction_of(&reactions, &key), 0.23, 1e-12);
	assert_int_equal(reactions.n, 0);
	stop = stop_of(0.4, 12.0);
	assert_int_equal(reaction_learn(&reactions, &key, &stop), 1);
	assert_true(reaction_of(&reactions, &key) > 0.23);
}

static void one_late_stop_does_not_make_a_slow_person(void **state)
{
	struct reactions reactions;

	(void)state;
	reaction_init(&reactions);
	for (int i = 0; i < 20; i++)
		learn(&reactions, "ana", "a", 0.23);
	learn(&reactions, "ana", "a", 0.95);
	assert_true(of(&reactions, "ana", "a") < 0.23 + 0.016);
}

static void one_press_forgets_a_person_and_nobody_else(void **state)
{
	struct reactions reactions;

	(void)state;
	reaction_init(&reactions);
	for (int i = 0; i < 20; i++) {
		learn(&reactions, "ana", "a", 0.4);
		learn(&reactions, "ana", "b", 0.4);
		learn(&reactions, "ben", "a", 0.4);
	}
	reaction_forget(&reactions, "ana");
	assert_close(of(&reactions, "ana", "a"), 0.23, 1e-12);
	assert_close(of(&reactions, "ana", "b"), 0.23, 1e-12);
	assert_true(of(&reactions, "ben", "a") > 0.35);
	reaction_forget(&reactions, NULL);
	assert_int_equal(reactions.n, 0);
}

static void it_is_kept_as_text_and_read_back(void **state)
{
	struct reactions reactions, read;
	char text[4096], again[4096], little[20];
	int line = -1;
	size_t length;

	(void)state;
	reaction_init(&reactions);
	for (int i = 0; i < 7; i++) {
		learn(&reactions, "Ben", "b", 0.31);
		learn(&reactions, "Jos\xc3\xa9 M.\tB.", "a", 0.4);
	}
	length = reaction_write(&reactions, text, sizeof text);
	assert_int_equal(length, strlen(text));
	assert_int_equal(reaction_read(text, &read, &line), 0);
	assert_int_equal(read.n, 2);
	assert_within(of(&read, "Ben", "b"), of(&reactions, "Ben", "b"), 1e-6);
	assert_within(of(&read, "Jos\xc3\xa9 M. B.", "a"), of(&reactions, "Jos\xc3\xa9 M. B.", "a"),
	              1e-6);
	reaction_write(&read, again, sizeof again);
	assert_string_equal(again, text);
	assert_int_equal(reaction_write(&reactions, little, sizeof little), length);
	assert_int_equal(strlen(little), sizeof little - 1);
	assert_int_equal(reaction_write(&reactions, NULL, 0), length);
}

static void a_damaged_line_is_left_out_and_named(void **state)
{
	static const char *const bad[] = {
	        "ana\ta\tjug\t999999999999 us\t3 stops",
	        "ana\ta\tjug\t-1 us\t3 stops",
	        "ana\ta\t230000 us\t3 stops",
	        "ana\ta\tjug\t0.23 us\t3 stops",
	        "ana\ta\tjug\t230000 us\t3 stops more",
	        "ana\ta\tjug\t9000000 us\t3 stops",
	        "a name that is much longer than any key may be\ta\tjug\t230000 us\t3 stops",
	        "nonsense",
	};

	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
		struct reactions read;
		char text[400];
		int line = -1;

		snprintf(text, sizeof text, "# said\n\n%s\nben\tb\tjug\t410000 us\t9 stops",
		         bad[i]);
		assert_int_equal(reaction_read(text, &read, &line), -EINVAL);
		assert_int_equal(line, 3);
		assert_int_equal(read.n, 1);
		assert_within(read.row[0].reaction_s, 0.41, 1e-9);
		assert_int_equal(read.row[0].stops, 9);
	}
}

static void a_full_table_makes_room_by_the_longest_unused(void **state)
{
	struct reactions reactions;
	char name[24];

	(void)state;
	reaction_init(&reactions);
	for (unsigned i = 0; i < REACTION_ROWS; i++) {
		snprintf(name, sizeof name, "person %u", i);
		learn(&reactions, name, "a", 0.5);
	}
	learn(&reactions, "person 0", "a", 0.5);
	learn(&reactions, "one more", "a", 0.5);
	assert_int_equal(reactions.n, REACTION_ROWS);
	assert_true(of(&reactions, "person 0", "a") > 0.23);
	assert_close(of(&reactions, "person 1", "a"), 0.23, 1e-12);
	assert_true(of(&reactions, "one more", "a") > 0.23);
}

/* A stop as the watch sees it: the drop sounds 4 ms after a reading, at 12 g/s. */
struct stop_scene {
	struct reaction_watch watch;
	struct cues_in in;
	struct cues_out out;
	double gross_g;
};

static int reading(struct stop_scene *scene, enum sound sound, double rate, const char *state,
                   struct reaction_stop *ret)
{
	scene->in.t_us += 12500;
	scene->in.reading_us = scene->in.t_us;
	scene->in.rate_g_per_s = rate;
	scene->in.state = state;
	scene->gross_g += rate * 0.0125;
	if (scene->out.sound != sound)
		scene->out.since_us = scene->in.t_us - 8500; /* between two readings */
	scene->out.sound = sound;
	return reaction_watch_next(&scene->watch, &scene->in, &scene->out, scene->gross_g, ret);
}

static void begin_stop(struct stop_scene *scene)
{
	struct reaction_stop stop;

	*scene = (struct stop_scene){.in = {.link_up = true, .output_delay_s = 0.02},
	                             .gross_g = 500.0};
	reaction_watch_init(&scene->watch);
	for (int i = 0; i < 10; i++)
		assert_int_equal(reading(scene, SOUND_NEAR, 12.0, "unsettled", &stop), 0);
	for (int i = 0; i < 20; i++)
		assert_int_equal(reading(scene, SOUND_TIP_BACK, 12.0, "unsettled", &stop), 0);
}

static void a_stop_is_measured_from_the_cue_to_rest(void **state)
{
	struct reaction_stop stop;
	struct stop_scene scene;

	(void)state;
	begin_stop(&scene);
	assert_int_equal(reading(&scene, SOUND_WAIT, 0.0, "provisional", &stop), 0);
	assert_int_equal(reading(&scene, SOUND_IN_BAND, 0.0, "settled", &stop), 1);
	assert_close(stop.rate_g_per_s, 12.0, 1e-9);
	/* Twenty readings at 12 g/s; of the first, what came after the cue. */
	assert_within(stop.poured_g, 12.0 * (19 * 0.0125 + 0.0085), 1e-9);
	assert_false(stop.knocked || stop.held);
	/* Once. */
	assert_int_equal(reading(&scene, SOUND_IN_BAND, 0.0, "settled", &stop), 0);
}

static void a_knocked_or_held_stop_says_so_and_one_without_end_is_dropped(void **state)
{
	struct reaction_stop stop;
	struct stop_scene scene;

	(void)state;
	begin_stop(&scene);
	reading(&scene, SOUND_TIP_BACK, -20.0, "unsettled", &stop);
	assert_int_equal(reading(&scene, SOUND_IN_BAND, 0.0, "settled", &stop), 1);
	assert_true(stop.knocked);
	begin_stop(&scene);
	assert_int_equal(reading(&scene, SOUND_HELD, 0.0, "unsettled", &stop), 1);
	assert_true(stop.held);
	begin_stop(&scene);
	scene.in.t_us += 11000000;
	assert_int_equal(reading(&scene, SOUND_WAIT, 0.0, "settled", &stop), 0);
	/* No cue, no stop. */
	begin_stop(&scene);
	reaction_watch_init(&scene.watch);
	assert_int_equal(reading(&scene, SOUND_WAIT, 0.0, "settled", &stop), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(what_is_not_known_yet_is_the_usual_reaction),
	        cmocka_unit_test(a_person_of_230_or_400_ms_is_found_within_ten_stops),
	        cmocka_unit_test(it_stays_between_150_and_600_ms),
	        cmocka_unit_test(person_component_and_container_are_kept_apart),
	        cmocka_unit_test(knocks_holds_and_what_is_no_reaction_are_left_out),
	        cmocka_unit_test(one_late_stop_does_not_make_a_slow_person),
	        cmocka_unit_test(one_press_forgets_a_person_and_nobody_else),
	        cmocka_unit_test(it_is_kept_as_text_and_read_back),
	        cmocka_unit_test(a_damaged_line_is_left_out_and_named),
	        cmocka_unit_test(a_full_table_makes_room_by_the_longest_unused),
	        cmocka_unit_test(a_stop_is_measured_from_the_cue_to_rest),
	        cmocka_unit_test(a_knocked_or_held_stop_says_so_and_one_without_end_is_dropped),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
