/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_LOBATTO_H
#define AMBO_CASTING_LOBATTO_H

/* One Gauss-Legendre-Lobatto element on -1..1: the polynomial through its nodes is
 * what the temperature is between them. Smooth profiles need few nodes: the error
 * falls faster than any power of their number, where a difference scheme's falls with
 * the square. Abramowitz and Stegun 25.4.32 (nodes and weights; from memory). */

#define LOBATTO_ORDER 8 /* even, so that a node lies in the middle */
#define LOBATTO_NODES (LOBATTO_ORDER + 1)

struct lobatto {
	double x[LOBATTO_NODES];
	double weight[LOBATTO_NODES];
	double slope[LOBATTO_NODES][LOBATTO_NODES]; /* [q][i]: of node i's polynomial at x[q] */
	double stiffness[LOBATTO_NODES]
	                [LOBATTO_NODES]; /* sum over q of w slope[q][i] slope[q][j] */
	double tail[2][LOBATTO_NODES];   /* row times values: the last two Legendre coefficients */
	double barycentric[LOBATTO_NODES];
};

void lobatto_init(struct lobatto *lobatto);

/* The polynomial through the nodes' values, at x in -1..1. */
double lobatto_at(const struct lobatto *lobatto, const double values[LOBATTO_NODES], double x);

#endif
