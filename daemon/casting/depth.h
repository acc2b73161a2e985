/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_DEPTH_H
#define AMBO_CASTING_DEPTH_H

#include "heat.h"

/* How deep one layer may be. The peak grows with depth, slowly and then over a cliff. */

#define DEPTH_SENTENCE_MAX 256u

/* The depth at which the layer's peak passes limit_degc, to about 0.5 %, between
 * HEAT_DEPTH_MIN_MM and most_mm; heat->depth_mm is not read. most_mm where even that
 * stays below; 0 where the thinnest passes it (resin or room warmer than the limit).
 * @guess_mm: where to begin; 0: Semenov's depth. 0, or heat_run()'s errors. */
int depth_at_limit(const struct heat_case *heat, double limit_degc, double guess_mm, double most_mm,
                   double *ret_mm);

enum depth_rule { DEPTH_RULE_LABEL, DEPTH_RULE_HEAT };

/* What is shown: the smaller of the label's maximum and the model's 5th percentile; the
 * model never raises the label. -EINVAL with a sentence where the label has none. */
int depth_allowed(double label_max_mm, double model_5th_mm, double *ret_mm,
                  enum depth_rule *ret_rule, char *ret_sentence);

#endif
