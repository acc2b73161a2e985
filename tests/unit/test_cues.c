/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "display/touch/score.h"
#include "tests/support/random.h"

/* A display in front of a scripted station: the pan's truth goes in, the readings come
 * as often as said, the display looks every 10 ms. */

#define LOOK_US   10000
#define HEARD_MAX 40

struct scene {
	struct cues cues;
	struct cues_in in;
	int64_t period_us;   /* of the readings */
	int64_t read_us;     /* the last one */
	double poured_g;     /* truth */
	double rate_g_per_s; /* truth */
	bool station_tips;   /* the station leads by its own reaction */
	bool station_tipped;
	uint32_t n_heard;
	enum sound heard[HEARD_MAX]; /* in order, each change */
};

static void open_scene(struct scene *scene, const char *component, double target_g)
{
	*scene = (struct scene){.period_us = 12500, .station_tips = true, .read_us = -1000000};
	cues_init(&scene->cues);
	scene->in = (struct cues_in){
	        .t_us = 1000000,
	        .link_up = true,
	        .cue = "pour",
	        .step = "charge",
	        .component = component,
	        .state = "settled",
	        .target_g = target_g,
	        .remaining_g = target_g,
	        .rate_g_per_s = 0.0,
	        .reaction_s = 0.23,
	        .output_delay_s = 0.02,
	        .level = 0.7,
	};
}

static void read_pan(struct scene *scene)
{
	struct cues_in *in = &scene->in;
	double remaining_g = in->target_g - scene->poured_g, rate = scene->rate_g_per_s;

	in->reading_us = scene->read_us = in->t_us;
	in->remaining_g = remaining_g;
	in->rate_g_per_s = rate;
	in->state = rate > 0.0 ? "unsettled" : "provisional";
	if (scene->station_tips && rate > 0.0 &&
	    remaining_g - 0.05 <= rate * (0.23 + 0.02 + 0.125 + 0.5e-6 * (double)scene->period_us))
		scene->station_tipped = true;
	in->cue = scene->station_tipped                                 ? "tip-back"
	          : remaining_g <= fmax(0.2 * in->target_g, 3.0 * rate) ? "near"
	                                                                : "pour";
}

/* One look, as the display's loop does. */
static enum sound look(struct scene *scene)
{
	enum sound before = scene->cues.out.sound;

	cues_next(&scene->cues, &scene->in, &scene->cues);
	if (scene->n_heard == 0 || scene->cues.out.sound != before) {
		assert_true(scene->n_heard < HEARD_MAX);
		scene->heard[scene->n_heard++] = scene->cues.out.sound;
	}
	return scene->cues.out.sound;
}

static void pass(struct scene *scene)
{
	scene->in.t_us += LOOK_US;
	scene->poured_g += scene->rate_g_per_s * LOOK_US * 1e-6;
	if (scene->in.t_us - scene->read_us >= scene->period_us)
		read_pan(scene);
}

static void go_on(struct scene *scene, double seconds)
{
	for (int i = 0; i < (int)lround(seconds * 1e6 / LOOK_US); i++) {
		pass(scene);
		look(scene);
	}
}

/* Says so and looks, without time passing. */
static enum sound say(struct scene *scene, const char *state, const char *cue)
{
	scene->in.state = state;
	scene->in.cue = cue;
	return look(scene);
}

/* Pours until the drop. Returns what was left then, in truth; NAN: it never came. */
static double pour_to_tip_back(struct scene *scene, double rate_g_per_s)
{
	scene->rate_g_per_s = rate_g_per_s;
	for (int i = 0; i < 6000; i++) {
		pass(scene);
		if (look(scene) == SOUND_TIP_BACK)
			return scene->in.target_g - scene->poured_g;
	}
	return (double)NAN;
}

static void expect_heard(const struct scene *scene, uint32_t n, const enum sound *sounds)
{
	for (uint32_t i = 0; i < n && i < scene->n_heard; i++)
		if (scene->heard[i] != sounds[i])
			fail_msg("sound %u is %s rather than %s", i, sound_name(scene->heard[i]),
			         sound_name(sounds[i]));
	assert_int_equal(scene->n_heard, n);
}

