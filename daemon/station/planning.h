/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_PLANNING_H
#define AMBO_STATION_PLANNING_H

#include "daemon/casting/drying.h"
#include "pieces.h"
#include "station.h"

/* What a plan of a piece at the station is made from: the piece with the room as it is, the
 * systems with what was learnt of them, where it stands and when that may be poured on. */
struct planning {
	struct piece piece;
	struct casting_system systems[CONFIG_SYSTEMS_MAX];
	struct plan_request request; /* points into this: do not copy it */
	int64_t layers_before;
	double week_s;       /* the calendar's now */
	int64_t realtime_us; /* ... on the wall clock */
};

void planning_take(const struct station *station, const struct live_piece *live,
                   struct planning *ret);

/* On the store thread: how dry the inclusions are by their weighings, which go by the
 * inclusion's name, or by PIECE/INCLUSION where that was weighed. -errno. */
int planning_dryness(struct store *store, struct piece *piece);

/* Weighings as points since the first, and what they say now. The caller frees *ret. */
int planning_points(const struct store_drying *rows, size_t n, const struct store_stamp *now,
                    struct drying_point **ret, struct drying_state *ret_state);

#endif
