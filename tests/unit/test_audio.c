/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "display/touch/audio.h"
#include "tests/support/listen.h"

/* The device itself, recorded by SDL's own disk driver: what it writes is what a
 * loudspeaker would have got. All that is asserted is counted in samples. */

#define RATE    48000.0
#define MOST    (20 * 48000)
#define NOTES   64
#define AUDIBLE 0.002

static float samples[MOST];
static char path[] = "/tmp/ambo-audio-XXXXXX";

static void record_to_file(void)
{
	int fd = mkstemp(path);

	assert_true(fd >= 0);
	close(fd);
	setenv("SDL_AUDIODRIVER", "disk", 1);
	setenv("SDL_DISKAUDIOFILE", path, 1);
}

static size_t recorded(void)
{
	FILE *file = fopen(path, "rb");
	size_t n = file ? fread(samples, sizeof *samples, MOST, file) : 0;

	if (file)
		fclose(file);
	unlink(path);
	memcpy(path + sizeof path - 7, "XXXXXX", 6);
	return n;
}

/* Until so much has been recorded since before, not for so long by the clock: a busy
 * machine records more slowly. 60 s of patience. */
static void hold(struct audio *audio, const struct cues_out *out, double seconds)
{
	struct stat status;
	off_t enough;

	assert_int_equal(stat(path, &status), 0);
	enough = status.st_size + (off_t)(seconds * RATE) * (off_t)sizeof *samples;
	for (int i = 0; i < 6000 && status.st_size < enough; i++) {
		audio_play(audio, out);
		nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
		assert_int_equal(stat(path, &status), 0);
	}
}

static void change(struct cues_out *out, enum sound sound)
{
	out->sound = sound;
	out->since_us++;
}

static double pitch(const struct heard *note)
{
	return listen_pitch(samples + note->begin, note->end - note->begin, RATE, 450.0, 1250.0);
}

static void a_charge_is_recorded_beat_by_beat_through_the_device(void **state)
{
	struct cues_out out = {.voice = VOICE_A, .left = 1.0, .level = 1.0};
	char sentence[AUDIO_SENTENCE_MAX] = "";
	struct heard note[NOTES];
	struct audio *audio;
	size_t n, found, i = 0, beats = 0;

	(void)state;
	record_to_file();
	assert_int_equal(audio_new(&audio, sentence), 0);
	assert_true(audio_there(audio));
	assert_true(audio_delay_s(audio) > 0.0 && audio_delay_s(audio) < 0.1);
	change(&out, SOUND_PULSE);
	hold(audio, &out, 4.0);
	change(&out, SOUND_TIP_BACK);
	out.left = 0.0;
	hold(audio, &out, 0.9);
	change(&out, SOUND_IN_BAND);
	hold(audio, &out, 2.0);
	audio_free(audio);

	n = recorded();
	assert_true(n > (size_t)(4.0 * RATE));
	found = listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES);
	/* The pulse: 660 Hz, 57600 samples from beat to beat to a fiftieth of a
	 * millisecond, however the thread was scheduled. */
	for (; i < found && fabs(pitch(&note[i]) - 660.0) < 12.0; i++, beats++)
		if (i > 1)
			assert_within((double)(note[i].begin - note[i - 1].begin), 57600.0, 1.0);
	assert_in_range(beats, 3, 6);
	/* Then the drop, then two notes, and nothing after them. */
	assert_int_equal(found, beats + 3);
	assert_within(pitch(&note[i]), 520.0, 12.0);
	assert_within(pitch(&note[i + 1]), 784.0, 12.0);
	assert_within(pitch(&note[i + 2]), 988.0, 12.0);
	assert_within((double)(note[i + 2].begin - note[i + 1].begin), 0.28 * RATE, 60.0);
	assert_true(listen_share(samples, 2 * 57600, RATE, 500.0, 1500.0) > 0.8);
}

static void b_and_the_test_tone_come_through_the_device_too(void **state)
{
	struct cues_out out = {.voice = VOICE_B, .left = 1.0, .level = 0.5};
	char sentence[AUDIO_SENTENCE_MAX] = "";
	struct heard note[NOTES];
	struct audio *audio;
	size_t n, found;

	(void)state;
	record_to_file();
	assert_int_equal(audio_new(&audio, sentence), 0);
	cues_test(1, 1.0, &out);
	hold(audio, &out, 1.3);
	out.voice = VOICE_B;
	change(&out, SOUND_PULSE);
	hold(audio, &out, 1.0);
	audio_free(audio);
	n = recorded();
	found = listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES);
	assert_true(found >= 4);
	assert_within(pitch(&note[0]), 600.0, 12.0);
	assert_within(pitch(&note[1]), 900.0, 12.0);
	/* B beats twice, 130 ms apart. */
	assert_within((double)(note[3].begin - note[2].begin), 0.13 * RATE, 2.0);
	assert_within(pitch(&note[2]), 660.0, 16.0);
}

static void a_missing_device_is_one_sentence_and_it_runs_on(void **state)
{
	struct cues_out out = {.sound = SOUND_PULSE, .level = 1.0};
	char sentence[AUDIO_SENTENCE_MAX] = "";
	struct audio *audio = NULL;

	(void)state;
	setenv("SDL_AUDIODRIVER", "no-such-driver", 1);
	assert_int_equal(audio_new(&audio, sentence), -ENODEV);
	assert_non_null(audio);
	assert_non_null(strstr(sentence, "sound: no device"));
	assert_null(strchr(sentence, '\n'));
	audio_play(audio, &out);
	assert_false(audio_there(audio));
	assert_close(audio_delay_s(audio), 0.0, 0.0);
	audio_free(audio);
	/* Nor does one that could not be had at all. */
	audio_play(NULL, &out);
	assert_false(audio_there(NULL));
	audio_free(NULL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_charge_is_recorded_beat_by_beat_through_the_device),
	        cmocka_unit_test(b_and_the_test_tone_come_through_the_device_too),
	        cmocka_unit_test(a_missing_device_is_one_sentence_and_it_runs_on),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
