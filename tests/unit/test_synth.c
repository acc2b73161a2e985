/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "display/touch/synth.h"
#include "tests/support/listen.h"
#include "tests/support/random.h"

/* What comes out of the synthesiser, by listening to its samples alone. Limits of the
 * ear: 500..1500 Hz is what small speakers and old ears have in common (common practice,
 * no source). */

#define RATE      48000.0
#define ROOM      (60 * 48000)
#define LONGEST_S 8.0
#define AUDIBLE   0.004 /* of full scale */
#define NOTES_MAX 64

static float samples[ROOM];

static const enum sound heard_sounds[] = {
        SOUND_PULSE,    SOUND_NEAR, SOUND_TIP_BACK, SOUND_WAIT,   SOUND_IN_BAND,
        SOUND_TOO_MUCH, SOUND_HELD, SOUND_SILENT,   SOUND_HAZARD, SOUND_TEST,
};
#define N_SOUNDS (sizeof heard_sounds / sizeof *heard_sounds)

static struct cues_out out_of(enum sound sound, enum voice voice, double left)
{
	return (struct cues_out){
	        .sound = sound, .voice = voice, .since_us = sound, .left = left, .level = 1.0};
}

/* Renders as a display does: in small pieces, renewed before each. */
static void play_on(struct synth *synth, const struct cues_out *out, float *at, double seconds)
{
	size_t n = (size_t)llround(seconds * RATE), done = 0;

	while (done < n) {
		size_t piece = n - done < 480 ? n - done : 480;

		synth_set(synth, out);
		synth_render(synth, at + done, piece);
		done += piece;
	}
}

static size_t play(enum sound sound, enum voice voice, double left, double seconds)
{
	struct cues_out out = out_of(sound, voice, left);
	struct synth synth;

	synth_init(&synth, RATE);
	play_on(&synth, &out, samples, seconds);
	return (size_t)llround(seconds * RATE);
}

static double ms(size_t sample)
{
	return (double)sample * 1e3 / RATE;
}

static void expect_notes(enum sound sound, enum voice voice, double seconds, size_t count,
                         const double *at_ms, const double *hz)
{
	struct heard note[NOTES_MAX];
	size_t n = play(sound, voice, 0.0, seconds);
	size_t found = listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES_MAX);

	if (found != count)
		fail_msg("%s: %zu notes rather than %zu", sound_name(sound), found, count);
	for (size_t i = 0; i < count; i++) {
		assert_within(ms(note[i].begin), at_ms[i], 4.0);
		assert_within(listen_pitch(samples + note[i].begin, note[i].end - note[i].begin,
		                           RATE, 450.0, 1250.0),
		              hz[i], 12.0);
	}
}

static void every_sound_has_its_own_notes_at_their_times(void **state)
{
	(void)state;
	expect_notes(SOUND_PULSE, VOICE_A, 3.0, 3, (double[]){0, 1200, 2400},
	             (double[]){660, 660, 660});
	expect_notes(SOUND_NEAR, VOICE_A, 1.5, 3, (double[]){0, 600, 1200},
	             (double[]){990, 990, 990});
	expect_notes(SOUND_TIP_BACK, VOICE_A, 2.0, 2, (double[]){0, 1300}, (double[]){520, 520});
	expect_notes(SOUND_WAIT, VOICE_A, 3.0, 2, (double[]){450, 1750}, (double[]){520, 520});
	expect_notes(SOUND_IN_BAND, VOICE_A, LONGEST_S, 2, (double[]){0, 280},
	             (double[]){784, 988});
	expect_notes(SOUND_HELD, VOICE_A, 4.9, 6, (double[]){0, 250, 500, 4000, 4250, 4500},
	             (double[]){880, 660, 880, 880, 660, 880});
	expect_notes(SOUND_SILENT, VOICE_A, 2.4, 5, (double[]){0, 110, 220, 330, 440},
	             (double[]){1180, 1180, 1180, 1180, 1180});
	expect_notes(SOUND_HAZARD, VOICE_A, 2.6, 8,
	             (double[]){0, 250, 500, 750, 1600, 1850, 2100, 2350},
	             (double[]){840, 560, 840, 560, 840, 560, 840, 560});
	expect_notes(SOUND_TEST, VOICE_A, LONGEST_S, 2, (double[]){0, 400}, (double[]){600, 900});
	assert_int_equal(play(SOUND_NONE, VOICE_A, 1.0, 1.0), (size_t)RATE);
	assert_close(listen_step(samples, (size_t)RATE), 0.0, 0.0);
}

