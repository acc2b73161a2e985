/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_LAYER_DEPTH_H
#define AMBO_CASTING_LAYER_DEPTH_H

#include "band.h"

/* The 5th percentile alone of band_depth()'s answer, at a quarter of its cost: a sample
 * whose layer stays cool at a depth that is already too deep for 5 % of the others needs
 * no search of its own. The same number as band_depth()'s p5 to the search's 0.5 %.
 * 0, or heat_run()'s errors. */
int layer_depth_5th(const struct band *band, const struct heat_case *heat, double limit_degc,
                    double most_mm, double *ret_mm);

#endif
