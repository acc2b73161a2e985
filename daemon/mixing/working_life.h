/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_WORKING_LIFE_H
#define AMBO_MIXING_WORKING_LIFE_H

#include "system.h"

/* How long the mixed resin may be worked: the label's time, shortened for a mass or
 * a temperature above the label's, never lengthened. */

/* Warmer than the label: a third for every 10 K. A design choice on the short side of
 * the gel times computed for a cup, which warms itself and so falls faster than its
 * chemistry alone (Arrhenius at 55..60 kJ/mol, published for epoxy with a primary
 * amine, gives 2.1 to 2.25): the model's fast family falls by 2.54 per 10 K at 100 g
 * between 20 and 25 C, by 2.97 at 30 g. A slow resin in a big cup can fall faster
 * still: no rule of thumb bounds that, the resin measured does.
 * Cooler or smaller than the label: the label's time.
 * More than the label's mass: times (m_label / m)^(1/3). A cup loses heat through its
 * surface, m^(2/3), so the loss per gram falls as m^(-1/3). A design choice, on the
 * short side for the cups computed so far (see its test).
 *
 * @degc: temperature of the resin itself; NaN where it is not known, then the label's.
 * Returns seconds, > 0 and at most working_life_s; 0 (nothing may be promised) for a
 * mass that is not above 0, an infinite temperature or a system without a label. */
double working_life_s(const struct resin_system *system, double mass_g, double degc);

/* What is left of it at most, now that the resin is at degc: the share that was not used
 * up, taken at this temperature. What is used up counts as at the temperature of the
 * start, where it was used up slowest; so this only bounds what another reckoning has.
 *
 * @life_s: as reckoned when it began, > 0. @elapsed_s: since then.
 * Seconds >= 0; INFINITY where degc or the system tells nothing. */
double working_life_left_s(const struct resin_system *system, double mass_g, double life_s,
                           double elapsed_s, double degc);

#endif
