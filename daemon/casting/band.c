/* SPDX-License-Identifier: MIT */
#include "band.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "cup.h"
#include "draw.h"

#define TOLERANCE_K 1e-2
/* The cup whose time a resin without a label keeps. */
#define ABOUT_G    100.0
#define ABOUT_DEGC 25.0

const struct band_spread band_spread_usual = {
        .top_w_per_m2k = {7.0, 13.0},
        .bottom_factor = {0.7, 1.4},
        .heat_factor = {0.9, 1.1},
        .time_factor = {0.9, 1.0 / 0.9},
        .energy_j_per_mol = {55e3, 60e3},
        .c_factor = {0.2, 5.0},
};

enum unknown { U_TOP, U_BOTTOM, U_HEAT, U_TIME, U_ENERGY, U_C };
_Static_assert(U_C + 1 == DRAW_DIMENSIONS, "one dimension an unknown");

static double factor(const struct draw *draw, unsigned i, enum unknown unknown,
                     const struct range *range)
{
	return draw_log_between(draw_uniform(draw, i, unknown), range->low, range->high);
}

/* A resin like this with another heat, energy and c; E moves about 25 C, so that the
 * rate there stays and only its slope changes. */
static struct casting_resin varied(const struct casting_resin *resin,
                                   const struct band_spread *spread, const struct draw *draw,
                                   unsigned i)
{
	struct casting_resin out = *resin;
	struct cure *cure = &out.cure;
	double energy = draw_between(draw_uniform(draw, i, U_ENERGY), spread->energy_j_per_mol.low,
	                             spread->energy_j_per_mol.high);
	double per_rt = 1.0 / (CURE_GAS_CONSTANT_J_PER_MOLK * (25.0 + CURE_ZERO_DEGC_K));
	double c = factor(draw, i, U_C, &spread->c_factor);

	cure->heat_j_per_kg *= factor(draw, i, U_HEAT, &spread->heat_factor);
	cure->a1_per_s *= c * exp((energy - cure->e1_j_per_mol) * per_rt);
	cure->a2_per_s *= exp((energy - cure->e2_j_per_mol) * per_rt);
	cure->e1_j_per_mol = cure->e2_j_per_mol = energy;
	return out;
}

static void surfaces(struct band_sample *sample, const struct band_spread *spread,
                     const struct draw *draw, unsigned i)
{
	sample->top_w_per_m2k = draw_between(draw_uniform(draw, i, U_TOP),
	                                     spread->top_w_per_m2k.low, spread->top_w_per_m2k.high);
	sample->bottom_factor = factor(draw, i, U_BOTTOM, &spread->bottom_factor);
}

int band_draw(const struct label *label, const struct band_spread *spread, uint64_t seed,
              unsigned n, struct band *ret, char *ret_sentence)
{
	struct draw draw;
	struct label_fit fit;
	int r = n > 0 && n <= BAND_SAMPLES_MAX ? label_fit(label, &fit, ret_sentence) : -EINVAL;

	if (r < 0)
		return r;
	draw_init(&draw, seed);
	ret->n = n;
	ret->film_ignored = 0;
	for (unsigned i = 0; i < n; i++) {
		struct label drawn = *label;
		char unused[LABEL_SENTENCE_MAX];

		drawn.family = varied(&label->family, spread, &draw, i);
		drawn.pot_life_s *= factor(&draw, i, U_TIME, &spread->time_factor);
		/* The film's own time errs on its own: the dimension of c is free when it counts.
		 */
		drawn.film_gel_s *=
		        draw_log_between(draw_uniform(&draw, i, U_C), spread->time_factor.low,
		                         spread->time_factor.high);
		if (label_fit(&drawn, &fit, unused) < 0) {
			drawn.film_gel_s = 0.0;
			ret->film_ignored++;
			r = label_fit(&drawn, &fit, ret_sentence);
			if (r < 0)
				return r;
		}
		ret->samples[i].resin = fit.resin;
		surfaces(&ret->samples[i], spread, &draw, i);
	}
	return 0;
}

