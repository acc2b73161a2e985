/* SPDX-License-Identifier: MIT */
#include "settling.h"

#include "noise.h"

#include <math.h>

/* What each level excludes, and how surely: the line's slope lies this many of
 * its sd below the stream. Found by simulation: false claims in 6 s of a stream
 * of 0.2 g/s stay under 1 % although a line is tried with every sample. */
#define PROVISIONAL_STREAM_G_PER_S 0.9
#define PROVISIONAL_SURE_SD        3.0
#define SETTLED_STREAM_G_PER_S     0.2
#define SETTLED_SURE_SD            3.6
#define SETTLED_SURE_SD_SLOW       3.3 /* below 25 samples/s: fewer lines are tried */
#define SLOW_PERIOD_S              0.04
#define TRICKLE_STREAM_G_PER_S     0.1 /* to settle again after a trickle */
/* However sure, more than this part of the stream is no rest. */
#define SLOPE_PART_MAX 0.45
/* The longest line tried, in lengths of the shortest; and every how many. */
#define SURE_SD_FALL            0.8 /* per length: lines that overlap more are fewer trials */
#define LONGEST                 1.5
#define LENGTH_STEPS            16u
#define PROVISIONAL_SAMPLES_MIN 5.0
#define SETTLED_SAMPLES_MIN     8.0

#define SCATTER_USUAL   1.0 /* about the line, in sd of a sample */
#define SCATTER_MAX     1.7 /* about the line, in sd of a sample */
#define SCATTER_MAX_FEW 2.0
#define FEW             20u

#define CHANGE_ALLOWANCE 0.7  /* k, in sd */
#define CHANGE_LIMIT     18.0 /* h, in sd */
#define CHANGE_CLIP      4.0

#define MEAN_MAX_S        4.0 /* the value's memory */
#define LEVEL_MAX_S       2.0 /* that of the level the change test compares with */
#define LEVEL_MIN_N       20.0
#define DRIFT_MAX_G_PER_S 0.02 /* warm-up of a cell; anything faster is a change */
#define DRIFT_GAIN        0.25 /* of the squared gain of the level: critically damped */

#define TRICKLE_MAX_G_PER_S 1.0 /* faster is a pour */
#define POUR_SURE_SD        3.0
#define POUR_TAIL_S         1.5 /* drips and knocks that end a rest so soon are no trickle */
#define SLOPE_MAX_G_PER_S   20.0

struct line {
	double mean_g, slope_g_per_s, scatter_g;
};

/* The sums of a least squares line, about the newest sample: nothing large is
 * subtracted. */
struct sums {
	double n, t, m, tt, tm, mm;
};

struct scale_noise {
	double g, upper_g; /* sd of a sample, and as much as it may be */
	double period_s;
};

struct criterion {
	double stream_g_per_s, sure_sd;
	uint32_t shortest, longest; /* samples */
};

void settling_init(struct settling *settling)
{
	settling->rest = settling->before = (struct rest){.state = READING_UNSETTLED};
	settling->fill = settling->next = 0;
}

void settling_disturb(struct settling *settling)
{
	settling->rest.state = READING_UNSETTLED;
	settling->rest.trickling = false;
}

/* The ring's slot filled @ago samples ago; 0 is the newest. */
static uint32_t slot(const struct settling *settling, uint32_t ago)
{
	return (settling->next + SETTLING_RING - 1 - ago) % SETTLING_RING;
}

static void sums_add(struct sums *sums, const struct settling *settling, uint32_t ago)
{
	const uint32_t newest = slot(settling, 0), at = slot(settling, ago);
	const double t = (double)(settling->t_us[at] - settling->t_us[newest]) * 1e-6;
	const double m = settling->mass_g[at] - settling->mass_g[newest];

	sums->n += 1.0;
	sums->t += t;
	sums->m += m;
	sums->tt += t * t;
	sums->tm += t * m;
	sums->mm += m * m;
}

static struct line sums_line(const struct sums *sums, const struct settling *settling)
{
	const double tt = sums->tt - sums->t * sums->t / sums->n;
	const double tm = sums->tm - sums->t * sums->m / sums->n;
	const double mm = sums->mm - sums->m * sums->m / sums->n;
	const double slope = tm / tt;

	return (struct line){.mean_g = settling->mass_g[slot(settling, 0)] + sums->m / sums->n,
	                     .slope_g_per_s = slope,
	                     .scatter_g = sqrt(fmax(mm - slope * tm, 0.0) / sums->n)};
}

/* sd of the slope of a line through n samples of coloured noise: that of white
 * noise times the colour; the last factor fits the exact sum to 1 % from n = 6. */
