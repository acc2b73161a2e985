/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_SYNTH_H
#define AMBO_TOUCH_SYNTH_H

#include <stddef.h>

#include "score.h"

/* Makes samples of what is to be heard: notes of a few harmonics with soft ends. Pure:
 * its only time is the count of samples rendered, so every note begins on its sample.
 *
 * A pulse train that only changes its tempo goes on in step; any other change fades what
 * sounds within SYNTH_FADE_S and begins at once. */

#define SYNTH_TONES_MAX 6u
#define SYNTH_FADE_S    0.006
#define SYNTH_RENEW_S   1.5 /* a live sound not renewed for so long is a dead display */

struct tone {
	bool sounds;
	struct note note;
	double phase;       /* cycles of the fundamental, 0..1 */
	double beat;        /* cycles of the roughness */
	int64_t at, length; /* samples gone, samples in all */
	int64_t fade_from;  /* sample from which it fades away early; -1 not */
};

struct synth {
	double rate_hz;
	struct cues_out out;
	struct score score;
	int64_t clock; /* samples rendered */
	int64_t round; /* when this round of the score began */
	int64_t renewed;
	uint32_t next; /* note of the score */
	double gain;   /* goes over to the dial's, softly */
	struct tone tone[SYNTH_TONES_MAX];
};

void synth_init(struct synth *ret, double rate_hz);

/* From the next sample on. The same sound, voice and since_us go on; left and level are
 * taken over. */
void synth_set(struct synth *synth, const struct cues_out *out);

/* Mono, -1..1. */
void synth_render(struct synth *synth, float *samples, size_t n);

/* The dial 0..1 as a factor: 0 is off, else 40 dB from end to end. */
double synth_gain(double level);

#endif
