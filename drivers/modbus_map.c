/* SPDX-License-Identifier: MIT */
#include "modbus_map.h"

#include <math.h>
#include <string.h>

#define COUNTS_HIGH 0x7FFFFF /* the samples' 24 bits; their end codes mean overload */
#define COUNTS_LOW  (-0x800000)

_Static_assert(sizeof(float) == 4, "float32 is IEEE 754 binary32 on the wire and here");

int modbus_type_registers(enum modbus_type type)
{
	return type == MODBUS_INT16 || type == MODBUS_UINT16 ? 1 : 2;
}

static int last_register(const struct modbus_map *map)
{
	int last = map->address + modbus_type_registers(map->type) - 1;

	if (map->status > last)
		last = map->status;
	return map->heartbeat > last ? map->heartbeat : last;
}

int modbus_map_first(const struct modbus_map *map)
{
	int first = map->address;

	if (map->status != MODBUS_NONE && map->status < first)
		first = map->status;
	if (map->heartbeat != MODBUS_NONE && map->heartbeat < first)
		first = map->heartbeat;
	return first;
}

int modbus_map_span(const struct modbus_map *map)
{
	return last_register(map) - modbus_map_first(map) + 1;
}

int modbus_map_probe(const struct modbus_map *map, unsigned n)
{
	const int word = 1 + (int)(n % MODBUS_PROBES);

	return word < modbus_map_span(map) ? word : word + 1;
}

static unsigned swapped(unsigned word)
{
	return (word >> 8 | word << 8) & 0xFFFFu;
}

/* The bytes of the value, A on top. */
static uint32_t assemble(const struct modbus_map *map, const uint16_t *at)
{
	const bool swap_bytes = map->order == MODBUS_BADC || map->order == MODBUS_DCBA;
	const bool swap_words = map->order == MODBUS_CDAB || map->order == MODBUS_DCBA;
	unsigned high, low;

	if (modbus_type_registers(map->type) == 1)
		return swap_bytes ? swapped(at[0]) : at[0];
	high = swap_words ? at[1] : at[0];
	low = swap_words ? at[0] : at[1];
	if (swap_bytes) {
		high = swapped(high);
		low = swapped(low);
	}
	return (uint32_t)high << 16 | low;
}

static double number(enum modbus_type type, uint32_t bits)
{
	float value;

	switch (type) {
	case MODBUS_UINT16:
		return (double)bits;
	case MODBUS_INT16:
		return bits >= 0x8000u ? (double)bits - 0x1p16 : (double)bits;
	case MODBUS_INT32:
		return bits >= 0x80000000u ? (double)bits - 0x1p32 : (double)bits;
	case MODBUS_FLOAT32:
		memcpy(&value, &bits, sizeof(value));
		return (double)value;
	}
	return NAN;
}

static bool bit_says(const struct modbus_map *map, const uint16_t *registers, struct modbus_bit bit)
{
	unsigned status;

	if (map->status == MODBUS_NONE || bit.bit == MODBUS_NONE)
		return false;
	status = registers[map->status - modbus_map_first(map)];
	return ((status >> bit.bit & 1u) != 0) != bit.inverted;
}

void modbus_map_decode(const struct modbus_map *map, const uint16_t *registers,
                       struct modbus_value *ret)
{
	const int first = modbus_map_first(map);
	const double mass_g = number(map->type, assemble(map, registers + (map->address - first))) *
	                      map->g_per_step;
	const double counts = round(mass_g / map->count_g);

	*ret = (struct modbus_value){
	        .known = isfinite(mass_g) && mass_g >= map->low_g && mass_g <= map->high_g,
	        .mass_g = mass_g,
	        .overload = bit_says(map, registers, map->overload),
	        .fault = bit_says(map, registers, map->fault),
	        .moving =
	                map->settled.bit != MODBUS_NONE && !bit_says(map, registers, map->settled),
	};
	if (isnan(counts) || counts >= COUNTS_HIGH)
		ret->counts = COUNTS_HIGH;
	else if (counts <= COUNTS_LOW)
		ret->counts = COUNTS_LOW;
	else
		ret->counts = (int32_t)counts;
	if (map->heartbeat != MODBUS_NONE)
		ret->heartbeat = registers[map->heartbeat - first];
}
