/* SPDX-License-Identifier: MIT */
#include "depth.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>

#include "root.h"

#define TOLERANCE     0.005 /* of the depth, relative: 25 um of 5 mm */
#define TOLERANCE_K   2e-2  /* a step; the peak is wrong by less than that */
#define BRACKET_GROWS 1.2
/* A run goes this much of the allowed rise past the limit before it is cut short: the
 * search still sees how far over it was. */
#define STOP_PAST 0.5

struct search {
	struct heat_case heat;
	double limit_degc;
	int failed;
};

/* ln of the rise over the allowed one: all but straight in ln of the depth below the
 * cliff, and finite past it. */
static double too_hot(double ln_mm, void *context)
{
	struct search *search = context;
	double allowed_k = search->limit_degc - search->heat.ambient_degc;
	struct heat_wanted wanted = {.tolerance_k = TOLERANCE_K,
	                             .stop_above_degc = search->limit_degc + STOP_PAST * allowed_k};
	struct heat_result result;
	int r;

	search->heat.depth_mm = exp(ln_mm);
	r = heat_run(&search->heat, &wanted, &result);
	if (r < 0) {
		search->failed = r;
		return (double)NAN;
	}
	return log(fmax(result.peak_degc - search->heat.ambient_degc, 1e-6) / allowed_k);
}

int depth_at_limit(const struct heat_case *heat, double limit_degc, double guess_mm, double most_mm,
                   double *ret_mm)
{
	struct search search = {.heat = *heat, .limit_degc = limit_degc};
	double least = log(HEAT_DEPTH_MIN_MM), most = log(most_mm), grow = log(BRACKET_GROWS);
	double at, value, next, next_value = 0.0, ln_mm;

	if (!(most_mm > HEAT_DEPTH_MIN_MM && most_mm <= HEAT_DEPTH_MAX_MM))
		return -EINVAL;
	if (heat->ambient_degc >= limit_degc || heat->start_degc >= limit_degc) {
		*ret_mm = 0.0;
		return 0;
	}
	guess_mm = guess_mm > 0.0 ? guess_mm : heat_semenov_depth_mm(heat);
	at = fmin(fmax(log(guess_mm), least), most);
	value = too_hot(at, &search);
	/* Away from the guess, in growing strides, until the limit lies between. */
	for (;;) {
		next = value < 0.0 ? fmin(at + grow, most) : fmax(at - grow, least);
		if (search.failed || next == at)
			break;
		next_value = too_hot(next, &search);
		if ((next_value < 0.0) != (value < 0.0))
			break;
		at = next;
		value = next_value;
		grow *= 1.5;
	}
	if (search.failed)
		return search.failed;
	if (next == at) {
		*ret_mm = value < 0.0 ? most_mm : 0.0;
		return 0;
	}
	if (root_between(too_hot, &search, at, value, next, next_value, TOLERANCE, &ln_mm) < 0)
		return search.failed ? search.failed : -EDOM;
	*ret_mm = exp(ln_mm);
	return 0;
}

int depth_allowed(double label_max_mm, double model_5th_mm, double *ret_mm,
                  enum depth_rule *ret_rule, char *ret_sentence)
{
	if (!(label_max_mm > 0.0)) {
		snprintf(ret_sentence, DEPTH_SENTENCE_MAX,
		         "the system has no pour depth from its label: read the label's maximum "
		         "depth for one layer and enter it; the model (%.1f mm) never replaces it",
		         model_5th_mm);
		return -EINVAL;
	}
	*ret_rule = model_5th_mm < label_max_mm ? DEPTH_RULE_HEAT : DEPTH_RULE_LABEL;
	*ret_mm = fmin(label_max_mm, model_5th_mm);
	return 0;
}
