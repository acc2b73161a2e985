/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_GUIDE_STATE_H
#define AMBO_MIXING_GUIDE_STATE_H

/* The guide's insides, public only so that a guide can be held by value. Nobody
 * outside mixing reads a member: guide_look() and guide_ratio() tell. */
struct guide {
	struct recipe recipe;
	enum guide_step step;
	enum guide_step resume_step; /* where held returns to */
	uint32_t charge;
	struct message message;
	enum verdict verdict;
	bool provisional;
	struct weighing_point point[GUIDE_POINTS_MAX];
	uint32_t n_points;
	struct guide_dispense dispense[GUIDE_DISPENSES_MAX];
	uint32_t n_dispenses;
	struct reading reading; /* the newest */
};

#endif