static void the_hazard_repeats_as_long_as_it_stands(void **state)
{
	struct heard note[NOTES_MAX];
	size_t n = play(SOUND_HAZARD, VOICE_B, 1.0, 16.0);

	(void)state;
	assert_int_equal(listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES_MAX), 40);
}

static void too_much_is_low_and_rough(void **state)
{
	size_t n = (size_t)(0.45 * RATE);
	double carrier, sides, smooth;

	(void)state;
	play(SOUND_TOO_MUCH, VOICE_A, 1.0, 1.0);
	assert_within(listen_pitch(samples, n, RATE, 450.0, 1250.0), 575.0, 12.0);
	/* Beats 70 times a second: side bands 70 Hz on both sides, half as large. */
	carrier = listen_power(samples, n, RATE, 575.0);
	sides = listen_power(samples, n, RATE, 505.0) + listen_power(samples, n, RATE, 645.0);
	assert_true(sides > 0.3 * carrier);
	play(SOUND_HELD, VOICE_A, 1.0, 1.0);
	n = (size_t)(0.2 * RATE);
	smooth = listen_power(samples, n, RATE, 810.0) + listen_power(samples, n, RATE, 950.0);
	assert_true(smooth < 0.02 * listen_power(samples, n, RATE, 880.0));
}

/* First beat of a pulse: how many notes it has, and how strong its harmonics are. */
static size_t beat_of(enum voice voice, double ret_harmonic[4])
{
	struct heard note[NOTES_MAX];
	size_t n = play(SOUND_PULSE, voice, 1.0, 1.0), found;
	double hz = 660.0;

	found = listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES_MAX);
	for (int k = 1; k <= 3; k++)
		ret_harmonic[k] = listen_power(samples + note[0].begin, note[0].end - note[0].begin,
		                               RATE, hz * k);
	return found;
}

static void a_and_b_differ_in_rhythm_and_in_timbre_at_the_same_pitch(void **state)
{
	double a[4], b[4], other[4];

	(void)state;
	assert_int_equal(beat_of(VOICE_A, a), 1);
	assert_int_equal(beat_of(VOICE_B, b), 2);
	assert_int_equal(beat_of(VOICE_OTHER, other), 3);
	assert_true(a[2] < 0.01 * a[1] && a[3] > 0.05 * a[1]);
	assert_true(b[2] > 0.12 * b[1]);
	assert_true(other[2] < 0.05 * other[1] && other[3] < 0.01 * other[1]);
}

static void four_fifths_of_every_sound_lie_between_500_and_1500_hz(void **state)
{
	double least = 1.0;

	(void)state;
	for (size_t i = 0; i < N_SOUNDS; i++)
		for (int voice = 0; voice < VOICE_COUNT; voice++)
			for (double left = 0.0; left <= 1.0; left += 0.5) {
				size_t n = play(heard_sounds[i], (enum voice)voice, left, 0.65);
				double share;

				/* Of all others the pitch stays. */
				if (left < 1.0 && heard_sounds[i] != SOUND_NEAR)
					continue;
				share = listen_share(samples, n, RATE, 500.0, 1500.0);
				least = fmin(least, share);
				if (!(share > 0.8))
					fail_msg("%s, voice %d, left %g: only %.3f",
					         sound_name(heard_sounds[i]), voice, left, share);
			}
	print_message("least share of energy within 500..1500 Hz: %.3f\n", least);
}

/* What the steepest part of a sound's own waves makes between two samples. */
static double steepest(const struct score *score)
{
	double most = 0.0;

	for (uint32_t i = 0; i < score->n; i++)
		most = fmax(most, score->note[i].level * 2.0 * 3.14159265358979 *
		                          score->note[i].hz / RATE);
	return 1.75 * most; /* the harmonics of the brightest timbre: at most 1.7 */
}

