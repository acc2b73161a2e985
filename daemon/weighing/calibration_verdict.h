/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_CALIBRATION_VERDICT_H
#define AMBO_WEIGHING_CALIBRATION_VERDICT_H

#include "calibration_run.h"

/* What the readings of a whole run come to. ADVICE_NONE with *ret set, or why it is
 * refused: a bend, a zero that drifted, a fit without an answer. */
struct advice calibration_verdict(const struct calibration_run *run,
                                  struct calibration_result *ret);

#endif
