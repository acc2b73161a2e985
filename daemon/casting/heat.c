/* SPDX-License-Identifier: MIT */
#include "heat.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>

#include "mesh.h"

/* Legendre tail a mesh may leave, over the tolerance. The tail is the last term kept of
 * a series that falls by tens, the error the first one left out (measured: a tail of
 * 0.05 K leaves peaks wrong by less than 0.001 K). */
#define TAIL_SHARE 50.0
/* A jump at the pour (warm resin, cold mould) has no smooth profile at first: it is
 * judged from this share of an element's own diffusion time on. */
#define TAIL_AFTER       0.03
#define JUMP_ELEMENTS    4u
#define JUMP_BIOT        5.0 /* a face held so firmly that its temperature is all but given */
#define JUMP_TOLERANCE_K 1e-3
#define ELEMENTS_MAX     128u
/* After a jump; else this share of the time in which the cure goes from nothing. */
#define FIRST_STEP_S     1.0
#define FIRST_STEP_SHARE 0.03
#define STEPS_MAX        200000u
/* Done once the hottest place has given back this share of its rise. */
#define COOLED 0.2

enum outcome { OUTCOME_DONE, OUTCOME_FINER_BELOW, OUTCOME_FINER_FRESH };

struct run {
	const struct heat_case *heat;
	struct heat_wanted wanted;
	struct mesh mesh;
	struct stepper stepper;
	struct heat_result *result;
	double peak_k; /* of the nodes alone */
	bool jumps;
	size_t next_at;
};

/* One element's temperatures over the last step, as cubics at its nodes. */
struct element {
	double y0[LOBATTO_NODES], y1[LOBATTO_NODES], c[LOBATTO_NODES], d[LOBATTO_NODES];
};

static struct cubic at_place(const struct run *run, const struct element *element, double x)
{
	const struct lobatto *l = &run->mesh.lobatto;

	return (struct cubic){lobatto_at(l, element->y0, x), lobatto_at(l, element->y1, x),
	                      lobatto_at(l, element->c, x), lobatto_at(l, element->d, x)};
}

#define SCAN 24

/* The hottest place of the element at s. */
static double hottest_place(const struct run *run, const struct element *element, double s)
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
static void look_between(struct run *run, size_t number, double s)
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

/* Until then a jump at the pour still rings through the polynomials, up to a tenth of a
 * kelvin over the warmer side: no peak is believed. */
static double rough_s(const struct run *run)
{
	const struct material *material = &run->heat->resin.material;

	return TAIL_AFTER * run->mesh.fresh_m * run->mesh.fresh_m * material->density_kg_per_m3 *
	       material->cp_j_per_kgk / material->k_w_per_mk;
}

/* Follows the hottest place. Between the nodes it looks only where a node's peak ends
 * within the step, which is seldom, or where a front runs through many elements.
 * Returns whether the hottest node is cooling. */
