/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "display/touch/speech.h"
#include "tests/support/fake_speaker.h"

static struct cues_out out_of(enum sound sound)
{
	return (struct cues_out){.sound = sound, .level = 0.7};
}

static void nap_ms(long ms)
{
	nanosleep(&(struct timespec){.tv_nsec = ms * 1000000}, NULL);
}

static struct speech *speech_here(const char *language)
{
	char sentence[SPEECH_SENTENCE_MAX];
	struct speech *speech = NULL;

	fake_speaker_first_in_path();
	assert_int_equal(speech_new(language, &speech, sentence), 0);
	return speech;
}

static void where_it_is_not_installed_one_sentence_says_so(void **state)
{
	char sentence[SPEECH_SENTENCE_MAX] = "";
	struct speech *speech = NULL;

	(void)state;
	setenv("PATH", "/nowhere:/nowhere/else", 1);
	assert_int_equal(speech_new("en", &speech, sentence), -ENOENT);
	assert_null(speech);
	assert_non_null(strstr(sentence, "espeak-ng is not installed"));
	assert_null(strchr(sentence, '\n'));
}

static void a_sentence_is_said_in_its_language_and_is_never_an_option(void **state)
{
	struct cues_out out = out_of(SOUND_PULSE);
	struct speech *speech = speech_here("pt_BR");

	(void)state;
	assert_int_equal(speech_say(speech, "-f /short; \"$(false)\"", &out), 0);
	assert_string_equal(fake_speaker_log(1), "3|-v|pt-br| -f /short; \"$(false)\"\n");
	for (int i = 0; i < 500 && speech_follow(speech, &out); i++)
		nap_ms(10);
	assert_false(speech_follow(speech, &out)); /* it has ended, and was gathered in */
	speech_free(speech);
}

static void nothing_is_said_near_the_end_of_a_charge_or_over_an_alarm(void **state)
{
	static const enum sound not_over[] = {SOUND_NEAR,   SOUND_TIP_BACK, SOUND_WAIT,
	                                      SOUND_SILENT, SOUND_HAZARD,   SOUND_TEST};
	struct speech *speech = speech_here("en");
	struct cues_out out = out_of(SOUND_PULSE);

	(void)state;
	for (size_t i = 0; i < sizeof not_over / sizeof *not_over; i++) {
		struct cues_out busy = out_of(not_over[i]);

		assert_int_equal(speech_say(speech, "now", &busy), -EBUSY);
	}
	assert_int_not_equal(access(fake_speaker_log_path(), F_OK), 0); /* it was never started */
	/* In quiet mode nothing speaks. */
	out.level = 0.0;
	assert_int_equal(speech_say(speech, "now", &out), -EBUSY);
	speech_free(speech);
}

static void what_is_being_said_ends_before_tip_back(void **state)
{
	struct cues_out out = out_of(SOUND_PULSE), near = out_of(SOUND_NEAR);
	struct speech *speech = speech_here("en");

	(void)state;
	assert_int_equal(speech_say(speech, "a long one", &out), 0);
	fake_speaker_log(1);
	assert_true(speech_follow(speech, &out));
	assert_false(speech_follow(speech, &near));
	assert_false(speech_follow(speech, &out)); /* and does not go on */
	speech_free(speech);
	assert_false(speech_follow(NULL, &out));
	speech_free(NULL);
}

static void a_new_sentence_takes_the_place_of_the_old(void **state)
{
	struct cues_out out = out_of(SOUND_NONE);
	struct speech *speech = speech_here("en");

	(void)state;
	assert_int_equal(speech_say(speech, "first", &out), 0);
	fake_speaker_log(1);
	assert_int_equal(speech_say(speech, "second", &out), 0);
	assert_string_equal(fake_speaker_log(2), "3|-v|en| first\n3|-v|en| second\n");
	assert_true(speech_follow(speech, &out));
	speech_free(speech);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(where_it_is_not_installed_one_sentence_says_so),
	        cmocka_unit_test(a_sentence_is_said_in_its_language_and_is_never_an_option),
	        cmocka_unit_test(nothing_is_said_near_the_end_of_a_charge_or_over_an_alarm),
	        cmocka_unit_test(what_is_being_said_ends_before_tip_back),
	        cmocka_unit_test(a_new_sentence_takes_the_place_of_the_old),
	};

	return cmocka_run_group_tests(tests, fake_speaker_set_up, fake_speaker_tear_down);
}
