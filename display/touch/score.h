/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_SCORE_H
#define AMBO_TOUCH_SCORE_H

#include "cues.h"

/* What each sound is made of: notes, and after how long they come again. One table for
 * what is heard, seen and felt. Pure. */

#define SCORE_NOTES_MAX 5u

enum timbre {
	TIMBRE_HOLLOW, /* odd harmonics: A */
	TIMBRE_BRIGHT, /* all harmonics: B */
	TIMBRE_ROUND,  /* near a sine: the others */
	TIMBRE_ROUGH,  /* beats 70 times a second: where roughness is strongest */
	TIMBRE_COUNT
};

struct note {
	double at_s;     /* from the beginning of the round */
	double length_s; /* with its fall */
	double hz;
	double level; /* 0..1, of full scale at the dial's top */
	enum timbre timbre;
};

struct score {
	uint32_t n;
	struct note note[SCORE_NOTES_MAX];
	double again_s; /* 0: once */
};

/* left: 1..0 as in struct cues_out; only near's pitch hangs on it. */
void score_of(enum sound sound, enum voice voice, double left, struct score *ret);

/* Is a note sounding so long after the beginning? */
bool score_sounds(const struct score *score, double since_s);
/* The same for the eye: one flash a round, long enough to be seen, at most 3 a second. */
bool score_flashes(const struct score *score, double since_s);

#define SCORE_FAR_HZ  660.0 /* the pulse, before the near zone */
#define SCORE_TOP_HZ  990.0 /* the pulse with nothing left */
#define SCORE_DROP_HZ 520.0

#endif
