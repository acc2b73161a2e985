/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_COMMIT_H
#define AMBO_STATION_COMMIT_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/mixing/guide.h"

/* What one batch may tell the person: nothing that is not on the disk. The guide
 * goes on from `committed`; a change that matters becomes `pending` until the store
 * has it, and inputs queue meanwhile. Pure: no bus, no thread, no store.
 *
 *   feed --- differs ---> waiting --- done, in the store ---> committed = pending
 *                           |
 *                           +-------- done, failed ---------> committed = held
 */
#define COMMIT_QUEUE_MAX     256u
#define COMMIT_QUEUE_RESERVE 16u /* kept for presses: readings never fill these */

struct commit {
	struct guide committed, pending;
	struct guide live; /* while waiting: committed, moved on by what came since */
	bool waiting;
	struct guide_event queue[COMMIT_QUEUE_MAX];
	uint32_t first, fill;
	uint64_t dropped; /* readings and ticks that found no room */
};

/* guide is (or is about to be) in the store. */
void commit_init(struct commit *commit, const struct guide *guide);

/* 1: `pending` must go to the store now, then commit_done(). 0: nothing to store.
 * -EAGAIN: queued behind the one under way. -ENOBUFS: no room; a reading or tick is
 * dropped and counted, anything else is the caller's to refuse. */
int commit_feed(struct commit *commit, const struct guide_event *event);

/* Not while waiting. `pending` is `committed`, lighter by what a divided batch took out
 * of its cup: it must go to the store now, then commit_done(). */
void commit_take_off(struct commit *commit, double mass_g);

/* The store has answered: result 0, or -errno with the reason. A failed commit drops
 * what was queued in answer to it: the person has not been told of any of it.
 * Returns 1 when the queue brought the next pending. */
int commit_done(struct commit *commit, int result, const char *reason, int64_t t_us);

/* What may be shown: step, message and verdict as committed; masses, cue and the
 * rest as of the newest reading. */
void commit_look(const struct commit *commit, struct guide_view *ret);

#endif
