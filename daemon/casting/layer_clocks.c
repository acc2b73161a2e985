/* SPDX-License-Identifier: MIT */
#include "layer_clocks.h"

#include <errno.h>
#include <math.h>

#include "label.h"

/* The layer's warming is over long before this many times a thin film's gel. */
#define HORIZON_GELS  4.0
#define HORIZON_MIN_S 3600.0
#define HORIZON_MAX_S (21.0 * 86400.0)

double room_degc_at(const struct room_reading *room, size_t n, double t_s)
{
	size_t i = 0;

	while (i + 1 < n && room[i + 1].t_s <= t_s)
		i++;
	return room[i].degc;
}

/* Points closer together at the beginning, where things happen. */
static void lay_out(struct heat_at *at, size_t n, double horizon_s)
{
	for (size_t i = 0; i < n; i++) {
		const double share = (double)i / (double)(n - 1);

		at[i] = (struct heat_at){.t_s = horizon_s * share * sqrt(share)};
	}
}

static void keep_curve(const struct heat_at *at, size_t n, struct layer_curve *ret)
{
	ret->n = n;
	for (size_t i = 0; i < n; i++) {
		ret->t_s[i] = at[i].t_s;
		ret->middle_degc[i] = at[i].middle_degc;
		ret->top_degc[i] = at[i].top_degc;
		ret->middle_conversion[i] = at[i].middle_conversion;
		ret->top_conversion[i] = at[i].top_conversion;
	}
}

static double rise_k(const struct layer_curve *curve, double ambient_degc, double t_s)
{
	size_t i = 0;
	double share;

	if (t_s >= curve->t_s[curve->n - 1])
		return 0.0;
	while (curve->t_s[i + 1] <= t_s)
		i++;
	share = (t_s - curve->t_s[i]) / (curve->t_s[i + 1] - curve->t_s[i]);
	return curve->top_degc[i] + share * (curve->top_degc[i + 1] - curve->top_degc[i]) -
	       ambient_degc;
}

static double next_change(const struct room_reading *room, size_t n, double t_s)
{
	for (size_t i = 0; i < n; i++)
		if (room[i].t_s > t_s)
			return room[i].t_s;
	return INFINITY;
}

/* From one point of the curve or change of the room to the next, then by the day. */
static int walk(const struct cure *cure, const struct room_reading *room, size_t n,
                double ambient_degc, const struct layer_curve *curve, double until_s,
                struct clocks *clocks)
{
	size_t point = 1;
	double t_s = 0.0;

	while (t_s < until_s) {
		const double by_curve = point < curve->n ? curve->t_s[point] : t_s + 21600.0;
		const double change = next_change(room, n, t_s);
		const double to_s = fmin(fmin(by_curve, change), until_s);
		const double before =
		        room_degc_at(room, n, t_s) + rise_k(curve, ambient_degc, to_s);
		int r = clocks_step(clocks, cure, to_s, before);

		if (r < 0)
			return r;
		/* The room jumps where it was read anew. */
		if (change <= to_s)
			r = clocks_step(clocks, cure, to_s,
			                room_degc_at(room, n, to_s) +
			                        rise_k(curve, ambient_degc, to_s));
		if (r < 0)
			return r;
		if (by_curve <= to_s)
			point++;
		t_s = to_s;
		if (!isnan(clocks->at_s[CLOCK_FULL_CURE]) && isinf(next_change(room, n, t_s)))
			break;
	}
	return 0;
}

/* When so much equivalent time has passed in the room, which a label's time is for. */
static int label_moment(const struct cure *cure, const struct room_reading *room, size_t n,
                        double equivalent_s, double *ret_s)
{
	struct clocks clocks;
	double t_s = 0.0;
	int r = 0;

	clocks_init(&clocks, 0.0, room_degc_at(room, n, 0.0), 0.0);
	clocks.holds_equivalent_s = equivalent_s;
	while (r == 0 && t_s < LAYER_CLOCKS_UNTIL_S && isnan(clocks.at_s[CLOCK_HOLDS])) {
		const double change = next_change(room, n, t_s);

		t_s = fmin(change, t_s + 43200.0);
		r = clocks_step(&clocks, cure, t_s, clocks.degc);
		if (r == 0 && t_s == change)
			r = clocks_step(&clocks, cure, t_s, room_degc_at(room, n, t_s));
	}
	*ret_s = clocks.at_s[CLOCK_HOLDS];
	return r;
}

