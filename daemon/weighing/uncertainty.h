/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_UNCERTAINTY_H
#define AMBO_WEIGHING_UNCERTAINTY_H

#include <stdint.h>

/* How far a weighing can be trusted: standard uncertainties, grams (JCGM 100:2008).
 * Independent contributions add in squares. A value that is not finite or below 0
 * gives INFINITY: nothing can be claimed. */

/* The mean of n samples of a converter whose sinc filter ties neighbours together is
 * less sure than white noise would make it: 1.445 sigma/sqrt(N) with the lag-1 and
 * lag-2 correlation recorded from HX711 boards (a sinc^4 filter: 1.4443). */
#define UNCERTAINTY_WHITE    1.0
#define UNCERTAINTY_COLOURED 1.445

/* What is known of the scale. 0 for what is known to be negligible. */
struct weighing_doubt {
	double interval_g;         /* scale interval d: d/sqrt(12), GUM F.2.2.1 */
	double residual_sd_g;      /* of the calibration's fit */
	double repeatability_sd_g; /* of one load put on again and again, beyond noise */
	double creep_share;        /* half-width, of the load: rectangular, GUM 4.3.7 */
	double zero_drift_g_per_s; /* half-width, since the tare: rectangular */
};

/* colour * sd / sqrt(n); INFINITY for n = 0. */
double uncertainty_of_mean_g(double sample_sd_g, uint32_t n, double colour);

/* One settled reading against the others of the batch: for struct weighing_point.
 * @noise_g: of the averaged value (struct reading's sd_g, or the function above);
 * @load_g: how much was put on since the tare; @since_tare_s: how long ago it was. */
double uncertainty_reading_g(const struct weighing_doubt *doubt, double noise_g, double load_g,
                             double since_tare_s);

/* A net mass, the difference of a tare reading and a later one. Each reading brings
 * its own noise, resolution, fit residual and repeatability; creep and drift are of
 * the change between the two, so they count once. */
double uncertainty_net_g(const struct weighing_doubt *doubt, double noise_tare_g,
                         double noise_gross_g, double net_g, double since_tare_s);

/* Smallest mass for 2 s / m <= relative_pct, s not below 0.41 d (the form of USP
 * chapter 41, which asks 0.10 %). INFINITY for relative_pct not above 0. */
double uncertainty_minimum_mass_g(double sd_g, double interval_g, double relative_pct);

#endif
