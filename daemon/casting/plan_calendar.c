/* SPDX-License-Identifier: MIT */
/* When each layer is poured: within the person's hours, and so that nothing that has to
 * be done in time falls into their night. */
#include <math.h>
#include <stdio.h>

#include "plan_inside.h"

#define DAY_S    86400.0
#define STRIDE_S 300.0
#define LOOK_S   (21.0 * DAY_S) /* for a place to pour at all */
#define PREFER_S DAY_S          /* how long to wait for one that spares the sanding */

void plan_time_text(double at_s, char *ret)
{
	static const char *const days[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};
	/* To the minute, up: nothing may be done earlier than it says. */
	const long minutes = (long)ceil(at_s / 60.0 - 1e-6), day = minutes / 1440;
	int n;

	n = snprintf(ret, PLAN_TIME_MAX, "%s %02ld:%02ld", days[day % 7], minutes % 1440 / 60,
	             minutes % 60);
	if (day >= 7 && n > 0 && n < (int)PLAN_TIME_MAX)
		snprintf(ret + n, PLAN_TIME_MAX - (size_t)n, " (week %ld)", day / 7 + 1);
}

bool plan_in_hours(const struct piece_hours *hours, double from_s, double to_s)
{
	const double day = floor(from_s / DAY_S), midnight = day * DAY_S;

	return from_s >= 0.0 && (hours->days >> ((long)day % 7) & 1u) != 0 &&
	       from_s >= midnight + hours->opens_min * 60.0 - 1e-3 &&
	       to_s <= midnight + hours->closes_min * 60.0 + 1e-3;
}

/* Whether some moment of from..to is one of theirs. */
static bool some_hour(const struct piece_hours *hours, double from_s, double to_s)
{
	for (double at = from_s; at <= to_s; at += STRIDE_S)
		if (plan_in_hours(hours, at, at))
			return true;
	return plan_in_hours(hours, to_s, to_s);
}

struct placing {
	const struct piece_hours *hours;
	const struct plan_layer *layer, *next; /* next NULL: it is the last */
	double begin_s;                        /* nothing before this */
	double opens_s, closes_s, sand_s;      /* of the layer before; NaN: no such time */
};

static double busy_s(const struct plan_layer *layer, bool sand)
{
	return layer->session_s + (sand ? PLAN_SAND_S : 0.0) + PLAN_WATCH_S;
}

/* The pour itself is done at the session's end: the clocks count from there. They are the
 * fitted resin's or the label's own: a window of the doubt's safe sides would be empty,
 * since what opens late also closes late; the hand that feels the gel decides. */
static bool possible(const struct placing *placing, double at_s, bool sand)
{
	const struct plan_layer *layer = placing->layer;
	const double poured_s = at_s + busy_s(layer, sand) - PLAN_WATCH_S;

	if (!plan_in_hours(placing->hours, at_s, at_s + busy_s(layer, sand)))
		return false;
	/* Edge tape comes off once gelled, before it is hard. */
	return !layer->edge_tape || isnan(layer->closes_s) ||
	       some_hour(placing->hours, poured_s + layer->opens_s,
	                 poured_s + fmax(layer->closes_s, layer->opens_s));
}

/* Whether the layer after it can be poured on it in their hours without sanding. */
static bool spares_sanding(const struct placing *placing, double at_s, bool sand)
{
	const double poured_s = at_s + busy_s(placing->layer, sand) - PLAN_WATCH_S;
	const struct plan_layer *layer = placing->layer;
	double s;

	if (!placing->next)
		return true;
	s = poured_s + layer->opens_s - placing->next->session_s;
	for (; s + placing->next->session_s <= poured_s + layer->closes_s; s += STRIDE_S)
		if (plan_in_hours(placing->hours, s, s + busy_s(placing->next, false)))
			return true;
	return false;
}

/* The first possible time of from..to, rather one that spares the next sanding. NaN. */
static double first_possible(const struct placing *placing, double from_s, double to_s, bool sand)
{
	double first = (double)NAN;

	for (double s = from_s; s <= to_s && !(s > first + PREFER_S); s += STRIDE_S) {
		if (!possible(placing, s, sand))
			continue;
		if (spares_sanding(placing, s, sand))
			return s;
		if (isnan(first))
			first = s;
	}
	return first;
}

