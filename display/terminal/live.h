/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_LIVE_H
#define AMBO_TERMINAL_LIVE_H

#include "bus_client.h"

/* Follows a station as it happens: its readings, the batch it shows, its steps.
 * One connection, one thread: live_wait() is the only place that waits. */

enum live_event {
	LIVE_READING = 1u << 0,     /* reading is new */
	LIVE_BATCH = 1u << 1,       /* batch is new */
	LIVE_STEP = 1u << 2,        /* step is new */
	LIVE_GONE = 1u << 3,        /* the station left the bus */
	LIVE_BACK = 1u << 4,        /* and came back: batch is new */
	LIVE_KEY = 1u << 5,         /* the extra descriptor can be read */
	LIVE_INTERRUPTED = 1u << 6, /* Ctrl-C */
};

struct live_reading {
	int64_t sequence, t_us;
	char state[16], cue[16];
	struct dict quantities;
};

struct live_step {
	int64_t id, t_us;
	char step[16], message[32], verdict[16], sentence[512];
};

struct live {
	sd_bus *bus; /* borrowed */
	struct dict batch;
	struct live_reading reading;
	struct live_step step;
	uint32_t events;  /* seen and not yet handed over */
	bool gone, stale; /* stale: batch must be fetched whole */
};

/* Subscribes and fetches the batch. live outlives the bus's matches: free it after
 * the bus is closed. Returns an enum exit_status. */
int live_open(sd_bus *bus, struct live *live);

/* Waits for at most timeout_ms until something happened; fd < 0: none. Returns
 * what, enum live_event or-ed, 0 after the time; -errno when the bus is lost. At
 * most one reading and one step are handed over at a time: none is missed. */
int live_wait(struct live *live, int fd, int timeout_ms);

/* Ctrl-C from now on comes as LIVE_INTERRUPTED. */
void live_catch_interrupt(void);

#endif
