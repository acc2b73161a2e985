/* SPDX-License-Identifier: MIT */
#include "heat.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "heat_inside.h"

/* Legendre tail a mesh may leave, over the tolerance. The tail is the last term kept of
 * a series that falls by tens, the error the first one left out (measured: a tail of
 * 0.05 K leaves peaks wrong by less than 0.001 K). */
#define TAIL_SHARE 50.0
/* A jump at the pour (warm resin, cold mould) has no smooth profile at first: it is looked
 * at from this share of an element's diffusion time on. */
#define TAIL_AFTER       0.03
#define JUMP_ELEMENTS    4u
#define JUMP_BIOT        5.0 /* a face held so firmly that its temperature is all but given */
#define JUMP_TOLERANCE_K 1e-3
/* Of the time in which the cure goes from nothing: what is small against it. */
#define ONSET_SHARE  0.03
#define FIRST_STEP_S 1.0 /* after a jump */

static double diffusion_s(const struct heat_run *run, size_t element)
{
	const struct material *material =
	        element < run->mesh.below ? &run->heat->below : &run->heat->resin.material;
	double length_m = run->mesh.length_m[element];

	return length_m * length_m * material->density_kg_per_m3 * material->cp_j_per_kgk /
	       material->k_w_per_mk;
}

/* The elements whose profile the polynomials no longer follow, marked in halve[]. How
 * many; none while a jump rings. */
static size_t too_rough(const struct heat_run *run, bool *halve)
{
	const double allowed_k = TAIL_SHARE * run->wanted.tolerance_k;
	size_t found = 0;

	for (size_t e = 0; e < run->mesh.below + run->mesh.fresh; e++) {
		halve[e] = run->stepper.t_s >= run->rough_s &&
		           mesh_tail(&run->mesh, run->stepper.t_k, e) >= allowed_k;
		found += halve[e];
	}
	return found;
}

/* Time in which the cure goes from nothing; INFINITY where it does not. */
static double onset_s(const struct heat_case *heat)
{
	double per_k, per_a,
	        rate = cure_rate_slopes(&heat->resin.cure, heat->start_degc + CURE_ZERO_DEGC_K,
	                                heat->start_conversion, &per_k, &per_a);
	double fastest = fabs(per_a) + rate;

	return fastest > 0.0 ? 1.0 / fastest : INFINITY;
}

/* In which the faces carry off what the layer stores; INFINITY where they are insulated. */
static double settling_s(const struct heat_case *heat)
{
	const struct material *material = &heat->resin.material;

	return material->density_kg_per_m3 * material->cp_j_per_kgk * heat->depth_mm / 1000.0 /
	       (heat->top_w_per_m2k + heat->bottom_w_per_m2k);
}

/* A step over the whole of the layer's warming to what the faces carry off would land on
 * the right temperature, and its cubic overshoot on the way. */
static double first_step_s(const struct heat_run *run)
{
	double onset = onset_s(run->heat);

	return fmin(run->jumps || isinf(onset) ? FIRST_STEP_S : ONSET_SHARE * onset,
	            settling_s(run->heat));
}

/* Until then, measured on the coarsest mesh, a jump may ring. */
static double rough_s(const struct heat_run *run)
{
	double longest = 0.0;

	if (!run->jumps)
		return 0.0;
	for (size_t e = 0; e < run->mesh.below + run->mesh.fresh; e++)
		longest = fmax(longest, diffusion_s(run, e));
	return fmin(TAIL_AFTER * longest, ONSET_SHARE * onset_s(run->heat));
}

/* A stepper over the mesh as it is; an error in conversion is an error of heat to come. */
static void step_over(struct heat_run *run, double first_step)
{
	const struct casting_resin *resin = &run->heat->resin;
	double tolerance_k = run->wanted.tolerance_k;
	double rise_k = resin->cure.heat_j_per_kg / resin->material.cp_j_per_kgk;

	stepper_init(&run->stepper, &run->mesh.nodes, tolerance_k, tolerance_k / fmax(rise_k, 50.0),
	             first_step, run->mesh.work);
}

