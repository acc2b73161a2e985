/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_INPUTS_H
#define AMBO_RECORDS_INPUTS_H

#include <stddef.h>
#include <stdint.h>

/* The inputs of the last batches, as files beside the store, so that a batch can be
 * replayed: FOLDER/<batch id>/ with trace.csv (t_us,raw24,driver_flags), presses.csv (t_us,event)
 * and whatever else is kept whole (configuration, the guide's state at the start).
 * At most so many batches and bytes in all, oldest removed first.
 *
 * They must never fail a batch: whatever goes wrong here is remembered as one
 * sentence and the calls become quiet. One thread only. */
struct inputs;

#define INPUTS_BYTES_MAX (50 * INT64_C(1000000))
#define INPUTS_OPEN_MAX  4u            /* batches written to at the same time */
#define INPUTS_PARTS_MAX 100           /* of one batch: restarts of the station */
#define INPUTS_BUFFER    (32u * 1024u) /* bytes a batch and file, before they are written */
#define INPUTS_NAME_MAX  64u
#define INPUTS_EVENT_MAX 1600u /* bytes of an event: a longer one is cut */

/* Creates the folder (0700) where it is missing. batches_max, bytes_max > 0. On 0 the
 * caller owns *ret. -errno only for want of memory or bad limits; a folder that cannot
 * be had is a problem, below. */
int inputs_new(const char *folder, unsigned batches_max, int64_t bytes_max, struct inputs **ret);
void inputs_free(struct inputs *inputs); /* flushes; NULL does nothing */

/* Begins a batch's files, after a restart the next part of them: what was in memory is
 * missing from those of the time before, so they stay beside the new ones as
 * trace-1.csv, presses-1.csv (then -2, ...), without a line cut off by a crash, and each
 * part has a state of its own to replay from. Makes room by count. Returns how many
 * parts came before. */
int inputs_begin(struct inputs *inputs, int64_t batch_id);
/* Keeps a file whole, under a plain name of at most INPUTS_NAME_MAX - 1 bytes without
 * a slash or a leading dot, replacing one of that name. */
void inputs_keep(struct inputs *inputs, int64_t batch_id, const char *name, const void *bytes,
                 size_t length);
/* Both do nothing for a batch that was not begun. */
void inputs_sample(struct inputs *inputs, int64_t batch_id, int64_t t_us, int32_t raw24,
                   uint32_t driver_flags);
void inputs_event(struct inputs *inputs, int64_t batch_id, int64_t t_us, const char *event);
/* Hands what is buffered to the system; at changes of step. */
void inputs_flush(struct inputs *inputs);
void inputs_end(struct inputs *inputs, int64_t batch_id);

/* The first thing that went wrong, one sentence, or NULL: for one line in the log.
 * "" never. Cleared by being read. Borrowed until the next call. */
const char *inputs_problem(struct inputs *inputs);

#endif
