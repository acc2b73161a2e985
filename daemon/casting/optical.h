/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_OPTICAL_H
#define AMBO_CASTING_OPTICAL_H

#include <stddef.h>

/* What is still seen through tinted layers, by Beer and Lambert: the optical depth adds
 * over layers, the transmitted share is 10^-(sum of eps c d). Lit from the viewer's side
 * the light passes twice. Decadic; eps per percent of dose and mm. */

struct optical_chip {
	double dose_pct, thickness_mm;
	double transmitted; /* share of the light that passes once, 0..1 */
};

struct optical_layer {
	double eps_low, eps_high; /* equal for a dissolved tint; apart for mica */
	double dose_pct, thickness_mm;
};

struct optical_range {
	double low, high;
};

/* eps of one chip, in the same light as the piece. -EINVAL unless dose and thickness are
 * above 0 and the share lies in 0..1, both left out. */
int optical_eps(const struct optical_chip *chip, double *ret_eps);
/* Mica scatters, which is no Beer-Lambert: two chips of different thickness give two
 * values, and the truth is taken to lie between. -EINVAL too for equal thickness. */
int optical_eps_range(const struct optical_chip *one, const struct optical_chip *other,
                      struct optical_range *ret_eps);

/* The share of the lowest inclusion's light that comes through the n layers above it.
 * @passes: 1 lit from behind, 2 from the viewer's side. */
struct optical_range optical_seen(const struct optical_layer *layers, size_t n, int passes);

#endif