static void no_sound_clicks_in_itself_or_when_another_cuts_it_off(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_SOUNDS; i++)
		for (size_t k = 0; k < N_SOUNDS; k++)
			for (double cut_s = 0.003; cut_s < 0.1; cut_s += 0.0097) {
				struct cues_out first = out_of(heard_sounds[i], VOICE_B, 0.0);
				struct cues_out second = out_of(heard_sounds[k], VOICE_A, 0.0);
				struct score one, two;
				struct synth synth;
				double step;

				score_of(first.sound, first.voice, 0.0, &one);
				score_of(second.sound, second.voice, 0.0, &two);
				synth_init(&synth, RATE);
				play_on(&synth, &first, samples, cut_s);
				play_on(&synth, &second, samples + (size_t)llround(cut_s * RATE),
				        0.15);
				step = listen_step(samples, (size_t)((cut_s + 0.15) * RATE));
				if (step > steepest(&one) + steepest(&two))
					fail_msg("%s cut off by %s after %g ms: a step of %g",
					         sound_name(first.sound), sound_name(second.sound),
					         cut_s * 1e3, step);
			}
}

static void the_dial_and_the_quiet_mode_turn_softly(void **state)
{
	struct score score;
	struct synth synth;
	size_t half = (size_t)(0.1 * RATE);

	(void)state;
	score_of(SOUND_HAZARD, VOICE_A, 1.0, &score);
	for (double cut_s = 0.05; cut_s < 0.06; cut_s += 0.0007) {
		struct cues_out out = out_of(SOUND_HAZARD, VOICE_A, 1.0);
		size_t cut = (size_t)llround(cut_s * RATE);

		synth_init(&synth, RATE);
		play_on(&synth, &out, samples, cut_s);
		out.level = 0.0;
		play_on(&synth, &out, samples + cut, 0.2 - (double)cut / RATE);
		assert_true(listen_step(samples, 2 * half) < steepest(&score));
	}
	/* Off is off. */
	assert_close(listen_step(samples + half, half), 0.0, 0.0);
	assert_close(synth_gain(0.0), 0.0, 0.0);
	assert_close(synth_gain(1.0), 1.0, 1e-12);
	assert_close(synth_gain(0.5), 0.1, 1e-12); /* 20 dB down */
	assert_true(synth_gain(0.01) > 0.0);
}

static void beats_fall_on_their_sample_however_the_buffers_are_cut(void **state)
{
	static float pieces[2 * 57600];
	struct cues_out out = out_of(SOUND_PULSE, VOICE_B, 1.0);
	static const size_t piece[] = {1, 17, 480, 512, 999};
	struct synth synth;
	size_t n = 2 * 57600, done = 0;

	(void)state;
	play(SOUND_PULSE, VOICE_B, 1.0, 2.4);
	/* 1.2 s are 57600 samples; the first beat, while the dial comes up, apart. */
	assert_memory_equal(samples + 600, samples + 600 + 57600, (57600 - 600) * sizeof *samples);
	synth_init(&synth, RATE);
	for (size_t i = 0; done < n; i = (i + 1) % 5) {
		size_t take = n - done < piece[i] ? n - done : piece[i];

		synth_set(&synth, &out);
		synth_render(&synth, pieces + done, take);
		done += take;
	}
	assert_memory_equal(pieces, samples, n * sizeof *samples);
}

/* A charge from far to the drop: what is left falls steadily. Returns the samples. */
static size_t approach(enum voice voice, double near_s)
{
	struct cues_out out = out_of(SOUND_PULSE, voice, 1.0);
	struct synth synth;
	size_t done;

	synth_init(&synth, RATE);
	play_on(&synth, &out, samples, 5.3);
	done = (size_t)llround(5.3 * RATE);
	out.sound = SOUND_NEAR;
	out.since_us = 1;
	for (double t = 0.0; t < near_s; t += 0.01) {
		out.left = 1.0 - t / near_s;
		play_on(&synth, &out, samples + done, 0.01);
		done += 480;
	}
	return done;
}

