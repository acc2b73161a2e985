/* SPDX-License-Identifier: MIT */
#include "daily_check.h"

#include <errno.h>
#include <math.h>
#include <stddef.h>

/* Farther off than this it is not that weight, or no weight at all (common practice,
 * no source). */
#define NOT_ON_SHARE 0.05

const char *check_verdict_name(enum check_verdict verdict)
{
	switch (verdict) {
	case CHECK_FAILED:
		return "failed";
	case CHECK_CANNOT_TELL:
		return "cannot-tell";
	case CHECK_PASSED:
		return "passed";
	}
	return "";
}

int daily_check_judge(double max_g, double interval_g, double nominal_g, enum weight_class weight,
                      double indicated_g, struct daily_check *ret)
{
	double mpe_e, tolerance_mg;
	int r;

	if (!(max_g > 0.0) || !(interval_g > 0.0) || !isfinite(max_g) || !isfinite(indicated_g))
		return -EINVAL;
	r = limits_weight_mpe_mg(weight, nominal_g, &tolerance_mg);
	if (r < 0)
		return r;
	ret->nominal_g = nominal_g;
	ret->weight = weight;
	ret->indicated_g = indicated_g;
	ret->accuracy = limits_class_of(max_g, interval_g);
	ret->tolerance_g = tolerance_mg / 1000.0;
	ret->limit_g = 0.0;
	if (nominal_g > max_g)
		return -ERANGE;
	r = limits_mpe_e(ret->accuracy, nominal_g / interval_g, true, &mpe_e);
	if (r < 0)
		return r;
	ret->limit_g = mpe_e * interval_g;
	/* A decimal third is not a binary one: a weight exactly at it is good enough. */
	if (ret->tolerance_g > ret->limit_g / 3.0 * (1.0 + 1e-9))
		return -ERANGE;
	ret->error_g = indicated_g - nominal_g;
	if (fabs(ret->error_g) > NOT_ON_SHARE * nominal_g + ret->limit_g)
		return -EDOM;
	ret->verdict = fabs(ret->error_g) <= ret->limit_g - ret->tolerance_g   ? CHECK_PASSED
	               : fabs(ret->error_g) <= ret->limit_g + ret->tolerance_g ? CHECK_CANNOT_TELL
	                                                                       : CHECK_FAILED;
	return 0;
}

enum advice_id daily_check_suspect(double nominal_g, double indicated_g)
{
	static const double gains[] = {0.25, 0.5, 2.0, 4.0};
	const double ratio = indicated_g / nominal_g;

	if (fabs(ratio + 1.0) <= NOT_ON_SHARE)
		return ADVICE_SWAPPED_PAIR;
	for (size_t i = 0; i < sizeof(gains) / sizeof(gains[0]); i++)
		if (fabs(ratio / gains[i] - 1.0) <= NOT_ON_SHARE)
			return ADVICE_WEIGHT_OR_GAIN;
	return ADVICE_WEIGHT_NOT_ON;
}
