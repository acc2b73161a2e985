/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_CUP_CLOCK_H
#define AMBO_STATION_CUP_CLOCK_H

#include <stdint.h>

#include "batches.h"

/* The working life of every open cup, among the clocks: how long by its mass and
 * temperature, told when it is time to pour and when it is over. Main loop only; nothing
 * runs between two events, for the next one's time is known. The guide has the clock
 * itself, so it survives a restart as the guide does. */
struct station;

enum cup_event {
	CUP_POUR_SOON, /* most of it is used up */
	CUP_LIFE_OVER,
	CUP_EVENTS
};
const char *cup_event_name(enum cup_event event); /* "pour-soon", for machines */

/* Once the loop is there, and the batches that were open. -errno. */
int cup_clock_start(struct station *station);
void cup_clock_done(struct station *station);

/* After each commit of the batch, and when it began or goes on after a restart. */
void cup_clock_told(struct station *station, struct batch *batch);

/* Whether the cup's clock runs, and when an event comes, in seconds from now (negative:
 * it was). */
bool cup_clock_runs(const struct batch *batch);
double cup_clock_in_s(const struct station *station, const struct batch *batch,
                      enum cup_event event);
/* Whether it had come when the guide was last told anything. */
bool cup_clock_due_at(const struct guide *guide, enum cup_event event);
double cup_clock_mass_g(const struct batch *batch);
void cup_clock_sentence(const struct batch *batch, enum cup_event event, char *ret, size_t size);

/* The room as it is known now: measured, else as told last, else as the piece of that name
 * has it; NaN. */
double cup_clock_room_degc(const struct station *station, const char *piece);

#endif
