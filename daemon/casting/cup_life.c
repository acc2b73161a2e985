/* SPDX-License-Identifier: MIT */
#include "cup_life.h"

#include <math.h>

#include "cup.h"

double cup_life_s(const struct casting_system *system, double a_g, double b_g, double tint_g,
                  double resin_degc, double room_degc)
{
	const struct casting_resin *label = &system->fit.resin;
	const double weighed = system->hardener == PART_B ? b_g / a_g : a_g / b_g;
	struct cup_case cup = {.mass_g = a_g + b_g + fmax(tint_g, 0.0),
	                       .start_degc = isnan(resin_degc) ? room_degc : resin_degc,
	                       .ambient_degc = isnan(room_degc) ? resin_degc : room_degc};

	if (!(a_g > 0.0 && b_g > 0.0) || isnan(cup.start_degc))
		return (double)NAN;
	cup.resin = casting_resin_weighed(
	        label,
	        cure_weighed_stoichiometry(label->cure.stoichiometry, weighed, system->ratio),
	        system->ratio);
	return cup_gel_s(&cup);
}
