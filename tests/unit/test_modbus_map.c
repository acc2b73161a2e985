/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/modbus_gate.h"
#include "drivers/modbus_map.h"
#include "tests/support/random.h"

static struct modbus_map map_of(enum modbus_type type, enum modbus_order order)
{
	return (struct modbus_map){.function = 3,
	                           .address = 0,
	                           .type = type,
	                           .order = order,
	                           .g_per_step = 1.0,
	                           .count_g = 0.01,
	                           .status = MODBUS_NONE,
	                           .settled = {.bit = MODBUS_NONE},
	                           .overload = {.bit = MODBUS_NONE},
	                           .fault = {.bit = MODBUS_NONE},
	                           .heartbeat = MODBUS_NONE,
	                           .low_g = -80000.0,
	                           .high_g = 80000.0};
}

static double mass_g(const struct modbus_map *map, const uint16_t *registers)
{
	struct modbus_value value;

	modbus_map_decode(map, registers, &value);
	return value.mass_g;
}

/* Registers as they arrive when the value's bytes A to D stand in the order of letters.
 * (The library's own modbus_get_float_abcd() is no reference: version 3.1.6 reads the
 * bytes that arrive as D, C, B, A.) */
static void put_float(float value, const char *letters, uint16_t *ret)
{
	uint32_t bits;
	unsigned bytes[4];

	memcpy(&bits, &value, sizeof(bits));
	for (int i = 0; i < 4; i++)
		bytes[i] = bits >> (24 - 8 * (letters[i] - 'A')) & 0xFFu;
	ret[0] = (uint16_t)(bytes[0] << 8 | bytes[1]);
	ret[1] = (uint16_t)(bytes[2] << 8 | bytes[3]);
}

static void floats_of_all_four_byte_orders_come_back_as_they_went(void **state)
{
	static const char *const letters[] = {"ABCD", "BADC", "CDAB", "DCBA"};
	struct random random = {.state = 7};

	(void)state;
	for (int order = 0; order < 4; order++)
		for (int i = 0; i < 1000; i++) {
			const struct modbus_map map =
			        map_of(MODBUS_FLOAT32, (enum modbus_order)order);
			const float value = (float)random_between(&random, -5000, 5000);
			uint16_t registers[2];

			put_float(value, letters[order], registers);
			assert_close(mass_g(&map, registers), (double)value, 0);
		}
}

/* 12.5 is 41480000 in IEEE 754 binary32, by hand; -123456 is FFFE1DC0. */
static void each_byte_order_is_what_its_letters_say(void **state)
{
	static const uint16_t floats[][2] = {
	        {0x4148, 0x0000}, {0x4841, 0x0000}, {0x0000, 0x4148}, {0x0000, 0x4841}};
	static const uint16_t integers[][2] = {
	        {0xFFFE, 0x1DC0}, {0xFEFF, 0xC01D}, {0x1DC0, 0xFFFE}, {0xC01D, 0xFEFF}};

	(void)state;
	for (int order = 0; order < 4; order++) {
		struct modbus_map map = map_of(MODBUS_FLOAT32, (enum modbus_order)order);

		assert_close(mass_g(&map, floats[order]), 12.5, 0);
		map.type = MODBUS_INT32;
		assert_close(mass_g(&map, integers[order]), -123456.0, 0);
	}
}

static void sixteen_bits_have_a_sign_or_none_and_two_orders(void **state)
{
	const uint16_t forward[] = {0xFFFE}, backward[] = {0xFEFF};
	struct modbus_map map = map_of(MODBUS_INT16, MODBUS_ABCD);

	(void)state;
	assert_close(mass_g(&map, forward), -2.0, 0);
	map.order = MODBUS_BADC;
	assert_close(mass_g(&map, backward), -2.0, 0);
	map.type = MODBUS_UINT16;
	assert_close(mass_g(&map, backward), 65534.0, 0);
}

