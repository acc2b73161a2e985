/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_STEPPER_H
#define AMBO_CASTING_STEPPER_H

#include <stddef.h>

#include "cubic.h"
#include "cure.h"

/* Cure and heat coupled, over nodes that hold heat and pass it on:
 *
 *   C_i dT_i/dt = q_i + u_i (Tout - T_i) - sum_j K_ij (T_j - T_i) + C_i rise_i da_i/dt
 *       da_i/dt = the rate of cure at T_i, a_i                     (all K_ij symmetric)
 *
 * By differences of temperatures, so that what is insulated keeps its heat to the last
 * bit: sums of K_ij T_j cancel but for rounding, which leaks for as long as a run lasts.
 *
 * A cup is one node, a logged temperature is one node without reaction heat, a layer
 * is many. Stiff (a front burns in seconds while the bench cools for days), so the
 * steps are implicit: Rosenbrock's with six stages, order 4 with an embedded order 3,
 * L-stable and stiffly accurate (RODAS, Hairer and Wanner, Solving Ordinary
 * Differential Equations II, IV.7; coefficients from memory, their order is tested).
 * Each stage eliminates the conversions node by node, which leaves one symmetric
 * banded matrix in the temperatures: no Newton iteration, one factorisation a step. */

struct nodes {
	size_t n, band;         /* nodes; neighbours that a node touches to either side */
	size_t inert;           /* the first nodes do not react */
	const double *capacity; /* C: J/K, or J/m2K of a layer */
	/* K: row i holds K[i][i - band .. i], (band + 1) wide. Neighbours that pass heat have
	 * it negative; K[i][i] balances the row and u_i. */
	const double *conductance;
	const double *loss;   /* u: W/K, or W/m2K: to the outside */
	const double *inflow; /* q: W, or W/m2 */
	const double *rise_k; /* heating of this node by its own full conversion */
	const struct cure *cure;
	double outside_k; /* Tout */
};

struct stepper {
	struct nodes nodes;
	double tolerance_k, tolerance_a; /* error a step, per node */
	double t_s;                      /* now */
	double next_step_s;              /* to be tried */
	double from_s, step_s;           /* the last step: t_s = from_s + step_s */
	size_t steps, refused;
	/* Kelvin and conversion: now, and before the last step. */
	double *t_k, *a, *was_t_k, *was_a;
	double *stage_t[6], *stage_a[6]; /* the stages of the last step */
	double *trial_t, *trial_a, *from_t, *per_left, *rate, *rate_per_k, *rate_per_a, *factor;
};

/* Doubles of work that stepper_init() needs. */
#define STEPPER_WORK(n, band) ((size_t)(n) * (23u + (size_t)(band) + 1u))

/* @nodes and @work are borrowed while the stepper is used. The caller then sets t_k
 * and a of each node, and t_s. */
void stepper_init(struct stepper *stepper, const struct nodes *nodes, double tolerance_k,
                  double tolerance_a, double first_step_s, double *work);

/* One step that meets the tolerance and does not pass until_s. 1 when a step was made,
 * 0 at until_s already, -ERANGE when no step is small enough (values not finite). */
int stepper_step(struct stepper *stepper, double until_s);

struct cubic stepper_t_k(const struct stepper *stepper, size_t node);
struct cubic stepper_a(const struct stepper *stepper, size_t node);

#endif