static void a_whole_charge_sounds_in_its_order_each_once(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	look(&scene);
	assert_within(pour_to_tip_back(&scene, 12.0), 12.0 * 0.375 + 0.05, 0.2);
	go_on(&scene, 0.3);
	scene.rate_g_per_s = 0.0; /* stopped */
	go_on(&scene, 1.0);
	say(&scene, "settled", "in-band");
	expect_heard(
	        &scene, 5,
	        (enum sound[]){SOUND_PULSE, SOUND_NEAR, SOUND_TIP_BACK, SOUND_WAIT, SOUND_IN_BAND});
}

static void too_much_and_more_of_it_follow_a_stop_too(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "b", 100.0);
	pour_to_tip_back(&scene, 12.0);
	scene.rate_g_per_s = 0.0;
	go_on(&scene, 1.0);
	/* At rest and short of it: the pulse again, near its end. */
	scene.station_tipped = false;
	scene.n_heard = 0;
	say(&scene, "settled", "near");
	say(&scene, "settled", "too-much");
	assert_int_equal(scene.cues.out.voice, VOICE_B);
	expect_heard(&scene, 2, (enum sound[]){SOUND_NEAR, SOUND_TOO_MUCH});
}

static void a_live_charge_always_has_a_sound_and_nothing_beeps_for_stable(void **state)
{
	static const char *const live[] = {"pour", "near", "tip-back"};
	static const char *const states[] = {"settled", "provisional", "unsettled", "fault", ""};
	struct random random = {3};
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	for (int i = 0; i < 20000; i++) {
		struct cues_in *in = &scene.in;

		in->t_us += (int64_t)random_between(&random, 0.0, 3e6);
		in->reading_us = in->t_us - (int64_t)random_between(&random, -1e5, 3e6);
		in->cue = live[(size_t)random_between(&random, 0.0, 3.0)];
		in->state = states[(size_t)random_between(&random, 0.0, 5.0)];
		in->remaining_g = random_uniform(&random) < 0.1
		                          ? (double)NAN
		                          : random_between(&random, -20.0, 120.0);
		in->rate_g_per_s = random_uniform(&random) < 0.1
		                           ? (double)NAN
		                           : random_between(&random, -60.0, 60.0);
		in->link_up = random_uniform(&random) < 0.9;
		cues_next(&scene.cues, in, &scene.cues);
		assert_true(scene.cues.out.sound != SOUND_NONE);
		assert_true(scene.cues.out.level > 0.0);
		assert_true(scene.cues.out.left >= 0.0 && scene.cues.out.left <= 1.0);
	}
	open_scene(&scene, "a", 100.0);
	assert_int_equal(say(&scene, "settled", "none"), SOUND_NONE);
	assert_int_equal(say(&scene, "unsettled", "none"), SOUND_NONE);
	assert_int_equal(say(&scene, "settled", "none"), SOUND_NONE);
	assert_int_equal(scene.n_heard, 1);
}

static void tip_back_leads_by_the_learnt_reaction(void **state)
{
	static const double reaction_s[] = {0.15, 0.23, 0.35, 0.60};
	static const double rates[] = {4.0, 12.0, 20.0};

	(void)state;
	for (size_t i = 0; i < 4; i++)
		for (size_t k = 0; k < 3; k++) {
			struct scene scene;
			double left_g;

			open_scene(&scene, "a", 100.0);
			scene.in.reaction_s = reaction_s[i];
			left_g = pour_to_tip_back(&scene, rates[k]);
			/* Within one look, and what the station's half period makes. */
			assert_within(left_g, rates[k] * (reaction_s[i] + 0.02 + 0.125) + 0.05,
			              rates[k] * 0.0105);
		}
}

static void between_two_readings_the_flow_is_carried_on(void **state)
{
	(void)state;
	for (int64_t period_us = 20000; period_us <= 100000; period_us += 40000) {
		struct scene scene;

		open_scene(&scene, "a", 100.0);
		scene.period_us = period_us;
		scene.station_tips = false;
		/* As exact with ten readings a second as with fifty. */
		assert_within(pour_to_tip_back(&scene, 12.0), 12.0 * 0.375 + 0.05, 12.0 * 0.0105);
	}
}

