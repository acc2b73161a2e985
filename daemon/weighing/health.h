/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_HEALTH_H
#define AMBO_WEIGHING_HEALTH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "advice.h"
#include "hum.h"
#include "noise.h"
#include "period.h"
#include "reading.h"

/* How the scale itself is, from all its samples: noise, drift of the zero, corrupt
 * reads, rate, hum; and what to do about it. No clock, no I/O, nothing allocated. */

#define HEALTH_FINDINGS_MAX 11u
/* Beyond these it is worth a word. Common practice, no source. */
#define HEALTH_NOISE_FACTOR     3.0
#define HEALTH_CORRUPT_PER_1000 20.0
#define HEALTH_RATE_FACTOR      4.0 /* the rate pin changes it by 8 */
#define HEALTH_DRIFT_INTERVALS  5.0

struct health_setup {
	double interval_g, count_g; /* > 0; what one count weighs */
	double expected_noise_g;    /* sd of one sample, > 0 */
	double expected_rate_hz;    /* 0: not known */
};

/* One sample as it came, and what weighing made of it. */
struct health_sample {
	int64_t t_us;
	int32_t counts;
	double mass_g; /* calibrated, zero and tare not taken off */
	bool rail;
	bool corrupt;  /* the driver knows it to be void */
	double zero_g; /* what the zero takes off now: tracking moves it */
};

struct health {
	struct health_setup setup;
	struct period period;
	struct noise noise;
	struct hum hum;
	double n, n_corrupt, n_rail; /* older ones count less: halved now and then */
	bool seen;
	struct health_sample last[2]; /* newest first */
	uint32_t in_row;              /* of last, good and without a gap */
	struct reading reading;       /* newest */
	double zero_g;                /* what the zero took off when it was set */
	bool zeroed, empty_seen;      /* zero_g, empty_g are set */
	double empty_g; /* of the empty pan, last settled, calibrated: no zero taken off */
	int64_t zeroed_us, empty_us;
};

void health_init(struct health *health, const struct health_setup *setup);
/* A sample is corrupt when the driver says so, when its code ends in many ones and a
 * gap follows (spike_gate.h), or when it stands alone far off its neighbours. */
void health_feed(struct health *health, const struct health_sample *sample,
                 const struct reading *reading);
/* The zero was set (or is the one kept from before): this much is taken off. */
void health_zeroed(struct health *health, double zero_g, int64_t t_us);

enum health_has {
	HEALTH_HAS_NOISE = 1u << 0,
	HEALTH_HAS_DRIFT = 1u << 1,
	HEALTH_HAS_CORRUPT = 1u << 2,
	HEALTH_HAS_RATE = 1u << 3,
	HEALTH_HAS_HUM = 1u << 4, /* a block was looked at; hum_hz 0: none found */
};

struct health_view {
	uint32_t has; /* enum health_has, or-ed */
	double noise_g, expected_noise_g;
	double drift_g; /* of the empty pan since the zero was set, */
	double drift_s; /* over so long */
	double corrupt_per_1000;
	double rate_hz;
	double hum_hz, hum_g;
	double underload_g; /* so far below zero that it is none; else 0 */
	bool open_bridge;   /* at the rail nearly always */
	bool silent, warm;
};

void health_look(const struct health *health, struct health_view *ret);

/* What is wrong and what to do, the gravest first; ADVICE_WELL alone when nothing is.
 * Returns how many, at most HEALTH_FINDINGS_MAX. */
size_t health_findings(const struct health_setup *setup, const struct health_view *view,
                       struct advice *ret);

#endif