static void counts_are_the_mass_in_the_maps_finest_step(void **state)
{
	const uint16_t registers[] = {0x0000, 0x3039}; /* 12345 */
	struct modbus_map map = map_of(MODBUS_INT32, MODBUS_ABCD);
	struct modbus_value value;

	(void)state;
	map.g_per_step = map.count_g = 0.01;
	modbus_map_decode(&map, registers, &value);
	assert_true(value.known);
	assert_int_equal(value.counts, 12345);
	assert_close(value.mass_g, 123.45, 1e-12);
	map.g_per_step = 10.0; /* 0.01 kg shown in counts of 0.01 g: beyond 24 bits */
	modbus_map_decode(&map, registers, &value);
	assert_int_equal(value.counts, 0x7FFFFF);
	assert_false(value.known);
}

static void a_float_that_is_no_number_is_no_mass(void **state)
{
	const uint16_t nan_registers[] = {0x7FC0, 0}, infinite[] = {0xFF80, 0};
	const struct modbus_map map = map_of(MODBUS_FLOAT32, MODBUS_ABCD);
	struct modbus_value value;

	(void)state;
	modbus_map_decode(&map, nan_registers, &value);
	assert_false(value.known);
	modbus_map_decode(&map, infinite, &value);
	assert_false(value.known);
	assert_int_equal(value.counts, -0x800000);
}

static void bits_and_heartbeat_are_found_on_either_side_of_the_value(void **state)
{
	struct modbus_map map = map_of(MODBUS_INT16, MODBUS_ABCD);
	const uint16_t registers[] = {0x8001, 0, 42, 0, 777}; /* 10..14 */
	struct modbus_value value;

	(void)state;
	map.address = 12;
	map.status = 10;
	map.heartbeat = 14;
	map.settled = (struct modbus_bit){.bit = 0};
	map.overload = (struct modbus_bit){.bit = 15};
	map.fault = (struct modbus_bit){.bit = 3, .inverted = true};
	assert_int_equal(modbus_map_first(&map), 10);
	assert_int_equal(modbus_map_span(&map), 5);
	modbus_map_decode(&map, registers, &value);
	assert_close(value.mass_g, 42.0, 0);
	assert_false(value.moving);
	assert_true(value.overload);
	assert_true(value.fault);
	assert_int_equal(value.heartbeat, 777);
	map.settled.inverted = true;
	modbus_map_decode(&map, registers, &value);
	assert_true(value.moving);
}

static struct modbus_value at(double g)
{
	return (struct modbus_value){.known = true, .mass_g = g};
}

static enum modbus_gate_verdict feed(struct modbus_gate *gate, double g)
{
	const struct modbus_value value = at(g);

	return modbus_gate_feed(gate, 1.0, &value);
}

static void a_step_is_believed_when_it_is_read_twice(void **state)
{
	struct modbus_gate gate = {0};

	(void)state;
	assert_int_equal(feed(&gate, 100.0), MODBUS_GATE_ASK_AGAIN); /* none before it */
	assert_int_equal(feed(&gate, 100.2), MODBUS_GATE_BELIEVED);
	assert_int_equal(feed(&gate, 101.0), MODBUS_GATE_BELIEVED);
	assert_int_equal(feed(&gate, 350.0), MODBUS_GATE_ASK_AGAIN);
	assert_int_equal(feed(&gate, 350.4), MODBUS_GATE_BELIEVED);
	assert_int_equal(gate.n_refused, 0);
}

