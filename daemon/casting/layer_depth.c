/* SPDX-License-Identifier: MIT */
#include "layer_depth.h"

#include <errno.h>
#include <stdlib.h>

#define TOLERANCE_K 5e-3

/* The order statistics that the 5th percentile lies between: kept, and their largest
 * looked for again after each change. */
#define KEPT_MAX (BAND_SAMPLES_MAX / 20u + 2u)

struct ranked {
	unsigned sample;
	double semenov_mm;
};

static int nearer(const void *a, const void *b)
{
	const struct ranked *x = a, *y = b;

	return (x->semenov_mm > y->semenov_mm) - (x->semenov_mm < y->semenov_mm);
}

static struct heat_case sampled(const struct heat_case *heat, const struct band_sample *sample)
{
	struct heat_case out = *heat;

	out.resin = sample->resin;
	out.top_w_per_m2k = sample->top_w_per_m2k;
	out.bottom_w_per_m2k *= sample->bottom_factor;
	return out;
}

static unsigned largest(const double *values, unsigned n)
{
	unsigned at = 0;

	for (unsigned i = 1; i < n; i++)
		if (values[i] > values[at])
			at = i;
	return at;
}

/* 1: stays below the limit at this depth; 0: passes it. */
static int cool_at(struct heat_case heat, double limit_degc, double depth_mm)
{
	const struct heat_wanted wanted = {.tolerance_k = TOLERANCE_K,
	                                   .stop_above_degc = limit_degc};
	struct heat_result result;
	int r;

	heat.depth_mm = depth_mm;
	r = heat_run(&heat, &wanted, &result);
	return r < 0 ? r : result.peak_degc < limit_degc;
}

int layer_depth_5th(const struct band *band, const struct heat_case *heat, double limit_degc,
                    double most_mm, double *ret_mm)
{
	struct ranked order[BAND_SAMPLES_MAX];
	double kept[KEPT_MAX], over_semenov = 1.1;
	const double place = 0.05 * (band->n - 1);
	const unsigned below = (unsigned)place;
	const unsigned n_kept = below + 2 < band->n ? below + 2 : band->n;
	unsigned n = 0, at;

	/* Those most likely to be short come first, so that few later ones push in. */
	for (unsigned i = 0; i < band->n; i++) {
		const struct heat_case one = sampled(heat, &band->samples[i]);

		order[i] = (struct ranked){i, heat_semenov_depth_mm(&one)};
	}
	qsort(order, band->n, sizeof(order[0]), nearer);
	for (unsigned i = 0; i < band->n; i++) {
		const struct heat_case one = sampled(heat, &band->samples[order[i].sample]);
		double depth_mm;
		int r;

		at = n == n_kept ? largest(kept, n) : n;
		if (n == n_kept) {
			r = kept[at] >= HEAT_DEPTH_MIN_MM ? cool_at(one, limit_degc, kept[at]) : 1;
			if (r < 0)
				return r;
			if (r == 1)
				continue;
		}
		r = depth_at_limit(&one, limit_degc, over_semenov * order[i].semenov_mm, most_mm,
		                   &depth_mm);
		if (r < 0)
			return r;
		if (depth_mm > 0.0 && depth_mm < most_mm)
			over_semenov = depth_mm / order[i].semenov_mm;
		if (n < n_kept)
			kept[n++] = depth_mm;
		else if (depth_mm < kept[at])
			kept[at] = depth_mm;
	}
	*ret_mm = percentile(kept, n, n > 1 ? place / (n - 1) : 0.0);
	return 0;
}
