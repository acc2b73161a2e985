/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_SIMULATED_H
#define AMBO_DRIVERS_SIMULATED_H

#include <stddef.h>
#include <stdint.h>

#include "scale.h"

/* The bench in a program: a pan on a load cell, a cup, bottles, hands that pour.
 * Physics only; it knows nothing of batches. The driver `simulated` runs it in
 * real time (times `speed`), the tests run it as fast as they can. */
struct bench;

struct bench_config {
	uint64_t seed;
	double rate_hz;           /* 10 or 80; the oscillator runs rate_error fast */
	double rate_error;        /* 0.05 */
	double counts_per_g, zero_counts;
	double noise_g;           /* sd of one sample, coloured (lag 1 0.493, lag 2 0.050) */
	double warm_up_counts_per_s; /* drift over the first 200 s */
	double creep_ratio;       /* of the load, over 30 min */
	double corrupt_ratio;     /* corrupt reads a sample, each with its gap of 4 periods */
	double max_g;             /* beyond it plus overload_g the converter rails */
};

/* Verbs of bench_act and of the driver's act, with what the amount means:
 *   "cup"       g, put a cup of that mass on the pan, empty
 *   "lift"      -, lift the cup off       "return"  -, put it back as it is
 *   "swap"      g, another empty cup instead
 *   "pour-a" "pour-b" "pour-tint" "pour-filler"   g/s, tilt: that rate from now on
 *   "stop"      s, tip back over so many seconds (the rate falls linearly), then drips
 *   "taper"     g/s, go over to that rate within 0.3 s
 *   "knock"     g, the bottle touches the cup: a damped 18 Hz swing
 *   "spill"     g, of what is being poured beside the cup, on the pan
 *   "object"    g, put an object on the pan (negative: take it off)
 *   "press-pan" g, a leaning hand (0: gone)
 *   "wipe"      -, wipe the pan        "empty" g, pour the lifted cup out, g stay in it
 *   "tint"      g, sprinkle that much into the cup, in pinches
 *   "unplug" / "plug" -, the converter's wire */
int bench_new(const struct bench_config *config, struct bench **ret);
void bench_free(struct bench *bench);
int bench_act(struct bench *bench, const char *verb, double amount); /* -EINVAL, -EBUSY */

/* Next conversion: advances the bench's time to it. 1 with *ret_sample; 0 when the
 * converter is silent at this period (time advances all the same). */
int bench_next(struct bench *bench, struct scale_sample *ret_sample);
int64_t bench_time_us(const struct bench *bench);

/* The truth, for tests and for nobody else. */
struct bench_truth {
	double a_g, b_g, tint_g, filler_g; /* in the cup */
	double cup_g, on_pan_g;            /* the cup itself; everything on the pan */
	double spilt_g;
};
void bench_truth(const struct bench *bench, struct bench_truth *ret);

#endif
