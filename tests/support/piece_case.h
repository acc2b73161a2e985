/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_PIECE_CASE_H
#define AMBO_TESTS_SUPPORT_PIECE_CASE_H

#include "daemon/casting/plan.h"

/* A plain piece and two systems to plan with; a test changes what it is about. */
struct piece_case {
	struct piece piece;
	struct casting_system systems[2];
	struct plan_request request;
	struct plan plan;
	char sentence[PLAN_SENTENCE_MAX];
};

/* A round cavity, 200 mm across and 20 mm deep, upright walls, one coat of "slow-cast":
 * slow family, label depth 15 mm, levels from 2 mm, recoat 8 to 24 h at 23 C; the room
 * 15 C. */
void piece_case_make(struct piece_case *ret);
/* The labels it is made from. */
void piece_case_system(struct resin_system *ret, struct casting_label *ret_label);
void piece_case_top(struct resin_system *ret, struct casting_label *ret_label);

/* After a change to the piece: piece_complete(), then plan_make(). Fails the test where
 * either refuses. */
void piece_case_plan(struct piece_case *piece_case);
/* ... or expects a refusal that says so. */
void piece_case_refused(struct piece_case *piece_case, const char *says);

#endif
