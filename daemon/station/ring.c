/* SPDX-License-Identifier: MIT */
#include "ring.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <unistd.h>

/* A mutex, not clever atomics: a hundred samples a second cost nothing, and
 * dropping the oldest from the producer's side is plain this way. */
struct ring {
	pthread_mutex_t lock;
	pthread_cond_t room;
	size_t capacity, first, fill;
	uint64_t dropped;
	bool waits, closed;
	int fd;
	struct ring_item items[];
};

int ring_new(size_t capacity, bool waits, struct ring **ret)
{
	struct ring *ring;
	int fd;

	if (capacity < 2 || capacity > 65536 || (capacity & (capacity - 1)) != 0)
		return -EINVAL;
	fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	if (fd < 0)
		return -errno;
	ring = calloc(1, sizeof(*ring) + capacity * sizeof(ring->items[0]));
	if (ring == NULL) {
		close(fd);
		return -ENOMEM;
	}
	ring->capacity = capacity;
	ring->waits = waits;
	ring->fd = fd;
	pthread_mutex_init(&ring->lock, NULL);
	pthread_cond_init(&ring->room, NULL);
	*ret = ring;
	return 0;
}

void ring_free(struct ring *ring)
{
	if (ring == NULL)
		return;
	pthread_cond_destroy(&ring->room);
	pthread_mutex_destroy(&ring->lock);
	close(ring->fd);
	free(ring);
}

int ring_push(struct ring *ring, const struct ring_item *item)
{
	const uint64_t one = 1;
	int taken = 1;

	pthread_mutex_lock(&ring->lock);
	while (ring->waits && ring->fill == ring->capacity && !ring->closed)
		pthread_cond_wait(&ring->room, &ring->lock);
	if (ring->closed) {
		pthread_mutex_unlock(&ring->lock);
		return -ECANCELED;
	}
	if (ring->fill == ring->capacity) {
		ring->first = (ring->first + 1) & (ring->capacity - 1);
		ring->fill--;
		ring->dropped++;
		taken = 0;
	}
	ring->items[(ring->first + ring->fill) & (ring->capacity - 1)] = *item;
	ring->fill++;
	pthread_mutex_unlock(&ring->lock);
	/* Fails only when the counter is full: then it is readable anyway. */
	(void)!write(ring->fd, &one, sizeof(one));
	return taken;
}

size_t ring_pop(struct ring *ring, struct ring_item *ret, size_t max)
{
	size_t n = 0;

	pthread_mutex_lock(&ring->lock);
	for (; n < max && ring->fill > 0; n++, ring->fill--) {
		ret[n] = ring->items[ring->first];
		ring->first = (ring->first + 1) & (ring->capacity - 1);
	}
	if (n > 0)
		pthread_cond_signal(&ring->room);
	pthread_mutex_unlock(&ring->lock);
	return n;
}

void ring_close(struct ring *ring)
{
	pthread_mutex_lock(&ring->lock);
	ring->closed = true;
	pthread_cond_broadcast(&ring->room);
	pthread_mutex_unlock(&ring->lock);
}

int ring_fd(const struct ring *ring)
{
	return ring->fd;
}

void ring_seen(struct ring *ring)
{
	uint64_t count;

	(void)!read(ring->fd, &count, sizeof(count));
}

uint64_t ring_dropped(struct ring *ring)
{
	uint64_t dropped;

	pthread_mutex_lock(&ring->lock);
	dropped = ring->dropped;
	pthread_mutex_unlock(&ring->lock);
	return dropped;
}
