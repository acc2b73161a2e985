/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_CUE_POUR_H
#define AMBO_TESTS_SUPPORT_CUE_POUR_H

#include "display/touch/reaction.h"

/* One pour of 100 g by the simulated person at the simulated bench, in virtual time:
 * bench, weigher, guide, and then either a plain number or the display's cues. */
struct cue_pour {
	uint64_t seed;
	bool cued; /* else the person stops when the number says so */
	bool tapers;
	double reaction_s; /* the person's, +- 0.04 s */
	double tip_back_s; /* how fast the bottle is tipped back */
	double rate_g_per_s;
	/* What is learnt from stop to stop; NULL: nothing. */
	struct reactions *reactions;
};

#define CUE_POUR_TARGET_G 100.0

/* Returns the overshoot in truth, g, drips included. *ret_learnt: was it learnt from. */
double cue_pour(const struct cue_pour *pour, bool *ret_learnt);
/* What leads now. */
double cue_pour_reaction_s(const struct reactions *reactions);

#endif
