/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_MODBUS_CONFIG_H
#define AMBO_DRIVERS_MODBUS_CONFIG_H

#include "modbus_map.h"
#include "modbus_wire.h"
#include "options.h"

/* The options of the driver modbus (listed in modbus.h) from text to values. */
struct modbus_config {
	struct modbus_wire_config wire;
	struct modbus_map map;
	double rate_hz;
	int heartbeat_ms;
	char place[SCALE_MESSAGE_MAX / 4]; /* "file:line" of device or host, for messages */
};

/* Reports every mistake, "file:line: key: ...; expected ...". Returns their number; *ret
 * is of use at 0 only. Opens nothing. */
int modbus_config_read(const struct scale_option *options, size_t n_options, option_report *report,
                       void *context, struct modbus_config *ret);

#endif
