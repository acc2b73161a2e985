/* SPDX-License-Identifier: MIT */
#include "lobatto.h"

#include <math.h>

/* P_n(x) and P_(n-1)(x) by the three-term recurrence. */
static double legendre(int n, double x, double *ret_before)
{
	double p = x, before = 1.0;

	for (int k = 2; k <= n; k++) {
		double next = ((2.0 * k - 1.0) * x * p - (k - 1.0) * before) / k;

		before = p;
		p = next;
	}
	*ret_before = before;
	return p;
}

/* The inner nodes are the roots of P'_N; with (1-x2) P'_N = N (P_(N-1) - x P_N) and
 * Legendre's equation Newton's step is (x P_N - P_(N-1)) / ((N+1) P_N). */
static void nodes(struct lobatto *l)
{
	const int n = LOBATTO_ORDER;

	for (int i = 0; i <= n; i++) {
		double x = -cos(acos(-1.0) * i / n), p, before;

		for (int k = 0; k < 50; k++) {
			double step;

			p = legendre(n, x, &before);
			step = (x * p - before) / ((n + 1.0) * p);
			x -= step;
			if (fabs(step) < 1e-16)
				break;
		}
		if (2 * i == n)
			x = 0.0;
		p = legendre(n, x, &before);
		l->x[i] = x;
		l->weight[i] = 2.0 / (n * (n + 1.0) * p * p);
	}
}

static void slopes(struct lobatto *l)
{
	const int n = LOBATTO_ORDER;

	for (int q = 0; q <= n; q++) {
		double before, pq = legendre(n, l->x[q], &before);

		for (int i = 0; i <= n; i++) {
			double pi = legendre(n, l->x[i], &before);

			l->slope[q][i] = q != i ? pq / pi / (l->x[q] - l->x[i]) : 0.0;
		}
	}
	l->slope[0][0] = -n * (n + 1.0) / 4.0;
	l->slope[n][n] = n * (n + 1.0) / 4.0;
	for (int i = 0; i <= n; i++)
		for (int j = 0; j <= n; j++) {
			l->stiffness[i][j] = 0.0;
			for (int q = 0; q <= n; q++)
				l->stiffness[i][j] +=
				        l->weight[q] * l->slope[q][i] * l->slope[q][j];
		}
}

void lobatto_init(struct lobatto *l)
{
	const int n = LOBATTO_ORDER;

	nodes(l);
	slopes(l);
	for (int i = 0; i <= n; i++) {
		double before, p = legendre(n, l->x[i], &before), product = 1.0;

		/* The discrete norm of P_N on these nodes is 2/N, of P_(N-1) the exact one. */
		l->tail[0][i] = l->weight[i] * before * (n - 0.5);
		l->tail[1][i] = l->weight[i] * p * n / 2.0;
		for (int j = 0; j <= n; j++)
			if (j != i)
				product *= l->x[i] - l->x[j];
		l->barycentric[i] = 1.0 / product;
	}
}

double lobatto_at(const struct lobatto *l, const double values[LOBATTO_NODES], double x)
{
	double above = 0.0, below = 0.0;

	for (int i = 0; i < LOBATTO_NODES; i++) {
		double d = x - l->x[i], share;

		if (d == 0.0)
			return values[i];
		share = l->barycentric[i] / d;
		above += share * values[i];
		below += share;
	}
	return above / below;
}
