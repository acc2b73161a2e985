/* SPDX-License-Identifier: MIT */
/* The queue between the acquisition thread and the loop. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>

#include "daemon/station/ring.h"

static void push(struct ring *ring, int32_t counts, int expected)
{
	const struct ring_item item = {.sample = {.t_us = counts, .counts = counts}};

	assert_int_equal(ring_push(ring, &item), expected);
}

static bool readable(const struct ring *ring)
{
	struct pollfd look = {.fd = ring_fd(ring), .events = POLLIN};

	return poll(&look, 1, 0) == 1;
}

static void capacities_other_than_powers_of_two_are_refused(void **state)
{
	struct ring *ring = NULL;

	(void)state;
	assert_int_equal(ring_new(0, false, &ring), -EINVAL);
	assert_int_equal(ring_new(1, false, &ring), -EINVAL);
	assert_int_equal(ring_new(3, false, &ring), -EINVAL);
	assert_int_equal(ring_new(131072, false, &ring), -EINVAL);
	assert_null(ring);
}

static void a_live_source_loses_its_oldest_and_the_loss_is_counted(void **state)
{
	struct ring_item items[8];
	struct ring *ring;

	(void)state;
	assert_int_equal(ring_new(4, false, &ring), 0);
	for (int32_t i = 0; i < 4; i++)
		push(ring, i, 1);
	assert_int_equal(ring_dropped(ring), 0);
	push(ring, 4, 0);
	push(ring, 5, 0);
	assert_int_equal(ring_dropped(ring), 2);
	assert_int_equal(ring_pop(ring, items, 8), 4);
	for (int32_t i = 0; i < 4; i++)
		assert_int_equal(items[i].sample.counts, i + 2);
	assert_int_equal(ring_pop(ring, items, 8), 0);
	ring_free(ring);
}

static void the_descriptor_tells_of_every_push(void **state)
{
	struct ring_item item;
	struct ring *ring;

	(void)state;
	assert_int_equal(ring_new(4, false, &ring), 0);
	assert_false(readable(ring));
	push(ring, 1, 1);
	assert_true(readable(ring));
	ring_seen(ring);
	assert_false(readable(ring));
	push(ring, 2, 1);
	assert_true(readable(ring));
	assert_int_equal(ring_pop(ring, &item, 1), 1);
	assert_int_equal(item.sample.counts, 1);
	ring_free(ring);
}

#define MANY 20000

static void *produce(void *context)
{
	struct ring *ring = context;

	for (int32_t i = 0; i < MANY; i++) {
		const struct ring_item item = {.sample = {.counts = i}};

		if (ring_push(ring, &item) < 0)
			return NULL;
	}
	return context;
}

static void a_waiting_source_loses_nothing_and_keeps_its_order(void **state)
{
	struct ring_item items[16];
	struct ring *ring;
	pthread_t thread;
	void *done;
	int32_t next = 0;

	(void)state;
	assert_int_equal(ring_new(8, true, &ring), 0);
	assert_int_equal(pthread_create(&thread, NULL, produce, ring), 0);
	while (next < MANY) {
		const size_t n = ring_pop(ring, items, 16);

		for (size_t i = 0; i < n; i++)
			assert_int_equal(items[i].sample.counts, next++);
	}
	assert_int_equal(pthread_join(thread, &done), 0);
	assert_ptr_equal(done, ring);
	assert_int_equal(ring_dropped(ring), 0);
	ring_free(ring);
}

static void closing_wakes_a_source_that_waits(void **state)
{
	struct ring *ring;
	pthread_t thread;
	void *done;

	(void)state;
	assert_int_equal(ring_new(8, true, &ring), 0);
	assert_int_equal(pthread_create(&thread, NULL, produce, ring), 0);
	ring_close(ring); /* before or after it waits: it ends either way */
	assert_int_equal(pthread_join(thread, &done), 0);
	assert_null(done);
	push(ring, 1, -ECANCELED);
	ring_free(ring);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(capacities_other_than_powers_of_two_are_refused),
	        cmocka_unit_test(a_live_source_loses_its_oldest_and_the_loss_is_counted),
	        cmocka_unit_test(the_descriptor_tells_of_every_push),
	        cmocka_unit_test(a_waiting_source_loses_nothing_and_keeps_its_order),
	        cmocka_unit_test(closing_wakes_a_source_that_waits),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
