/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CUP_LIFE_H
#define AMBO_CASTING_CUP_LIFE_H

#include "casting_system.h"

/* The working life of a cup by the model: from the hardener's first gram until it gels,
 * by what was weighed into it, its own temperature and the room's. The fitted resin's
 * middle, not its band: callers take the shorter of this and the label's.
 *
 * Seconds; NaN where it never gels, or nothing is known: no masses, no temperature at
 * all. Of one temperature that is NaN the other is taken. */
double cup_life_s(const struct casting_system *system, double a_g, double b_g, double tint_g,
                  double resin_degc, double room_degc);

#endif