static void without_a_rate_the_stations_word_is_taken_at_once(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	scene.in.reaction_s = 0.15;
	scene.in.rate_g_per_s = scene.in.remaining_g = (double)NAN;
	scene.in.reading_us = scene.in.t_us;
	assert_int_equal(say(&scene, "unsettled", "near"), SOUND_NEAR);
	assert_int_equal(say(&scene, "unsettled", "tip-back"), SOUND_TIP_BACK);
	/* Nor is it waited for when the rate is old. */
	open_scene(&scene, "a", 100.0);
	scene.in.rate_g_per_s = 12.0;
	scene.in.remaining_g = 30.0;
	scene.in.reading_us = scene.in.t_us - 260000;
	assert_int_equal(say(&scene, "unsettled", "tip-back"), SOUND_TIP_BACK);
}

static void the_stations_word_is_never_put_off_for_longer_than_600_ms(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	scene.in.rate_g_per_s = 12.0;
	scene.in.remaining_g = 30.0; /* by this the display would not */
	scene.in.reading_us = scene.in.t_us;
	assert_int_equal(say(&scene, "unsettled", "tip-back"), SOUND_NEAR);
	scene.in.t_us = scene.in.reading_us += 599000;
	assert_int_equal(look(&scene), SOUND_NEAR);
	scene.in.t_us = scene.in.reading_us += 2000;
	assert_int_equal(look(&scene), SOUND_TIP_BACK);
}

/* At 1 g/s with 1 g left, then one reading of another rate: does it tip back? */
static enum sound after_a_reading_of(double rate_g_per_s)
{
	struct scene scene;

	open_scene(&scene, "a", 100.0);
	scene.in.remaining_g = 1.2;
	scene.in.rate_g_per_s = 1.0;
	for (int i = 0; i < 40; i++) {
		scene.in.reading_us = scene.in.t_us += 12500;
		scene.in.remaining_g -= 0.0125 * 0.4;
		assert_int_equal(say(&scene, "unsettled", "near"), SOUND_NEAR);
	}
	scene.in.rate_g_per_s = rate_g_per_s;
	scene.in.reading_us = scene.in.t_us += 12500;
	return say(&scene, "unsettled", "near");
}

static void one_noisy_rate_tips_nothing_but_one_who_speeds_up_is_believed(void **state)
{
	(void)state;
	/* 1 g/s needs 0.43 g, 2.8 g/s would need 1.1 g of the 1.0 g left. */
	assert_int_equal(after_a_reading_of(2.8), SOUND_NEAR);
	assert_int_equal(after_a_reading_of(6.0), SOUND_TIP_BACK);
}

static void the_drop_comes_again_while_it_flows_on_and_then_waits_for_rest(void **state)
{
	struct scene scene;
	int64_t since_us;

	(void)state;
	open_scene(&scene, "a", 100.0);
	pour_to_tip_back(&scene, 12.0);
	since_us = scene.cues.out.since_us;
	go_on(&scene, 3.0); /* not heard */
	assert_int_equal(scene.cues.out.sound, SOUND_TIP_BACK);
	assert_int_equal(scene.cues.out.since_us, since_us); /* its score repeats it */
	scene.rate_g_per_s = 0.0;
	go_on(&scene, 0.2);
	assert_int_equal(scene.cues.out.sound, SOUND_WAIT);
	/* Slowing down after the drop does not bring the train back. */
	open_scene(&scene, "a", 100.0);
	pour_to_tip_back(&scene, 12.0);
	scene.rate_g_per_s = 1.0;
	go_on(&scene, 0.5);
	assert_int_equal(scene.cues.out.sound, SOUND_TIP_BACK);
}

static void the_drop_is_heard_out_by_one_who_stops_at_once(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	pour_to_tip_back(&scene, 12.0);
	scene.rate_g_per_s = 0.0;
	go_on(&scene, 0.4);
	assert_int_equal(scene.cues.out.sound, SOUND_TIP_BACK);
	go_on(&scene, 0.2);
	assert_int_equal(scene.cues.out.sound, SOUND_WAIT);
}

static void the_near_zone_is_the_larger_of_a_fifth_and_three_seconds_of_flow(void **state)
{
	static const double rate[] = {2.0, 12.0};
	static const double zone_g[] = {20.0, 36.0};

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		struct scene scene;
		double left_g = (double)NAN;

		open_scene(&scene, "a", 100.0);
		scene.rate_g_per_s = rate[i];
		for (int k = 0; k < 6000 && isnan(left_g); k++) {
			pass(&scene);
			if (look(&scene) == SOUND_NEAR)
				left_g = 100.0 - scene.poured_g;
		}
		assert_within(left_g, zone_g[i], 0.3);
		go_on(&scene, 0.5 * left_g / rate[i]);
		assert_within(scene.cues.out.left, 0.5, 0.02);
	}
}

