/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_SIMULATED_H
#define AMBO_DRIVERS_SIMULATED_H

#include <stddef.h>
#include <stdint.h>

#include "scale.h"

/* The bench in a program: a pan on a load cell, a cup, bottles, hands that pour.
 * Physics only; it knows nothing of batches. The driver `simulated` runs it in
 * real time (times `speed`), the tests run it as fast as they can. The same seed and
 * acts at the same conversions give the same samples. */
struct bench;

struct bench_config {
	uint64_t seed;
	double rate_hz;    /* 1..1000, 10 or 80 as a rule; the oscillator runs rate_error fast */
	double rate_error; /* 0.05 */
	double counts_per_g, zero_counts;
	double noise_g;              /* sd of one sample, coloured (lag 1 0.493, lag 2 0.050) */
	double warm_up_counts_per_s; /* drift over the first 200 s, then none */
	double creep_ratio;          /* of the load, over 30 min */
	double corrupt_ratio;        /* corrupt reads a sample, each with its gap of 4 periods */
	double max_g;                /* beyond it plus overload_g the converter rails */
	double overload_g;           /* >= 0 */
};
/* A warm 5 kg cell at 80 samples/s: 429.5 counts/g, 50 mg, one corrupt read in 1000. */
void bench_config_default(struct bench_config *ret);

/* Verbs of bench_act and of the driver's act, with what the amount means. What is
 * poured, drips or is sprinkled while there is no cup lands on the pan.
 *   "cup"       g, put a cup of that mass on the pan, empty; one in the hand is put away
 *   "lift"      -, lift the cup off       "return"  -, put the one in the hand back as it
 *                                          is, in place of the one there if there is one
 *   "swap"      g, another empty cup instead; the first stays in the hand
 *   "pour-a" "pour-b" "pour-tint" "pour-filler"   g/s, tilt: that rate within 0.4 s
 *   "stop"      s, tip back over so many seconds (the rate falls linearly), then two drips
 *   "taper"     g/s, go over to that rate within 0.3 s
 *   "knock"     g, the bottle touches the cup: a damped 18 Hz swing
 *   "spill"     g, of what is or was being poured beside the cup, on the pan
 *   "object"    g, put an object on the pan (negative: take it off)
 *   "press-pan" g, a leaning hand (0: gone)
 *   "take"      g, out of the cup, sticking to a stick, a bit of each component
 *   "wipe"      -, wipe the pan        "empty" g, pour the lifted cup out, g stay in it
 *   "tint" "filler" g, sprinkle that much into the cup, in pinches
 *   "unplug" / "plug" -, the converter's wire
 *   "place"   0..4, where objects stand from now on: the middle, front, right, back, left
 * What is wrong with the cell and its wires; as it should be: in brackets.
 *   "corner"  share (0): an object weighs so much more at the front, half of it at the
 *             right, as much less at the back and the left
 *   "bend"    share of Max (0): so much too much at Max, with the third power of the load
 *   "gain"    factor (1)          "swapped-pair" 1 or (0)   "open-bridge" 1 or (0)
 *   "loose-clock" corrupt reads a sample (as configured)
 *   "hum-50" "hum-60" g (0): amplitude of the mains before the converter's filter
 * 0; -EINVAL for no such verb or an amount that makes no sense, -EBUSY where the bench
 * does not allow it now (no cup to lift, another bottle still flowing). */
int bench_new(const struct bench_config *config, struct bench **ret); /* -EINVAL, -ENOMEM */
void bench_free(struct bench *bench);
int bench_act(struct bench *bench, const char *verb, double amount);

/* Next conversion: advances the bench's time to it. 1 with *ret_sample; 0 when the
 * converter is silent at this period (time advances all the same). */
int bench_next(struct bench *bench, struct scale_sample *ret_sample);
int64_t bench_time_us(const struct bench *bench);
int64_t bench_next_us(const struct bench *bench); /* when the next conversion is due */

/* The truth, for tests and for nobody else. */
struct bench_truth {
	double a_g, b_g, tint_g, filler_g; /* in the cup on the pan, or else in the hand */
	double cup_g, on_pan_g;            /* the cup itself; everything on the pan */
	double spilt_g;                    /* on the pan, beside the cup */
	double poured_g;                   /* that ever left a bottle, drips and powder too */
	double away_g;                     /* in moulds, in cups put away, wiped off, on sticks */
	double flow_g_per_s;               /* at this moment */
};
void bench_truth(const struct bench *bench, struct bench_truth *ret);

/* The whole bench as bytes for the same program on the same machine. size is
 * bench_size(). restore: the past from the bytes, the scale from config. -EINVAL when
 * they are not such bytes. */
size_t bench_size(void);
void bench_save(const struct bench *bench, void *bytes);
int bench_restore(const void *bytes, const struct bench_config *config, struct bench **ret);

/* The driver. Options: seed, rate_hz, speed (times true time, 0: as fast as it can),
 * noise_g, corrupt_ratio, warm_up_counts_per_s, creep_ratio, counts_per_g, zero_counts,
 * max_g, and state: the path of a file in which the bench lives, so that the pan keeps
 * its load over a restart, however sudden; the bench's time goes on where it was. */
extern const struct scale_driver simulated_driver;

#endif
