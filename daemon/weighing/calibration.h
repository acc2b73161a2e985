/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_CALIBRATION_H
#define AMBO_WEIGHING_CALIBRATION_H

#include <stddef.h>
#include <stdint.h>

/* From counts to grams: a polynomial of degree 1 or 2 in (counts - zero). */
struct calibration {
	int degree;           /* 1 or 2 */
	double zero_counts;   /* the code of the empty pan */
	double g_per_count;   /* > 0: a rising load raises the code */
	double g_per_count2;  /* 0 for degree 1 */
	double residual_sd_g; /* of the fit; 0 where unknown */
};

/* grams = d * (g_per_count + g_per_count2 * d), d = counts - zero_counts. */
double calibration_mass_g(const struct calibration *calibration, double counts);

/* The inverse, for simulators and traces. Within the branch through zero; NaN for
 * a mass that a curved (degree 2) calibration never reaches. */
double calibration_counts(const struct calibration *calibration, double mass_g);

/* 0 when the calibration can weigh -max_g..max_g: -EINVAL for a degree other than
 * 1 or 2, a value that is not finite, g_per_count <= 0, a curvature with degree 1,
 * a negative residual; -ERANGE when the curve turns over within that range. */
int calibration_check(const struct calibration *calibration, double max_g);

#endif
