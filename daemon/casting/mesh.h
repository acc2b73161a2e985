/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_MESH_H
#define AMBO_CASTING_MESH_H

#include "heat.h"
#include "lobatto.h"
#include "stepper.h"

/* A layer cut into spectral elements: the nodes a stepper needs, bottom to top. Only
 * heat.c and its tests include this. */
struct mesh {
	struct lobatto lobatto;
	size_t below, fresh;     /* elements */
	size_t bottom, top;      /* nodes of the fresh layer: first and last */
	double below_m, fresh_m; /* of one element */
	struct nodes nodes;
	double *memory; /* owned: the nodes' arrays and the stepper's work */
	double *work;
};

/* -ENOMEM, else the caller owns what mesh_done() frees. */
int mesh_init(struct mesh *mesh, const struct heat_case *heat, size_t below, size_t fresh);
void mesh_done(struct mesh *mesh);

/* Kelvin and conversion at the pour. A node on the border takes what mixing the two
 * sides' shares of it would give. */
void mesh_start(const struct mesh *mesh, const struct heat_case *heat, double *t_k, double *a);

/* The greatest of the last two Legendre coefficients of the temperature in elements
 * first .. first + n - 1: what a finer mesh might still change. */
double mesh_tail_k(const struct mesh *mesh, const double *t_k, size_t first, size_t n);

#endif
