/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <string.h>

#include "drivers/modbus_frame.h"
#include "tests/support/random.h"

static uint16_t registers[MODBUS_SPAN_MAX];
static int exception;

/* MODBUS over Serial Line V1.02, 6.2.2: the CRC of 02 07 is sent as 41 12. */
static void the_published_crc_comes_out(void **state)
{
	const uint8_t bytes[] = {0x02, 0x07};

	(void)state;
	assert_int_equal(modbus_crc16(bytes, 2), 0x1241);
}

/* MODBUS Application Protocol V1.1b3, 6.3: read 3 holding registers from 0x6B: the PDU
 * 03 00 6B 00 03 is answered 03 06 02 2B 00 00 00 64. The same within a serial frame of
 * unit 0x11, with the CRC (from memory: widely printed; the CRC is that of 6.2.2). */
static void the_published_read_of_holding_registers_is_asked_and_understood(void **state)
{
	const struct modbus_request request = {
	        .unit = 0x11, .function = 3, .address = 0x6B, .word = 3};
	const uint8_t asked[] = {0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87};
	const uint8_t reply[] = {0x11, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64, 0xC8, 0xBA};
	uint8_t frame[MODBUS_REQUEST_MAX];

	(void)state;
	assert_int_equal(modbus_frame_request(MODBUS_RTU, &request, frame), sizeof(asked));
	assert_memory_equal(frame, asked, sizeof(asked));
	assert_int_equal(modbus_frame_reply_size(MODBUS_RTU, &request), sizeof(reply));
	assert_int_equal(modbus_frame_judge(MODBUS_RTU, &request, reply, sizeof(reply), &exception,
	                                    registers),
	                 MODBUS_GOOD);
	assert_int_equal(registers[0], 0x022B);
	assert_int_equal(registers[1], 0x0000);
	assert_int_equal(registers[2], 0x0064);
}

/* V1.1b3, 6.4: 04 00 08 00 01 is answered 04 02 00 0A; over TCP with the header of the
 * Messaging on TCP/IP guide V1.0b, 3.1.3: transaction, protocol 0, length, unit. */
static void the_published_read_of_input_registers_is_asked_and_understood(void **state)
{
	const struct modbus_request request = {
	        .unit = 0xFF, .function = 4, .address = 8, .word = 1, .transaction = 0x1501};
	const uint8_t asked[] = {0x15, 0x01, 0, 0, 0, 6, 0xFF, 0x04, 0x00, 0x08, 0x00, 0x01};
	const uint8_t reply[] = {0x15, 0x01, 0, 0, 0, 5, 0xFF, 0x04, 0x02, 0x00, 0x0A};
	uint8_t frame[MODBUS_REQUEST_MAX];

	(void)state;
	assert_int_equal(modbus_frame_request(MODBUS_TCP, &request, frame), sizeof(asked));
	assert_memory_equal(frame, asked, sizeof(asked));
	assert_int_equal(modbus_frame_judge(MODBUS_TCP, &request, reply, sizeof(reply), &exception,
	                                    registers),
	                 MODBUS_GOOD);
	assert_int_equal(registers[0], 10);
}

/* V1.1b3, 6.5: 05 00 AC FF 00, and 6.6: 06 00 01 00 03, both answered with themselves. */
static void a_write_is_answered_by_its_echo_and_by_nothing_else(void **state)
{
	const struct modbus_request coil = {
	        .unit = 1, .function = 5, .address = 0xAC, .word = 0xFF00, .transaction = 9};
	const struct modbus_request word = {
	        .unit = 1, .function = 6, .address = 1, .word = 3, .transaction = 9};
	uint8_t frame[MODBUS_REQUEST_MAX];
	size_t n;

	(void)state;
	n = modbus_frame_request(MODBUS_TCP, &coil, frame);
	assert_memory_equal(frame + 7, "\x05\x00\xAC\xFF\x00", 5);
	assert_int_equal(modbus_frame_judge(MODBUS_TCP, &coil, frame, n, &exception, registers),
	                 MODBUS_GOOD);
	assert_int_equal(modbus_frame_judge(MODBUS_TCP, &word, frame, n, &exception, registers),
	                 MODBUS_CORRUPT);
	frame[10] = 0x00; /* ON answered by OFF */
	assert_int_equal(modbus_frame_judge(MODBUS_TCP, &coil, frame, n, &exception, registers),
	                 MODBUS_CORRUPT);
	n = modbus_frame_request(MODBUS_RTU, &word, frame);
	assert_memory_equal(frame + 1, "\x06\x00\x01\x00\x03", 5);
	assert_int_equal(modbus_frame_judge(MODBUS_RTU, &word, frame, n, &exception, registers),
	                 MODBUS_GOOD);
	assert_int_equal(modbus_frame_judge(MODBUS_RTU, &coil, frame, n, &exception, registers),
	                 MODBUS_FOREIGN);
}