static double slope_sd(double noise_g, double period_s, double n)
{
	return sqrt(12.0) * NOISE_COLOUR * noise_g / (period_s * n * sqrt(n)) / (1.0 + 0.9 / n);
}

/* The lengths of line that can exclude a stream. With much noise or slow
 * sampling no line in the ring could: then a faster stream has to do. */
static struct criterion criterion_for(double stream_g_per_s, double sure_sd, double least,
                                      const struct scale_noise *noise)
{
	const double longest = (double)SETTLING_RING, most = longest / LONGEST;
	const double sd1 = sqrt(12.0) * NOISE_COLOUR * noise->g / noise->period_s;
	double ratio = sure_sd * sd1 / stream_g_per_s, n = cbrt(ratio * ratio);

	if (n > most) {
		n = most;
		stream_g_per_s = sure_sd * slope_sd(noise->g, noise->period_s, n);
	}
	n = fmax(ceil(n), least);
	return (struct criterion){.stream_g_per_s = stream_g_per_s,
	                          .sure_sd = sure_sd,
	                          .shortest = (uint32_t)n,
	                          .longest = (uint32_t)fmin(ceil(LONGEST * n), longest)};
}

static bool is_level(const struct line *line, double n, const struct criterion *criterion,
                     const struct scale_noise *noise)
{
	const double stream = criterion->stream_g_per_s;
	/* Should the noise be worse than has been learnt, the scatter shows it. */
	const double worse_g =
	        fmin(fmax(noise->g, line->scatter_g / SCATTER_USUAL), noise->upper_g);
	const double sd = slope_sd(worse_g, noise->period_s, n);
	const double length = n / (double)criterion->shortest; /* 1 to LONGEST */
	const double sure_sd = criterion->sure_sd - SURE_SD_FALL * (length - 1.0);
	const double limit = fmin(stream - sure_sd * sd, SLOPE_PART_MAX * stream);

	return fabs(line->slope_g_per_s) < limit &&
	       line->scatter_g < (n < FEW ? SCATTER_MAX_FEW : SCATTER_MAX) * noise->g;
}

/* The shortest level line, if any. Returns its samples, else 0. */
static uint32_t find_level(const struct settling *settling, const struct criterion *criterion,
                           const struct scale_noise *noise, struct line *ret_line)
{
	const uint32_t step = 1 + criterion->shortest / LENGTH_STEPS;
	struct sums sums = {0};
	struct line line;
	uint32_t n = 0;

	for (uint32_t length = criterion->shortest;
	     length <= criterion->longest && length <= settling->fill; length += step) {
		while (n < length)
			sums_add(&sums, settling, n++);
		line = sums_line(&sums, settling);
		if (is_level(&line, sums.n, criterion, noise)) {
			*ret_line = line;
			return n;
		}
	}
	return 0;
}

static void rest_begins(struct settling *settling, enum reading_state state,
                        const struct line *line, uint32_t n)
{
	struct rest *rest = &settling->rest;

	rest->state = state;
	rest->mean_g = line->mean_g;
	rest->n = (double)n;
	rest->level_g = line->mean_g;
	rest->level_n = (double)n;
	rest->up = rest->down = 0.0;
	rest->since_us = settling->t_us[slot(settling, n - 1)];
}

static struct criterion settled_criterion(double stream_g_per_s, const struct scale_noise *noise)
{
	return criterion_for(stream_g_per_s,
	                     noise->period_s > SLOW_PERIOD_S ? SETTLED_SURE_SD_SLOW
	                                                     : SETTLED_SURE_SD,
	                     SETTLED_SAMPLES_MIN, noise);
}

static struct criterion provisional_criterion(bool trickling, const struct scale_noise *noise)
{
	return trickling ? settled_criterion(SETTLED_STREAM_G_PER_S, noise)
	                 : criterion_for(PROVISIONAL_STREAM_G_PER_S, PROVISIONAL_SURE_SD,
	                                 PROVISIONAL_SAMPLES_MIN, noise);
}

static struct line newest_line(const struct settling *settling, const struct scale_noise *noise)
{
	const uint32_t n = provisional_criterion(false, noise).shortest;
	struct sums sums = {0};

	for (uint32_t i = 0; i < n && i < settling->fill; i++)
		sums_add(&sums, settling, i);
	return sums_line(&sums, settling);
}

/* The newest line is steeper than any trickle, whatever the noise. */
static bool pours(const struct settling *settling, const struct scale_noise *noise)
{
	const struct line line = newest_line(settling, noise);
	const double n = (double)provisional_criterion(false, noise).shortest;

	return fabs(line.slope_g_per_s) >
	       TRICKLE_MAX_G_PER_S + POUR_SURE_SD * slope_sd(noise->g, noise->period_s, n);
}

