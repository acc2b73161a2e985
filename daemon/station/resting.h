/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_RESTING_H
#define AMBO_STATION_RESTING_H

#include <stdbool.h>
#include <stdint.h>

/* A scale that nobody needs may power down: the driver is told when that begins, waits
 * for its own time (idle_s), and wakes by itself when somebody does. Needed is it while a
 * batch is open, a calibration runs, a recording is made, a client watches or waits for a
 * mass; and a call on the bus, or the foot, is somebody. Main loop only. */
struct station;

struct resting {
	bool told_idle;   /* the driver, last */
	bool touched;     /* somebody came since the last look */
	bool rests;       /* the source is powered down */
	unsigned n_rests; /* a short one may fall between two looks */
	bool sampled;     /* since then */
	int64_t awake_us; /* CLOCK_MONOTONIC, since it was asked for samples */
};

/* Ten times a second: tells the driver, and forgets a reading from before the rest. True
 * while the source rests: its silence is none. */
bool resting_look(struct station *station);
/* Awake, or begun, for longer than any converter takes to settle, and not one sample yet. */
bool resting_overdue(const struct station *station);
/* Somebody is there: awake at once. */
void resting_touch(struct station *station);

#endif
