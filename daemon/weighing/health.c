/* SPDX-License-Identifier: MIT */
#include "health.h"

#include <math.h>

#include "spike_gate.h"

#define FORGET_AFTER  4000.0 /* samples: then all counts are halved */
#define ENOUGH        200.0  /* samples, before a share of them says anything */
#define ENOUGH_PERIOD 20u    /* intervals */
#define ENOUGH_NOISE  24u    /* differences: a block that proves the guess far off (noise.c) */
#define RAIL_SHARE    0.9
#define SPIKE_SD      20.0 /* off both neighbours, which agree within a quarter of it */
#define EMPTY_SHARE   20.0 /* intervals about zero: the pan is empty (R 76 underload, memory) */

void health_init(struct health *health, const struct health_setup *setup)
{
	*health = (struct health){.setup = *setup};
	period_init(&health->period, 0.0);
	noise_init(&health->noise, 0.0, setup->count_g, setup->interval_g);
	hum_init(&health->hum);
}

void health_zeroed(struct health *health, double zero_g, int64_t t_us)
{
	health->zero_g = zero_g;
	health->zeroed = true;
	health->zeroed_us = t_us;
	health->empty_seen = false;
}

static double rate_hz(const struct health *health)
{
	return health->period.n >= ENOUGH_PERIOD ? 1e6 / health->period.us : 0.0;
}

/* The one before stood alone. */
static bool spike(const struct health *health, double mass_g)
{
	const double sd_g = noise_upper_g(&health->noise);
	const double before_g = health->last[1].mass_g, off_g = health->last[0].mass_g - before_g;

	return health->in_row >= 2 && fabs(mass_g - before_g) < 0.25 * SPIKE_SD * sd_g &&
	       fabs(off_g) > SPIKE_SD * sd_g;
}

static void forget(struct health *health)
{
	if (health->n < FORGET_AFTER)
		return;
	health->n *= 0.5;
	health->n_corrupt *= 0.5;
	health->n_rail *= 0.5;
}

/* A settled empty pan says what the zero has done since. */
static void look_at_zero(struct health *health, const struct health_sample *sample,
                         const struct reading *reading)
{
	const double interval_g = health->setup.interval_g;

	if (!health->zeroed || reading->state != READING_SETTLED || reading->held ||
	    fabs(reading->gross_g) > EMPTY_SHARE * interval_g)
		return;
	health->empty_g = reading->gross_g + sample->zero_g;
	health->empty_us = sample->t_us;
	health->empty_seen = true;
}

static bool quiet(const struct health *health, const struct health_sample *sample)
{
	return health->reading.state == READING_SETTLED && !health->reading.held &&
	       (double)(sample->t_us - health->reading.still_since_us) >
	               (double)NOISE_RING * health->period.us;
}

void health_feed(struct health *health, const struct health_sample *sample,
                 const struct reading *reading)
{
	const int64_t since_us = health->seen ? sample->t_us - health->last[0].t_us : 0;
	const bool gap = health->seen && health->period.n > 0 &&
	                 (double)since_us > SPIKE_GATE_GAP * health->period.us;

	if (health->seen && since_us <= 0)
		return;
	if (health->seen)
		period_feed(&health->period, since_us);
	forget(health);
	health->n += 1.0;
	health->n_rail += sample->rail ? 1.0 : 0.0;
	if (sample->corrupt)
		health->n_corrupt += 1.0;
	else if (gap && !health->last[0].rail && !health->last[0].corrupt &&
	         spike_gate_suspects(health->last[0].counts))
		health->n_corrupt += 1.0;
	else if (!gap && !sample->rail && spike(health, sample->mass_g))
		health->n_corrupt += 1.0;
	health->reading = *reading;
	if (gap || sample->rail || sample->corrupt) {
		hum_break(&health->hum);
		noise_take_back(&health->noise);
		health->in_row = 0;
	}
	if (!sample->rail && !sample->corrupt) {
		(void)hum_feed(&health->hum, sample->t_us, sample->mass_g, rate_hz(health));
		noise_feed(&health->noise, sample->mass_g, quiet(health, sample));
		look_at_zero(health, sample, reading);
		health->in_row++;
	}
	health->last[1] = health->last[0];
	health->last[0] = *sample;
	health->seen = true;
}

