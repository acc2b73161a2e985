/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_WORKING_LIFE_H
#define AMBO_MIXING_WORKING_LIFE_H

#include "system.h"

/* How long the mixed resin may be worked: the label's time, shortened for a mass or
 * a temperature above the label's, never lengthened. */

/* Warmer than the label: halved every 10 K. Arrhenius gives exactly 2 from 20 to
 * 30 C at E = 51.2 kJ/mol; epoxy with a primary amine has 55..60 (published), 2.1 to
 * 2.25, so this is the trade's rule of thumb and no bound: the measured resin rules.
 * Cooler or smaller than the label: the label's time.
 * More than the label's mass: times (m_label / m)^(1/3). A cup loses heat through its
 * surface, m^(2/3), so the loss per gram falls as m^(-1/3). A design choice, on the
 * short side for the cups computed so far (see its test).
 *
 * @degc: temperature of the resin itself; NaN where it is not known, then the label's.
 * Returns seconds, > 0 and at most working_life_s; 0 (nothing may be promised) for a
 * mass that is not above 0, an infinite temperature or a system without a label. */
double working_life_s(const struct resin_system *system, double mass_g, double degc);

#endif
