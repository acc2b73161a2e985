/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_SENSED_H
#define AMBO_STATION_SENSED_H

#include <stdbool.h>
#include <stdint.h>

/* What the sensors' values are for. Main loop only. */
struct batch;
struct station;

struct sensed {
	uint64_t changes; /* of what the bus shows */
	bool has_room;    /* the room's log, since the start */
	int64_t room_us;  /* CLOCK_BOOTTIME */
	double room_degc;
};

/* The station; news: a value came, changed or went. */
void sensed_look(void *context, bool news);

/* A change that moves a working life by less is not worth an event. */
#define SENSED_LIFE_STEP_S 5.0
/* The batch's working life ends in left_s: one of its inputs, kept for a replay. */
void sensed_life(struct station *station, struct batch *batch, double left_s);

/* Of the resin, for a batch that begins now; NaN where it is not known, or is no
 * temperature of resin, or a presses file is played. */
double sensed_resin_degc(const struct station *station);
double sensed_air_degc(const struct station *station); /* NaN: not known */

#endif