/* On the five minutes, never before. */
static double rounded_up(double s)
{
	return ceil(s / STRIDE_S - 1e-9) * STRIDE_S;
}

static double place(const struct placing *placing, bool *ret_sand)
{
	double at;

	*ret_sand = false;
	/* Weighed before it opens, poured before it closes: the whole of it, not only begun. */
	if (!isnan(placing->closes_s)) {
		const double first = placing->opens_s - placing->layer->session_s;
		const double last = placing->closes_s - placing->layer->session_s;

		at = first_possible(placing, rounded_up(fmax(first, placing->begin_s)), last,
		                    false);
		if (!isnan(at))
			return at;
	}
	*ret_sand = true;
	return isnan(placing->sand_s) ? (double)NAN
	                              : first_possible(placing, rounded_up(placing->sand_s),
	                                               placing->sand_s + LOOK_S, true);
}

static int nowhere(const struct plan_request *request, const struct placing *placing, size_t i,
                   char *ret_sentence)
{
	const struct piece_hours *hours = &request->piece->hours;
	const double longest_s = busy_s(placing->layer, i > 0);

	if (i > 0 && isnan(placing->sand_s))
		return plan_refuse(
		        ret_sentence,
		        "layer %zu never gets hard enough to go on at %.1f C; expected a "
		        "warmer room",
		        i, request->piece->room_degc);
	if (longest_s > (hours->closes_min - hours->opens_min) * 60.0)
		return plan_refuse(
		        ret_sentence,
		        "layer %zu takes %.0f min (%d batch(es) to weigh, stir and pour, "
		        "then %.0f min of watching) and the hours from %02d:%02d to "
		        "%02d:%02d have %d min; expected longer hours or a smaller piece",
		        i + 1, ceil(longest_s / 60.0), placing->layer->batches, PLAN_WATCH_S / 60.0,
		        hours->opens_min / 60, hours->opens_min % 60, hours->closes_min / 60,
		        hours->closes_min % 60, hours->closes_min - hours->opens_min);
	return plan_refuse(ret_sentence,
	                   "layer %zu: whenever it is poured, its edge tape wants taking off at a "
	                   "time outside the hours from %02d:%02d to %02d:%02d; expected longer "
	                   "hours",
	                   i + 1, hours->opens_min / 60, hours->opens_min % 60,
	                   hours->closes_min / 60, hours->closes_min % 60);
}

int plan_calendar(const struct plan_request *request, struct plan *plan, char *ret_sentence)
{
	const struct piece *piece = request->piece;
	const double first_s = piece->hours.start_day * DAY_S + piece->hours.start_min * 60.0;
	/* A piece that is begun goes on as soon as it may. */
	const double start_s = request->poured_mm > 0.0 ? request->not_before_s
	                                                : fmax(first_s, request->not_before_s);
	struct placing placing = {.hours = &piece->hours,
	                          .begin_s = start_s,
	                          .opens_s = start_s,
	                          .closes_s = start_s + LOOK_S,
	                          .sand_s = (double)NAN};

	if (request->poured_mm > 0.0) {
		placing.opens_s = fmax(start_s, request->opens_at_s);
		placing.closes_s = request->closes_at_s;
		placing.sand_s = fmax(start_s, request->sand_at_s);
	}
	for (size_t i = 0; i < plan->n_layers; i++) {
		struct plan_layer *layer = &plan->layers[i];
		double poured_s;

		placing.layer = layer;
		placing.next = i + 1 < plan->n_layers ? layer + 1 : NULL;
		layer->pour_at_s = place(&placing, &layer->sand_first);
		if (isnan(layer->pour_at_s))
			return nowhere(request, &placing, i, ret_sentence);
		if (layer->sand_first)
			layer->session_s += PLAN_SAND_S;
		poured_s = layer->pour_at_s + layer->session_s;
		placing.begin_s = poured_s;
		placing.opens_s = poured_s + layer->opens_s;
		placing.closes_s = poured_s + layer->closes_s;
		placing.sand_s = poured_s + layer->handle_s;
		plan->last_pour_at_s = poured_s;
		plan->done_at_s = poured_s + layer->full_cure_s;
	}
	plan->first_pour_at_s = plan->layers[0].pour_at_s;
	plan->total_s = plan->done_at_s - plan->first_pour_at_s;
	return 0;
}