static void slowing_down_never_lowers_the_pitch(void **state)
{
	struct scene scene;
	double least = 1.0;

	(void)state;
	open_scene(&scene, "a", 100.0);
	scene.rate_g_per_s = 12.0;
	while (scene.poured_g < 96.0) {
		if (scene.poured_g > 70.0)
			scene.rate_g_per_s = fmax(0.8, (100.0 - scene.poured_g) / 2.0);
		pass(&scene);
		look(&scene);
		assert_true(scene.cues.out.left <= least);
		least = scene.cues.out.left;
	}
	assert_true(least < 0.15);
}

static void a_touch_of_the_cup_tips_nothing(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 3.0); /* a small top-up: near from the beginning */
	scene.in.step = "top-up";
	for (int i = 0; i < 20; i++) {
		scene.in.t_us += LOOK_US;
		scene.in.reading_us = scene.in.t_us;
		scene.in.remaining_g = 2.5;
		scene.in.rate_g_per_s = i % 2 ? -20.0 : 20.0;
		assert_int_equal(say(&scene, "unsettled", "near"), SOUND_NEAR);
	}
	/* Something set down is no flow either. */
	for (int i = 0; i < 20; i++) {
		scene.in.t_us += LOOK_US;
		scene.in.reading_us = scene.in.t_us;
		scene.in.remaining_g = 2.0;
		scene.in.rate_g_per_s = 80.0;
		assert_int_equal(say(&scene, "unsettled", "near"), SOUND_NEAR);
	}
}

static void powder_is_led_by_the_station_alone(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "tint", 10.0);
	scene.station_tips = false;
	scene.rate_g_per_s = 2.0;
	go_on(&scene, 4.9);
	assert_int_equal(scene.cues.out.sound, SOUND_NEAR);
	assert_int_equal(scene.cues.out.voice, VOICE_OTHER);
	assert_int_equal(say(&scene, "unsettled", "tip-back"), SOUND_TIP_BACK);
}

static void another_charge_starts_its_pulse_anew(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	pour_to_tip_back(&scene, 12.0);
	scene.in.component = "b";
	scene.in.remaining_g = scene.in.target_g = 45.0;
	scene.in.rate_g_per_s = 0.0;
	assert_int_equal(say(&scene, "provisional", "pour"), SOUND_PULSE);
	assert_int_equal(scene.cues.out.voice, VOICE_B);
	assert_int_equal(scene.cues.out.since_us, scene.in.t_us);
}

/* One who takes the next bottle or lifts the cup at once has not heard them yet. */
static void the_two_notes_are_heard_out_unless_an_act_is_asked_for(void **state)
{
	static const struct {
		const char *cue, *step;
		enum sound at_once;
	} rows[] = {
	        {"pour", "charge", SOUND_IN_BAND},
	        {"none", "stir", SOUND_IN_BAND},
	        {"too-much", "charge", SOUND_TOO_MUCH},
	        {"held", "held", SOUND_HELD},
	        {"hazard", "stir", SOUND_HAZARD},
	};
	struct scene scene;

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		open_scene(&scene, "a", 100.0);
		scene.in.cue = "in-band";
		look(&scene);
		scene.in.t_us += 100000;
		scene.in.cue = rows[i].cue;
		scene.in.step = rows[i].step;
		scene.in.component = "b";
		scene.in.reading_us = scene.in.t_us;
		assert_int_equal(look(&scene), rows[i].at_once);
		scene.in.t_us += 750000;
		scene.in.reading_us = scene.in.t_us;
		assert_int_not_equal(look(&scene), SOUND_IN_BAND);
	}
}

/* Component and cue do not change in one message. */
static void the_two_notes_do_not_come_again_for_the_next_component(void **state)
{
	struct scene scene;
	int64_t since_us;

	(void)state;
	open_scene(&scene, "a", 100.0);
	scene.in.cue = "in-band";
	look(&scene);
	since_us = scene.cues.out.since_us;
	scene.in.t_us += 1500000;
	scene.in.component = "b";
	look(&scene);
	assert_int_equal(scene.cues.out.since_us, since_us);
	scene.in.t_us += 12500;
	scene.in.reading_us = scene.in.t_us;
	scene.in.cue = "pour";
	assert_int_equal(look(&scene), SOUND_PULSE);
	assert_int_equal(scene.cues.out.voice, VOICE_B);
}

