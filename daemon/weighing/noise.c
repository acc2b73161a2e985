/* SPDX-License-Identifier: MIT */
#include "noise.h"

#include <math.h>
#include <string.h>

#define FIRST_GUESS_WEIGHT            10u   /* differences the first guess counts for */
#define GAIN_MIN                      0.002 /* the last thousand differences or so, in the long run */
#define CLIP                          6.25 /* (2.5 sd)^2: where a square stops counting more */
#define CLIP_MEAN                     0.9775 /* mean of min(x^2, CLIP) of a standard normal x, computed */
#define VARIANCE_OF_SECOND_DIFFERENCE 6.0 /* 1 + 4 + 1 */
#define UPPER_SD                      1.5 /* of the estimate */
#define CAUTION                       6.4 /* over the differences: found by simulation */
#define CAUTION_MAX                   0.08
#define BLOCK                         24u  /* differences that prove a guess far off */
#define BLOCK_FAR_BELOW               0.25 /* of the variance */
#define BLOCK_FAR_ABOVE               2.0
/* Of a third difference of neighbours: 20 - 30 rho1 + 12 rho2 of an ideal sinc^4; white
 * noise has 20, so there the guess errs to the safe side. */
#define VARIANCE_OF_SHORT 5.81
#define SHORT_LEAST       12u /* samples */
#define SHORT_EVERY       7u
#define SHORT_SHARE       0.9    /* of it: the largest of several guesses is too large */
#define SHORT_FAR_ABOVE   2.25   /* of the variance */
#define SHORT_CALM        8.0    /* sd that the mass may differ by over them */
#define MEDIAN_OF_SQUARE  0.4549 /* of a standard normal */
#define RESTLESS          250u   /* differences */
#define RESTLESS_FIRST    60u    /* so many suffice at the start */

void noise_init(struct noise *noise, double given_g, double count_g, double interval_g)
{
	*noise = (struct noise){0};
	noise->floor_g = count_g / sqrt(12.0);
	noise->ceiling_g = fmax(5.0 * interval_g, 3.0 * count_g);
	noise->given = given_g > 0.0;
	noise->sd_g = fmax(noise->given ? given_g : 0.5 * interval_g, noise->floor_g);
	noise->n = FIRST_GUESS_WEIGHT;
	noise->restless = RESTLESS - RESTLESS_FIRST;
}

void noise_take_back(struct noise *noise)
{
	noise->fill = 0;
}

/* The ring's slot filled @ago samples ago; 0 is the newest. */
static double ring_at(const struct noise *noise, uint32_t ago)
{
	return noise->ring_g[(noise->next + NOISE_RING - 1 - ago) % NOISE_RING];
}

bool noise_sees_through(const struct noise *noise, double bend_g_per_s2, double period_s)
{
	const double lag_s = NOISE_LAG * period_s;

	return bend_g_per_s2 * lag_s * lag_s <
	       0.5 * sqrt(VARIANCE_OF_SECOND_DIFFERENCE) * noise->sd_g;
}

/* Every block of differences is held against the estimate: in motion they are
 * only ever too large, so a block far below is always right; one far above is
 * believed where there has been no rest to learn from. */
static bool block_proves(struct noise *noise, double square, double variance)
{
	double block;

	noise->n_block++;
	noise->block_g2 += (square - noise->block_g2) / (double)noise->n_block;
	if (noise->n_block < BLOCK)
		return false;
	block = noise->block_g2;
	noise->block_g2 = 0.0;
	noise->n_block = 0;
	if (block >= BLOCK_FAR_BELOW * variance &&
	    (block <= BLOCK_FAR_ABOVE * variance || noise->restless < RESTLESS))
		return false;
	noise->n = BLOCK;
	noise->sd_g = sqrt(block);
	return true;
}

/* Raises the first guess where third differences of neighbours prove it far too low:
 * by their median, as a step or a knock spoils a few; and not in a pour, which at ten
 * samples a second bends too much even for them. */
static void guess_again(struct noise *noise, double mass_g)
{
	const double *mass = noise->short_g;
	double sorted[NOISE_SHORT], guess_g2;
	uint32_t n = 0;

	memmove(&noise->short_g[1], mass, sizeof(noise->short_g) - sizeof(*mass));
	noise->short_g[0] = mass_g;
	noise->n_short++;
	if (noise->n_short < SHORT_LEAST || noise->n_short % SHORT_EVERY != 0)
		return;
	for (uint32_t i = 0; i + 3 < NOISE_SHORT && i + 3 < noise->n_short; i++, n++) {
		const double difference =
		        mass[i] - 3.0 * mass[i + 1] + 3.0 * mass[i + 2] - mass[i + 3];
		const double square = difference * difference / VARIANCE_OF_SHORT;
		uint32_t j = n;

		for (; j > 0 && sorted[j - 1] > square; j--)
			sorted[j] = sorted[j - 1];
		sorted[j] = square;
	}
	guess_g2 = sorted[n / 2] / MEDIAN_OF_SQUARE;
	if (guess_g2 > SHORT_FAR_ABOVE * noise->sd_g * noise->sd_g &&
	    fabs(mass[0] - mass[n + 2]) < SHORT_CALM * sqrt(guess_g2))
		noise->sd_g = fmin(SHORT_SHARE * sqrt(guess_g2), noise->ceiling_g);
}

void noise_feed(struct noise *noise, double mass_g, bool quiet)
{
	double variance, difference, square, gain;

	if (noise->given)
		return;
	noise->ring_g[noise->next] = mass_g;
	noise->next = (noise->next + 1) % NOISE_RING;
	if (noise->fill < NOISE_RING)
		noise->fill++;
	if (noise->n < BLOCK)
		guess_again(noise, mass_g);
	if (noise->fill < NOISE_RING)
		return;

	variance = noise->sd_g * noise->sd_g;
	difference =
	        ring_at(noise, 0) - 2.0 * ring_at(noise, NOISE_LAG) + ring_at(noise, 2 * NOISE_LAG);
	square = fmin(difference * difference / VARIANCE_OF_SECOND_DIFFERENCE, CLIP * variance) /
	         CLIP_MEAN;
	if (quiet)
		noise->restless = 0;
	else if (noise->restless < RESTLESS)
		noise->restless++;

	if (!block_proves(noise, square, variance) && quiet) {
		gain = fmax(1.0 / (double)(noise->n + 1), GAIN_MIN);
		if (noise->n < UINT32_MAX)
			noise->n++;
		noise->sd_g = sqrt(variance + gain * (square - variance));
	}
	noise->sd_g = fmin(fmax(noise->sd_g, noise->floor_g), noise->ceiling_g);
}

double noise_upper_g(const struct noise *noise)
{
	/* Overlapping differences of coloured noise: the relative variance of the
	 * sd is 1.6/n (2.9 from the correlations, over 2n, over 0.9 for the clip).
	 * An exponential average is worth 2/gain. */
	const double n = fmin((double)noise->n, 2.0 / GAIN_MIN);

	if (noise->given)
		return noise->sd_g;
	return noise->sd_g * (1.0 + UPPER_SD * sqrt(1.6 / n));
}

double noise_cautious_g(const struct noise *noise)
{
	if (noise->given)
		return noise->sd_g;
	return noise->sd_g * (1.0 + fmin(CAUTION_MAX, CAUTION / (double)noise->n));
}
