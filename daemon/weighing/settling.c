/* SPDX-License-Identifier: MIT */
#include "settling.h"

#include "noise.h"

#include <math.h>

/* The slowest stream told from rest in a usual stop, and how sure: its slope
 * and that of rest lie this many sd of the slope apart. */
#define STREAM_G_PER_S 0.2
#define STREAM_SD      6.1
/* A rest that a trickle ended asks for half that stream. */
#define TRICKLE_G_PER_S 0.1
/* Where between rest and stream the line is drawn: nearer to rest, because a
 * wrong "settled" is worse than a late one. */
#define LEVEL_PART 0.4

#define PROVISIONAL_PART (1.0 / 3.0) /* of the settled window */
#define PROVISIONAL_SD   2.35        /* its slope's limit, in sd of the slope */

#define SCATTER_MAX     1.7 /* residual sd of the line, in sd of a sample */
#define SCATTER_MAX_FEW 2.0
#define FEW             20u

#define CHANGE_ALLOWANCE 0.7  /* k, in sd */
#define CHANGE_LIMIT     16.0 /* h, in sd */
#define CHANGE_CLIP      4.0

#define MEAN_MAX_S        4.0 /* then the mean forgets, and follows the drift */
#define MEAN_MIN_N        10.0
#define DRIFT_MAX_G_PER_S 0.02  /* warm-up of a cell; anything faster is a change */
#define DRIFT_GAIN        0.125 /* of the squared gain of the mean */

#define TRICKLE_MAX_G_PER_S 1.0 /* a faster end of rest is a pour */
#define SLOPE_MAX_G_PER_S   20.0

struct line {
	double mean_g, slope_g_per_s, scatter_g;
};

void settling_init(struct settling *settling)
{
	settling->state = READING_UNSETTLED;
	settling->mean_g = settling->drift_g_per_s = settling->n = 0.0;
	settling->up = settling->down = settling->slope_g_per_s = 0.0;
	settling->since_us = settling->settled_us = 0;
	settling->trickling = false;
	settling->fill = settling->next = 0;
}

void settling_disturb(struct settling *settling)
{
	settling->state = READING_UNSETTLED;
	settling->trickling = false;
}

/* The ring's slot filled @ago samples ago; 0 is the newest. */
static uint32_t slot(const struct settling *settling, uint32_t ago)
{
	return (settling->next + SETTLING_RING - 1 - ago) % SETTLING_RING;
}

/* Least squares through the newest @n samples at their measured times. Sums are
 * taken about the newest sample: nothing large is subtracted. */
static struct line line_through(const struct settling *settling, uint32_t n)
{
	const uint32_t newest = slot(settling, 0);
	const double count = (double)n;
	double st = 0.0, sm = 0.0, stt = 0.0, stm = 0.0, smm = 0.0, scatter;
	struct line line;

	for (uint32_t i = 0; i < n; i++) {
		const uint32_t at = slot(settling, i);
		const double t = (double)(settling->t_us[at] - settling->t_us[newest]) * 1e-6;
		const double m = settling->mass_g[at] - settling->mass_g[newest];

		st += t;
		sm += m;
		stt += t * t;
		stm += t * m;
		smm += m * m;
	}
	stt -= st * st / count;
	stm -= st * sm / count;
	smm -= sm * sm / count;
	line.slope_g_per_s = stm / stt;
	line.mean_g = settling->mass_g[newest] + sm / count;
	scatter = (smm - line.slope_g_per_s * stm) / count;
	line.scatter_g = scatter > 0.0 ? sqrt(scatter) : 0.0;
	return line;
}

/* sd of a slope through n samples of coloured noise. */
static double slope_sd(double noise_g, double period_s, double n)
{
	return sqrt(12.0) * NOISE_COLOUR * noise_g / (period_s * n * sqrt(n));
}

static uint32_t window(double noise_g, double period_s, double stream_g_per_s)
{
	const double ratio =
	        sqrt(12.0) * NOISE_COLOUR * noise_g * STREAM_SD / (period_s * stream_g_per_s);
	const double n = ceil(cbrt(ratio * ratio));

	if (n < 8.0)
		return 8;
	return n > (double)SETTLING_RING ? SETTLING_RING : (uint32_t)n;
}

static bool is_level(const struct line *line, uint32_t n, double limit_g_per_s, double noise_g)
{
	const double scatter = n < FEW ? SCATTER_MAX_FEW : SCATTER_MAX;

	return fabs(line->slope_g_per_s) < limit_g_per_s && line->scatter_g < scatter * noise_g;
}

