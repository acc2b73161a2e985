/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_MODBUS_MAP_H
#define AMBO_DRIVERS_MODBUS_MAP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "modbus_frame.h"

/* Where a unit keeps its mass, its state and its buttons, and how registers become a
 * value. Pure. */

enum modbus_type { MODBUS_INT16, MODBUS_UINT16, MODBUS_INT32, MODBUS_FLOAT32 };

/* The order in which the value's bytes arrive, A being the most significant: of four
 * bytes, or of the two of a 16-bit value (AB, BA). */
enum modbus_order { MODBUS_ABCD, MODBUS_BADC, MODBUS_CDAB, MODBUS_DCBA };

#define MODBUS_NONE (-1) /* no such register, no such bit */

struct modbus_bit {
	int bit; /* 0 the least significant..15, or MODBUS_NONE */
	bool inverted;
};

/* What a press of the unit's own zero or tare is over the wire. */
struct modbus_button {
	int function; /* MODBUS_WRITE_COIL, MODBUS_WRITE_REGISTER, or MODBUS_NONE */
	uint16_t address, value;
};

struct modbus_map {
	int function; /* MODBUS_READ_HOLDING or MODBUS_READ_INPUT, for all of it */
	int address;  /* of the value's first register, 0..65535 */
	enum modbus_type type;
	enum modbus_order order;
	double g_per_step; /* of an integer's last digit, or of a float's 1.0 */
	double count_g;    /* one count of the samples */
	int status;        /* register of the status bits, or MODBUS_NONE */
	struct modbus_bit settled, overload, fault;
	int heartbeat; /* register that changes with every conversion, or MODBUS_NONE */
	struct modbus_button zero, tare;

	double low_g, high_g; /* a value beyond is not believed */
	double jump_g;        /* a step beyond must be read twice; 0: any step is believed */
};

/* Registers of the value: 1 or 2. */
int modbus_type_registers(enum modbus_type type);

/* The one block that covers value, status and heartbeat: read at once, so that all of
 * it is of one moment. The length may exceed what one read can fetch. */
int modbus_map_first(const struct modbus_map *map);
int modbus_map_span(const struct modbus_map *map);

/* How many registers to ask for, from modbus_map_first(), to learn whether a serial unit
 * is back in step: @n of them have gone unanswered since a reply last failed to come. A
 * reply says nothing but its length, and replies come in the order of their questions:
 * so no length is the span's, and none comes twice in MODBUS_PROBES, lest a late reply to
 * one probe be taken for the next one's. The unit may refuse to read so few or so many. */
#define MODBUS_PROBES 16
int modbus_map_probe(const struct modbus_map *map, unsigned n);

struct modbus_value {
	bool known; /* false: not a number, or beyond low_g..high_g */
	double mass_g;
	int32_t counts; /* within 24 bits; the end codes beyond */
	bool moving, overload, fault;
	uint16_t heartbeat; /* 0 without one */
};

/* @registers: modbus_map_span() of them from modbus_map_first(). Cannot fail. */
void modbus_map_decode(const struct modbus_map *map, const uint16_t *registers,
                       struct modbus_value *ret);

#endif
