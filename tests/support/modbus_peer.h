/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_MODBUS_PEER_H
#define AMBO_TESTS_SUPPORT_MODBUS_PEER_H

#include <stdbool.h>
#include <stddef.h>

/* The programs we did not write, run as processes: pymodbus as a unit (modbus_unit.py
 * says what it holds), socat as a pair of serial ports, mbpoll as another master. */
struct modbus_peer;

/* NULL when all are installed; else what is missing. */
const char *modbus_peer_missing(void);

/* A folder of its own, one unit behind TCP and n_lines serial ones. Fails the test that
 * asks for it when they do not come up. */
struct modbus_peer *modbus_peer_start(size_t n_lines);
void modbus_peer_stop(struct modbus_peer *peer);

const char *modbus_peer_folder(const struct modbus_peer *peer);
int modbus_peer_port(const struct modbus_peer *peer);
/* The serial port that leads to unit i. */
const char *modbus_peer_line(const struct modbus_peer *peer, size_t i);

/* Runs mbpoll with these arguments; its output, at most size bytes. The exit status. */
int modbus_peer_mbpoll(const char *arguments, char *ret_output, size_t size);

#endif
