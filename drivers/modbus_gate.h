/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_MODBUS_GATE_H
#define AMBO_DRIVERS_MODBUS_GATE_H

#include <stdbool.h>
#include <stdint.h>

#include "modbus_map.h"

/* Whether a value that came in a faultless frame is plausible. A Modbus frame over TCP
 * has no check sum of its own, so a data byte may change on the way and nothing in the
 * frame shows it. What can be done: a value far from the one before, of unlike state,
 * or no number at all, is only believed when the unit says so twice in a row. What
 * cannot: a change below jump_g passes, and so does the same damage to two replies in
 * a row. Pure. */
struct modbus_gate {
	bool has_last, has_candidate;
	struct modbus_value last, candidate;
	unsigned n_candidates;
	uint64_t n_refused; /* values that were read and not believed, ever */
};

#define MODBUS_GATE_CANDIDATES_MAX 4u

enum modbus_gate_verdict {
	MODBUS_GATE_BELIEVED,
	MODBUS_GATE_ASK_AGAIN, /* now, not at the next turn */
	MODBUS_GATE_DOUBTFUL,  /* no two alike of MODBUS_GATE_CANDIDATES_MAX: void */
};

/* @jump_g: 0 believes all. Cannot fail. */
enum modbus_gate_verdict modbus_gate_feed(struct modbus_gate *gate, double jump_g,
                                          const struct modbus_value *value);

/* The question asked again was not answered: its candidate is dropped. */
void modbus_gate_drop(struct modbus_gate *gate);

#endif
