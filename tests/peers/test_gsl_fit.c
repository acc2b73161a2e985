/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The GNU Scientific Library as a second opinion on random data. This program links
 * it, is therefore under its licence, and is never installed. */
#include "tests/support/assert_close.h"
#include "tests/support/random.h"

#include <math.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_multifit.h>
#include <gsl/gsl_statistics_double.h>

#include "daemon/mixing/ratio.h"
#include "daemon/weighing/fit.h"
#include "daemon/weighing/stats.h"

#define POINTS 60u

/* GSL's least squares by singular values, on the monomials of the same scaled z. */
static double gsl_residual_sd(const double *z, const double *y, size_t n, int degree, double c[3],
                              double c_sd[3])
{
	size_t terms = (size_t)degree + 1;
	gsl_multifit_linear_workspace *workspace = gsl_multifit_linear_alloc(n, terms);
	gsl_matrix *design = gsl_matrix_alloc(n, terms), *cov = gsl_matrix_alloc(terms, terms);
	gsl_vector *values = gsl_vector_alloc(n), *found = gsl_vector_alloc(terms);
	double chi2;

	for (size_t i = 0; i < n; i++) {
		gsl_vector_set(values, i, y[i]);
		for (size_t k = 0; k < terms; k++)
			gsl_matrix_set(design, i, k, pow(z[i], (double)k));
	}
	assert_int_equal(gsl_multifit_linear(design, values, found, cov, &chi2, workspace), 0);
	for (size_t k = 0; k < terms; k++) {
		c[k] = gsl_vector_get(found, k);
		c_sd[k] = sqrt(gsl_matrix_get(cov, k, k));
	}
	gsl_vector_free(found);
	gsl_vector_free(values);
	gsl_matrix_free(cov);
	gsl_matrix_free(design);
	gsl_multifit_linear_free(workspace);
	return sqrt(chi2 / (double)(n - terms));
}

static void random_calibrations_agree_with_gsl(void **state)
{
	struct random random = {1809};

	(void)state;
	for (int k = 0; k < 300; k++) {
		double x[POINTS], y[POINTS], z[POINTS], c[3] = {0}, c_sd[3] = {0}, sd;
		size_t n = 5 + (size_t)random_between(&random, 0.0, POINTS - 5.0);
		int degree = 1 + k % 2;
		double noise = exp(random_between(&random, log(1.0), log(1000.0)));
		struct fit fit;

		for (size_t i = 0; i < n; i++) {
			x[i] = random_between(&random, 0.0, 5000.0);
			y[i] = 190000.0 + 429.5 * x[i] + 1e-4 * x[i] * x[i] +
			       noise * random_normal(&random);
		}
		assert_int_equal(fit_polynomial(x, y, n, degree, 0.0, &fit), 0);
		for (size_t i = 0; i < n; i++)
			z[i] = (x[i] - fit.middle) / fit.half_width;
		sd = gsl_residual_sd(z, y, n, degree, c, c_sd);
		assert_close(fit.residual_sd, sd, 1e-9);
		for (int j = 0; j <= degree; j++)
			assert_within(fit.c[j], c[j], 1e-9 * fabs(c[0]));
		/* The slope's sd at degree 1 and the bend's at 2 only change their scale. */
		assert_close(fit.b_sd[degree], c_sd[degree] / pow(fit.half_width, degree), 1e-9);
	}
}

static void random_series_agree_with_gsl(void **state)
{
	struct random random = {1908};

	(void)state;
	for (int k = 0; k < 300; k++) {
		double y[POINTS], offset = random_between(&random, -1e6, 1e6);
		struct stats stats;

		for (size_t i = 0; i < POINTS; i++)
			y[i] = offset + random_normal(&random);
		assert_int_equal(stats_of(y, POINTS, &stats), 0);
		assert_close(stats.mean, gsl_stats_mean(y, 1, POINTS), 1e-14);
		assert_close(stats.sd, gsl_stats_sd(y, 1, POINTS), 1e-9);
		assert_within(stats.lag1, gsl_stats_lag1_autocorrelation(y, 1, POINTS), 1e-7);
	}
}

static void tails_agree_with_gsl(void **state)
{
	struct random random = {42};

	(void)state;
	for (int k = 0; k < 3000; k++) {
		double d1 = floor(random_between(&random, 1.0, 200.0));
		double d2 = floor(random_between(&random, 1.0, 200.0));
		double f = exp(random_between(&random, -4.0, 4.0));
		double y = random_between(&random, -6.0, 6.0);

		assert_within(f_tail(f, d1, d2), gsl_cdf_fdist_Q(f, d1, d2), 1e-12);
		assert_close(f_critical(0.05, d1, d2), gsl_cdf_fdist_Qinv(0.05, d1, d2), 1e-7);
		assert_close(conformity_probability(-1.0, 1.5, y, 0.7),
		             y > 0.0 ? gsl_cdf_ugaussian_P((1.5 - y) / 0.7) -
		                               gsl_cdf_ugaussian_P((-1.0 - y) / 0.7)
		                     : gsl_cdf_ugaussian_Q((-1.0 - y) / 0.7) -
		                               gsl_cdf_ugaussian_Q((1.5 - y) / 0.7),
		             1e-9);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(random_calibrations_agree_with_gsl),
	        cmocka_unit_test(random_series_agree_with_gsl),
	        cmocka_unit_test(tails_agree_with_gsl),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
