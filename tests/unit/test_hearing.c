/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <stdlib.h>
#include <string.h>

#include "display/touch/hearing.h"
#include "tests/support/display_states.h"
#include "tests/support/fake_speaker.h"

/* Sentences and cues together: nobody speaks while a person listens for the tip-back. No
 * loudspeaker is needed; the speaking program is played. */

static struct model model;
static struct ui ui;
static int64_t t_us = 1000000;

static struct hearing *hearing_here(void)
{
	char sentence[HEARING_SENTENCE_MAX];
	struct hearing *hearing = NULL;

	setenv("SDL_AUDIODRIVER", "no-such-driver", 1);
	fake_speaker_first_in_path();
	assert_int_equal(hearing_new(NULL, &hearing, sentence), 0);
	return hearing;
}

static void speak_from_now(struct hearing *hearing)
{
	char sentence[HEARING_SENTENCE_MAX];

	display_load("add-a", &model, &ui);
	ui.settings.speech = true;
	assert_int_equal(hearing_speech(hearing, &ui.settings, sentence), 0);
}

/* A reading of that state comes, with another cue where one is told. */
static enum sound follow_cue(struct hearing *hearing, const char *state, const char *cue)
{
	t_us += 12500;
	display_load(state, &model, &ui);
	ui.settings.speech = true;
	ui.settings.sound_level = 0.7;
	model.reading.t_us = (double)t_us;
	if (cue)
		model_put_text(&model, MODEL_READING, 0, "cue", cue);
	return hearing_follow(hearing, &model, &ui, t_us, t_us)->sound;
}

static enum sound follow(struct hearing *hearing, const char *state)
{
	return follow_cue(hearing, state, NULL);
}

static void no_sentence_begins_over_the_tip_back_and_none_is_lost(void **state)
{
	struct hearing *hearing = hearing_here();

	(void)state;
	speak_from_now(hearing);
	assert_int_equal(follow(hearing, "add-a"), SOUND_PULSE);
	assert_non_null(strstr(fake_speaker_log(1), "|en| "));
	/* A new sentence stands on the screen; what is heard is the cue alone. One look only:
	 * a sentence that began now would not be stopped by the next. */
	assert_int_equal(follow(hearing, "tip-back"), SOUND_TIP_BACK);
	assert_int_equal(fake_speaker_calls(300), 1);
	for (int i = 0; i < 10; i++)
		assert_int_equal(follow(hearing, "tip-back"), SOUND_TIP_BACK);
	assert_int_equal(fake_speaker_calls(100), 1);
	/* It is over: the newest one is said. */
	assert_int_equal(follow(hearing, "charge-done"), SOUND_IN_BAND);
	assert_non_null(strstr(fake_speaker_log(2), "is in, 227.9 g"));
	hearing_free(hearing);
}

static void what_had_to_wait_is_said_if_it_still_stands(void **state)
{
	struct hearing *hearing = hearing_here();

	(void)state;
	speak_from_now(hearing);
	assert_int_equal(follow(hearing, "tip-back"), SOUND_TIP_BACK);
	assert_int_equal(fake_speaker_calls(100), 0);
	assert_int_equal(follow_cue(hearing, "tip-back", "held"), SOUND_HELD);
	assert_non_null(strchr(fake_speaker_log(1), '\n'));
	hearing_free(hearing);
}

static void a_sentence_is_said_once_however_often_it_is_looked_at(void **state)
{
	struct hearing *hearing = hearing_here();

	(void)state;
	speak_from_now(hearing);
	for (int i = 0; i < 20; i++)
		follow(hearing, "add-a");
	assert_int_equal(fake_speaker_calls(200), 1);
	/* A station that is gone says nothing new. */
	follow(hearing, "lost");
	assert_int_equal(fake_speaker_calls(100), 1);
	hearing_free(hearing);
}

static void where_nothing_is_to_be_spoken_nothing_is(void **state)
{
	struct hearing *hearing = hearing_here();

	(void)state;
	follow(hearing, "add-a");
	follow(hearing, "charge-done");
	assert_int_equal(fake_speaker_calls(200), 0);
	hearing_free(hearing);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(no_sentence_begins_over_the_tip_back_and_none_is_lost),
	        cmocka_unit_test(what_had_to_wait_is_said_if_it_still_stands),
	        cmocka_unit_test(a_sentence_is_said_once_however_often_it_is_looked_at),
	        cmocka_unit_test(where_nothing_is_to_be_spoken_nothing_is),
	};

	return cmocka_run_group_tests(tests, fake_speaker_set_up, fake_speaker_tear_down);
}
