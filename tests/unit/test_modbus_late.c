/* SPDX-License-Identifier: MIT */
/* A serial unit that answers every request, in their order, but at times only when the
 * driver has given up and asked on. Replies to one shape of request look alike: only the
 * order of things tells them apart. */
#define _XOPEN_SOURCE 700
#define _DEFAULT_SOURCE
#include "tests/support/assert_close.h"

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "drivers/modbus.h"
#include "drivers/modbus_frame.h"
#include "drivers/pace.h"

#define TIMEOUT_MS 10
#define REQUEST    8u
#define QUEUE      64u
#define REQUESTS   160
#define WIRE_US    400 /* no reply is faster than its bytes at 921600 baud */

struct reply {
	uint8_t frame[64];
	size_t n;
	int64_t due_us;
};

struct unit {
	int master;
	pthread_t thread;
	atomic_bool stopping;
	atomic_int n_asked; /* requests heard; the newest one's number */
	bool refuses;       /* all but two registers */
	int64_t late_us;
	struct reply queue[QUEUE];
	size_t first, n_queued;
};

static void sign(struct reply *reply)
{
	const unsigned crc = modbus_crc16(reply->frame, reply->n);

	reply->frame[reply->n++] = (uint8_t)crc;
	reply->frame[reply->n++] = (uint8_t)(crc >> 8);
}

/* Two registers hold the number of the request, the others nothing. */
static void answer(struct reply *ret, const uint8_t *request, int number, bool refuses)
{
	const size_t n_registers = request[5];

	*ret = (struct reply){.frame = {request[0], request[1]}, .n = 3};
	if (refuses && n_registers != 2) {
		ret->frame[1] |= 0x80;
		ret->frame[2] = 2;
	} else {
		ret->frame[2] = (uint8_t)(2 * n_registers);
		ret->n += 2 * n_registers;
		if (n_registers >= 2) {
			ret->frame[5] = (uint8_t)(number >> 8);
			ret->frame[6] = (uint8_t)number;
		}
	}
	sign(ret);
}

/* Eight requests answered late, eight at once, and so on. */
static void take_request(struct unit *unit, const uint8_t *request)
{
	const int number = atomic_fetch_add(&unit->n_asked, 1) + 1;
	const bool late = (number - 1) / 8 % 2 == 0;
	struct reply *reply = &unit->queue[(unit->first + unit->n_queued) % QUEUE];

	answer(reply, request, number, unit->refuses);
	reply->due_us = pace_now_us() + (late ? unit->late_us : WIRE_US);
	unit->n_queued++;
}

static void send_due(struct unit *unit)
{
	while (unit->n_queued > 0 && unit->queue[unit->first].due_us <= pace_now_us()) {
		const struct reply *reply = &unit->queue[unit->first];

		if (write(unit->master, reply->frame, reply->n) != (ssize_t)reply->n)
			abort();
		unit->first = (unit->first + 1) % QUEUE;
		unit->n_queued--;
	}
}

static void *serve(void *context)
{
	struct unit *unit = context;
	uint8_t request[REQUEST];
	size_t have = 0;

	while (!atomic_load(&unit->stopping)) {
		struct pollfd fd = {.fd = unit->master, .events = POLLIN};
		ssize_t n;

		send_due(unit);
		if (poll(&fd, 1, 1) <= 0)
			continue;
		n = read(unit->master, request + have, REQUEST - have);
		have += n > 0 ? (size_t)n : 0;
		if (have == REQUEST) {
			take_request(unit, request);
			have = 0;
		}
	}
	return NULL;
}

static int open_pty(void)
{
	int master = posix_openpt(O_RDWR | O_NOCTTY), keeper;
	struct termios settings;

	assert_true(master >= 0 && grantpt(master) == 0 && unlockpt(master) == 0);
	/* Stays open, so that our end never hangs up while the driver opens its own anew. */
	keeper = open(ptsname(master), O_RDWR | O_NOCTTY);
	assert_int_equal(tcgetattr(keeper, &settings), 0);
	cfmakeraw(&settings);
	assert_int_equal(tcsetattr(keeper, TCSANOW, &settings), 0);
	return master;
}

static struct scale *open_scale(int master)
{
	static char message[SCALE_MESSAGE_MAX], device[64], timeout[8];
	const struct scale_option options[] = {
	        {"link", "rtu", "t:1"},         {"device", device, "t:2"},
	        {"baud", "921600", "t:3"},      {"address", "0", "t:4"},
	        {"type", "int32", "t:5"},       {"rate_hz", "250", "t:6"},
	        {"timeout_ms", timeout, "t:7"}, {"unit_id", "1", "t:8"},
	};
	struct scale *scale = NULL;

	snprintf(device, sizeof(device), "%s", ptsname(master));
	snprintf(timeout, sizeof(timeout), "%d", TIMEOUT_MS);
	if (modbus_driver.open(options, 8, message, &scale) < 0)
		fail_msg("%s", message);
	return scale;
}

/* No reading may be of another request than the newest. Returns how many there were. */
static int read_all(struct unit *unit, struct scale *scale, int n_requests)
{
	int n_readings = 0;

	for (int turn = 0; turn < 10 * n_requests && atomic_load(&unit->n_asked) < n_requests;
	     turn++) {
		char message[SCALE_MESSAGE_MAX];
		struct scale_sample sample;

		if (modbus_driver.read(scale, 20, &sample, message) <= 0)
			continue;
		n_readings++;
		if (sample.counts != atomic_load(&unit->n_asked))
			fail_msg("reading %d is of request %d, of %d asked", n_readings,
			         (int)sample.counts, atomic_load(&unit->n_asked));
	}
	assert_int_equal(atomic_load(&unit->n_asked) >= n_requests, 1);
	return n_readings;
}

static void run(bool refuses, int64_t late_us)
{
	struct unit unit = {.master = open_pty(), .refuses = refuses, .late_us = late_us};
	struct scale *scale = open_scale(unit.master);
	struct modbus_scale_counts counts;
	int n_readings;

	assert_int_equal(pthread_create(&unit.thread, NULL, serve, &unit), 0);
	n_readings = read_all(&unit, scale, REQUESTS);
	modbus_scale_counts(scale, &counts);
	modbus_driver.close(scale);
	atomic_store(&unit.stopping, true);
	pthread_join(unit.thread, NULL);
	close(unit.master);
	printf("%d requests, %d readings, %d time-outs\n", REQUESTS, n_readings,
	       (int)counts.wire.n_timeouts);
	/* Else it has shown nothing. */
	assert_true(n_readings >= REQUESTS / 10);
	assert_true(counts.wire.n_timeouts >= REQUESTS / 10);
}

static void a_late_reply_never_becomes_the_next_ones(void **state)
{
	(void)state;
	run(false, 1600 * TIMEOUT_MS);
}

static void nor_does_one_that_is_late_by_several_requests(void **state)
{
	(void)state;
	run(false, 3700 * TIMEOUT_MS);
}

/* Nothing tells one refusal from another: here only time does. */
static void nor_where_the_unit_refuses_every_other_length(void **state)
{
	(void)state;
	run(true, 1600 * TIMEOUT_MS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_late_reply_never_becomes_the_next_ones),
	        cmocka_unit_test(nor_does_one_that_is_late_by_several_requests),
	        cmocka_unit_test(nor_where_the_unit_refuses_every_other_length),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
