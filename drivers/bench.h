/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_BENCH_H
#define AMBO_DRIVERS_BENCH_H

#include <stdbool.h>

#include "noise.h"
#include "simulated.h"

/* The bench's insides, shared by what moves it (bench.c) and what acts on it
 * (bench_act.c). One value without pointers, so that it can live in a file. */

enum bench_stuff { STUFF_A, STUFF_B, STUFF_TINT, STUFF_FILLER, STUFF_COUNT };

struct bench_cup {
	bool there;
	double cup_g, held_g[STUFF_COUNT];
};

#define BENCH_SWINGS 4
#define BENCH_DRIPS  4

struct bench_swing {
	double start_s, amplitude_g;
};
struct bench_drip { /* mass_g 0: none */
	double due_s, mass_g;
	enum bench_stuff stuff;
};

struct bench {
	char magic[16];
	struct bench_config config;
	struct random noise_random, hand_random; /* apart: acts do not change the noise */
	struct sinc4 force, noise;
	int64_t conversion; /* number of the last one */
	double t_s;

	struct bench_cup pan, hand;
	double spilt_g[STUFF_COUNT]; /* on the pan */
	double object_g, leaning_g;
	double poured_g, away_g;
	/* What the pan does not feel yet (negative) or still feels of things that were put
	 * down or taken off just now; goes to 0 linearly. */
	double passing_g, passing_g_per_s;

	bool flowing;
	enum bench_stuff stuff; /* flowing now, or last */
	double rate_g_per_s, goal_g_per_s, slope_g_per_s2;
	double flow_g_per_s; /* rate with the hand's wobble */
	double wobble_phase;
	struct bench_drip drip[BENCH_DRIPS];

	enum bench_stuff powder;
	double powder_left_g, pinch_g, next_pinch_s;

	struct bench_swing swing[BENCH_SWINGS];
	uint32_t next_swing;
	double creep_g;

	/* What is wrong with the cell and its wires; 0 and false: nothing. */
	int place;            /* of the object: 0 the middle, 1..4 front right back left */
	double corner_ratio;  /* how much more an object weighs off the middle */
	double bend_ratio;    /* of Max, at Max, with the third power of the load */
	double hum_hz, hum_g; /* the mains in the signal, amplitude before the filter */
	double gain;          /* less 1 */
	bool swapped, open_bridge;

	bool unplugged;
	int silent_periods; /* still to come */
	int periods_since;  /* the last sample */
};

double bench_cup_mass(const struct bench_cup *cup); /* with what it holds; 0 when not there */
void bench_swing(struct bench *bench, double amplitude_g);

#endif