static void held_silent_too_much_and_hazard_each_have_their_own_and_last(void **state)
{
	static const struct {
		const char *cue;
		enum sound sound;
	} row[] = {{"held", SOUND_HELD},
	           {"silent", SOUND_SILENT},
	           {"too-much", SOUND_TOO_MUCH},
	           {"hazard", SOUND_HAZARD}};
	struct score one, other;

	(void)state;
	for (size_t i = 0; i < 4; i++) {
		struct scene scene;
		int64_t since_us;

		open_scene(&scene, "a", 100.0);
		assert_int_equal(say(&scene, "settled", row[i].cue), row[i].sound);
		since_us = scene.cues.out.since_us;
		scene.in.t_us += 3600 * INT64_C(1000000);
		assert_int_equal(look(&scene), row[i].sound);
		assert_int_equal(scene.cues.out.since_us, since_us);
		score_of(row[i].sound, VOICE_A, 1.0, &one);
		assert_true(one.again_s > 0.0 && one.again_s <= 4.0); /* it is repeated */
		for (size_t k = 0; k < i; k++) {
			score_of(row[k].sound, VOICE_A, 1.0, &other);
			assert_memory_not_equal(&one, &other, sizeof one);
		}
	}
}

static void a_station_that_falls_silent_is_heard_within_two_seconds(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	scene.rate_g_per_s = 5.0;
	go_on(&scene, 1.0);
	scene.in.t_us = scene.in.reading_us + 1900000;
	assert_true(look(&scene) != SOUND_SILENT);
	scene.in.t_us = scene.in.reading_us + 2010000;
	assert_int_equal(look(&scene), SOUND_SILENT);
	/* A station that is gone from the bus: at once, where it matters. */
	scene.in.t_us = scene.in.reading_us;
	assert_true(look(&scene) != SOUND_SILENT);
	scene.in.link_up = false;
	assert_int_equal(look(&scene), SOUND_SILENT);
	scene.in.step = "top-up";
	assert_int_equal(look(&scene), SOUND_SILENT);
	scene.in.step = "stir";
	assert_int_equal(look(&scene), SOUND_NONE);
}

static void the_dial_goes_through_and_a_hazard_is_never_faint(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	scene.in.level = 0.2;
	say(&scene, "settled", "pour");
	assert_close(scene.cues.out.level, 0.2, 1e-12);
	say(&scene, "settled", "hazard");
	assert_close(scene.cues.out.level, 0.5, 1e-12);
	scene.in.level = (double)NAN;
	say(&scene, "settled", "pour");
	assert_close(scene.cues.out.level, 0.0, 0.0);
}

/* Changes from off to on within any second. */
static int most_flashes(const bool *lit, int n)
{
	int most = 0;

	for (int from = 0; from + 100 <= n; from++) {
		int flashes = 0;

		for (int i = from > 0 ? from : 1; i < from + 100; i++)
			flashes += lit[i] && !lit[i - 1];
		most = flashes > most ? flashes : most;
	}
	return most;
}

static void quiet_mode_moves_every_sound_to_lamp_edge_and_foot(void **state)
{
	static const char *const cue[] = {"pour",     "near", "tip-back", "in-band",
	                                  "too-much", "held", "silent",   "hazard"};
	static const char *const component[] = {"a", "b", "tint"};
	static bool lit[1000];

	(void)state;
	for (size_t i = 0; i < 8; i++)
		for (size_t k = 0; k < 3; k++) {
			struct scene scene;
			int shaken = 0, lighted = 0;

			open_scene(&scene, component[k], 100.0);
			scene.in.quiet = true;
			scene.in.remaining_g = cue[i][0] == 'n' ? 15.0 : 50.0;
			for (int t = 0; t < 1000; t++) {
				struct score score;

				scene.in.t_us += LOOK_US;
				scene.in.reading_us = scene.in.t_us;
				say(&scene, "provisional", cue[i]);
				assert_close(scene.cues.out.level, 0.0, 0.0);
				score_of(scene.cues.out.sound, scene.cues.out.voice,
				         scene.cues.out.left, &score);
				/* The foot feels the rhythm that the ear would hear. */
				assert_int_equal(
				        scene.cues.out.vibration,
				        score_sounds(&score, (double)(scene.in.t_us -
				                                      scene.cues.out.since_us) *
				                                     1e-6));
				assert_int_equal(scene.cues.out.lamp, scene.cues.out.edge);
				shaken += scene.cues.out.vibration;
				lighted += lit[t] = scene.cues.out.edge;
			}
			assert_true(shaken > 10 && lighted > 10);
			assert_true(most_flashes(lit, 1000) <= 3); /* WCAG 2.2, 2.3.1 */
		}
}