static void rest_from(struct settling *settling, enum reading_state state, const struct line *line,
                      uint32_t n)
{
	settling->state = state;
	settling->mean_g = line->mean_g;
	settling->n = (double)n;
	settling->drift_g_per_s = 0.0;
	settling->up = settling->down = 0.0;
	settling->since_us = settling->t_us[slot(settling, n - 1)];
	settling->settled_us = settling->t_us[slot(settling, 0)];
}

static void seek_rest(struct settling *settling, double noise_g, double period_s)
{
	const double stream = settling->trickling ? TRICKLE_G_PER_S : STREAM_G_PER_S;
	const uint32_t long_n = window(noise_g, period_s, stream);
	const uint32_t n = window(noise_g, period_s, STREAM_G_PER_S);
	const uint32_t short_n = n < 15 ? 5 : (uint32_t)((double)n * PROVISIONAL_PART);
	struct line line;

	if (settling->state == READING_UNSETTLED) {
		if (settling->fill < short_n)
			return;
		line = line_through(settling, short_n);
		settling->slope_g_per_s = line.slope_g_per_s;
		if (fabs(line.slope_g_per_s) > TRICKLE_MAX_G_PER_S)
			settling->trickling = false;
		if (!is_level(&line, short_n,
		              PROVISIONAL_SD * slope_sd(noise_g, period_s, (double)short_n),
		              noise_g))
			return;
		rest_from(settling, READING_PROVISIONAL, &line, short_n);
	}
	if (settling->fill < long_n)
		return;
	line = line_through(settling, long_n);
	if (is_level(&line, long_n,
	             LEVEL_PART * STREAM_SD * slope_sd(noise_g, period_s, (double)long_n), noise_g))
		rest_from(settling, READING_SETTLED, &line, long_n);
}

/* True when the load changed. */
static bool follow(struct settling *settling, double mass_g, double interval_s, double noise_g,
                   double period_s)
{
	const double n_max = fmax(MEAN_MAX_S / period_s, MEAN_MIN_N);
	double residual, gain;

	settling->mean_g += settling->drift_g_per_s * interval_s;
	residual = (mass_g - settling->mean_g) / noise_g;
	residual = fmax(-CHANGE_CLIP, fmin(CHANGE_CLIP, residual));
	settling->up = fmax(0.0, settling->up + residual - CHANGE_ALLOWANCE);
	settling->down = fmax(0.0, settling->down - residual - CHANGE_ALLOWANCE);

	settling->n = fmin(settling->n + 1.0, n_max);
	gain = 1.0 / settling->n;
	settling->mean_g += gain * residual * noise_g;
	if (settling->n >= n_max) {
		settling->drift_g_per_s += DRIFT_GAIN * gain * gain * residual * noise_g / period_s;
		settling->drift_g_per_s =
		        fmax(-DRIFT_MAX_G_PER_S, fmin(DRIFT_MAX_G_PER_S, settling->drift_g_per_s));
	}
	return settling->up > CHANGE_LIMIT || settling->down > CHANGE_LIMIT;
}

bool settling_feed(struct settling *settling, int64_t t_us, double mass_g, double noise_g,
                   double period_s)
{
	const int64_t before_us = settling->fill > 0 ? settling->t_us[slot(settling, 0)] : t_us;
	bool changed = false;
	struct line line;
	uint32_t n;

	settling->t_us[settling->next] = t_us;
	settling->mass_g[settling->next] = mass_g;
	settling->next = (settling->next + 1) % SETTLING_RING;
	if (settling->fill < SETTLING_RING)
		settling->fill++;

	if (settling->state != READING_UNSETTLED) {
		changed = follow(settling, mass_g, (double)(t_us - before_us) * 1e-6, noise_g,
		                 period_s);
		if (changed) {
			n = window(noise_g, period_s, STREAM_G_PER_S);
			n = n < 15 ? 5 : (uint32_t)((double)n * PROVISIONAL_PART);
			line = line_through(settling, n < settling->fill ? n : settling->fill);
			settling->slope_g_per_s = fmax(-SLOPE_MAX_G_PER_S,
			                               fmin(SLOPE_MAX_G_PER_S, line.slope_g_per_s));
			settling->trickling = settling->state == READING_SETTLED &&
			                      fabs(line.slope_g_per_s) < TRICKLE_MAX_G_PER_S;
			settling->state = READING_UNSETTLED;
			return true;
		}
	}
	if (settling->state != READING_SETTLED)
		seek_rest(settling, noise_g, period_s);
	return false;
}
