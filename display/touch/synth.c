/* SPDX-License-Identifier: MIT */
#include "synth.h"

#include <math.h>

#define TWO_PI    6.283185307179586
#define HARMONICS 5
#define RISE_S    0.006
#define FALL_S    0.15 /* or half the note */
#define GAIN_S    0.01
#define ROUGH_HZ  70.0 /* beats a second that sound roughest (Zwicker, from memory) */
#define DIAL_DB   40.0

/* Amplitudes of the fundamental and its harmonics; their sum is made 1. */
static const double partial[TIMBRE_COUNT][HARMONICS] = {
        [TIMBRE_HOLLOW] = {1.0, 0.0, 0.30, 0.0, 0.08},
        [TIMBRE_BRIGHT] = {1.0, 0.40, 0.20, 0.08, 0.0},
        [TIMBRE_ROUND] = {1.0, 0.12, 0.0, 0.0, 0.0},
        [TIMBRE_ROUGH] = {1.0, 0.60, 0.20, 0.0, 0.0},
};

double synth_gain(double level)
{
	return level > 0.0 ? pow(10.0, (fmin(level, 1.0) - 1.0) * DIAL_DB / 20.0) : 0.0;
}

void synth_init(struct synth *ret, double rate_hz)
{
	*ret = (struct synth){.rate_hz = rate_hz};
}

static int64_t samples(const struct synth *synth, double seconds)
{
	return (int64_t)llround(seconds * synth->rate_hz);
}

static bool train(enum sound sound)
{
	return sound == SOUND_PULSE || sound == SOUND_NEAR;
}

static void fade_all(struct synth *synth)
{
	for (uint32_t i = 0; i < SYNTH_TONES_MAX; i++)
		if (synth->tone[i].sounds && synth->tone[i].fade_from < 0)
			synth->tone[i].fade_from = synth->tone[i].at;
}

static void begin(struct synth *synth)
{
	score_of(synth->out.sound, synth->out.voice, synth->out.left, &synth->score);
	synth->round = synth->clock;
	synth->next = 0;
}

/* The next beat comes after the new time, counted from the last beat. */
static void change_tempo(struct synth *synth)
{
	score_of(synth->out.sound, synth->out.voice, synth->out.left, &synth->score);
}

void synth_set(struct synth *synth, const struct cues_out *out)
{
	struct cues_out before = synth->out;

	synth->out = *out;
	synth->renewed = synth->clock;
	if (out->sound == before.sound && out->voice == before.voice &&
	    out->since_us == before.since_us)
		return;
	if (train(out->sound) && train(before.sound) && out->voice == before.voice) {
		change_tempo(synth);
		return;
	}
	fade_all(synth);
	begin(synth);
}

static void start_note(struct synth *synth, const struct note *note)
{
	struct tone *free_tone = NULL;

	for (uint32_t i = 0; i < SYNTH_TONES_MAX && !free_tone; i++)
		if (!synth->tone[i].sounds)
			free_tone = &synth->tone[i];
	if (free_tone)
		*free_tone = (struct tone){.sounds = true,
		                           .note = *note,
		                           .length = samples(synth, note->length_s),
		                           .fade_from = -1};
}

static void follow_score(struct synth *synth)
{
	int64_t again = samples(synth, synth->score.again_s);

	if (again > 0 && synth->next >= synth->score.n && synth->clock - synth->round >= again)
		begin(synth);
	while (synth->next < synth->score.n &&
	       synth->clock - synth->round >= samples(synth, synth->score.note[synth->next].at_s))
		start_note(synth, &synth->score.note[synth->next++]);
}

/* Raised cosine, 0..1: no corner in it that could click. */
static double ramp(double share)
{
	return 0.5 - 0.5 * cos(0.5 * TWO_PI * fmin(fmax(share, 0.0), 1.0));
}

static double envelope(const struct synth *synth, const struct tone *tone)
{
	double at_s = (double)tone->at / synth->rate_hz;
	double left_s = (double)(tone->length - tone->at) / synth->rate_hz;
	double fall_s = fmin(FALL_S, 0.5 * tone->note.length_s);
	double level = ramp(at_s / RISE_S) * ramp(left_s / fall_s);

	if (tone->fade_from >= 0)
		level *= 1.0 -
		         ramp((double)(tone->at - tone->fade_from) / synth->rate_hz / SYNTH_FADE_S);
	return level;
}

static double wave(const struct tone *tone)
{
	const double *amplitude = partial[tone->note.timbre];
	double sum = 0.0, value = 0.0;

	for (int k = 0; k < HARMONICS; k++) {
		sum += amplitude[k];
		if (amplitude[k] > 0.0)
			value += amplitude[k] * sin(TWO_PI * (k + 1) * tone->phase);
	}
	if (tone->note.timbre == TIMBRE_ROUGH)
		value *= 0.5 - 0.5 * cos(TWO_PI * tone->beat);
	return value / sum;
}

static double tone_next(const struct synth *synth, struct tone *tone)
{
	double value = tone->note.level * envelope(synth, tone) * wave(tone);

	tone->phase = fmod(tone->phase + tone->note.hz / synth->rate_hz, 1.0);
	tone->beat = fmod(tone->beat + ROUGH_HZ / synth->rate_hz, 1.0);
	tone->at++;
	tone->sounds =
	        tone->at < tone->length &&
	        (tone->fade_from < 0 || tone->at - tone->fade_from < samples(synth, SYNTH_FADE_S));
	return value;
}

/* A display that hangs must not go on pulsing as if all were well. */
static void watch(struct synth *synth)
{
	enum sound sound = synth->out.sound;

	if (synth->clock - synth->renewed < samples(synth, SYNTH_RENEW_S))
		return;
	if (!train(sound) && sound != SOUND_TIP_BACK && sound != SOUND_WAIT)
		return;
	synth->out.sound = SOUND_SILENT;
	fade_all(synth);
	begin(synth);
}

void synth_render(struct synth *synth, float *buffer, size_t n)
{
	double step = 1.0 / (GAIN_S * synth->rate_hz);

	for (size_t i = 0; i < n; i++) {
		double goal = synth_gain(synth->out.level), value = 0.0;

		watch(synth);
		follow_score(synth);
		synth->gain = synth->gain < goal ? fmin(synth->gain + step, goal)
		                                 : fmax(synth->gain - step, goal);
		for (uint32_t k = 0; k < SYNTH_TONES_MAX; k++)
			if (synth->tone[k].sounds)
				value += tone_next(synth, &synth->tone[k]);
		buffer[i] = (float)(synth->gain * fmin(fmax(value, -1.0), 1.0));
		synth->clock++;
	}
}