static bool follow_peak(struct run *run)
{
	const struct stepper *st = &run->stepper;
	size_t hottest = run->mesh.bottom;
	double highest = 0.0, at_s = 0.0, margin_k;
	bool falling;

	for (size_t i = run->mesh.bottom; i <= run->mesh.top; i++) {
		struct cubic cubic = stepper_t_k(st, i);
		double s, kelvin = cubic_max(&cubic, &s);

		if (kelvin > highest) {
			highest = kelvin;
			hottest = i;
			at_s = s;
		}
	}
	falling = at_s < 1.0;
	margin_k = PEAK_MARGIN * fabs(highest - run->heat->ambient_degc - CURE_ZERO_DEGC_K);
	if ((falling || run->mesh.fresh > 1) && highest > run->peak_k - margin_k) {
		size_t element = hottest / LOBATTO_ORDER;

		if (hottest < run->mesh.top)
			look_between(run, element, at_s);
		if (hottest % LOBATTO_ORDER == 0 && hottest > run->mesh.bottom)
			look_between(run, element - 1, at_s);
	}
	run->peak_k = fmax(run->peak_k, highest);
	return falling;
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

static void tell_times(struct run *run)
{
	const struct stepper *st = &run->stepper;
	size_t bottom = run->mesh.bottom, top = run->mesh.top, middle = (bottom + top) / 2;

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

/* After each step: what became known. Returns whether nothing else is wanted. */
static bool watch(struct run *run)
{
	const struct stepper *st = &run->stepper;
	struct heat_result *result = run->result;
	size_t bottom = run->mesh.bottom, top = run->mesh.top, middle = (bottom + top) / 2;
	double gel = run->heat->resin.cure.gel_conversion;
	double ambient_k = run->heat->ambient_degc + CURE_ZERO_DEGC_K;
	double stop_k = run->wanted.stop_above_degc + CURE_ZERO_DEGC_K;
	bool falling = true;

	if (!run->jumps || st->from_s > rough_s(run)) {
		falling = follow_peak(run);
		peak_of(st, middle, &result->peak_middle_degc);
		peak_of(st, top, &result->peak_top_degc);
		peak_of(st, bottom, &result->peak_bottom_degc);
	}
	reach(st, middle, gel, &result->gel_middle_s);
	reach(st, top, gel, &result->gel_top_s);
	reach(st, top, HEAT_TACK_CONVERSION, &result->tack_free_top_s);
	tell_times(run);
	if (run->wanted.stop_above_degc > 0.0 && run->peak_k > stop_k) {
		result->stopped = true;
		return true;
	}
	if (!falling || run->next_at < run->wanted.n_at || isnan(result->gel_middle_s) ||
	    isnan(result->gel_top_s) || isnan(result->tack_free_top_s))
		return false;
	for (size_t i = bottom; i <= top; i++)
		if (st->t_k[i] - ambient_k > (1.0 - COOLED) * (run->peak_k - ambient_k))
			return false;
	return true;
}

static bool resolved(const struct run *run, size_t first, size_t n, double length_m,
                     const struct material *material)
{
	double diffusion_s = length_m * length_m * material->density_kg_per_m3 *
	                     material->cp_j_per_kgk / material->k_w_per_mk;

	return n == 0 || n >= ELEMENTS_MAX || run->stepper.t_s < TAIL_AFTER * diffusion_s ||
	       mesh_tail_k(&run->mesh, run->stepper.t_k, first, n) <
	               TAIL_SHARE * run->wanted.tolerance_k;
}

static double first_step_s(const struct run *run)
{
	const struct heat_case *heat = run->heat;
	double per_k, per_a,
	        rate = cure_rate_slopes(&heat->resin.cure, heat->start_degc + CURE_ZERO_DEGC_K,
	                                heat->start_conversion, &per_k, &per_a);
	double fastest = fabs(per_a) + rate;

	if (run->jumps || !(fastest > 0.0))
		return FIRST_STEP_S;
	return FIRST_STEP_SHARE / fastest;
}

static void begin(struct run *run)
{
	const struct heat_case *heat = run->heat;
	struct stepper *st = &run->stepper;
	double tolerance_k = run->wanted.tolerance_k;
	double rise_k = heat->resin.cure.heat_j_per_kg / heat->resin.material.cp_j_per_kgk;
	size_t middle = (run->mesh.bottom + run->mesh.top) / 2;
	bool gelled = heat->start_conversion >= heat->resin.cure.gel_conversion;

	/* An error in conversion is an error of heat still to come. */
	stepper_init(st, &run->mesh.nodes, tolerance_k, tolerance_k / fmax(rise_k, 50.0),
	             first_step_s(run), run->mesh.work);
	mesh_start(&run->mesh, heat, st->t_k, st->a);
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

static int once(struct run *run, enum outcome *ret)
{
	const struct mesh *mesh = &run->mesh;
	struct stepper *st = &run->stepper;

	begin(run);
	*ret = OUTCOME_DONE;
	while (st->steps < STEPS_MAX) {
		int r = stepper_step(st, run->wanted.until_s);

		if (r < 0)
			return r;
		if (r == 0)
			return 0;
		if (!resolved(run, mesh->below, mesh->fresh, mesh->fresh_m,
		              &run->heat->resin.material)) {
			*ret = OUTCOME_FINER_FRESH;
			return 0;
		}
		if (!resolved(run, 0, mesh->below, mesh->below_m, &run->heat->below)) {
			*ret = OUTCOME_FINER_BELOW;
			return 0;
		}
		if (watch(run))
			return 0;
	}
	return -ERANGE;
}

/* Whether temperature or flux jumps at the pour: the profile is not smooth at first. */
static bool jumps(const struct heat_case *heat)
{
	return (heat->below_mm > 0.0 && heat->below_degc != heat->start_degc) ||
	       heat->ambient_degc != heat->start_degc;
}

/* One element resolves what is smooth. A jump in temperature needs more at once, one in
 * flux only where millikelvins count: it rings with some of them. */
static size_t first_elements(const struct heat_case *heat, double tolerance_k)
{
	double firm = fmax(heat->top_w_per_m2k, heat->bottom_w_per_m2k) * heat->depth_mm / 1000.0 /
	              heat->resin.material.k_w_per_mk;
	bool kink = heat->ambient_degc != heat->start_degc &&
	            (firm > JUMP_BIOT || tolerance_k < JUMP_TOLERANCE_K);

	return kink || (heat->below_mm > 0.0 && heat->below_degc != heat->start_degc)
	               ? JUMP_ELEMENTS
	               : 1;
}

int heat_run(const struct heat_case *heat, const struct heat_wanted *wanted,
             struct heat_result *ret)
{
	struct heat_result result;
	struct run run = {.heat = heat, .wanted = *wanted, .result = &result, .jumps = jumps(heat)};
	size_t fresh, below;
	enum outcome outcome = OUTCOME_DONE;
	char sentence[128];
	int r = heat_check(heat, sentence, sizeof sentence);

	if (r < 0)
		return r;
	if (!(run.wanted.tolerance_k > 0.0))
		run.wanted.tolerance_k = HEAT_TOLERANCE_K;
	if (!(run.wanted.until_s > 0.0))
		run.wanted.until_s = HEAT_UNTIL_S;
	fresh = first_elements(heat, run.wanted.tolerance_k);
	below = heat->below_mm > 0.0 ? fresh : 0;
	/* Each pass doubles a count that is bounded, so this ends. */
	do {
		r = mesh_init(&run.mesh, heat, below, fresh);
		if (r < 0)
			return r;
		r = once(&run, &outcome);
		result.peak_degc = fmax(result.peak_degc, run.peak_k - CURE_ZERO_DEGC_K);
		result.end_s = run.stepper.t_s;
		result.steps = run.stepper.steps;
		result.refused = run.stepper.refused;
		result.elements = below + fresh;
		result.nodes = run.mesh.nodes.n;
		mesh_done(&run.mesh);
		if (r < 0)
			return r;
		if (outcome == OUTCOME_FINER_FRESH)
			fresh *= 2;
		if (outcome == OUTCOME_FINER_BELOW)
			below *= 2;
	} while (outcome != OUTCOME_DONE);
	*ret = result;
	return 0;
}