static void the_train_has_two_tempos_and_never_closes_into_a_solid_tone(void **state)
{
	struct heard note[NOTES_MAX];

	(void)state;
	for (double near_s = 3.0; near_s <= 12.0; near_s += 4.5) {
		size_t n = approach(VOICE_A, near_s), sounding = 0, near_from = 0;
		size_t found = listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES_MAX);
		double pitch = 0.0;

		assert_true(found >= 8);
		for (size_t i = 1; i < found; i++) {
			double apart_ms = ms(note[i].begin - note[i - 1].begin);

			if (near_from == 0 && apart_ms < 1100.0)
				near_from = i;
			/* One step of tempo at the edge of the zone, then none any more; the
			 * beat at that edge may come anywhere between the two. */
			if (near_from == 0)
				assert_within(apart_ms, 1200.0, 2.0);
			else if (i == near_from)
				assert_in_range((uintmax_t)apart_ms, 599, 1200);
			else
				assert_within(apart_ms, 600.0, 2.0);
		}
		assert_in_range(near_from, 3, 6);
		for (size_t i = near_from; i < found; i++) {
			size_t length = note[i].end - note[i].begin;
			double hz =
			        listen_pitch(samples + note[i].begin, length, RATE, 450.0, 1250.0);

			assert_true(hz >= pitch); /* climbs with what is gone */
			pitch = hz;
			sounding += length;
		}
		assert_true(pitch > 900.0);
		/* Much more silence than sound to the very end. */
		assert_true((double)sounding < 0.25 * (double)(n - note[near_from].begin));
	}
}

static void tip_back_ends_the_train_at_once_with_a_drop_of_half_an_octave_or_more(void **state)
{
	struct heard note[NOTES_MAX];

	(void)state;
	for (int voice = 0; voice < VOICE_COUNT; voice++)
		for (double near_s = 2.0; near_s < 3.2; near_s += 0.23) {
			size_t n = approach((enum voice)voice, near_s), found, length;
			struct cues_out out = out_of(SOUND_TIP_BACK, (enum voice)voice, 0.0);
			struct synth synth;
			double last_hz, drop_hz;

			found = listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES_MAX);
			length = note[found - 1].end - note[found - 1].begin;
			last_hz = listen_pitch(samples + note[found - 1].begin, length, RATE, 450.0,
			                       1250.0);
			/* Again, with the drop in the middle of whatever sounds. */
			synth_init(&synth, RATE);
			approach((enum voice)voice, near_s);
			{
				struct cues_out near = out_of(SOUND_NEAR, (enum voice)voice, 0.2);

				play_on(&synth, &near, samples, 0.65);
			}
			play_on(&synth, &out, samples, 1.25);
			found = listen_notes(samples, (size_t)(1.25 * RATE), RATE, AUDIBLE, 0.02,
			                     note, NOTES_MAX);
			assert_int_equal(found, 1); /* the drop and no pulse after it */
			assert_true(ms(note[0].begin) < 4.0);
			drop_hz = listen_pitch(samples + (size_t)(0.02 * RATE),
			                       (size_t)(0.08 * RATE), RATE, 450.0, 1250.0);
			assert_true(12.0 * log2(last_hz / drop_hz) > 6.0); /* semitones */
		}
}

static void a_live_charge_is_never_silent_for_longer_than_1_5_s(void **state)
{
	static const enum sound live[] = {SOUND_PULSE, SOUND_NEAR, SOUND_TIP_BACK, SOUND_WAIT};
	struct heard note[4 * NOTES_MAX];
	double longest_ms = 0.0;

	(void)state;
	for (uint64_t seed = 1; seed <= 10; seed++) {
		struct random random = {seed};
		struct synth synth;
		size_t done = 0, found, n = (size_t)(30.0 * RATE);
		int64_t since = 0;

		synth_init(&synth, RATE);
		while (done < n) {
			/* As cues go: wait only after a tip-back. */
			int i = (int)random_between(&random, 0.0, 3.0);
			struct cues_out out = out_of(live[i], VOICE_A, random_uniform(&random));
			double seconds = random_between(&random, 0.55, 3.0);

			out.since_us = ++since;
			seconds = fmin(seconds, (double)(n - done) / RATE);
			play_on(&synth, &out, samples + done, seconds);
			done += (size_t)llround(seconds * RATE);
			if (i == 2 && done + (size_t)(4.0 * RATE) < n) {
				out.sound = SOUND_WAIT;
				play_on(&synth, &out, samples + done, 3.7);
				done += (size_t)llround(3.7 * RATE);
			}
		}
		found = listen_notes(samples, n, RATE, AUDIBLE, 0.005, note, 4 * NOTES_MAX);
		assert_in_range(found, 20, 4 * NOTES_MAX);
		for (size_t i = 1; i < found; i++)
			longest_ms = fmax(longest_ms, ms(note[i].begin - note[i - 1].end));
		longest_ms = fmax(longest_ms, ms(n - note[found - 1].end));
	}
	print_message("longest silence in a live charge: %.0f ms\n", longest_ms);
	assert_true(longest_ms < 1500.0);
}

