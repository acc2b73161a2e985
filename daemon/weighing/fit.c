/* SPDX-License-Identifier: MIT */
#include "fit.h"

#include <errno.h>
#include <math.h>

#include "stats.h"

/* Polynomials in z that are orthogonal over the points: p0 = 1, p1 = z - a0,
 * p2 = (z - a1) p1 - b1. norm[k] is the sum of p_k squared. */
struct basis {
	double middle, half_width;
	double a0, a1, b1, norm[3];
};

static double basis_z(const struct basis *basis, double x)
{
	return (x - basis->middle) / basis->half_width;
}

static double basis_value(const struct basis *basis, int k, double z)
{
	double p1 = z - basis->a0;

	return k == 0 ? 1.0 : k == 1 ? p1 : (z - basis->a1) * p1 - basis->b1;
}

/* p_k as c[0] + c[1] z + c[2] z^2. */
static void basis_monomials(const struct basis *basis, int k, double c[3])
{
	c[0] = k == 0 ? 1.0 : k == 1 ? -basis->a0 : basis->a0 * basis->a1 - basis->b1;
	c[1] = k == 0 ? 0.0 : k == 1 ? 1.0 : -(basis->a0 + basis->a1);
	c[2] = k == 2 ? 1.0 : 0.0;
}

static void basis_sum_norm(struct basis *basis, const double *x, size_t n, int k)
{
	basis->norm[k] = 0.0;
	for (size_t i = 0; i < n; i++) {
		double p = basis_value(basis, k, basis_z(basis, x[i]));

		basis->norm[k] += p * p;
	}
}

static void basis_make(const double *x, size_t n, struct basis *ret)
{
	double low = x[0], high = x[0], sum = 0.0;

	for (size_t i = 1; i < n; i++) {
		low = fmin(low, x[i]);
		high = fmax(high, x[i]);
	}
	*ret = (struct basis){
	        .middle = low + (high - low) / 2.0,
	        .half_width = (high - low) / 2.0,
	        .norm = {(double)n},
	};
	for (size_t i = 0; i < n; i++)
		sum += basis_z(ret, x[i]);
	ret->a0 = sum / (double)n;
	basis_sum_norm(ret, x, n, 1);
	sum = 0.0;
	for (size_t i = 0; i < n; i++) {
		double z = basis_z(ret, x[i]), p1 = z - ret->a0;

		sum += z * p1 * p1;
	}
	ret->a1 = sum / ret->norm[1];
	ret->b1 = ret->norm[1] / ret->norm[0];
	basis_sum_norm(ret, x, n, 2);
}

/* c[] of z-monomials into b[] of x-monomials. */
static void in_x(const struct basis *basis, const double c[3], double b[3])
{
	double h = basis->half_width, m = basis->middle;

	b[2] = c[2] / (h * h);
	b[1] = c[1] / h - 2.0 * b[2] * m;
	b[0] = c[0] - c[1] * (m / h) + b[2] * m * m;
}

double fit_value(const struct fit *fit, double x)
{
	double z = (x - fit->middle) / fit->half_width;

	return fit->c[0] + z * (fit->c[1] + z * fit->c[2]);
}

double fit_inverse(const struct fit *fit, double y)
{
	double c1 = fit->c[1], c2 = fit->c[2], d = y - fit->c[0], root;

	/* The root that goes to d / c1 as c2 vanishes, without cancelling. */
	root = copysign(sqrt(c1 * c1 + 4.0 * c2 * d), c1);
	return fit->middle + fit->half_width * (2.0 * d / (c1 + root));
}

/* Term after term, each from what the ones before it left over: rounding in one is
 * taken up by the next. */
static void project(const struct basis *basis, const double *x, const double *y, struct fit *fit)
{
	for (int k = 0; k <= fit->degree; k++) {
		double sum = 0.0, monomials[3];

		for (size_t i = 0; i < fit->n; i++)
			sum += (y[i] - fit_value(fit, x[i])) *
			       basis_value(basis, k, basis_z(basis, x[i]));
		basis_monomials(basis, k, monomials);
		for (int j = 0; j < 3; j++)
			fit->c[j] += sum / basis->norm[k] * monomials[j];
	}
}

