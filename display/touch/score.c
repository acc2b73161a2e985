/* SPDX-License-Identifier: MIT */
#include "score.h"

#include <math.h>

/* Fundamentals and first harmonics lie between 500 and 1500 Hz: what small speakers give
 * and old ears still hear. Levels: the pulse is quiet, what needs an act is louder. */

#define PULSE_S  0.12 /* one beat of A */
#define FAR_S    1.2
#define NEAR_S   0.6 /* a tempo of its own, not a race: it does not change any more */
#define WAIT_S   1.3
#define ROUGH_HZ 575.0 /* the beats' side bands stay above 500 Hz */
#define FLASH_S  0.15

static const enum timbre timbre_of_voice[VOICE_COUNT] = {
        [VOICE_A] = TIMBRE_HOLLOW,
        [VOICE_B] = TIMBRE_BRIGHT,
        [VOICE_OTHER] = TIMBRE_ROUND,
};

static void add(struct score *score, double at_s, double length_s, double hz, double level,
                enum timbre timbre)
{
	if (score->n < SCORE_NOTES_MAX)
		score->note[score->n++] = (struct note){at_s, length_s, hz, level, timbre};
}

/* One long beat, two short or three shorter: which bottle this is. */
static void beats(struct score *score, enum voice voice, double hz, double level)
{
	static const struct {
		uint32_t n;
		double length_s, apart_s;
	} rhythm[VOICE_COUNT] = {
	        [VOICE_A] = {1, PULSE_S, 0.0},
	        [VOICE_B] = {2, 0.07, 0.13},
	        [VOICE_OTHER] = {3, 0.05, 0.09},
	};

	for (uint32_t i = 0; i < rhythm[voice].n; i++)
		add(score, (double)i * rhythm[voice].apart_s, rhythm[voice].length_s, hz, level,
		    timbre_of_voice[voice]);
}

/* By equal ratios, as pitch is heard. */
static double near_hz(double left)
{
	double gone = 1.0 - fmin(fmax(left, 0.0), 1.0);

	return SCORE_FAR_HZ * pow(SCORE_TOP_HZ / SCORE_FAR_HZ, gone);
}

void score_of(enum sound sound, enum voice voice, double left, struct score *ret)
{
	enum timbre own = timbre_of_voice[voice];

	*ret = (struct score){0};
	switch (sound) {
	case SOUND_NONE:
	case SOUND_COUNT:
		return;
	case SOUND_PULSE:
		ret->again_s = FAR_S;
		beats(ret, voice, SCORE_FAR_HZ, 0.25);
		return;
	case SOUND_NEAR:
		ret->again_s = NEAR_S;
		beats(ret, voice, near_hz(left), 0.3);
		return;
	case SOUND_TIP_BACK:
		ret->again_s = 1.3; /* for one who has not heard it */
		add(ret, 0.0, 0.5, SCORE_DROP_HZ, 0.7, own);
		return;
	case SOUND_WAIT:
		ret->again_s = WAIT_S;
		add(ret, 0.45, 0.2, SCORE_DROP_HZ, 0.15, own);
		return;
	case SOUND_IN_BAND:
		add(ret, 0.0, 0.25, 784.0, 0.3, TIMBRE_ROUND);
		add(ret, 0.28, 0.5, 988.0, 0.3, TIMBRE_ROUND);
		return;
	case SOUND_TOO_MUCH:
		ret->again_s = 4.0;
		add(ret, 0.0, 0.45, ROUGH_HZ, 0.6, TIMBRE_ROUGH);
		add(ret, 0.55, 0.7, ROUGH_HZ, 0.6, TIMBRE_ROUGH);
		return;
	case SOUND_HELD:
		ret->again_s = 4.0;
		add(ret, 0.0, 0.2, 880.0, 0.4, TIMBRE_ROUND);
		add(ret, 0.25, 0.2, 660.0, 0.4, TIMBRE_ROUND);
		add(ret, 0.5, 0.3, 880.0, 0.4, TIMBRE_ROUND);
		return;
	case SOUND_SILENT:
		ret->again_s = 2.5;
		for (uint32_t i = 0; i < 5; i++)
			add(ret, 0.11 * (double)i, 0.04, 1180.0, 0.5, TIMBRE_HOLLOW);
		return;
	case SOUND_HAZARD:
		ret->again_s = 1.6;
		for (uint32_t i = 0; i < 4; i++)
			add(ret, 0.25 * (double)i, 0.22, i % 2 ? 560.0 : 840.0, 0.8, TIMBRE_BRIGHT);
		return;
	case SOUND_TEST:
		add(ret, 0.0, 0.3, 600.0, 0.4, TIMBRE_HOLLOW);
		add(ret, 0.4, 0.5, 900.0, 0.4, TIMBRE_HOLLOW);
		return;
	}
}

static double within_round(const struct score *score, double since_s)
{
	return score->again_s > 0.0 && since_s > 0.0 ? fmod(since_s, score->again_s) : since_s;
}

bool score_sounds(const struct score *score, double since_s)
{
	double at_s = within_round(score, since_s);

	for (uint32_t i = 0; i < score->n; i++)
		if (at_s >= score->note[i].at_s &&
		    at_s < score->note[i].at_s + score->note[i].length_s)
			return true;
	return false;
}

bool score_flashes(const struct score *score, double since_s)
{
	double at_s = within_round(score, since_s), end_s;
	const struct note *last;

	if (score->n == 0)
		return false;
	last = &score->note[score->n - 1];
	end_s = fmax(last->at_s + last->length_s, score->note[0].at_s + FLASH_S);
	/* There must be a dark time too, or it is no flash. */
	if (score->again_s > 0.0)
		end_s = fmin(end_s, score->again_s - FLASH_S);
	return at_s >= score->note[0].at_s && at_s < end_s;
}
