/* SPDX-License-Identifier: MIT */
#include "modbus_gate.h"

#include <math.h>

static bool alike(const struct modbus_value *a, const struct modbus_value *b, double jump_g)
{
	if (a->known != b->known || a->overload != b->overload || a->fault != b->fault)
		return false;
	return !a->known || fabs(a->mass_g - b->mass_g) <= jump_g;
}

static enum modbus_gate_verdict believe(struct modbus_gate *gate, const struct modbus_value *value)
{
	gate->last = *value;
	gate->has_last = true;
	gate->has_candidate = false;
	gate->n_candidates = 0;
	return MODBUS_GATE_BELIEVED;
}

enum modbus_gate_verdict modbus_gate_feed(struct modbus_gate *gate, double jump_g,
                                          const struct modbus_value *value)
{
	if (jump_g <= 0.0)
		return believe(gate, value);
	if (gate->has_candidate && alike(value, &gate->candidate, jump_g))
		return believe(gate, value);
	if (gate->has_candidate)
		gate->n_refused++;
	/* The first value of all has none before it to be like. */
	if (gate->has_last && alike(value, &gate->last, jump_g))
		return believe(gate, value);
	gate->candidate = *value;
	gate->has_candidate = true;
	if (++gate->n_candidates < MODBUS_GATE_CANDIDATES_MAX)
		return MODBUS_GATE_ASK_AGAIN;
	/* A load that swings as wildly as this must not hide for ever. */
	believe(gate, value);
	gate->n_refused++;
	return MODBUS_GATE_DOUBTFUL;
}

void modbus_gate_drop(struct modbus_gate *gate)
{
	if (gate->has_candidate)
		gate->n_refused++;
	gate->has_candidate = false;
	gate->n_candidates = 0;
}
