/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_SPEECH_H
#define AMBO_TOUCH_SPEECH_H

#include "cues.h"

/* Sentences spoken by espeak-ng, a program of its own, where it is installed and when the
 * person wants it. Nothing is said near the end of a charge, and what is being said ends
 * there: tip-back is never talked over. */
struct speech;

#define SPEECH_SENTENCE_MAX 320

/* language: "en", "de" ... On 0 the caller owns *ret. -ENOENT with a sentence when the
 * program is not there. */
int speech_new(const char *language, struct speech **ret, char ret_sentence[SPEECH_SENTENCE_MAX]);
void speech_free(struct speech *speech); /* NULL does nothing */

/* May anything be said while this sounds? Pure. */
bool speech_may(const struct cues_out *out);

/* Says it from the start, in place of what is being said. 0; -EBUSY where speech_may()
 * says no, -errno when the program cannot be started. */
int speech_say(struct speech *speech, const char *text, const struct cues_out *out);
/* With every cues_next(): ends what must not go on, and gathers in what has ended.
 * Returns true while something is being said. */
bool speech_follow(struct speech *speech, const struct cues_out *out);

#endif
