/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_FIT_H
#define AMBO_WEIGHING_FIT_H

#include <stdbool.h>
#include <stddef.h>

/* A polynomial of degree 1 or 2 by least squares, and whether it is enough: the lack
 * of fit against the scatter of repeated x (NIST/SEMATECH e-Handbook 4.4.4.6). */

#define FIT_POINTS_MAX 1000u
#define FIT_ALPHA      0.05 /* a right curve is refused once in twenty calibrations */

struct fit {
	int degree;
	size_t n;
	double b[3], b_sd[3]; /* y = b[0] + b[1] x + b[2] x^2, and their sd */
	double residual_sd;   /* divisor n - degree - 1 */
	double greatest_residual;

	/* The same curve about the middle of x, where it keeps its digits:
	 * c[0] + c[1] z + c[2] z^2, z = (x - middle) / half_width. */
	double middle, half_width, c[3];

	bool judged; /* some x were repeated, so the rest below says something */
	double replication_sd;
	double replication_df, lack_df;
	double lack_f, lack_p, lack_critical_f;
	bool refused; /* lack_f above lack_critical_f: the data bend more than this */
};

/* By orthogonal polynomials (Forsythe 1957) on centred and scaled x.
 * @interval: the step y was read in, 0 for none: the scatter of repeats is taken as
 * interval / sqrt(12) at least, or repeats that agree to the digit would refuse all.
 * -EINVAL: a degree other than 1 or 2, a value that is not finite, more than
 * FIT_POINTS_MAX points; -ENODATA: fewer than degree + 2 points, or than degree + 1
 * different x. *ret untouched. */
int fit_polynomial(const double *x, const double *y, size_t n, int degree, double interval,
                   struct fit *ret);

double fit_value(const struct fit *fit, double x);

/* The x at which the curve is y, on the branch through the middle of the data; NaN
 * where it never is. */
double fit_inverse(const struct fit *fit, double y);

#endif
