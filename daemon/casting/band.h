/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_BAND_H
#define AMBO_CASTING_BAND_H

#include <stdint.h>

#include "depth.h"
#include "heat.h"
#include "label.h"

/* How far the model's answers may be trusted: the unknowns are drawn within what is
 * known of them, the model is fitted to the label anew for each draw, and the answers'
 * 5th and 95th percentile are the band. The same seed gives the same band. */

#define BAND_SAMPLES     300u
#define BAND_SAMPLES_MAX 1000u

struct range {
	double low, high;
};

/* Of factors a draw is log-uniform, else uniform. */
struct band_spread {
	struct range top_w_per_m2k;    /* convection and radiation from a level surface */
	struct range bottom_factor;    /* on the mould's U */
	struct range heat_factor;      /* on the family's heat of reaction */
	struct range time_factor;      /* on the label's times */
	struct range energy_j_per_mol; /* activation, of both paths */
	struct range c_factor;         /* on A1/A2, where the label does not tell it */
};

/* h 7..13 W/m2K (convection 4..8 falling to 2 over a barely warm surface, radiation
 * 5..6); U by 0.7..1.4 and heat by 0.9..1.1 (design choices; 98..108 kJ per mole of
 * epoxide from memory, and what else is in the mix); a label's time by 0.9..1.11 and c by
 * 0.2..5 (design choices); E 55..60 kJ/mol (published, Thermochim. Acta 447 (2006)). */
extern const struct band_spread band_spread_usual;

struct band_sample {
	struct casting_resin resin;
	double top_w_per_m2k, bottom_factor;
};

struct band {
	unsigned n;
	unsigned film_ignored; /* draws whose two label times no resin fits: pot life alone */
	struct band_sample samples[BAND_SAMPLES_MAX];
};

struct percentiles {
	double p5, p50, p95;
};

/* Draws n (1..BAND_SAMPLES_MAX) resins that fit the label. -EINVAL with label_fit()'s
 * sentence (LABEL_SENTENCE_MAX bytes) where the label itself cannot be meant. */
int band_draw(const struct label *label, const struct band_spread *spread, uint64_t seed,
              unsigned n, struct band *ret, char *ret_sentence);
/* Without a label: about a resin whose kinetics are given, as if its own pot life of
 * 100 g at 25 C stood on one. -EINVAL where that cup never gels. */
int band_draw_about(const struct casting_resin *resin, const struct band_spread *spread,
                    uint64_t seed, unsigned n, struct band *ret);

/* The weighed ratio's share of the label's stoichiometry, for every sample
 * (casting_resin_weighed()). */
void band_weighed(struct band *band, double share, double hardener_ratio);

/* The band of the depth at which a layer like *heat passes limit_degc (depth.h). The
 * case's resin, top and bottom are replaced by each sample's. */
int band_depth(const struct band *band, const struct heat_case *heat, double limit_degc,
               double most_mm, struct percentiles *ret_mm);

struct band_layer {
	struct percentiles peak_degc;
	struct percentiles gel_top_s; /* INFINITY: never */
	double runaway_share;         /* of samples past HEAT_RUNAWAY_DEGC */
};
/* Of a layer as deep as it is planned. Samples that run away are cut short there. */
int band_layer(const struct band *band, const struct heat_case *heat, struct band_layer *ret);

/* Linear between the order statistics (type 7 of Hyndman and Fan 1996). Sorts values. */
double percentile(double *values, unsigned n, double share);

#endif
