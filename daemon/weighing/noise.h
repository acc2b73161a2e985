/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_NOISE_H
#define AMBO_WEIGHING_NOISE_H

#include <stdbool.h>
#include <stdint.h>

/* The sd of one sample, learnt from the samples themselves, in rest and in a
 * steady pour alike: second differences over a lag of four samples. The lag is
 * the length of the converter's sinc^4 filter, so that the samples compared are
 * independent whatever the colour of the noise; the second difference cancels a
 * steady rate.
 *
 * Until that has been learnt, differences of neighbours raise a guess that is far too
 * low: a pour's bends are a sixteenth there, so they can be trusted in motion. */

#define NOISE_LAG   4u
#define NOISE_RING  (2u * NOISE_LAG + 1u)
#define NOISE_SHORT 24u /* samples, for the first guess */

/* The filter correlates neighbours (lag 1: 0.493, lag 2: 0.050), so the sd of a
 * mean of N is NOISE_COLOUR sigma / sqrt(N): sqrt(1 + 2 sum of correlations) of
 * an ideal sinc^4, computed; recordings of converters gave 1.445. */
#define NOISE_COLOUR 1.4443

struct noise {
	double sd_g; /* the estimate, always > 0 */
	double floor_g, ceiling_g;
	bool given;      /* by the configuration: never learnt */
	uint32_t n;      /* differences taken in, plus the weight of the first guess */
	double block_g2; /* mean square of this block of differences */
	uint32_t n_block;
	uint32_t restless; /* differences since the last quiet one, as far as counted */
	uint32_t fill, next;
	double ring_g[NOISE_RING];
	uint32_t n_short;
	double short_g[NOISE_SHORT]; /* the newest first */
};

/* @given_g: sd of one sample, or 0 to learn it. @count_g: what one count weighs:
 * its d/sqrt(12) is the floor (GUM F.2.2.1). @interval_g: of the scale; half of
 * it is the first guess (common practice, no source), five of it the ceiling. */
void noise_init(struct noise *noise, double given_g, double count_g, double interval_g);

/* @quiet: this and the NOISE_RING - 1 samples before it belong to a rest, or to a
 * pour that noise_sees_through(). Others teach next to nothing, unless there has
 * been no rest for so long that the noise itself must be why. */
void noise_feed(struct noise *noise, double mass_g, bool quiet);

/* The part of a bend of the mass that a second difference takes for noise is
 * small beside this noise: then a pour is as good a teacher as rest. */
bool noise_sees_through(const struct noise *noise, double bend_g_per_s2, double period_s);

/* The newest sample was no good after all: the differences start afresh. */
void noise_take_back(struct noise *noise);

/* An upper bound for thresholds that must not cry too soon: sd_g and one
 * and a half standard errors of what has been learnt so far. */
double noise_upper_g(const struct noise *noise);

/* A little above sd_g while that is young, for the tests of rest. */
double noise_cautious_g(const struct noise *noise);

#endif
