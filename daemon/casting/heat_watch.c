/* SPDX-License-Identifier: MIT */
#include "heat_inside.h"

#include <math.h>

/* A place is past its peak once it has given back this share of its rise, or is back at
 * the room's temperature to this. */
#define COOLED   0.2
#define COOLED_K 1e-4

/* One element's temperatures over the last step, as cubics at its nodes. */
struct element {
	double y0[LOBATTO_NODES], y1[LOBATTO_NODES], c[LOBATTO_NODES], d[LOBATTO_NODES];
};

static struct cubic at_place(const struct heat_run *run, const struct element *element, double x)
{
	const struct lobatto *l = &run->mesh.lobatto;

	return (struct cubic){lobatto_at(l, element->y0, x), lobatto_at(l, element->y1, x),
	                      lobatto_at(l, element->c, x), lobatto_at(l, element->d, x)};
}

#define SCAN 24

/* The hottest place of the element at s. */
static double hottest_place(const struct heat_run *run, const struct element *element, double s)
{
	double values[LOBATTO_NODES], scan[SCAN + 1], bend;
	int best = 0;

	for (size_t i = 0; i < LOBATTO_NODES; i++) {
		struct cubic cubic = {element->y0[i], element->y1[i], element->c[i], element->d[i]};

		values[i] = cubic_at(&cubic, s);
	}
	for (int i = 0; i <= SCAN; i++) {
		scan[i] = lobatto_at(&run->mesh.lobatto, values, 2.0 * i / SCAN - 1.0);
		if (scan[i] > scan[best])
			best = i;
	}
	bend = best > 0 && best < SCAN ? scan[best + 1] - 2.0 * scan[best] + scan[best - 1] : 0.0;
	return 2.0 * best / SCAN - 1.0 -
	       (bend < 0.0 ? (scan[best + 1] - scan[best - 1]) / bend / SCAN : 0.0);
}

/* Of what lies between two nodes: a summit that a front carries along is found by
 * looking in depth and in time in turn. */
#define TURNS 4

/* The hottest between the nodes of one element, from s of the last step on. */
static void look_between(struct heat_run *run, size_t number, double s)
{
	struct heat_result *result = run->result;
	struct element element;
	int turns = run->mesh.fresh > 1 ? TURNS : 1;

	for (size_t i = 0; i < LOBATTO_NODES; i++) {
		struct cubic cubic = stepper_t_k(&run->stepper, number * LOBATTO_ORDER + i);

		element.y0[i] = cubic.y0;
		element.y1[i] = cubic.y1;
		element.c[i] = cubic.c;
		element.d[i] = cubic.d;
	}
	for (int i = 0; i < turns; i++) {
		struct cubic there = at_place(run, &element, hottest_place(run, &element, s));
		double degc = cubic_max(&there, &s) - CURE_ZERO_DEGC_K;

		if (degc > result->peak_degc) {
			result->peak_degc = degc;
			result->peak_s = run->stepper.from_s + s * run->stepper.step_s;
		}
	}
}

/* Of the rise: what may lie between two nodes. */
#define PEAK_MARGIN 0.05

/* Follows the hottest place. Between the nodes it looks only where a node's peak ends
 * within the step, which is seldom, where the run ends before that, or where a front runs
 * through many elements. */
static void follow_peak(struct heat_run *run)
{
	const struct stepper *st = &run->stepper;
	size_t hottest = run->mesh.bottom;
	double highest = 0.0, at_s = 0.0, margin_k;
	bool ends;

	for (size_t i = run->mesh.bottom; i <= run->mesh.top; i++) {
		struct cubic cubic = stepper_t_k(st, i);
		double s, kelvin = cubic_max(&cubic, &s);

		if (kelvin > highest) {
			highest = kelvin;
			hottest = i;
			at_s = s;
		}
	}
	ends = at_s < 1.0 || st->t_s >= run->wanted.until_s;
	margin_k = PEAK_MARGIN * fabs(highest - run->heat->ambient_degc - CURE_ZERO_DEGC_K);
	if ((ends || run->mesh.fresh > 1) && highest > run->peak_k - margin_k) {
		size_t element = hottest / LOBATTO_ORDER;

		if (hottest < run->mesh.top)
			look_between(run, element, at_s);
		if (hottest % LOBATTO_ORDER == 0 && hottest > run->mesh.bottom)
			look_between(run, element - 1, at_s);
	}
	run->peak_k = fmax(run->peak_k, highest);
}

static void peak_of(const struct stepper *st, size_t node, double *peak_degc)
{
	struct cubic cubic = stepper_t_k(st, node);
	double s;

	*peak_degc = fmax(*peak_degc, cubic_max(&cubic, &s) - CURE_ZERO_DEGC_K);
}

static void reach(const struct stepper *st, size_t node, double conversion, double *at_s)
{
	struct cubic cubic;

	if (!isnan(*at_s) || st->a[node] < conversion)
		return;
	cubic = stepper_a(st, node);
	*at_s = cubic.y0 >= conversion ? st->from_s
	                               : st->from_s + st->step_s * cubic_passes(&cubic, conversion);
}

/* A cubic by value, for one reading. */
static double value_at(struct cubic cubic, double s)
{
	return cubic_at(&cubic, s);
}

