/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_ACQUISITION_H
#define AMBO_STATION_ACQUISITION_H

#include <stddef.h>

#include "drivers/scale.h"
#include "ring.h"

/* The acquisition thread: calls the driver's read, which may block, and fills the
 * ring. A source that failed is tried again every RETRY_MS; one that has ended
 * is left alone. */
struct acquisition;

enum acquisition_state {
	ACQUISITION_RUNS,
	ACQUISITION_FAILS, /* the driver says why; tried again */
	ACQUISITION_ENDED, /* there is no more: a trace */
	ACQUISITION_RESTS, /* powered down, for nobody needs it */
};

/* The scale stays the caller's, who closes it after acquisition_stop(). -errno. */
int acquisition_start(const struct scale_driver *driver, struct scale *scale,
                      struct acquisition **ret);
/* Ends the thread and waits for it: at most one read's time-out. NULL does nothing. */
void acquisition_stop(struct acquisition *acquisition);

struct ring *acquisition_ring(struct acquisition *acquisition);

/* What the driver has counted up to its last read, at most SCALE_COUNTS_MAX. */
size_t acquisition_counts(struct acquisition *acquisition, struct scale_count *ret);

/* How the source is, with the driver's last sentence when it fails. */
enum acquisition_state acquisition_state(struct acquisition *acquisition, char *ret_message,
                                         size_t size);
/* How often the source has begun to rest. */
unsigned acquisition_rests(struct acquisition *acquisition);

#endif
