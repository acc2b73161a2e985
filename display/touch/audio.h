/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_AUDIO_H
#define AMBO_TOUCH_AUDIO_H

#include "cues.h"

/* The sound device: SDL's audio, which runs the synthesiser on a thread of its own. */
struct audio;

#define AUDIO_SENTENCE_MAX 320

/* On 0 the caller owns *ret. Where no device can be had: -ENODEV with one sentence and
 * *ret is an audio that plays nothing; run on with it. -ENOMEM: *ret is NULL, which all
 * of these take for the same. */
int audio_new(struct audio **ret, char ret_sentence[AUDIO_SENTENCE_MAX]);
void audio_free(struct audio *audio);

/* What is to be heard from now on. Call it at least twice a second: what is not renewed
 * for SYNTH_RENEW_S turns into the sound of a silent scale. */
void audio_play(struct audio *audio, const struct cues_out *out);

/* Gives the device back while nothing is to be heard for long (its thread never sleeps),
 * and takes it again. -ENODEV with one sentence: it is gone by now. */
int audio_rest(struct audio *audio, bool rests, char ret_sentence[AUDIO_SENTENCE_MAX]);

bool audio_there(const struct audio *audio);
double audio_delay_s(const struct audio *audio); /* from audio_play() to the air, about */

#endif
