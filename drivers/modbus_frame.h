/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_MODBUS_FRAME_H
#define AMBO_DRIVERS_MODBUS_FRAME_H

#include <stddef.h>
#include <stdint.h>

/* The bytes of a Modbus request and whether a reply may answer it: pure, every byte
 * checked. After "MODBUS Application Protocol Specification V1.1b3" (functions 3, 4, 5
 * and 6), "MODBUS over Serial Line V1.02" (CRC, frame gaps) and "MODBUS Messaging on
 * TCP/IP Implementation Guide V1.0b" (the header before a TCP frame). */

#define MODBUS_REQUEST_MAX   12u  /* bytes: the header of TCP, function, two words */
#define MODBUS_SPAN_MAX      125u /* registers of one read (V1.1b3, 6.3) */
#define MODBUS_REGISTERS_MAX 65536u

enum modbus_link { MODBUS_RTU, MODBUS_TCP };

enum modbus_function {
	MODBUS_READ_HOLDING = 3,
	MODBUS_READ_INPUT = 4,
	MODBUS_WRITE_COIL = 5,
	MODBUS_WRITE_REGISTER = 6,
};

struct modbus_request {
	uint8_t unit;
	uint8_t function;     /* enum modbus_function */
	uint16_t address;     /* as sent: from 0 */
	uint16_t word;        /* a read: how many registers; a write: the value */
	uint16_t transaction; /* TCP only */
};

enum modbus_verdict {
	MODBUS_GOOD,      /* answers this request */
	MODBUS_EXCEPTION, /* answers it: refused by the unit */
	MODBUS_FOREIGN,   /* whole, but answers another request or comes from another unit */
	MODBUS_CORRUPT,   /* damaged: where the next frame begins is not known */
};

/* Bytes first to last; sent low byte first (Serial Line V1.02, 6.2.2). */
uint16_t modbus_crc16(const uint8_t *bytes, size_t n);

/* Writes the frame, at most MODBUS_REQUEST_MAX bytes; returns its length. */
size_t modbus_frame_request(enum modbus_link link, const struct modbus_request *request,
                            uint8_t *ret);

/* Bytes of the proper reply. */
size_t modbus_frame_reply_size(enum modbus_link link, const struct modbus_request *request);

/* @frame: n bytes from outside, any n. On MODBUS_EXCEPTION *ret_exception is its code;
 * on MODBUS_GOOD to a read ret_registers gets request->word values; each is untouched
 * otherwise. */
enum modbus_verdict modbus_frame_judge(enum modbus_link link, const struct modbus_request *request,
                                       const uint8_t *frame, size_t n, int *ret_exception,
                                       uint16_t *ret_registers);

/* "illegal data address" and so on (V1.1b3, 7). */
const char *modbus_exception_name(int exception);

/* How long n_chars take on the wire; bits_per_char counts start, parity and stop. */
int64_t modbus_wire_time_us(int baud, int bits_per_char, size_t n_chars);
/* The silence between frames: 3.5 characters, 1750 us above 19200 (Serial Line V1.02,
 * 2.5.1.1). */
int64_t modbus_wire_gap_us(int baud, int bits_per_char);
/* One read of so many registers over RTU with both gaps: no master can be faster. */
int64_t modbus_wire_read_us(int baud, int bits_per_char, size_t n_registers);

#endif