/* A whole reply to the request, with data that nothing else in it repeats. */
static size_t make_reply(enum modbus_link link, const struct modbus_request *request, uint8_t *ret)
{
	const size_t at = link == MODBUS_TCP ? 7 : 1, n_data = 2u * request->word;
	unsigned crc;

	if (link == MODBUS_TCP) {
		ret[0] = (uint8_t)(request->transaction >> 8);
		ret[1] = (uint8_t)request->transaction;
		ret[2] = ret[3] = ret[4] = 0;
		ret[5] = (uint8_t)(3 + n_data);
	}
	ret[at - 1] = request->unit;
	ret[at] = request->function;
	ret[at + 1] = (uint8_t)n_data;
	for (size_t i = 0; i < n_data; i++)
		ret[at + 2 + i] = (uint8_t)(0x31 + 17 * i);
	if (link == MODBUS_TCP)
		return at + 2 + n_data;
	crc = modbus_crc16(ret, at + 2 + n_data);
	ret[at + 2 + n_data] = (uint8_t)crc;
	ret[at + 3 + n_data] = (uint8_t)(crc >> 8);
	return at + 4 + n_data;
}

static const struct modbus_request usual = {
        .unit = 1, .function = 3, .address = 100, .word = 4, .transaction = 0x1234};

static void over_tcp_any_other_value_of_any_byte_before_the_data_is_refused(void **state)
{
	uint8_t frame[64], spoilt[64];
	size_t n = make_reply(MODBUS_TCP, &usual, frame);
	int n_refused = 0;

	(void)state;
	assert_int_equal(modbus_frame_judge(MODBUS_TCP, &usual, frame, n, &exception, registers),
	                 MODBUS_GOOD);
	for (size_t i = 0; i < 9; i++)
		for (unsigned value = 0; value < 256; value++) {
			memcpy(spoilt, frame, n);
			spoilt[i] = (uint8_t)value;
			if (value != frame[i] &&
			    modbus_frame_judge(MODBUS_TCP, &usual, spoilt, n, &exception,
			                       registers) >= MODBUS_FOREIGN)
				n_refused++;
		}
	assert_int_equal(n_refused, 9 * 255);
}

/* A CRC of 16 bits finds every burst of up to 16 bits (Peterson and Brown 1961): one
 * byte changed in any way is one of at most 8. */
static void over_rtu_any_other_value_of_any_byte_is_refused(void **state)
{
	uint8_t frame[64], spoilt[64];
	size_t n = make_reply(MODBUS_RTU, &usual, frame);
	size_t n_refused = 0;

	(void)state;
	assert_int_equal(modbus_frame_judge(MODBUS_RTU, &usual, frame, n, &exception, registers),
	                 MODBUS_GOOD);
	for (size_t i = 0; i < n; i++)
		for (unsigned value = 0; value < 256; value++) {
			memcpy(spoilt, frame, n);
			spoilt[i] = (uint8_t)value;
			if (value != frame[i] &&
			    modbus_frame_judge(MODBUS_RTU, &usual, spoilt, n, &exception,
			                       registers) >= MODBUS_FOREIGN)
				n_refused++;
		}
	assert_int_equal(n_refused, n * 255);
}