static void measure_residuals(const struct basis *basis, const double *x, const double *y,
                              struct fit *fit)
{
	double squares = 0.0, variance;

	for (size_t i = 0; i < fit->n; i++) {
		double residual = y[i] - fit_value(fit, x[i]);

		squares += residual * residual;
		fit->greatest_residual = fmax(fit->greatest_residual, fabs(residual));
	}
	variance = squares / ((double)fit->n - fit->degree - 1.0);
	fit->residual_sd = sqrt(variance);
	for (int k = 0; k <= fit->degree; k++) {
		double c[3], b[3];

		basis_monomials(basis, k, c);
		in_x(basis, c, b);
		for (int j = 0; j < 3; j++)
			fit->b_sd[j] += b[j] * b[j] * (variance / basis->norm[k]);
	}
	for (int j = 0; j < 3; j++)
		fit->b_sd[j] = sqrt(fit->b_sd[j]);
}

static bool seen_before(const double *x, size_t i)
{
	for (size_t j = 0; j < i; j++)
		if (x[j] == x[i])
			return true;
	return false;
}

static size_t count_different(const double *x, size_t n)
{
	size_t count = 0;

	for (size_t i = 0; i < n; i++)
		count += !seen_before(x, i);
	return count;
}

/* One x and its repeats: their scatter about their mean, and their mean about the
 * curve. */
static void add_group(const double *x, const double *y, size_t first, const struct fit *fit,
                      double *scatter, double *lack)
{
	double sum = 0.0, count = 0.0, mean, off;

	for (size_t i = first; i < fit->n; i++)
		if (x[i] == x[first]) {
			sum += y[i] - y[first];
			count += 1.0;
		}
	mean = y[first] + sum / count;
	for (size_t i = first; i < fit->n; i++)
		if (x[i] == x[first])
			*scatter += (y[i] - mean) * (y[i] - mean);
	off = mean - fit_value(fit, x[first]);
	*lack += count * off * off;
}

static void judge(const double *x, const double *y, size_t different, double interval,
                  struct fit *fit)
{
	double scatter = 0.0, lack = 0.0, variance;

	fit->replication_df = (double)(fit->n - different);
	fit->lack_df = (double)different - fit->degree - 1.0;
	if (fit->replication_df < 1.0 || fit->lack_df < 1.0)
		return;
	for (size_t i = 0; i < fit->n; i++)
		if (!seen_before(x, i))
			add_group(x, y, i, fit, &scatter, &lack);
	variance = fmax(scatter / fit->replication_df, interval * interval / 12.0);
	if (variance <= 0.0)
		return; /* repeats agree to the last digit: their scatter is not known */
	fit->judged = true;
	fit->replication_sd = sqrt(variance);
	fit->lack_f = lack / fit->lack_df / variance;
	fit->lack_p = f_tail(fit->lack_f, fit->lack_df, fit->replication_df);
	fit->lack_critical_f = f_critical(FIT_ALPHA, fit->lack_df, fit->replication_df);
	fit->refused = fit->lack_f > fit->lack_critical_f;
}

int fit_polynomial(const double *x, const double *y, size_t n, int degree, double interval,
                   struct fit *ret)
{
	struct basis basis;
	struct fit fit = {.degree = degree, .n = n};
	size_t different;

	if ((degree != 1 && degree != 2) || n > FIT_POINTS_MAX || !isfinite(interval) ||
	    interval < 0.0)
		return -EINVAL;
	different = count_different(x, n);
	if (n < (size_t)degree + 2 || different < (size_t)degree + 1)
		return -ENODATA;
	basis_make(x, n, &basis);
	fit.middle = basis.middle;
	fit.half_width = basis.half_width;
	project(&basis, x, y, &fit);
	in_x(&basis, fit.c, fit.b);
	measure_residuals(&basis, x, y, &fit);
	if (!isfinite(fit.residual_sd) || !isfinite(fit.b[0] + fit.b[1] + fit.b[2]))
		return -EINVAL; /* a value that is not finite, or whose square is not */
	judge(x, y, different, interval, &fit);
	*ret = fit;
	return 0;
}