static void a_display_that_hangs_sounds_like_a_silent_scale_not_like_a_pour(void **state)
{
	struct heard note[NOTES_MAX];
	struct cues_out out = out_of(SOUND_NEAR, VOICE_A, 0.5);
	size_t n = (size_t)(4.5 * RATE), found, low = 0;
	struct synth synth;

	(void)state;
	synth_init(&synth, RATE);
	synth_set(&synth, &out);
	synth_render(&synth, samples, n); /* nobody renews it */
	found = listen_notes(samples, n, RATE, AUDIBLE, 0.02, note, NOTES_MAX);
	assert_true(found > 8);
	for (size_t i = 0; i < found; i++) {
		double hz = listen_pitch(samples + note[i].begin, note[i].end - note[i].begin, RATE,
		                         450.0, 1250.0);

		low += hz < 1000.0;
		if (note[i].begin >= (size_t)(1.5 * RATE))
			assert_within(hz, 1180.0, 12.0);
	}
	assert_int_equal(low, 3); /* beats at 0, 0.6 and 1.2 s */
	/* Held may stand long: it has nothing to renew. */
	synth_init(&synth, RATE);
	out = out_of(SOUND_HELD, VOICE_A, 1.0);
	synth_set(&synth, &out);
	synth_render(&synth, samples, (size_t)(6.0 * RATE));
	assert_int_equal(
	        listen_notes(samples, (size_t)(6.0 * RATE), RATE, AUDIBLE, 0.01, note, NOTES_MAX),
	        6);
}

static void nothing_is_ever_clipped(void **state)
{
	struct random random = {7};
	struct synth synth;
	double peak = 0.0;

	(void)state;
	synth_init(&synth, RATE);
	for (int64_t i = 0; i < 2000; i++) {
		struct cues_out out =
		        out_of(heard_sounds[(size_t)random_between(&random, 0.0, N_SOUNDS)],
		               (enum voice)random_between(&random, 0.0, VOICE_COUNT),
		               random_uniform(&random));

		out.since_us = i;
		play_on(&synth, &out, samples, 0.001 + 0.05 * random_uniform(&random));
		for (size_t k = 0; k < 48; k++)
			peak = fmax(peak, fabs((double)samples[k]));
	}
	assert_true(peak > 0.3 && peak < 1.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(every_sound_has_its_own_notes_at_their_times),
	        cmocka_unit_test(the_hazard_repeats_as_long_as_it_stands),
	        cmocka_unit_test(too_much_is_low_and_rough),
	        cmocka_unit_test(a_and_b_differ_in_rhythm_and_in_timbre_at_the_same_pitch),
	        cmocka_unit_test(four_fifths_of_every_sound_lie_between_500_and_1500_hz),
	        cmocka_unit_test(no_sound_clicks_in_itself_or_when_another_cuts_it_off),
	        cmocka_unit_test(the_dial_and_the_quiet_mode_turn_softly),
	        cmocka_unit_test(beats_fall_on_their_sample_however_the_buffers_are_cut),
	        cmocka_unit_test(the_train_has_two_tempos_and_never_closes_into_a_solid_tone),
	        cmocka_unit_test(
	                tip_back_ends_the_train_at_once_with_a_drop_of_half_an_octave_or_more),
	        cmocka_unit_test(a_live_charge_is_never_silent_for_longer_than_1_5_s),
	        cmocka_unit_test(a_display_that_hangs_sounds_like_a_silent_scale_not_like_a_pour),
	        cmocka_unit_test(nothing_is_ever_clipped),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
