/* SPDX-License-Identifier: MIT */
#include "working_life.h"

#include <math.h>

#define SHARE_PER_10_K (1.0 / 3.0)

double working_life_s(const struct resin_system *system, double mass_g, double degc)
{
	double life_s = system->working_life_s;

	if (!isfinite(mass_g) || mass_g <= 0.0 || isinf(degc) || !isfinite(life_s) ||
	    life_s <= 0.0 || !(system->working_life_mass_g > 0.0) ||
	    !isfinite(system->working_life_degc))
		return 0.0;
	if (degc > system->working_life_degc)
		life_s *= pow(SHARE_PER_10_K, (degc - system->working_life_degc) / 10.0);
	if (mass_g > system->working_life_mass_g)
		life_s *= cbrt(system->working_life_mass_g / mass_g);
	return life_s;
}

double working_life_left_s(const struct resin_system *system, double mass_g, double life_s,
                           double elapsed_s, double degc)
{
	const double at_degc_s = isfinite(degc) ? working_life_s(system, mass_g, degc) : 0.0;

	if (!(at_degc_s > 0.0) || !(life_s > 0.0) || !isfinite(elapsed_s))
		return INFINITY;
	return fmax(1.0 - fmax(elapsed_s, 0.0) / life_s, 0.0) * at_degc_s;
}
