/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_HEARING_H
#define AMBO_TOUCH_HEARING_H

#include "ui.h"

/* The cues of this display: from model and settings through cues.c to the loudspeaker,
 * to espeak-ng, and back from each stop into the reactions learnt. Everything it holds
 * is pure but the device, the spoken sentences and the file. */
struct hearing;

#define HEARING_SENTENCE_MAX 320

/* settings_path: what is learnt is kept beside it, under HEARING_LEARNT; NULL: not kept.
 * Always 0 or -ENOMEM. ret_sentence is "" or says what is missing: it runs on without. */
#define HEARING_LEARNT ".stops"
int hearing_new(const char *settings_path, struct hearing **ret, char ret_sentence[HEARING_SENTENCE_MAX]);
void hearing_free(struct hearing *hearing);

bool hearing_there(const struct hearing *hearing); /* there is a loudspeaker */

/* With every reading, and every HEARING_TICK_US while hearing_busy(). came_us: when the newest
 * reading came; both CLOCK_MONOTONIC. Returns what there is to see and hear now. */
#define HEARING_TICK_US 10000
const struct cues_out *hearing_follow(struct hearing *hearing, const struct model *model,
                                    const struct ui *ui, int64_t came_us, int64_t t_us);
/* What has come to be missing since the last call, one sentence; false: nothing. */
bool hearing_note(struct hearing *hearing, char ret_sentence[HEARING_SENTENCE_MAX]);
/* Something sounds, is said or flashes: it wants to be followed without readings too. */
bool hearing_busy(const struct hearing *hearing);

/* Speech as it is set now. -ENOENT with a sentence: it cannot be had. */
int hearing_speech(struct hearing *hearing, const struct settings *settings,
                 char ret_sentence[HEARING_SENTENCE_MAX]);

/* What was learnt of this person, here and in the file. -errno of the file. */
int hearing_forget(struct hearing *hearing, int person);

#endif
