/* SPDX-License-Identifier: MIT */
#include "planning.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "elapsed.h"
#include "sensing.h"

/* Seconds since Monday 00:00, by this machine's local time. */
static double now_of_week_s(void)
{
	const time_t now = time(NULL);
	struct tm local;

	localtime_r(&now, &local);
	return ((local.tm_wday + 6) % 7) * 86400.0 + local.tm_hour * 3600.0 + local.tm_min * 60.0 +
	       local.tm_sec;
}

/* What rests on a coat rests on it as it was really poured: a little higher than planned,
 * it would else count as poured over. */
static void seat(const struct live_layer *last, struct piece *piece)
{
	const double from_mm = last->poured.from_mm, to_mm = from_mm + last->poured.depth_mm;

	for (size_t i = 0; i < piece->n_inclusions; i++) {
		double *at_mm = &piece->inclusions[i].rests_on_mm;

		if (*at_mm > from_mm && *at_mm < to_mm && to_mm - *at_mm < *at_mm - from_mm)
			*at_mm = to_mm;
	}
}

/* Where the piece stands: what is poured, and when its last layer may be poured on. */
static void go_on_from(const struct pieces *pieces, const struct live_piece *live,
                       struct planning *ret)
{
	struct plan_request *request = &ret->request;
	const struct live_layer *last;
	struct store_stamp now;
	double ago_s;

	request->piece = &ret->piece;
	request->systems = ret->systems;
	request->seed = 1;
	request->poured_mm = pieces_filled_mm(pieces, live, &last);
	request->not_before_s = ret->week_s;
	if (last == NULL)
		return;
	ret->layers_before = last->layer;
	seat(last, &ret->piece);
	store_stamp_now(&now);
	ago_s = pieces_age_s(last, &now);
	request->opens_at_s = ret->week_s + last->course.at_s[LAYER_OPENS] - ago_s;
	request->closes_at_s = ret->week_s + last->course.at_s[CLOCK_BOND_CLOSES] - ago_s;
	request->sand_at_s = ret->week_s + last->course.at_s[CLOCK_HANDLE] - ago_s;
}

static void take_systems(const struct pieces *pieces, struct planning *ret)
{
	const struct casting_system *systems;

	ret->request.n_systems = pieces_systems(pieces, &systems);
	for (size_t i = 0; i < ret->request.n_systems; i++) {
		ret->systems[i] = systems[i];
		ret->systems[i].course.holds_s = pieces_holds_s(pieces, systems[i].id);
		ret->systems[i].label.cup_loss_g = pieces_usual_loss_g(pieces, &systems[i]);
	}
}

void planning_take(const struct station *station, const struct live_piece *live,
                   struct planning *ret)
{
	ret->piece = live->piece;
	ret->piece.room_degc = pieces_room_degc(station->pieces, &live->piece);
	if (isnan(ret->piece.humidity_pct))
		ret->piece.humidity_pct = sensing_or_nan(station->sensing, SENSING_AIR_PCT);
	ret->week_s = now_of_week_s();
	ret->realtime_us = (int64_t)time(NULL) * 1000000;
	go_on_from(station->pieces, live, ret);
	take_systems(station->pieces, ret);
}

int planning_points(const struct store_drying *rows, size_t n, const struct store_stamp *now,
                    struct drying_point **ret, struct drying_state *ret_state)
{
	struct drying_point *points = calloc(n + 1, sizeof(*points));
	struct elapsed since;
	bool known = true;
	size_t used = 0;

	if (points == NULL)
		return -ENOMEM;
	for (size_t i = 0; i < n; i++) {
		elapsed_between(&rows[0].stamp, &rows[i].stamp, &since);
		known = known && since.known;
		points[i] = (struct drying_point){(double)since.us * 1e-6, rows[i].mass_g};
		/* A clock that was put right in between: only what follows counts. */
		if (i > 0 && !(points[i].t_s > points[i - 1].t_s))
			used = i;
	}
	if (n > 0)
		elapsed_between(&rows[0].stamp, now, &since);
	drying_judge(points + used, n - used, n > 0 ? (double)since.us * 1e-6 : 0.0, ret_state);
	/* Constant over days that nobody can vouch for is not constant. */
	if (!known && ret_state->verdict == DRYING_DRY)
		ret_state->verdict = DRYING_NOT_YET;
	*ret = points;
	return 0;
}

static int judge(struct store *store, const char *name, const struct store_stamp *now,
                 struct drying_state *ret)
{
	struct store_drying *rows = NULL;
	struct drying_point *points = NULL;
	size_t n = 0;
	int r = store_drying(store, name, &rows, &n);

	if (r == 0)
		r = planning_points(rows, n, now, &points, ret);
	free(points);
	free(rows);
	return r;
}

int planning_dryness(struct store *store, struct piece *piece)
{
	char name[2 * SYSTEM_LABEL_MAX];
	struct store_stamp now;
	int r = 0;

	store_stamp_now(&now);
	for (size_t i = 0; r == 0 && i < piece->n_inclusions; i++) {
		struct piece_inclusion *it = &piece->inclusions[i];

		snprintf(name, sizeof(name), "%s/%s", piece->name, it->name);
		r = judge(store, name, &now, &it->drying);
		if (r == 0 && it->drying.verdict == DRYING_NOT_WEIGHED)
			r = judge(store, it->name, &now, &it->drying);
	}
	return r;
}
