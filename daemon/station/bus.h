/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_BUS_H
#define AMBO_STATION_BUS_H

#include <stdbool.h>
#include <systemd/sd-bus.h>

#include "batches.h"

/* The station on D-Bus: objects, properties, signals. Main thread only. Names and
 * types: introspection/org.ambo.Station.xml. */
struct station;
struct bus;

#define BUS_PREFIX  "org.ambo" /* the one constant: settled before a release */
#define BUS_SERVICE BUS_PREFIX ".Station"
#define BUS_SCALE   BUS_PREFIX ".Scale1"
#define BUS_BATCH   BUS_PREFIX ".Batch1"
#define BUS_RECORDS BUS_PREFIX ".Records1"
#define BUS_PIECES  BUS_PREFIX ".Pieces1"
#define BUS_BENCH   BUS_PREFIX ".Bench1"
#define BUS_ROOT    "/org/ambo"

/* Connects, takes the name, puts the objects up. -errno, said on stderr. */
int bus_new(struct station *station, struct bus **ret);
void bus_free(struct bus *bus); /* NULL does nothing */

/* After each reading: the Reading signal (at most 100/s), and waiting Weigh calls. */
void bus_reading(struct bus *bus);
/* Something may have changed: PropertiesChanged, at most 5 a second. */
void bus_touch(struct bus *bus);
/* A commit was told, or a batch began: StepChanged, and the properties at once; calls
 * that wait for this batch's commit are answered. failure: why it failed, or NULL. */
void bus_told(struct bus *bus, const struct batch *batch, const char *failure);

/* Whether a client that asked for readings (Watch) is still there, or a call waits for a
 * settled mass. */
bool bus_is_watched(const struct bus *bus);

/* Pieces, layers or clocks are not what they were. */
void bus_pieces_changed(struct bus *bus);
void bus_clock_event(struct bus *bus, const char *piece, int64_t layer, const char *event,
                     const char *sentence);

#endif
