/* SPDX-License-Identifier: MIT */
#include "weigher.h"

#include "noise.h"
#include "period.h"
#include "settling.h"
#include "spike_gate.h"
#include "tracker.h"
#include "zero.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RAIL_HIGH 0x7FFFFF
#define RAIL_LOW  (-0x800000)

#define FIRST 3u /* samples before the first estimate: the median of 3 defeats a corrupt one */

/* How far a good sample may lie from its prediction: the noise, and what a hand
 * can bend a pour by between two samples. */
#define GATE_REST_SD       3.0 /* holding one back costs nothing there, and shows a pour sooner */
#define GATE_SD            5.0
#define GATE_BEND_G_PER_S2 40.0
/* How a usual pour bends, by hand and at its ends. */
#define POUR_BEND_G_PER_S2 10.0
/* A departure that needs no change test to be believed, once confirmed. */
#define SUDDEN_SD 6.0

#define SILENT_PERIODS 3.0
#define SILENT_MIN_S   0.1
/* A restarted converter settles for four periods; its oscillator may be fast, so that
 * the fourth conversion is not settled yet and the fifth is the first. */
#define RESTART_PERIODS 5.5

#define OVERLOAD_INTERVALS  9.0  /* OIML R 76-1, 4.2.3 */
#define UNDERLOAD_INTERVALS 20.0 /* from memory */

#define WARM_AFTER_S       20.0 /* of rest, before its drift says anything */
#define WARM_DRIFT_D_PER_S 0.02

/* No pointers: the bytes of this struct are the whole state. */
struct weigher {
	struct weigher_config config;
	struct period period;
	struct noise noise;
	struct spike_gate gate;
	struct tracker tracker;
	struct settling settling;
	struct zero zero;

	bool moving;      /* the unit says so of the newest sample */
	bool restarts;    /* after the newest sample the converter may be restarting */
	bool doubtful;    /* the newest sample passed alone: a gap may yet prove it corrupt */
	bool seen;        /* the next line is set */
	int64_t last_us;  /* of the newest sample of any kind */
	uint32_t n_first; /* collected so far; FIRST: tracking */
	struct spike_gate_sample first[FIRST];
	struct reading newest;
};

static bool positive(double value)
{
	return isfinite(value) && value > 0.0;
}

static bool positive_or_zero(double value)
{
	return isfinite(value) && value >= 0.0;
}

static void forget(struct weigher *weigher)
{
	const struct weigher_config *config = &weigher->config;

	period_init(&weigher->period, config->rate_hz);
	noise_init(&weigher->noise, config->noise_g, fabs(config->calibration.g_per_count),
	           config->interval_g);
	spike_gate_init(&weigher->gate);
	settling_init(&weigher->settling);
	weigher->moving = weigher->restarts = false;
	weigher->doubtful = false;
	weigher->seen = false;
	weigher->n_first = 0;
	weigher->newest = (struct reading){0};
}

int weigher_new(const struct weigher_config *config, struct weigher **ret)
{
	const struct calibration *calibration = &config->calibration;
	struct weigher *weigher;

	if (!positive(config->max_g) || !positive(config->interval_g) ||
	    !positive_or_zero(config->noise_g) || !positive_or_zero(config->rate_hz) ||
	    !positive_or_zero(config->silent_s) || !positive(calibration->g_per_count) ||
	    !isfinite(calibration->g_per_count2) || !isfinite(calibration->zero_counts))
		return -EINVAL;
	weigher = calloc(1, sizeof(*weigher));
	if (weigher == NULL)
		return -ENOMEM;
	weigher->config = *config;
	zero_init(&weigher->zero, config->zero_tracking);
	forget(weigher);
	*ret = weigher;
	return 0;
}

void weigher_free(struct weigher *weigher)
{
	free(weigher);
}

void weigher_clear(struct weigher *weigher)
{
	forget(weigher);
}

static double period_s(const struct weigher *weigher)
{
	return weigher->period.us * 1e-6;
}

static double noise_upper(const struct weigher *weigher)
{
	return noise_upper_g(&weigher->noise);
}

static bool at_rest(const struct weigher *weigher)
{
	return weigher->settling.rest.state != READING_UNSETTLED;
}

/* Whether the newest samples teach what the noise is: they are of one rest, or a
 * pour bends too little to matter between them. */
static bool is_quiet(const struct weigher *weigher, int64_t t_us)
{
	const double still_us = (double)(t_us - weigher->settling.rest.since_us);

	return noise_sees_through(&weigher->noise, POUR_BEND_G_PER_S2, period_s(weigher)) ||
	       (at_rest(weigher) && still_us > (double)NOISE_RING * weigher->period.us);
}