static void seek_rest(struct settling *settling, const struct scale_noise *noise)
{
	struct rest *rest = &settling->rest;
	struct criterion criterion = provisional_criterion(rest->trickling, noise);
	struct line line;
	uint32_t n;

	if (rest->state == READING_UNSETTLED) {
		if (settling->fill >= criterion.shortest && pours(settling, noise)) {
			rest->poured = true;
			rest->poured_us = settling->t_us[slot(settling, 0)];
			rest->trickling = false;
		}
		n = find_level(settling, &criterion, noise, &line);
		if (n == 0)
			return;
		rest_begins(settling, READING_PROVISIONAL, &line, n);
	}
	criterion = settled_criterion(
	        rest->trickling ? TRICKLE_STREAM_G_PER_S : SETTLED_STREAM_G_PER_S, noise);
	n = find_level(settling, &criterion, noise, &line);
	if (n > 0)
		rest_begins(settling, READING_SETTLED, &line, n);
}

/* An average over the last n samples: the clipped newest counts for 1/n. */
static void average(double *mean_g, double *n, double n_max, double mass_g, double clip_g)
{
	*n = fmin(*n + 1.0, n_max);
	*mean_g += fmax(-clip_g, fmin(clip_g, mass_g - *mean_g)) / *n;
}

/* True when the load changed. The test has a level of its own with a shorter
 * memory than the value's, so that drift does not add up against it. */
static bool follow(struct rest *rest, double mass_g, double interval_s,
                   const struct scale_noise *noise)
{
	const double noise_g = noise->upper_g, period_s = noise->period_s;
	const double clip_g = CHANGE_CLIP * noise_g;
	const double level_n_max = fmax(LEVEL_MAX_S / period_s, LEVEL_MIN_N);
	double residual;

	rest->mean_g += rest->drift_g_per_s * interval_s;
	rest->level_g += rest->drift_g_per_s * interval_s;
	residual = fmax(-clip_g, fmin(clip_g, mass_g - rest->level_g)) / noise_g;
	rest->up = fmax(0.0, rest->up + residual - CHANGE_ALLOWANCE);
	rest->down = fmax(0.0, rest->down - residual - CHANGE_ALLOWANCE);

	average(&rest->mean_g, &rest->n, fmax(MEAN_MAX_S / period_s, LEVEL_MIN_N), mass_g, clip_g);
	average(&rest->level_g, &rest->level_n, level_n_max, mass_g, clip_g);
	rest->drift_g_per_s +=
	        DRIFT_GAIN / (level_n_max * level_n_max) * residual * noise_g / period_s;
	rest->drift_g_per_s =
	        fmax(-DRIFT_MAX_G_PER_S, fmin(DRIFT_MAX_G_PER_S, rest->drift_g_per_s));
	return rest->up > CHANGE_LIMIT || rest->down > CHANGE_LIMIT;
}

static bool poured_lately(const struct rest *rest, int64_t t_us)
{
	return rest->poured && (double)(t_us - rest->poured_us) * 1e-6 < POUR_TAIL_S;
}

bool settling_feed(struct settling *settling, int64_t t_us, double mass_g, double noise_g,
                   double noise_upper_g, double period_s)
{
	const int64_t before_us = settling->fill > 0 ? settling->t_us[slot(settling, 0)] : t_us;
	const struct scale_noise noise = {
	        .g = noise_g, .upper_g = noise_upper_g, .period_s = period_s};
	struct rest *rest = &settling->rest;

	settling->before = *rest;
	settling->t_us[settling->next] = t_us;
	settling->mass_g[settling->next] = mass_g;
	settling->next = (settling->next + 1) % SETTLING_RING;
	if (settling->fill < SETTLING_RING)
		settling->fill++;

	if (rest->state != READING_UNSETTLED &&
	    follow(rest, mass_g, (double)(t_us - before_us) * 1e-6, &noise)) {
		const double slope = newest_line(settling, &noise).slope_g_per_s;

		rest->slope_g_per_s = fmax(-SLOPE_MAX_G_PER_S, fmin(SLOPE_MAX_G_PER_S, slope));
		rest->trickling = fabs(slope) < TRICKLE_MAX_G_PER_S &&
		                  (rest->state == READING_SETTLED || !poured_lately(rest, t_us));
		rest->state = READING_UNSETTLED;
		return true;
	}
	if (rest->state != READING_SETTLED)
		seek_rest(settling, &noise);
	return false;
}

void settling_take_back(struct settling *settling)
{
	if (settling->fill == 0)
		return;
	settling->rest = settling->before;
	settling->next = slot(settling, 0);
	settling->fill--;
}