int band_draw_about(const struct casting_resin *resin, const struct band_spread *spread,
                    uint64_t seed, unsigned n, struct band *ret)
{
	struct cup_case cup = {.resin = *resin,
	                       .mass_g = ABOUT_G,
	                       .ambient_degc = ABOUT_DEGC,
	                       .start_degc = ABOUT_DEGC};
	struct label label = {.family = *resin,
	                      .pot_life_s = cup_gel_s(&cup),
	                      .pot_mass_g = ABOUT_G,
	                      .pot_degc = ABOUT_DEGC};
	char unused[LABEL_SENTENCE_MAX];

	return band_draw(&label, spread, seed, n, ret, unused);
}

void band_weighed(struct band *band, double share, double hardener_ratio)
{
	for (unsigned i = 0; i < band->n; i++) {
		struct casting_resin *resin = &band->samples[i].resin;

		*resin = casting_resin_weighed(resin, resin->cure.stoichiometry * share,
		                               hardener_ratio);
	}
}

static struct heat_case sampled(const struct heat_case *heat, const struct band_sample *sample)
{
	struct heat_case out = *heat;

	out.resin = sample->resin;
	out.top_w_per_m2k = sample->top_w_per_m2k;
	out.bottom_w_per_m2k *= sample->bottom_factor;
	return out;
}

static int compare(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

double percentile(double *values, unsigned n, double share)
{
	double place = share * (n - 1);
	unsigned below = (unsigned)place;

	qsort(values, n, sizeof *values, compare);
	if (below + 1 >= n)
		return values[n - 1];
	return values[below] == values[below + 1]
	               ? values[below]
	               : values[below] + (place - below) * (values[below + 1] - values[below]);
}

static struct percentiles percentiles_of(double *values, unsigned n)
{
	return (struct percentiles){.p5 = percentile(values, n, 0.05),
	                            .p50 = percentile(values, n, 0.50),
	                            .p95 = percentile(values, n, 0.95)};
}

int band_depth(const struct band *band, const struct heat_case *heat, double limit_degc,
               double most_mm, struct percentiles *ret_mm)
{
	double depths[BAND_SAMPLES_MAX], over_semenov = 1.1;

	for (unsigned i = 0; i < band->n; i++) {
		struct heat_case one = sampled(heat, &band->samples[i]);
		double semenov = heat_semenov_depth_mm(&one);
		int r = depth_at_limit(&one, limit_degc, over_semenov * semenov, most_mm,
		                       &depths[i]);

		if (r < 0)
			return r;
		/* The next sample's limit lies at about the same multiple. */
		if (depths[i] > 0.0 && depths[i] < most_mm)
			over_semenov = depths[i] / semenov;
	}
	*ret_mm = percentiles_of(depths, band->n);
	return 0;
}

int band_layer(const struct band *band, const struct heat_case *heat, struct band_layer *ret)
{
	double peaks[BAND_SAMPLES_MAX], gels[BAND_SAMPLES_MAX];
	struct heat_wanted wanted = {.tolerance_k = TOLERANCE_K,
	                             .stop_above_degc = HEAT_RUNAWAY_DEGC};
	unsigned runaways = 0;

	for (unsigned i = 0; i < band->n; i++) {
		struct heat_case one = sampled(heat, &band->samples[i]);
		struct heat_result result;
		int r = heat_run(&one, &wanted, &result);

		if (r < 0)
			return r;
		runaways += result.stopped ? 1u : 0u;
		peaks[i] = result.stopped ? HEAT_RUNAWAY_DEGC : result.peak_degc;
		/* One cut short was about to gel; one that never does sorts last. */
		gels[i] = !isnan(result.gel_top_s) ? result.gel_top_s
		          : result.stopped         ? result.end_s
		                                   : INFINITY;
	}
	ret->peak_degc = percentiles_of(peaks, band->n);
	ret->gel_top_s = percentiles_of(gels, band->n);
	ret->runaway_share = (double)runaways / band->n;
	return 0;
}