void health_look(const struct health *health, struct health_view *ret)
{
	*ret = (struct health_view){
	        .expected_noise_g = health->setup.expected_noise_g,
	        .silent = health->reading.silent,
	        .warm = health->reading.warm,
	        .open_bridge = health->n >= ENOUGH && health->n_rail > RAIL_SHARE * health->n,
	};
	if (health->reading.known && health->reading.underload)
		ret->underload_g = -health->reading.gross_g;
	if (health->noise.n >= ENOUGH_NOISE) {
		ret->has |= HEALTH_HAS_NOISE;
		ret->noise_g = health->noise.sd_g;
	}
	if (health->empty_seen) {
		ret->has |= HEALTH_HAS_DRIFT;
		ret->drift_g = health->empty_g - health->zero_g;
		ret->drift_s = (double)(health->empty_us - health->zeroed_us) * 1e-6;
	}
	if (health->n >= ENOUGH) {
		ret->has |= HEALTH_HAS_CORRUPT;
		ret->corrupt_per_1000 = 1000.0 * health->n_corrupt / health->n;
	}
	if (rate_hz(health) > 0.0) {
		ret->has |= HEALTH_HAS_RATE;
		ret->rate_hz = rate_hz(health);
	}
	if (health->hum.share > 0.0) {
		ret->has |= HEALTH_HAS_HUM;
		ret->hum_hz = health->hum.hz;
		ret->hum_g = health->hum.amplitude_g;
	}
}

struct findings {
	struct advice *ret;
	size_t n;
};

static void find(struct findings *findings, bool found, enum advice_id id, double value,
                 double other)
{
	if (found && findings->n < HEALTH_FINDINGS_MAX)
		findings->ret[findings->n++] =
		        (struct advice){.id = id, .value = value, .other = other};
}

size_t health_findings(const struct health_setup *setup, const struct health_view *view,
                       struct advice *ret)
{
	const double expected_hz = setup->expected_rate_hz;
	struct findings all = {.ret = ret};

	find(&all, view->silent, ADVICE_SILENT, 0.0, 0.0);
	find(&all, view->open_bridge, ADVICE_OPEN_BRIDGE, 0.0, 0.0);
	find(&all, view->underload_g > 0.0, ADVICE_UNDERLOAD, view->underload_g, 0.0);
	find(&all,
	     (view->has & HEALTH_HAS_RATE) != 0 && expected_hz > 0.0 &&
	             (view->rate_hz > HEALTH_RATE_FACTOR * expected_hz ||
	              view->rate_hz < expected_hz / HEALTH_RATE_FACTOR),
	     ADVICE_WRONG_RATE, view->rate_hz, expected_hz);
	find(&all,
	     (view->has & HEALTH_HAS_CORRUPT) != 0 &&
	             view->corrupt_per_1000 > HEALTH_CORRUPT_PER_1000,
	     ADVICE_LOOSE_CLOCK, view->corrupt_per_1000, 0.0);
	find(&all, view->hum_hz > 0.0, ADVICE_HUM, view->hum_hz, view->hum_g);
	find(&all,
	     (view->has & HEALTH_HAS_NOISE) != 0 &&
	             view->noise_g > HEALTH_NOISE_FACTOR * view->expected_noise_g,
	     ADVICE_NOISY, view->noise_g, view->expected_noise_g);
	find(&all,
	     (view->has & HEALTH_HAS_DRIFT) != 0 &&
	             fabs(view->drift_g) > HEALTH_DRIFT_INTERVALS * setup->interval_g,
	     ADVICE_ZERO_DRIFT, view->drift_g, view->drift_s);
	find(&all, !view->warm && !view->silent && !view->open_bridge, ADVICE_WARMING, 0.0, 0.0);
	find(&all, all.n == 0, ADVICE_WELL, 0.0, 0.0);
	return all.n;
}