static void use(struct weigher *weigher, struct spike_gate_sample sample, bool departs)
{
	struct tracker *tracker = &weigher->tracker;
	struct settling *settling = &weigher->settling;
	const double sd_g = noise_upper(weigher);
	const double mean_g = settling->rest.mean_g;

	tracker_tune(tracker, sd_g, period_s(weigher));
	tracker_feed(tracker, sample.t_us, sample.mass_g);
	noise_feed(&weigher->noise, sample.mass_g, !departs && is_quiet(weigher, sample.t_us));
	if (departs && at_rest(weigher) && fabs(sample.mass_g - mean_g) > SUDDEN_SD * sd_g)
		settling_disturb(settling);
	if (settling_feed(settling, sample.t_us, sample.mass_g, noise_cautious_g(&weigher->noise),
	                  sd_g, period_s(weigher)))
		tracker_restart(tracker, mean_g + fmax(-0.5, fmin(0.5, sample.mass_g - mean_g)),
		                settling->rest.slope_g_per_s);
}

/* The first estimate: the median of the first samples, none of them before a
 * gap. True once there is one. */
static bool start(struct weigher *weigher, struct spike_gate_sample sample, bool gap)
{
	struct spike_gate_sample *first = weigher->first;
	double a, b, c, median_g;

	if (gap && weigher->n_first > 0)
		weigher->n_first--;
	first[weigher->n_first++] = sample;
	if (weigher->n_first < FIRST)
		return false;
	a = first[0].mass_g;
	b = first[1].mass_g;
	c = first[2].mass_g;
	median_g = fmax(fmin(a, b), fmin(fmax(a, b), c));
	tracker_init(&weigher->tracker, sample.t_us, median_g);
	tracker_tune(&weigher->tracker, noise_upper(weigher), period_s(weigher));
	return true;
}

static double gate_width_g(const struct weigher *weigher)
{
	const double sd_g = noise_upper(weigher);

	if (at_rest(weigher))
		return GATE_REST_SD * sd_g;
	return GATE_SD * sd_g / sqrt(1.0 - weigher->tracker.alpha) +
	       GATE_BEND_G_PER_S2 * period_s(weigher) * period_s(weigher) / weigher->tracker.beta;
}

/* Our own judgement, but never more settled than the unit's. */
static enum reading_state believed_state(const struct weigher *weigher)
{
	const enum reading_state state = weigher->settling.rest.state;

	return weigher->moving && state == READING_SETTLED ? READING_PROVISIONAL : state;
}

/* Fill in the reading from what is believed now. */
static void tell(struct weigher *weigher, int64_t t_us)
{
	const struct settling *settling = &weigher->settling;
	const struct tracker *tracker = &weigher->tracker;
	struct reading *reading = &weigher->newest;
	const bool was_warm = reading->warm;
	double mass_g;

	*reading = (struct reading){.t_us = t_us, .known = true, .state = believed_state(weigher)};
	if (at_rest(weigher)) {
		mass_g = settling->rest.mean_g;
		reading->n_averaged = (uint32_t)settling->rest.n;
		reading->still_since_us = settling->rest.since_us;
		reading->sd_g = NOISE_COLOUR * weigher->noise.sd_g / sqrt(settling->rest.n);
	} else {
		mass_g = tracker_mass_g(tracker);
		reading->rate_g_per_s = tracker->now.rate_g_per_s;
		reading->rate_sd_g_per_s = tracker->rate_sd_g_per_s;
		reading->sd_g = tracker->mass_sd_g;
		reading->still_since_us = t_us;
	}
	zero_track(&weigher->zero, t_us, mass_g, reading->state == READING_SETTLED,
	           weigher->config.max_g, weigher->config.interval_g);
	reading->gross_g = mass_g - weigher->zero.zero_g;
	reading->net_g = reading->gross_g - weigher->zero.tare_g;
	reading->noise_g = weigher->noise.sd_g;
	reading->overload = reading->gross_g >
	                    weigher->config.max_g + OVERLOAD_INTERVALS * weigher->config.interval_g;
	reading->underload = reading->gross_g < -UNDERLOAD_INTERVALS * weigher->config.interval_g;
	reading->warm = was_warm;
	if (settling->rest.state == READING_SETTLED &&
	    (double)(t_us - settling->rest.since_us) * 1e-6 >= WARM_AFTER_S)
		reading->warm =
		        fabs(settling->rest.drift_g_per_s) <
		        (was_warm ? 2.0 : 1.0) * WARM_DRIFT_D_PER_S * weigher->config.interval_g;
}

/* The estimate before is repeated; a fault that has passed becomes what was
 * believed before it. */
static void repeat(struct weigher *weigher)
{
	weigher->newest.held = true;
	if (weigher->newest.state == READING_FAULT) {
		weigher->newest.state = believed_state(weigher);
		weigher->newest.silent = false;
	} else if (weigher->moving && weigher->newest.state == READING_SETTLED) {
		weigher->newest.state = READING_PROVISIONAL;
	}
}

/* A sample that passed and then was followed by a gap was corrupt after all,
 * only too little so to be seen. */