static void the_edge_says_it_beside_the_sound_and_the_foot_is_left_alone(void **state)
{
	struct scene scene;

	(void)state;
	open_scene(&scene, "a", 100.0);
	assert_int_equal(say(&scene, "settled", "pour"), SOUND_PULSE);
	assert_true(scene.cues.out.edge && scene.cues.out.lamp && !scene.cues.out.vibration);
}

static void a_readings_own_stamp_counts_unless_its_clock_is_another(void **state)
{
	(void)state;
	assert_int_equal(cues_reading_us(9990000, 10000000), 9990000);
	assert_int_equal(cues_reading_us(10000001, 10000000), 10000000);
	assert_int_equal(cues_reading_us(5, 10000000), 10000000);
	assert_true(cues_live("pour") && cues_live("near") && cues_live("tip-back"));
	assert_false(cues_live("in-band") || cues_live("") || cues_live(NULL));
}

static void the_test_tone_is_a_sound_of_its_own(void **state)
{
	struct cues_out out;
	struct score score;

	(void)state;
	cues_test(77, 1.5, &out);
	assert_int_equal(out.sound, SOUND_TEST);
	assert_int_equal(out.since_us, 77);
	assert_close(out.level, 1.0, 1e-12);
	score_of(out.sound, out.voice, out.left, &score);
	assert_int_equal(score.n, 2);
	assert_close(score.again_s, 0.0, 0.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_whole_charge_sounds_in_its_order_each_once),
	        cmocka_unit_test(too_much_and_more_of_it_follow_a_stop_too),
	        cmocka_unit_test(a_live_charge_always_has_a_sound_and_nothing_beeps_for_stable),
	        cmocka_unit_test(tip_back_leads_by_the_learnt_reaction),
	        cmocka_unit_test(between_two_readings_the_flow_is_carried_on),
	        cmocka_unit_test(without_a_rate_the_stations_word_is_taken_at_once),
	        cmocka_unit_test(the_stations_word_is_never_put_off_for_longer_than_600_ms),
	        cmocka_unit_test(one_noisy_rate_tips_nothing_but_one_who_speeds_up_is_believed),
	        cmocka_unit_test(the_drop_comes_again_while_it_flows_on_and_then_waits_for_rest),
	        cmocka_unit_test(the_drop_is_heard_out_by_one_who_stops_at_once),
	        cmocka_unit_test(the_near_zone_is_the_larger_of_a_fifth_and_three_seconds_of_flow),
	        cmocka_unit_test(slowing_down_never_lowers_the_pitch),
	        cmocka_unit_test(a_touch_of_the_cup_tips_nothing),
	        cmocka_unit_test(powder_is_led_by_the_station_alone),
	        cmocka_unit_test(the_two_notes_are_heard_out_unless_an_act_is_asked_for),
	        cmocka_unit_test(the_two_notes_do_not_come_again_for_the_next_component),
	        cmocka_unit_test(another_charge_starts_its_pulse_anew),
	        cmocka_unit_test(held_silent_too_much_and_hazard_each_have_their_own_and_last),
	        cmocka_unit_test(a_station_that_falls_silent_is_heard_within_two_seconds),
	        cmocka_unit_test(the_dial_goes_through_and_a_hazard_is_never_faint),
	        cmocka_unit_test(quiet_mode_moves_every_sound_to_lamp_edge_and_foot),
	        cmocka_unit_test(the_edge_says_it_beside_the_sound_and_the_foot_is_left_alone),
	        cmocka_unit_test(a_readings_own_stamp_counts_unless_its_clock_is_another),
	        cmocka_unit_test(the_test_tone_is_a_sound_of_its_own),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