static int take_times(const struct cure *cure, const struct room_reading *room, size_t n,
                      const struct layer_times *times, struct layer_course *ret)
{
	double label_s;
	int r = 0;

	for (int event = 0; event < CLOCK_EVENTS; event++)
		ret->at_s[event] = ret->clocks.at_s[event];
	ret->at_s[LAYER_OPENS] = ret->at_s[LAYER_TAPE_OFF] = ret->at_s[CLOCK_GEL];
	if (times->opens_s > 0.0) {
		r = label_moment(cure, room, n, times->opens_s, &label_s);
		if (isnan(ret->at_s[LAYER_OPENS]) || label_s > ret->at_s[LAYER_OPENS])
			ret->at_s[LAYER_OPENS] = label_s;
	}
	if (r == 0 && times->closes_s > 0.0)
		r = label_moment(cure, room, n, times->closes_s, &ret->at_s[CLOCK_BOND_CLOSES]);
	return r;
}

const char *layer_event_name(int event)
{
	return event == LAYER_OPENS      ? "next-pour"
	       : event == LAYER_TAPE_OFF ? "edge-tape-off"
	                                 : clock_event_name((enum clock_event)event);
}

bool layer_event_is_deadline(int event)
{
	return event == CLOCK_STICKY || event == CLOCK_GEL || event == CLOCK_BOND_CLOSES;
}

int layer_course(const struct heat_case *heat, const struct room_reading *room, size_t n,
                 const struct layer_times *times, struct layer_course *ret)
{
	struct heat_at at[LAYER_CURVE_POINTS];
	struct heat_case one = *heat;
	struct heat_wanted wanted = {.tolerance_k = 3e-3, .at = at, .n_at = LAYER_CURVE_POINTS};
	double horizon_s;
	int r;

	if (n == 0)
		return -EINVAL;
	one.ambient_degc = room_degc_at(room, n, 0.0);
	horizon_s = HORIZON_GELS * label_film_gel_s(&one.resin.cure, one.ambient_degc);
	horizon_s = isnan(horizon_s) ? HORIZON_MAX_S
	                             : fmin(fmax(horizon_s, HORIZON_MIN_S), HORIZON_MAX_S);
	lay_out(at, LAYER_CURVE_POINTS, horizon_s);
	/* Where a film never gels nothing else need be waited for. */
	wanted.until_s = horizon_s;
	r = heat_run(&one, &wanted, &ret->heat);
	if (r < 0)
		return r;
	keep_curve(at, LAYER_CURVE_POINTS, &ret->curve);
	clocks_init(&ret->clocks, 0.0, at[0].top_degc, one.start_conversion);
	ret->clocks.holds_equivalent_s = times->holds_s;
	r = walk(&one.resin.cure, room, n, one.ambient_degc, &ret->curve, LAYER_CLOCKS_UNTIL_S,
	         &ret->clocks);
	if (r == 0)
		r = take_times(&one.resin.cure, room, n, times, ret);
	return r;
}

int layer_clocks_at(const struct layer_course *course, const struct heat_case *heat,
                    const struct room_reading *room, size_t n, double at_s, struct clocks *ret)
{
	struct clocks clocks;
	int r;

	if (n == 0 || !(at_s >= 0.0))
		return -EINVAL;
	clocks_init(&clocks, 0.0, course->curve.top_degc[0], heat->start_conversion);
	clocks.holds_equivalent_s = course->clocks.holds_equivalent_s;
	r = walk(&heat->resin.cure, room, n, room_degc_at(room, n, 0.0), &course->curve, at_s,
	         &clocks);
	if (r == 0)
		*ret = clocks;
	return r;
}
