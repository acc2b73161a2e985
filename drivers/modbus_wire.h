/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_MODBUS_WIRE_H
#define AMBO_DRIVERS_MODBUS_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "modbus_frame.h"

/* One link to one unit, and the checked exchange over it: ask, then hear. The only file
 * that knows libmodbus, whose recovery modes stay off (they sleep within the call).
 *
 * What keeps another request's reply out: everything that has come before is flushed
 * when asking; a serial reply that is complete before request and reply could have
 * passed the wire is not believed; over TCP each request has a transaction of its own;
 * every byte of the envelope is checked (modbus_frame.h). The rest is the caller's: to
 * ask for another number of registers after a failure, until that succeeds. */
struct modbus_wire;

#define MODBUS_HOST_MAX 256u /* bytes, with the NUL */
#define MODBUS_PATH_MAX 256u

struct modbus_wire_config {
	enum modbus_link link;
	char host[MODBUS_HOST_MAX]; /* TCP */
	int port;
	char device[MODBUS_PATH_MAX]; /* RTU: opened by this name each time */
	int baud;
	char parity;   /* 'N', 'E', 'O' */
	int stop_bits; /* 1, 2 */
	uint8_t unit;
	int timeout_ms; /* for the whole reply, beyond the wire's own time */
};

/* Since modbus_wire_new. */
struct modbus_counts {
	uint64_t n_asked, n_good, n_exceptions;
	uint64_t n_timeouts;
	uint64_t n_foreign; /* whole frames that answered something else */
	uint64_t n_early;   /* serial replies faster than their wire time */
	uint64_t n_corrupt;
	uint64_t n_broken; /* links that failed and were closed */
	uint64_t n_opened;
};

int modbus_wire_char_bits(const struct modbus_wire_config *config); /* 10, 11 or 12 */

/* Opens nothing. On 0 the caller owns *ret; -ENOMEM. */
int modbus_wire_new(const struct modbus_wire_config *config, struct modbus_wire **ret);
void modbus_wire_free(struct modbus_wire *wire); /* NULL does nothing */

/* Blocks up to the time-out over TCP (longer where a name must be looked up). -errno:
 * -EBUSY when another program has locked the port, -EMFILE with too many files open. */
int modbus_wire_open(struct modbus_wire *wire);
void modbus_wire_close(struct modbus_wire *wire); /* closed already: does nothing */
bool modbus_wire_is_open(const struct modbus_wire *wire);

/* Drops whatever came unasked and sends; the unit and the transaction are filled in.
 * One request at a time: an earlier one counts as given up. Keeps the silence between
 * serial frames (at most some ms). -errno when the link failed: it is closed then. */
int modbus_wire_ask(struct modbus_wire *wire, const struct modbus_request *request);

struct modbus_reply {
	uint16_t registers[MODBUS_SPAN_MAX];
	int exception;
	int64_t asked_us, heard_us; /* CLOCK_MONOTONIC: before sending, after the last byte */
};

/* Waits for the reply until until_us (CLOCK_MONOTONIC), not past the time-out; once its first byte
 * is there, for the rest of it too. 1 good; 0 not yet: call again; -ETIMEDOUT,
 * -EBADMSG (damaged), -EREMOTEIO (exception), another -errno: the link failed. After
 * -EBADMSG, or -ETIMEDOUT within a frame, a TCP link is closed: where its next frame
 * begins is unknown. A serial line is read empty instead. */
int modbus_wire_hear(struct modbus_wire *wire, int64_t until_us, struct modbus_reply *ret);

void modbus_wire_counts(const struct modbus_wire *wire, struct modbus_counts *ret);

#endif
