/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CUP_H
#define AMBO_CASTING_CUP_H

#include "cure.h"

/* Resin left standing in its cup: one temperature, losing heat through its surface.
 *
 *   m cp dT/dt = m H da/dt - UA (T - Ta)
 *
 * Working life ends at gel. */

struct cup_case {
	struct casting_resin resin;
	double mass_g;
	double ua_w_per_k; /* 0: cup_ua_w_per_k() of the mass */
	double ambient_degc, start_degc, start_conversion;
	double tolerance_k; /* error a step; 0: CUP_TOLERANCE_K */
};

#define CUP_TOLERANCE_K 1e-4

struct cup_result {
	double gel_s, gel_degc; /* NaN: not by the end */
	double peak_degc, peak_s;
	double end_s, end_degc, end_conversion;
};

#define CUP_UNTIL_S (400.0 * 86400.0)

/* A cup of this mass: 0.066 (m / 100 g)^(2/3), as its surface grows (design choice). */
double cup_ua_w_per_k(double mass_g);

/* Only when it gels: NaN where it does not, or the case is out of range. */
double cup_gel_s(const struct cup_case *cup);

/* Until gelled and cooling, or until_s (0: CUP_UNTIL_S). With start_conversion and
 * start_degc from an earlier end it goes on from there: what is left of the working
 * life. 0; -EINVAL for a mass or temperature out of range; -ERANGE. Allocates nothing. */
int cup_run(const struct cup_case *cup, double until_s, struct cup_result *ret);

#endif
