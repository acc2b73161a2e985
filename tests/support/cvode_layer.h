/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_CVODE_LAYER_H
#define AMBO_TESTS_SUPPORT_CVODE_LAYER_H

#include <stddef.h>

/* A layer's cure and heat by SUNDIALS CVODE (variable-order BDF, banded Newton) on a
 * uniform finite-volume grid: written from the equations alone, sharing nothing with
 * the code it judges, its right-hand side and its constants included. */

struct cvode_layer {
	double a1, e1, a2, e2, heat, stoichiometry, tg0_degc, tginf_degc, lambda, gel;
	double density, cp, k;
	double depth_m, ambient_degc, start_degc, top_h, bottom_u;
};

struct cvode_answer {
	double peak_degc, peak_middle_degc, peak_top_degc, peak_bottom_degc;
	double gel_middle_s, gel_top_s;     /* NaN: not by the end */
	double at_middle_degc, at_middle_a; /* at at_s */
	long steps, rates;                  /* evaluations of the right-hand side */
};

#define CVODE_LAYER_STEPS_MAX 20000 /* a usual layer takes some hundreds */

/* @cells: even; the error falls with its square. Ends once all of it has gelled and is as
 * cold as the room, or at until_s. Returns 0, or CVODE's negative flag: CV_TOO_MUCH_WORK
 * past those steps. */
int cvode_layer_run(const struct cvode_layer *layer, size_t cells, double relative, double at_s,
                    double until_s, struct cvode_answer *ret);

/* How far two answers may lie apart that count as one: kelvin, the gel times' share,
 * conversion. */
struct cvode_within {
	double kelvin, gel, conversion;
};

#define CVODE_LAYER_UNRESOLVED 1

/* Grids twice as fine and steps ten times as exact in turn, each grid extrapolated with
 * the one before: 0 once two extrapolations agree within, else CVODE_LAYER_UNRESOLVED, or
 * CVODE's negative flag. What it answers has converged in depth and in time. */
int cvode_layer_converged(const struct cvode_layer *layer, const struct cvode_within *within,
                          double at_s, double until_s, struct cvode_answer *ret);

#endif