static void tell_times(struct heat_run *run)
{
	const struct stepper *st = &run->stepper;
	size_t bottom = run->mesh.bottom, top = run->mesh.top, middle = run->mesh.middle;

	for (; run->next_at < run->wanted.n_at; run->next_at++) {
		struct heat_at *at = &run->wanted.at[run->next_at];
		double s = (at->t_s - st->from_s) / st->step_s;

		if (at->t_s > st->t_s)
			return;
		at->middle_degc = value_at(stepper_t_k(st, middle), s) - CURE_ZERO_DEGC_K;
		at->top_degc = value_at(stepper_t_k(st, top), s) - CURE_ZERO_DEGC_K;
		at->bottom_degc = value_at(stepper_t_k(st, bottom), s) - CURE_ZERO_DEGC_K;
		at->middle_conversion = value_at(stepper_a(st, middle), s);
		at->top_conversion = value_at(stepper_a(st, top), s);
	}
}

static bool cooled(double peak_degc, double degc, double ambient_degc)
{
	double rise = peak_degc - ambient_degc;

	return rise > COOLED_K ? peak_degc - degc >= COOLED * rise
	                       : fabs(degc - ambient_degc) <= COOLED_K;
}

/* How far above the room the reaction would hold the layer that goes on as it does now;
 * INFINITY where it is insulated. */
static double sustained_k(const struct heat_run *run)
{
	const struct nodes *nodes = &run->mesh.nodes;
	const struct stepper *st = &run->stepper;
	double made = 0.0;

	for (size_t i = run->mesh.bottom; i <= run->mesh.top; i++)
		made += nodes->capacity[i] * nodes->rise_k[i] *
		        cure_rate_per_s(nodes->cure, st->t_k[i], st->a[i]);
	return made / (run->heat->top_w_per_m2k + run->heat->bottom_w_per_m2k);
}

/* Whether nothing that is told may still grow: a front that burnt one face may be on its
 * way through the middle, and what was never above the room may be on its way up. */
static bool all_past(const struct heat_run *run)
{
	const struct stepper *st = &run->stepper;
	const struct mesh *mesh = &run->mesh;
	const struct heat_result *result = run->result;
	double ambient = run->heat->ambient_degc;
	double least = fmin(fmin(result->peak_middle_degc, result->peak_top_degc),
	                    result->peak_bottom_degc);

	if (isnan(result->gel_middle_s) || isnan(result->gel_top_s) ||
	    isnan(result->tack_free_top_s))
		return false;
	for (size_t i = mesh->bottom; i <= mesh->top; i++)
		if (!cooled(run->peak_k - CURE_ZERO_DEGC_K, st->t_k[i] - CURE_ZERO_DEGC_K, ambient))
			return false;
	return cooled(result->peak_middle_degc, st->t_k[mesh->middle] - CURE_ZERO_DEGC_K,
	              ambient) &&
	       cooled(result->peak_top_degc, st->t_k[mesh->top] - CURE_ZERO_DEGC_K, ambient) &&
	       cooled(result->peak_bottom_degc, st->t_k[mesh->bottom] - CURE_ZERO_DEGC_K,
	              ambient) &&
	       (least - ambient > COOLED_K || sustained_k(run) <= COOLED_K);
}

bool heat_watch(struct heat_run *run)
{
	const struct stepper *st = &run->stepper;
	const struct mesh *mesh = &run->mesh;
	struct heat_result *result = run->result;
	double gel = run->heat->resin.cure.gel_conversion;
	double stop_k = run->wanted.stop_above_degc + CURE_ZERO_DEGC_K;

	if (st->from_s >= run->rough_s) {
		follow_peak(run);
		peak_of(st, mesh->middle, &result->peak_middle_degc);
		peak_of(st, mesh->top, &result->peak_top_degc);
		peak_of(st, mesh->bottom, &result->peak_bottom_degc);
	}
	reach(st, mesh->middle, gel, &result->gel_middle_s);
	reach(st, mesh->top, gel, &result->gel_top_s);
	reach(st, mesh->top, HEAT_TACK_CONVERSION, &result->tack_free_top_s);
	tell_times(run);
	if (run->wanted.stop_above_degc > 0.0 && run->peak_k > stop_k) {
		result->stopped = true;
		return true;
	}
	return run->next_at >= run->wanted.n_at && all_past(run);
}

void heat_watch_begin(struct heat_run *run)
{
	const struct heat_case *heat = run->heat;
	const struct stepper *st = &run->stepper;
	size_t middle = run->mesh.middle;
	bool gelled = heat->start_conversion >= heat->resin.cure.gel_conversion;

	*run->result = (struct heat_result){
	        .peak_degc = heat->start_degc,
	        .peak_middle_degc = st->t_k[middle] - CURE_ZERO_DEGC_K,
	        .peak_top_degc = st->t_k[run->mesh.top] - CURE_ZERO_DEGC_K,
	        .peak_bottom_degc = st->t_k[run->mesh.bottom] - CURE_ZERO_DEGC_K,
	        .gel_middle_s = gelled ? 0.0 : (double)NAN,
	        .gel_top_s = gelled ? 0.0 : (double)NAN,
	        .tack_free_top_s =
	                heat->start_conversion >= HEAT_TACK_CONVERSION ? 0.0 : (double)NAN,
	};
	run->peak_k = heat->start_degc + CURE_ZERO_DEGC_K;
	run->next_at = 0;
	for (; run->next_at < run->wanted.n_at && run->wanted.at[run->next_at].t_s <= 0.0;
	     run->next_at++) {
		struct heat_at *at = &run->wanted.at[run->next_at];

		at->middle_degc = st->t_k[middle] - CURE_ZERO_DEGC_K;
		at->top_degc = st->t_k[run->mesh.top] - CURE_ZERO_DEGC_K;
		at->bottom_degc = st->t_k[run->mesh.bottom] - CURE_ZERO_DEGC_K;
		at->middle_conversion = at->top_conversion = heat->start_conversion;
	}
}
