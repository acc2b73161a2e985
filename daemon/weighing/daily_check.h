/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_DAILY_CHECK_H
#define AMBO_WEIGHING_DAILY_CHECK_H

#include "advice.h"
#include "limits.h"

/* One known weight on the pan, held against what the scale may err by: is it still
 * the scale it was? OIML R 76-1 in service, R 111-1 for the weight. */

enum check_verdict {
	CHECK_FAILED,      /* past the limit by more than the weight itself may be off */
	CHECK_CANNOT_TELL, /* the weight's tolerance lies across the limit */
	CHECK_PASSED,
};

const char *check_verdict_name(enum check_verdict verdict); /* "failed" "cannot-tell" "passed" */

struct daily_check {
	double nominal_g, indicated_g;
	enum weight_class weight;
	enum accuracy_class accuracy; /* the limits taken */
	double error_g;               /* E = I - L, of the unrounded indication */
	double limit_g;               /* maximum permissible error in service (R 76-1, 3.5.2) */
	double tolerance_g;           /* of the weight (R 111-1, Table 1) */
	enum check_verdict verdict;
};

/* @max_g, @interval_g: of the scale, e = d. @indicated_g: settled, unrounded, from the
 * zero. -ENOENT: no nominal value of a single weight; -ERANGE: the weight's tolerance
 * is over a third of the limit (R 76-1, 3.7.1), or it is beyond Max: ret->tolerance_g
 * and limit_g are set; -EDOM: what is on the pan is not within a twentieth of it;
 * -EINVAL. Of *ret nothing else holds then. */
int daily_check_judge(double max_g, double interval_g, double nominal_g, enum weight_class weight,
                      double indicated_g, struct daily_check *ret);

/* What it may be when that says -EDOM: ADVICE_SWAPPED_PAIR for as much below zero,
 * ADVICE_WEIGHT_OR_GAIN for what another gain of the converter makes of the weight (a half,
 * a quarter, twice, four times), else ADVICE_WEIGHT_NOT_ON. */
enum advice_id daily_check_suspect(double nominal_g, double indicated_g);

#endif
