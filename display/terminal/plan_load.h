/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_PLAN_LOAD_H
#define AMBO_TERMINAL_PLAN_LOAD_H

#include "ambo.h"
#include "daemon/casting/plan.h"

/* A piece's file and the systems it names, ready to be planned. Without a station. */

/* What if: NaN, 0 and NULL leave what the file says. */
struct plan_what_if {
	double room_degc, resin_degc, humidity_pct, cup_limit_g;
	int64_t batches, layers, samples, seed;
	const char *system;
};

struct plan_case {
	struct piece piece;
	struct casting_system systems[PIECE_COATS_MAX];
	size_t n_systems;
	struct plan_request request;
	struct plan plan;
	char sentence[PLAN_SENTENCE_MAX]; /* a refusal's */
};

/* config_dir NULL: the folder around the piece's own (CONFIG/pieces/NAME.conf), else
 * /etc/ambo. @as_written: answers the question about units with "as written". On
 * EXIT_OK the caller frees *ret (free); else it has been said. */
int plan_load(const char *path, const char *config_dir, bool as_written,
              const struct plan_what_if *what_if, struct plan_case **ret);
/* 0, or plan_make()'s error with the sentence in it. */
int plan_compute(struct plan_case *plan_case);

#endif
