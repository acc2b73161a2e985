/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_KEEP_H
#define AMBO_STATION_KEEP_H

#include "action_text.h"
#include "station.h"

/* What is kept of a batch so that it can be replayed alone, whatever else the station
 * did meanwhile: its state at the start, the samples that were its own, what was done
 * to it, and where another batch came between. Does nothing where nothing is kept. */

/* The batch has begun, now: its configuration and state, and the row that begins it.
 * @request: what was asked for, NULL when nothing was (divided). */
void keep_begun(struct station *station, const struct batch *batch,
                const struct begin_request *request);
/* It goes on after a restart of the station, now; or_longer: nobody knows how long the
 * power was off, so that its working life counts as over. */
void keep_resumed(struct station *station, const struct batch *batch, bool or_longer);

/* What was done to a batch, at the station's time now. */
void keep_row(struct station *station, int64_t id, const struct action *action);

/* Before each sample and tick, with the batch that it belongs to (NULL: none). When that
 * is another than before, the weigher forgets: what it knew is in no inputs of this one. */
void keep_follow_pan(struct station *station, const struct batch *batch);

/* A divided batch weighs this out of parent's cup. As batches.h has it. */
void keep_lighter(void *context, const struct batch *parent, double mass_g);

/* The state a begin row names, beside the presses file. 0, or -errno with one sentence
 * in why (ACTION_WHY_MAX). */
int keep_read_state(const struct station *station, const char *name, struct guide *ret, char *why);

#endif
