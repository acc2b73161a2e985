/* SPDX-License-Identifier: MIT */
#include "heat.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>

struct limit {
	const char *what;
	double value, low, high;
};

int heat_check(const struct heat_case *heat, char *ret_sentence, size_t size)
{
	const struct limit limits[] = {
	        {"the layer's depth (mm)", heat->depth_mm, HEAT_DEPTH_MIN_MM, HEAT_DEPTH_MAX_MM},
	        {"the cured layers below (mm)", heat->below_mm, 0.0, HEAT_DEPTH_MAX_MM},
	        {"heat transfer at the top (W/m2K)", heat->top_w_per_m2k, 0.0, 1e6},
	        {"heat transfer at the bottom (W/m2K)", heat->bottom_w_per_m2k, 0.0, 1e6},
	        {"the room (C)", heat->ambient_degc, -60.0, 250.0},
	        {"the resin at the pour (C)", heat->start_degc, -60.0, 250.0},
	        {"the cured layers at the pour (C)", heat->below_degc,
	         heat->below_mm > 0.0 ? -60.0 : -INFINITY, heat->below_mm > 0.0 ? 250.0 : INFINITY},
	        {"the conversion at the pour", heat->start_conversion, 0.0, 1.0},
	};

	for (size_t i = 0; i < sizeof limits / sizeof *limits; i++)
		if (!(limits[i].value >= limits[i].low && limits[i].value <= limits[i].high)) {
			snprintf(ret_sentence, size, "%s: %.6g; expected %.6g to %.6g",
			         limits[i].what, limits[i].value, limits[i].low, limits[i].high);
			return -EINVAL;
		}
	return casting_resin_check(&heat->resin, ret_sentence, size);
}

/* The greatest of (A1 + A2 a)(1 - a)(B - a) lies where its slope, a quadratic, is zero;
 * here by scanning, which also holds for E1 unlike E2 and with vitrification. */
static double fastest_per_s(const struct cure *cure, double t_k)
{
	double end = fmin(1.0, cure->stoichiometry), best = 0.0;

	for (int i = 0; i <= 1000; i++)
		best = fmax(best, cure_rate_per_s(cure, t_k, end * i / 1000.0));
	return best;
}

double heat_semenov_depth_mm(const struct heat_case *heat)
{
	const struct cure *cure = &heat->resin.cure;
	double t_k = heat->ambient_degc + CURE_ZERO_DEGC_K;
	double rate = fastest_per_s(cure, t_k);
	double e_j_per_mol = cure->a2_per_s > 0.0 ? cure->e2_j_per_mol : cure->e1_j_per_mol;

	return 1000.0 * (heat->top_w_per_m2k + heat->bottom_w_per_m2k) *
	       CURE_GAS_CONSTANT_J_PER_MOLK * t_k * t_k /
	       (exp(1.0) * heat->resin.material.density_kg_per_m3 * cure->heat_j_per_kg * rate *
	        e_j_per_mol);
}
