/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_WATER_H
#define AMBO_CASTING_WATER_H

/* Water as a measure of volume. */

#define WATER_MIN_DEGC 0.0
#define WATER_MAX_DEGC 40.0

/* Density of air-free water at one atmosphere (Tanaka et al., Metrologia 38 (2001) 301;
 * coefficients from memory, checked against the handbook's table). NaN outside 0..40 C. */
double water_density_g_per_ml(double degc);

/* What a mass of water fills: a cavity filled on the scale, or, of a thing dunked on a
 * thread into water on the scale, the reading's gain (Archimedes). The air's buoyancy on
 * water, 0.1 %, is left in. */
double water_volume_ml(double water_g, double degc);

#endif