static void take_back(struct weigher *weigher)
{
	if (!weigher->doubtful)
		return;
	tracker_take_back(&weigher->tracker);
	settling_take_back(&weigher->settling);
	noise_take_back(&weigher->noise);
	weigher->doubtful = false;
}

static void judge(struct weigher *weigher, const struct weigher_sample *sample, bool gap)
{
	const struct spike_gate_sample judged = {
	        .t_us = sample->t_us,
	        .suspect = spike_gate_suspects(sample->counts),
	        .mass_g = calibration_mass_g(&weigher->config.calibration, (double)sample->counts)};
	struct spike_gate_verdict verdict;
	double predicted_g;

	if (weigher->n_first < FIRST) {
		if (start(weigher, judged, gap))
			tell(weigher, sample->t_us);
		else
			repeat(weigher);
		return;
	}
	if (gap)
		take_back(weigher);
	predicted_g = at_rest(weigher) ? weigher->settling.rest.mean_g
	                               : tracker_predicted_g(&weigher->tracker, sample->t_us);
	verdict = spike_gate_feed(&weigher->gate, judged, predicted_g, gate_width_g(weigher), gap);
	for (uint32_t i = 0; i < verdict.n; i++)
		use(weigher, verdict.pass[i], verdict.departs);
	weigher->doubtful = verdict.n == 1;
	if (verdict.n > 0)
		tell(weigher, sample->t_us);
	else
		repeat(weigher);
}

void weigher_feed(struct weigher *weigher, const struct weigher_sample *sample, struct reading *ret)
{
	bool gap = false;

	if (sample->repeat && !sample->rail) {
		weigher->newest.held = true;
		*ret = weigher->newest;
		return;
	}
	if (weigher->seen && sample->t_us <= weigher->last_us) {
		repeat(weigher);
		*ret = weigher->newest;
		return;
	}
	if (weigher->seen) {
		gap = weigher->period.n > 0 && (double)(sample->t_us - weigher->last_us) >
		                                       SPIKE_GATE_GAP * weigher->period.us;
		period_feed(&weigher->period, sample->t_us - weigher->last_us);
	}
	weigher->seen = true;
	weigher->last_us = sample->t_us;
	weigher->moving = sample->moving;
	weigher->restarts = sample->corrupt || spike_gate_suspects(sample->counts);

	if (sample->rail || sample->counts >= RAIL_HIGH || sample->counts <= RAIL_LOW) {
		spike_gate_drop(&weigher->gate);
		weigher->newest.state = READING_FAULT;
		weigher->newest.held = true;
		weigher->newest.silent = false;
	} else if (sample->corrupt) {
		spike_gate_drop(&weigher->gate);
		repeat(weigher);
	} else {
		judge(weigher, sample, gap);
	}
	*ret = weigher->newest;
}

int64_t weigher_silent_us(const struct weigher *weigher)
{
	const double periods = weigher->restarts ? RESTART_PERIODS : SILENT_PERIODS;
	double silent_s = weigher->config.silent_s;

	if (!weigher->seen || weigher->newest.silent)
		return INT64_MAX;
	if (silent_s <= 0.0) {
		if (weigher->period.n == 0)
			return INT64_MAX;
		silent_s = fmax(periods * period_s(weigher), SILENT_MIN_S);
	}
	return weigher->last_us + (int64_t)(silent_s * 1e6);
}

int weigher_tick(struct weigher *weigher, int64_t t_us, struct reading *ret)
{
	int changed = 0;

	if (t_us >= weigher_silent_us(weigher)) {
		weigher->newest.state = READING_FAULT;
		weigher->newest.silent = true;
		weigher->newest.held = true;
		changed = 1;
	}
	*ret = weigher->newest;
	return changed;
}

int weigher_zero(struct weigher *weigher)
{
	int r;

	if (weigher->newest.state != READING_SETTLED)
		return -EAGAIN;
	r = zero_set(&weigher->zero, weigher->settling.rest.mean_g, weigher->config.max_g);
	if (r < 0)
		return r;
	weigher->newest.gross_g = weigher->newest.net_g = 0.0;
	return 0;
}

int weigher_tare(struct weigher *weigher)
{
	if (weigher->newest.state != READING_SETTLED)
		return -EAGAIN;
	weigher->zero.tare_g = weigher->settling.rest.mean_g - weigher->zero.zero_g;
	weigher->newest.net_g = 0.0;
	return 0;
}

void weigher_clear_tare(struct weigher *weigher)
{
	weigher->zero.tare_g = 0.0;
	weigher->newest.net_g = weigher->newest.gross_g;
}

double weigher_zero_g(const struct weigher *weigher)
{
	return weigher->zero.zero_g;
}

void weigher_set_zero_g(struct weigher *weigher, double zero_g)
{
	weigher->zero.zero_g = weigher->zero.set_g = zero_g;
}

void weigher_set_zero_tracking(struct weigher *weigher, bool on)
{
	weigher->zero.tracking = on;
}