/* From the pour. */
static int begin(struct heat_run *run)
{
	int r = mesh_init(&run->mesh, run->heat, &run->cut);

	if (r < 0)
		return r;
	if (run->rough_s < 0.0)
		run->rough_s = rough_s(run);
	step_over(run, first_step_s(run));
	mesh_start(&run->mesh, run->heat, run->stepper.t_k, run->stepper.a);
	heat_watch_begin(run);
	return 0;
}

/* The marked elements halved. What is rough as soon as it is looked at was so from the
 * pour on: begin again. Else the last step is taken back and tried on the finer mesh. */
static int refine(struct heat_run *run, const bool *halve)
{
	struct mesh coarse = run->mesh;
	const struct stepper before = run->stepper;
	int r = mesh_cut_finer(&run->cut, halve);

	if (r < 0)
		return r;
	if (before.from_s < run->rough_s) {
		mesh_done(&run->mesh);
		return begin(run);
	}
	r = mesh_init(&run->mesh, run->heat, &run->cut);
	if (r < 0) {
		run->mesh = coarse;
		return r;
	}
	step_over(run, before.step_s);
	run->stepper.t_s = before.from_s;
	run->stepper.steps = before.steps;
	run->stepper.refused = before.refused;
	mesh_carry(&coarse, halve, before.was_t_k, run->stepper.t_k);
	mesh_carry(&coarse, halve, before.was_a, run->stepper.a);
	memset(run->stepper.a, 0, run->mesh.bottom * sizeof(double));
	mesh_done(&coarse);
	return 0;
}

/* Each refinement halves an element out of a number that is bounded, so this ends. */
static int go_on(struct heat_run *run)
{
	bool halve[MESH_ELEMENTS_MAX];
	size_t work = 0;

	while (work < run->wanted.work_max) {
		int r = stepper_step(&run->stepper, run->wanted.until_s);

		work += run->mesh.nodes.n;
		if (r <= 0)
			return r;
		if (too_rough(run, halve) > 0) {
			r = refine(run, halve);
			if (r < 0)
				return r;
			continue;
		}
		if (heat_watch(run))
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

static void tell(const struct heat_run *run)
{
	struct heat_result *result = run->result;

	result->peak_degc = fmax(result->peak_degc, run->peak_k - CURE_ZERO_DEGC_K);
	result->end_s = run->stepper.t_s;
	result->steps = run->stepper.steps;
	result->refused = run->stepper.refused;
	result->elements = run->mesh.below + run->mesh.fresh;
	result->nodes = run->mesh.nodes.n;
}

int heat_run(const struct heat_case *heat, const struct heat_wanted *wanted,
             struct heat_result *ret)
{
	struct heat_result result;
	struct heat_run run = {.heat = heat, .wanted = *wanted, .result = &result, .rough_s = -1.0};
	char sentence[128];
	size_t fresh;
	int r = heat_check(heat, sentence, sizeof sentence);

	if (r < 0)
		return r;
	run.jumps = jumps(heat);
	if (!(run.wanted.tolerance_k > 0.0))
		run.wanted.tolerance_k = HEAT_TOLERANCE_K;
	if (!(run.wanted.until_s > 0.0))
		run.wanted.until_s = HEAT_UNTIL_S;
	if (run.wanted.work_max == 0)
		run.wanted.work_max = HEAT_WORK_MAX;
	fresh = first_elements(heat, run.wanted.tolerance_k);
	mesh_cut_evenly(&run.cut, heat, heat->below_mm > 0.0 ? fresh : 0, fresh);
	r = begin(&run);
	if (r == 0)
		r = go_on(&run);
	if (r == 0) {
		tell(&run);
		*ret = result;
	}
	mesh_done(&run.mesh);
	return r;
}