static void a_value_read_once_and_not_again_is_refused_and_counted(void **state)
{
	struct modbus_gate gate = {0};
	struct modbus_value faulty = at(100.0);

	(void)state;
	feed(&gate, 100.0);
	feed(&gate, 100.0);
	assert_int_equal(feed(&gate, 612.0), MODBUS_GATE_ASK_AGAIN);
	assert_int_equal(feed(&gate, 100.1), MODBUS_GATE_BELIEVED);
	assert_int_equal(gate.n_refused, 1);
	faulty.fault = true; /* a flipped status bit */
	assert_int_equal(modbus_gate_feed(&gate, 1.0, &faulty), MODBUS_GATE_ASK_AGAIN);
	modbus_gate_drop(&gate);
	assert_int_equal(gate.n_refused, 2);
	assert_int_equal(feed(&gate, 100.2), MODBUS_GATE_BELIEVED);
}

static void a_load_that_never_repeats_comes_through_as_void(void **state)
{
	struct modbus_gate gate = {0};

	(void)state;
	feed(&gate, 0.0);
	feed(&gate, 0.0);
	assert_int_equal(feed(&gate, 10.0), MODBUS_GATE_ASK_AGAIN);
	assert_int_equal(feed(&gate, 20.0), MODBUS_GATE_ASK_AGAIN);
	assert_int_equal(feed(&gate, 30.0), MODBUS_GATE_ASK_AGAIN);
	assert_int_equal(feed(&gate, 40.0), MODBUS_GATE_DOUBTFUL);
	assert_int_equal(feed(&gate, 40.5), MODBUS_GATE_BELIEVED);
	assert_int_equal(gate.n_refused, 4);
}

/* What the gate can do against one flipped data bit of a reply: every bit of a float,
 * for loads that a station weighs. All beyond jump_g are stopped, none below. */
static void every_flipped_bit_that_moves_the_value_beyond_the_jump_is_stopped(void **state)
{
	const struct modbus_map map = map_of(MODBUS_FLOAT32, MODBUS_ABCD);
	struct random random = {.state = 3};
	int n_flips = 0, n_stopped = 0, n_missed = 0;
	double worst_g = 0.0;

	(void)state;
	for (int i = 0; i < 1000; i++) {
		const float load_g = (float)random_between(&random, 1, 5000);
		uint16_t registers[2];
		struct modbus_value value;

		for (unsigned bit = 0; bit < 32; bit++) {
			struct modbus_gate gate = {.has_last = true, .last = at((double)load_g)};
			bool stopped;

			put_float(load_g, "ABCD", registers);
			registers[bit / 16] = (uint16_t)(registers[bit / 16] ^ 1u << bit % 16);
			modbus_map_decode(&map, registers, &value);
			stopped = modbus_gate_feed(&gate, 1.0, &value) != MODBUS_GATE_BELIEVED;
			n_flips++;
			n_stopped += stopped;
			if (!stopped && fabs(value.mass_g - (double)load_g) > worst_g)
				worst_g = fabs(value.mass_g - (double)load_g);
			n_missed += !stopped && fabs(value.mass_g - (double)load_g) > 1.0;
		}
	}
	printf("%d of %d flipped bits stopped, the others move the mass by %.3f g at most\n",
	       n_stopped, n_flips, worst_g);
	assert_int_equal(n_missed, 0);
	assert_true(n_stopped > n_flips / 3);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(floats_of_all_four_byte_orders_come_back_as_they_went),
	        cmocka_unit_test(each_byte_order_is_what_its_letters_say),
	        cmocka_unit_test(sixteen_bits_have_a_sign_or_none_and_two_orders),
	        cmocka_unit_test(counts_are_the_mass_in_the_maps_finest_step),
	        cmocka_unit_test(a_float_that_is_no_number_is_no_mass),
	        cmocka_unit_test(bits_and_heartbeat_are_found_on_either_side_of_the_value),
	        cmocka_unit_test(a_step_is_believed_when_it_is_read_twice),
	        cmocka_unit_test(a_value_read_once_and_not_again_is_refused_and_counted),
	        cmocka_unit_test(a_load_that_never_repeats_comes_through_as_void),
	        cmocka_unit_test(every_flipped_bit_that_moves_the_value_beyond_the_jump_is_stopped),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
