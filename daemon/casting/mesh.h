/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_MESH_H
#define AMBO_CASTING_MESH_H

#include <stdbool.h>

#include "heat.h"
#include "lobatto.h"
#include "stepper.h"

/* A layer cut into spectral elements: the nodes a stepper needs, bottom to top. Elements
 * are halved where the profile asks for it and nowhere else. Only heat*.c include this. */

/* What a front needs that runs through 200 mm is some hundred. */
#define MESH_ELEMENTS_MAX 2048u

struct mesh_cut {
	size_t below, fresh; /* elements */
	size_t lower;        /* fresh ones below the layer's middle; 0: one spans it all */
	double length_m[MESH_ELEMENTS_MAX]; /* bottom to top */
};

struct mesh {
	struct lobatto lobatto;
	size_t below, fresh;        /* elements */
	size_t bottom, middle, top; /* nodes of the fresh layer */
	double *length_m;           /* of each element */
	struct nodes nodes;
	double *memory; /* owned: the lengths, the nodes' arrays and the stepper's work */
	double *work;
};

/* @below, @fresh: elements of one length each; fresh is 1 or even. */
void mesh_cut_evenly(struct mesh_cut *cut, const struct heat_case *heat, size_t below,
                     size_t fresh);
/* Halves each element that halve[] marks. -ERANGE past MESH_ELEMENTS_MAX, *cut untouched. */
int mesh_cut_finer(struct mesh_cut *cut, const bool *halve);

/* -ENOMEM, else the caller owns what mesh_done() frees. */
int mesh_init(struct mesh *mesh, const struct heat_case *heat, const struct mesh_cut *cut);
void mesh_done(struct mesh *mesh);

/* Kelvin and conversion at the pour. A node on the border takes what mixing the two
 * sides' shares of it would give. */
void mesh_start(const struct mesh *mesh, const struct heat_case *heat, double *t_k, double *a);

/* The nodes' values of a mesh, read off its polynomials at the nodes of the one that
 * mesh_cut_finer() made of it with halved[]. */
void mesh_carry(const struct mesh *coarse, const bool *halved, const double *values, double *ret);

/* The greater of the last two Legendre coefficients of the element's values: what a finer
 * mesh might still change. */
double mesh_tail(const struct mesh *mesh, const double *values, size_t element);

#endif
