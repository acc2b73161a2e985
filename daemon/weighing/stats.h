/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_STATS_H
#define AMBO_WEIGHING_STATS_H

#include <stddef.h>

/* Mean, standard deviation and lag-1 autocorrelation that keep their digits where the
 * values are large and their spread small (two passes, corrected). */

struct stats {
	size_t n;
	double mean;
	double sd;   /* divisor n - 1; 0 for n = 1 */
	double lag1; /* sum (y_i - m)(y_(i-1) - m) / sum (y_i - m)^2; 0 where all are equal */
};

/* -EINVAL for no values or one that is not finite; *ret untouched. */
int stats_of(const double *values, size_t n, struct stats *ret);

/* Upper tail of Fisher's F with d1 and d2 degrees of freedom, P(F > f), by the
 * regularised incomplete beta function; and the f that has the tail alpha. NaN for
 * degrees below 1, f below 0 or NaN, alpha outside (0, 1). */
double f_tail(double f, double d1, double d2);
double f_critical(double alpha, double d1, double d2);

#endif
