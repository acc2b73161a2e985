/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_RING_H
#define AMBO_STATION_RING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "drivers/scale.h"

/* The bounded queue of samples between the acquisition thread and the loop. When it
 * is full a live source loses its oldest sample (what the pan holds now matters
 * more), a source with a time of its own waits. An eventfd tells the loop. */
struct ring;

/* What a slot holds: a sample, or only the source's time through a silence. */
enum ring_kind { RING_SAMPLE, RING_TIME };
struct ring_item {
	enum ring_kind kind;
	struct scale_sample sample;
};

/* @capacity: a power of two, 2..65536. On 0 the caller owns *ret; -EINVAL, -ENOMEM,
 * or -errno of eventfd. */
int ring_new(size_t capacity, bool waits, struct ring **ret);
void ring_free(struct ring *ring); /* NULL does nothing; both threads must be done */

/* Producer. 1 when it was taken; 0 when the oldest went for it; -ECANCELED after
 * ring_close(). Blocks while a waiting ring is full. */
int ring_push(struct ring *ring, const struct ring_item *item);

/* Consumer; never blocks. Returns how many of at most max were taken. */
size_t ring_pop(struct ring *ring, struct ring_item *ret, size_t max);

/* Wakes a producer that waits, and refuses all it pushes from now on. */
void ring_close(struct ring *ring);

int ring_fd(const struct ring *ring); /* readable when something was pushed */
/* Marks the fd as seen: before ring_pop(), so that no push is missed. */
void ring_seen(struct ring *ring);
uint64_t ring_dropped(struct ring *ring); /* since the beginning */

#endif
