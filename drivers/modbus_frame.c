/* SPDX-License-Identifier: MIT */
#include "modbus_frame.h"

#include <stdbool.h>

#define TCP_HEADER   7u /* transaction, protocol, length, unit */
#define CRC          2u
#define PDU_AT(link) ((link) == MODBUS_TCP ? TCP_HEADER : 1u) /* where the function stands */

uint16_t modbus_crc16(const uint8_t *bytes, size_t n)
{
	unsigned crc = 0xFFFF;

	for (size_t i = 0; i < n; i++) {
		crc ^= bytes[i];
		for (int bit = 0; bit < 8; bit++)
			crc = (crc & 1u) != 0 ? (crc >> 1) ^ 0xA001u : crc >> 1;
	}
	return (uint16_t)crc;
}

static void put_word(uint8_t *at, unsigned word)
{
	at[0] = (uint8_t)(word >> 8);
	at[1] = (uint8_t)(word & 0xFFu);
}

static unsigned get_word(const uint8_t *at)
{
	return (unsigned)at[0] << 8 | at[1];
}

static bool is_read(const struct modbus_request *request)
{
	return request->function == MODBUS_READ_HOLDING || request->function == MODBUS_READ_INPUT;
}

/* Function, address and word: the same five bytes for all four functions. */
static void put_pdu(const struct modbus_request *request, uint8_t *at)
{
	at[0] = request->function;
	put_word(at + 1, request->address);
	put_word(at + 3, request->word);
}

size_t modbus_frame_request(enum modbus_link link, const struct modbus_request *request,
                            uint8_t *ret)
{
	unsigned crc;

	if (link == MODBUS_TCP) {
		put_word(ret, request->transaction);
		put_word(ret + 2, 0);
		put_word(ret + 4, 6);
		ret[6] = request->unit;
		put_pdu(request, ret + TCP_HEADER);
		return TCP_HEADER + 5;
	}
	ret[0] = request->unit;
	put_pdu(request, ret + 1);
	crc = modbus_crc16(ret, 6);
	ret[6] = (uint8_t)(crc & 0xFFu);
	ret[7] = (uint8_t)(crc >> 8);
	return 8;
}

size_t modbus_frame_reply_size(enum modbus_link link, const struct modbus_request *request)
{
	const size_t pdu = is_read(request) ? 2u + 2u * request->word : 5u;

	return PDU_AT(link) + pdu + (link == MODBUS_RTU ? CRC : 0);
}

/* The envelope: what the link adds to the function and its data. */
static enum modbus_verdict judge_envelope(enum modbus_link link,
                                          const struct modbus_request *request,
                                          const uint8_t *frame, size_t n)
{
	if (link == MODBUS_RTU) {
		/* Unit, function, one byte, CRC: nothing is shorter. */
		if (n < 5 ||
		    modbus_crc16(frame, n - CRC) != ((unsigned)frame[n - 1] << 8 | frame[n - 2]))
			return MODBUS_CORRUPT;
		return frame[0] == request->unit ? MODBUS_GOOD : MODBUS_FOREIGN;
	}
	if (n < TCP_HEADER + 2 || get_word(frame + 2) != 0 || get_word(frame + 4) != n - 6)
		return MODBUS_CORRUPT;
	if (get_word(frame) != request->transaction)
		return MODBUS_FOREIGN;
	/* The transaction is ours and the unit is not: one of the two bytes lies. */
	return frame[6] == request->unit ? MODBUS_GOOD : MODBUS_CORRUPT;
}

static bool echoes(const struct modbus_request *request, const uint8_t *pdu)
{
	return get_word(pdu + 1) == request->address && get_word(pdu + 3) == request->word;
}

enum modbus_verdict modbus_frame_judge(enum modbus_link link, const struct modbus_request *request,
                                       const uint8_t *frame, size_t n, int *ret_exception,
                                       uint16_t *ret_registers)
{
	/* A serial frame with a good CRC is whole: what does not fit answers another
	 * request. Over TCP the transaction has matched, so it is damage. */
	const enum modbus_verdict misfit = link == MODBUS_RTU ? MODBUS_FOREIGN : MODBUS_CORRUPT;
	const enum modbus_verdict envelope = judge_envelope(link, request, frame, n);
	const uint8_t *pdu = frame + PDU_AT(link);
	size_t pdu_size;

	if (envelope != MODBUS_GOOD)
		return envelope;
	pdu_size = n - PDU_AT(link) - (link == MODBUS_RTU ? CRC : 0);
	if (pdu_size == 2 && pdu[0] == (request->function | 0x80u)) {
		*ret_exception = pdu[1];
		return MODBUS_EXCEPTION;
	}
	if (pdu[0] != request->function || n != modbus_frame_reply_size(link, request))
		return misfit;
	if (!is_read(request))
		return echoes(request, pdu) ? MODBUS_GOOD : misfit;
	if (pdu[1] != 2u * request->word)
		return misfit;
	for (size_t i = 0; i < request->word; i++)
		ret_registers[i] = (uint16_t)get_word(pdu + 2 + 2 * i);
	return MODBUS_GOOD;
}

const char *modbus_exception_name(int exception)
{
	static const char *const names[] = {
	        [1] = "illegal function",
	        [2] = "illegal data address",
	        [3] = "illegal data value",
	        [4] = "server device failure",
	        [5] = "acknowledge",
	        [6] = "server device busy",
	        [8] = "memory parity error",
	        [10] = "gateway path unavailable",
	        [11] = "gateway target device failed to respond",
	};

	if (exception < 0 || (size_t)exception >= sizeof(names) / sizeof(names[0]) ||
	    names[exception] == NULL)
		return "a code the protocol does not define";
	return names[exception];
}

int64_t modbus_wire_time_us(int baud, int bits_per_char, size_t n_chars)
{
	return (int64_t)n_chars * bits_per_char * 1000000 / baud;
}

int64_t modbus_wire_gap_us(int baud, int bits_per_char)
{
	/* 7 half characters, rounded up: never too short. */
	return baud > 19200 ? 1750
	                    : (7ll * bits_per_char * 1000000 + 2ll * baud - 1) / (2ll * baud);
}

int64_t modbus_wire_read_us(int baud, int bits_per_char, size_t n_registers)
{
	return modbus_wire_time_us(baud, bits_per_char, 8 + 5 + 2 * n_registers) +
	       2 * modbus_wire_gap_us(baud, bits_per_char);
}
