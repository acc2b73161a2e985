/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_TINT_H
#define AMBO_MIXING_TINT_H

#include "system.h"

/* Tint as a further charge: percent of the mixed mass, which is resin + hardener
 * without the tint. A dose too small for the scale becomes a weighed dilution in the
 * part it goes into. */

#define TINT_MAX_PCT 5.0 /* where the label says nothing: common practice, no source */

/* The most the label allows, or TINT_MAX_PCT. */
double tint_max_pct(const struct resin_system *system);

/* The dose for this much resin + hardener, and the share a weighed dose came to.
 * 0 for values that are not finite or below 0, or no mixed mass. */
double tint_dose_g(double mixed_g, double share_pct);
double tint_share_pct(double tint_g, double mixed_g);

/* The smallest dose this scale can weigh to relative_pct: two readings of u_reading_g
 * each, expanded by 2 (uncertainty_minimum_mass_g()). INFINITY for bad input. */
double tint_smallest_dose_g(double u_reading_g, double interval_g, double relative_pct);

/* Weigh tint_g of tint into carrier_g of the part, stir, and weigh portion_g of that
 * into the cup: it brings dose_g of tint and portion_carrier_g of the part. */
struct tint_dilution {
	double tint_g, carrier_g;
	double share_pct; /* tint in the dilution, by mass */
	double portion_g, portion_carrier_g;
	double left_over_g; /* of the dilution, for the next batch */
};

/* The least dilution whose dose is as sure as smallest_dose_g stands for: tint,
 * dilution and portion are each weighed at sqrt(3) times that or more, so the three
 * relative uncertainties add in squares to no more than one of it.
 * @carrier_max_g: what there is of the part to make it with; @part_g: what the cup
 * gets of the part in all, which the portion must not exceed.
 * -EINVAL for values that are not finite or above 0; -EALREADY when the dose can be
 * weighed as it is; -ERANGE when no dilution fits (then: by eye). */
int tint_dilution(double dose_g, double smallest_dose_g, double carrier_max_g, double part_g,
                  struct tint_dilution *ret);

#endif
