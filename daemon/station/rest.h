/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_REST_H
#define AMBO_STATION_REST_H

#include <stdbool.h>

/* Lets a converter that can power down do so while nobody weighs: the driver is told
 * when that begins and ends, and decides by its own option. Nobody weighs while no batch
 * is open and no calibration runs; whoever asks for a mass, a zero or a tare wakes it.
 * Main thread. */
struct station;

void rest_begin(struct station *station); /* the scale is open */
void rest_look(struct station *station);  /* at every tick */
void rest_touch(struct station *station); /* somebody wants the scale now */
bool rest_now(const struct station *station);

#endif
