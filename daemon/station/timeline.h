/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_TIMELINE_H
#define AMBO_STATION_TIMELINE_H

#include <stdbool.h>
#include <stdint.h>

#include "ring.h"

/* The order of things on a source's own time: a tick every 100 ms of it, also through
 * gaps, presses at their time, the moment a source falls silent, samples. Whatever the speed of a replay, the same
 * trace and presses give the same order. Pure. */

#define TIMELINE_TICK_US 100000

struct timeline {
	bool begun;
	int64_t now_us;       /* of the newest that came out */
	int64_t next_tick_us; /* whole multiples, whatever came first */
	bool has_item;
	struct ring_item item;
};

enum timeline_kind {
	TIMELINE_NOTHING, /* the next item is wanted: timeline_put() */
	TIMELINE_PRESS,   /* at the press's time, before what else is due then */
	TIMELINE_TICK,
	TIMELINE_SILENCE, /* at silent_us, before what else is due then but a press */
	TIMELINE_SAMPLE, /* item.sample */
};

void timeline_init(struct timeline *timeline);

/* Only when timeline_next() said TIMELINE_NOTHING. An item whose time lies before the
 * newest is taken as of now: time never runs backwards. */
void timeline_put(struct timeline *timeline, const struct ring_item *item);

/* The time of something that happens now, from outside: 1 us after the newest that
 * came out, or at clock_us where that is later. Whoever records it at this time gets
 * the same order when it is replayed. */
int64_t timeline_stamp(struct timeline *timeline, int64_t clock_us);

/* @press_us: when the next press is due, @silent_us: when the source is silent unless a
 * sample comes, INT64_MAX for none. @ticks: whether anyone waits for ticks; without,
 * those of a gap are skipped, on the same grid. */
enum timeline_kind timeline_next(struct timeline *timeline, int64_t press_us, int64_t silent_us,
                                 bool ticks);

#endif
