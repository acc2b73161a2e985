/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_SPIKE_GATE_H
#define AMBO_WEIGHING_SPIKE_GATE_H

#include <stdbool.h>
#include <stdint.h>

/* Keeps corrupt reads out. A converter whose clock was stretched in mid-read
 * powers down: the code it gave ends in ones, and the next comes a restart
 * later. So the corrupt sample is the one before a gap, and it can be told only
 * when its successor arrives.
 *
 *   fits the prediction, or the sample before .... passes at once
 *   departs ..................................... held until the next one:
 *     the next comes late ....................... dropped
 *     the next fits the prediction .............. dropped: a lone spike
 *     the next departs to the same side, nearby . both pass: a real change
 *     else ...................................... dropped, the next is held
 *   departing too often in a row ................ passes: it is really moving
 *   departs, and its code ends in many ones ..... confirms nothing, is not confirmed
 *
 * No clock, no I/O; masses in grams, or any unit as long as it is one. */

#define SPIKE_GATE_HELD_MAX     3u   /* held in a row, without gaps, before the next passes */
#define SPIKE_GATE_ONES         7u   /* ends a code that may have been cut off */
#define SPIKE_GATE_SUSPECT      0.25 /* of the width: how far such a sample may lie */
#define SPIKE_GATE_GAP          1.5  /* periods: a longer interval is a gap */
#define SPIKE_GATE_POUR_G_PER_S 60.0 /* nobody pours faster by hand */

struct spike_gate_sample {
	int64_t t_us;
	double mass_g;
	bool suspect; /* spike_gate_suspects() its code */
};

struct spike_gate {
	bool pending;
	struct spike_gate_sample held; /* while pending */
	double departure_g;            /* of the held sample from its prediction */
	bool passed_before;            /* the next line is set */
	double last_g;                 /* the last sample that passed */
	uint32_t held_in_row;
};

struct spike_gate_verdict {
	uint32_t n;                       /* samples that pass now: 0, 1 or 2 */
	struct spike_gate_sample pass[2]; /* oldest first */
	bool departs;                     /* what passes departs from the prediction */
};

void spike_gate_init(struct spike_gate *gate);

/* Drop what is held, and judge the next by the prediction alone: a rail, or a
 * conversion the driver knows to be void, confirms nothing. */
void spike_gate_drop(struct spike_gate *gate);

/* The code ends in so many ones that the converter may have been cut off in the
 * middle of it; of good codes one in 128 does. */
bool spike_gate_suspects(int32_t counts);

/* @predicted_g: where a good sample is expected now. @width_g: how far from
 * there it may lie, > 0. @gap: the interval before this sample was a gap. */
struct spike_gate_verdict spike_gate_feed(struct spike_gate *gate, struct spike_gate_sample sample,
                                          double predicted_g, double width_g, bool gap);

#endif