static void a_reply_of_another_length_unit_or_transaction_is_foreign(void **state)
{
	struct modbus_request other = usual;
	uint8_t frame[64];
	size_t n;

	(void)state;
	other.word = 1;
	n = make_reply(MODBUS_RTU, &other, frame);
	assert_int_equal(modbus_frame_judge(MODBUS_RTU, &usual, frame, n, &exception, registers),
	                 MODBUS_FOREIGN);
	other = usual;
	other.unit = 0; /* a broadcast is never answered: this is no reply of ours */
	n = make_reply(MODBUS_RTU, &other, frame);
	assert_int_equal(modbus_frame_judge(MODBUS_RTU, &usual, frame, n, &exception, registers),
	                 MODBUS_FOREIGN);
	other = usual;
	other.transaction--;
	n = make_reply(MODBUS_TCP, &other, frame);
	assert_int_equal(modbus_frame_judge(MODBUS_TCP, &usual, frame, n, &exception, registers),
	                 MODBUS_FOREIGN);
}

/* V1.1b3, 7: the function with its top bit set, and one byte. */
static void an_exception_is_an_answer_with_a_name(void **state)
{
	const uint8_t tcp[] = {0x12, 0x34, 0, 0, 0, 3, 1, 0x83, 2};
	uint8_t rtu[] = {1, 0x83, 6, 0, 0};
	unsigned crc = modbus_crc16(rtu, 3);

	(void)state;
	rtu[3] = (uint8_t)crc;
	rtu[4] = (uint8_t)(crc >> 8);
	assert_int_equal(
	        modbus_frame_judge(MODBUS_TCP, &usual, tcp, sizeof(tcp), &exception, registers),
	        MODBUS_EXCEPTION);
	assert_int_equal(exception, 2);
	assert_string_equal(modbus_exception_name(exception), "illegal data address");
	assert_int_equal(
	        modbus_frame_judge(MODBUS_RTU, &usual, rtu, sizeof(rtu), &exception, registers),
	        MODBUS_EXCEPTION);
	assert_string_equal(modbus_exception_name(exception), "server device busy");
	assert_string_equal(modbus_exception_name(7), "a code the protocol does not define");
	assert_string_equal(modbus_exception_name(255), "a code the protocol does not define");
}

static void bytes_of_any_kind_and_length_are_judged_and_hardly_ever_good(void **state)
{
	struct random random = {.state = 20};
	uint8_t frame[260];
	int n_good = 0;

	(void)state;
	for (int i = 0; i < 200000; i++) {
		size_t n = (size_t)random_between(&random, 0, 261);

		for (size_t k = 0; k < n; k++)
			frame[k] = (uint8_t)random_between(&random, 0, 256);
		n_good += modbus_frame_judge(MODBUS_TCP, &usual, frame, n, &exception, registers) ==
		          MODBUS_GOOD;
		n_good += modbus_frame_judge(MODBUS_RTU, &usual, frame, n, &exception, registers) ==
		          MODBUS_GOOD;
	}
	assert_int_equal(n_good, 0);
}

/* Serial Line V1.02, 2.5.1.1: 3.5 characters, 1.750 ms above 19200 baud. Two registers
 * at 9600 8N1: 8 + 9 characters and two gaps, 24 times 10 bits. */
static void the_wire_has_its_own_time(void **state)
{
	(void)state;
	assert_int_equal(modbus_wire_read_us(9600, 10, 2), 25000);
	assert_int_equal(modbus_wire_gap_us(19200, 11), 2006);
	assert_int_equal(modbus_wire_gap_us(38400, 11), 1750);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_published_crc_comes_out),
	        cmocka_unit_test(the_published_read_of_holding_registers_is_asked_and_understood),
	        cmocka_unit_test(the_published_read_of_input_registers_is_asked_and_understood),
	        cmocka_unit_test(a_write_is_answered_by_its_echo_and_by_nothing_else),
	        cmocka_unit_test(over_tcp_any_other_value_of_any_byte_before_the_data_is_refused),
	        cmocka_unit_test(over_rtu_any_other_value_of_any_byte_is_refused),
	        cmocka_unit_test(a_reply_of_another_length_unit_or_transaction_is_foreign),
	        cmocka_unit_test(an_exception_is_an_answer_with_a_name),
	        cmocka_unit_test(bytes_of_any_kind_and_length_are_judged_and_hardly_ever_good),
	        cmocka_unit_test(the_wire_has_its_own_time),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
