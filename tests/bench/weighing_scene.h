/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_BENCH_WEIGHING_SCENE_H
#define AMBO_TESTS_BENCH_WEIGHING_SCENE_H

#include <stdbool.h>
#include <stdint.h>

/* Pours, streams and rests as a converter with a sinc^4 filter sees them: the
 * same scene, sample by sample, for every arm of the benchmark. A scene is a
 * function of its seed. */

#define SCENE_SUB          10u /* fine steps a sample period */
#define SCENE_SAMPLES_MAX  5000u
#define SCENE_COUNTS_PER_G 430.0
#define SCENE_ZERO_COUNTS  190000.0

enum scene_kind {
	SCENE_POUR,   /* rest, 15 g/s with a hand's wobble, taper, cut, rest */
	SCENE_STREAM, /* a steady stream of stream_g_per_s from the start */
	SCENE_REST,
};

struct scene_config {
	enum scene_kind kind;
	double rate_hz; /* samples a second */
	double duration_s;
	double noise_g;        /* sd of a sample, coloured by the converter's filter */
	double stream_g_per_s; /* SCENE_STREAM */
	bool knocks;    /* bottle touches cup: 20 g while pouring; 10 g after the stop, in 30 % */
	bool drips;     /* two of 0.03 g after the stop */
	double corrupt; /* share of samples read corrupt; each is followed by a gap of 4 periods */
	bool gaps;      /* false: the same without the gaps (lone spikes) */
};

struct scene_sample {
	int64_t t_us;
	int32_t counts, right_counts; /* as read, and as it would have been read right */
	bool corrupt;
	double truth_g; /* in the cup at t_us */
	double force_g; /* on the cup, without knocks: what a scale can know */
	double rate_g_per_s;
};

struct scene {
	uint32_t n;
	double stop_s; /* SCENE_POUR: when the stream ends */
	double final_g;
	struct scene_sample sample[SCENE_SAMPLES_MAX];
};

void scene_make(const struct scene_config *config, uint64_t seed, struct scene *ret);

#endif
