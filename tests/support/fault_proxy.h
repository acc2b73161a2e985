/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_FAULT_PROXY_H
#define AMBO_TESTS_SUPPORT_FAULT_PROXY_H

#include <stdbool.h>
#include <stdint.h>

#include "drivers/modbus_frame.h"

/* A middleman between a Modbus master and its unit that spoils a share of the replies
 * in one way, on a thread of its own, and remembers what it did to the newest. */
struct fault_proxy;

enum fault_kind {
	FAULT_NONE,
	FAULT_LATE, /* amount: ms */
	FAULT_DROP,
	FAULT_CRC,  /* RTU: the check sum is another */
	FAULT_FLIP, /* one bit: of any byte over RTU, of header, function or byte count over TCP */
	FAULT_DATA, /* TCP: one bit of the data; RTU: the same */
	FAULT_TRUNCATE,
	FAULT_SPLIT,       /* amount: ms between the parts */
	FAULT_JUNK,        /* bytes before the reply */
	FAULT_UNIT,        /* another unit's, with a good check sum */
	FAULT_TRANSACTION, /* TCP: an earlier transaction's */
	FAULT_CLOSE,       /* the link, instead of replying */
	FAULT_EXCEPTION,   /* amount: its code */
	FAULT_TWICE,       /* the same reply again */
	FAULT_KINDS,
};
/* "late", "dropped", ...; NULL for none such. */
const char *fault_name(enum fault_kind kind);

struct fault_proxy_config {
	enum modbus_link link;
	int unit_port;         /* TCP: of the unit, on 127.0.0.1 */
	const char *unit_path; /* RTU: a serial port that leads to the unit */
	const char *link_path; /* RTU: the symbolic link to make, to a new port each time */
	enum fault_kind kind;
	int amount;
	double share; /* of the replies, 0..1 */
	uint64_t seed;
};

/* What has passed, of one moment. */
struct fault_proxy_state {
	uint64_t n_requests, n_spoilt, n_of[FAULT_KINDS];
	bool spoilt;          /* the newest reply */
	uint16_t n_registers; /* it held, and the first two */
	uint16_t registers[2];
};

/* Fails the test that asks for it when it cannot be. */
struct fault_proxy *fault_proxy_start(const struct fault_proxy_config *config);
void fault_proxy_stop(struct fault_proxy *proxy);
int fault_proxy_port(const struct fault_proxy *proxy); /* TCP */
/* The next n replies are spoilt so, beside the share that is anyway. Any thread. */
void fault_proxy_next(struct fault_proxy *proxy, enum fault_kind kind, int amount, unsigned n);
void fault_proxy_state(struct fault_proxy *proxy, struct fault_proxy_state *ret);

#endif
