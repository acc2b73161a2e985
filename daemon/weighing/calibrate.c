/* SPDX-License-Identifier: MIT */
#include "calibrate.h"

#include <errno.h>
#include <math.h>

#define CODE_STEP 1.0 /* counts: a mean of codes is no surer than its converter's step */

void calibrate_directions(struct calibration_load *loads, size_t n)
{
	enum load_direction direction = LOAD_RISING;

	for (size_t i = 1; i < n; i++)
		if (loads[i].mass_g != loads[0].mass_g) {
			direction = loads[i].mass_g > loads[0].mass_g ? LOAD_RISING : LOAD_FALLING;
			break;
		}
	for (size_t i = 0; i < n; i++) {
		if (i > 0 && loads[i].mass_g != loads[i - 1].mass_g)
			direction =
			        loads[i].mass_g > loads[i - 1].mass_g ? LOAD_RISING : LOAD_FALLING;
		loads[i].direction = direction;
	}
}

/* Grams over codes, written about the code of the empty pan. */
static struct calibration about_zero(const struct fit *grams)
{
	double zero = fit_inverse(grams, 0.0);
	double z = (zero - grams->middle) / grams->half_width;

	return (struct calibration){
	        .degree = grams->degree,
	        .zero_counts = zero,
	        .g_per_count = (grams->c[1] + 2.0 * grams->c[2] * z) / grams->half_width,
	        .g_per_count2 = grams->c[2] / (grams->half_width * grams->half_width),
	        .residual_sd_g = grams->residual_sd,
	};
}

static double greatest_error_g(const struct calibration_load *loads, size_t n,
                               enum load_direction direction, const struct calibration *calibration)
{
	double greatest_g = 0.0;

	for (size_t i = 0; i < n; i++)
		if (loads[i].direction == direction)
			greatest_g = fmax(greatest_g,
			                  fabs(calibration_mass_g(calibration, loads[i].counts) -
			                       loads[i].mass_g));
	return greatest_g;
}

static int choose_degree(const double *mass_g, const double *counts, double step_counts,
                         struct calibration_report *report)
{
	int r = fit_polynomial(mass_g, counts, report->n_rising, 1, step_counts, &report->straight);

	if (r < 0)
		return r;
	report->chosen = report->straight;
	if (!report->straight.refused)
		return 1;
	r = fit_polynomial(mass_g, counts, report->n_rising, 2, step_counts, &report->chosen);
	if (r < 0)
		return r;
	return report->chosen.refused ? -ERANGE : 2;
}

int calibrate(const struct calibration_load *loads, size_t n, struct calibration *ret_calibration,
              struct calibration_report *ret_report)
{
	return calibrate_in_steps(loads, n, CODE_STEP, ret_calibration, ret_report);
}

int calibrate_in_steps(const struct calibration_load *loads, size_t n, double step_counts,
                       struct calibration *ret_calibration, struct calibration_report *ret_report)
{
	double mass_g[FIT_POINTS_MAX], counts[FIT_POINTS_MAX];
	struct calibration_report report = {.n_rising = 0};
	struct calibration calibration;
	struct fit grams;
	int degree, r;

	if (n > FIT_POINTS_MAX || !(step_counts > 0.0))
		return -EINVAL;
	for (size_t i = 0; i < n; i++) {
		if (!isfinite(loads[i].mass_g) || !isfinite(loads[i].counts))
			return -EINVAL;
		if (loads[i].direction == LOAD_FALLING) {
			report.n_falling++;
			continue;
		}
		mass_g[report.n_rising] = loads[i].mass_g;
		counts[report.n_rising++] = loads[i].counts;
	}
	degree = choose_degree(mass_g, counts, step_counts, &report);
	if (degree == -ERANGE)
		*ret_report = report;
	if (degree < 0)
		return degree;
	r = fit_polynomial(counts, mass_g, report.n_rising, degree, 0.0, &grams);
	if (r < 0)
		return r;
	calibration = about_zero(&grams);
	if (!(calibration.g_per_count > 0.0)) {
		*ret_report = report;
		return -EDOM;
	}
	report.greatest_residual_g = greatest_error_g(loads, n, LOAD_RISING, &calibration);
	report.hysteresis_g = greatest_error_g(loads, n, LOAD_FALLING, &calibration);
	*ret_calibration = calibration;
	*ret_report = report;
	return 0;
}
