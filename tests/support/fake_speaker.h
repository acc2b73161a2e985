/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_FAKE_SPEAKER_H
#define AMBO_TESTS_FAKE_SPEAKER_H

/* In place of the speaking program one that writes down how it was called and then
 * "speaks" until it is stopped; at once done where the text says "short". */

int fake_speaker_set_up(void **state); /* for cmocka: 0, -1 */
int fake_speaker_tear_down(void **state);

/* From here on it is found, with nothing in its log. */
void fake_speaker_first_in_path(void);

/* The log, a line each call "N|-v|VOICE| TEXT", once it has `lines` lines; waits up to 5 s. */
const char *fake_speaker_log(int lines);
/* How many there are after ms: for what must not have come. */
int fake_speaker_calls(long ms);
const char *fake_speaker_log_path(void);

#endif
