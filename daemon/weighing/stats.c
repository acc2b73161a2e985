/* SPDX-License-Identifier: MIT */
#include "stats.h"

#include <errno.h>
#include <math.h>

int stats_of(const double *values, size_t n, struct stats *ret)
{
	double sum = 0.0, squares = 0.0, products = 0.0, rest = 0.0, before = 0.0;
	double mean;

	if (n == 0)
		return -EINVAL;
	for (size_t i = 0; i < n; i++)
		if (!isfinite(values[i]))
			return -EINVAL;
	for (size_t i = 0; i < n; i++)
		sum += values[i];
	mean = sum / (double)n;
	for (size_t i = 0; i < n; i++) {
		double d = values[i] - mean;

		rest += d;
		squares += d * d;
		if (i > 0)
			products += d * before;
		before = d;
	}
	/* What rounding left in the mean: the corrected two-pass form (Chan, Golub and
	 * LeVeque 1983). */
	squares -= rest * rest / (double)n;
	*ret = (struct stats){
	        .n = n,
	        .mean = mean + rest / (double)n,
	        .sd = n > 1 ? sqrt(fmax(0.0, squares) / (double)(n - 1)) : 0.0,
	        .lag1 = squares > 0.0 ? products / squares : 0.0,
	};
	return 0;
}

#define FRACTION_STEPS_MAX 1000 /* of the order of sqrt(max(a, b)) are needed */

static double away_from_zero(double value)
{
	return fabs(value) < 1e-300 ? 1e-300 : value;
}

/* The continued fraction of the incomplete beta function, DLMF 8.17(v), by Lentz's
 * method; converges fast for x < (a + 1) / (a + b + 2). */
static double beta_fraction(double x, double a, double b)
{
	double c = 1.0, d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0)), value = d;

	for (int m = 1; m <= FRACTION_STEPS_MAX; m++) {
		double even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m));
		double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0));
		double step;

		d = 1.0 / away_from_zero(1.0 + even * d);
		c = away_from_zero(1.0 + even / c);
		value *= d * c;
		d = 1.0 / away_from_zero(1.0 + odd * d);
		c = away_from_zero(1.0 + odd / c);
		step = d * c;
		value *= step;
		if (fabs(step - 1.0) < 1e-15)
			break;
	}
	return value;
}

/* I_x(a, b), given y = 1 - x too so that neither end loses digits. */
static double incomplete_beta(double x, double y, double a, double b)
{
	double front;

	if (x <= 0.0)
		return 0.0;
	if (y <= 0.0)
		return 1.0;
	front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(y));
	if (x < (a + 1.0) / (a + b + 2.0))
		return front * beta_fraction(x, a, b) / a;
	return 1.0 - front * beta_fraction(y, b, a) / b;
}

double f_tail(double f, double d1, double d2)
{
	if (!(f >= 0.0) || !(d1 >= 1.0) || !(d2 >= 1.0) || isinf(d1) || isinf(d2))
		return (double)NAN;
	if (isinf(f))
		return 0.0;
	return incomplete_beta(d2 / (d2 + d1 * f), d1 * f / (d2 + d1 * f), d2 / 2.0, d1 / 2.0);
}

double f_critical(double alpha, double d1, double d2)
{
	double low = 0.0, high = 1.0;

	if (!(alpha > 0.0 && alpha < 1.0) || isnan(f_tail(1.0, d1, d2)))
		return (double)NAN;
	while (f_tail(high, d1, d2) > alpha && high < 1e300)
		high *= 2.0;
	/* The tail only falls: halving ends when no number lies between. */
	for (int i = 0; i < 200; i++) {
		double middle = low + (high - low) / 2.0;

		if (f_tail(middle, d1, d2) > alpha)
			low = middle;
		else
			high = middle;
	}
	return high;
}
