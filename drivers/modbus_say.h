/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_MODBUS_SAY_H
#define AMBO_DRIVERS_MODBUS_SAY_H

#include "modbus_config.h"

/* One sentence for what went wrong: how the unit was asked, what came, what to look at. */

/* An exchange that failed with r (modbus_wire_ask, modbus_wire_hear). @since: the counts
 * at the last good reply, @now: those of this moment. */
void modbus_say_failure(const struct modbus_config *config, const struct modbus_request *request,
                        int r, int exception, const struct modbus_counts *since,
                        const struct modbus_counts *now, char *message);

/* modbus_wire_open() failed with r: which, why, and the group or line to change. */
void modbus_say_not_open(const struct modbus_config *config, int r, char *message);

/* It answers, but its heartbeat has stood still for so long. */
void modbus_say_frozen(const struct modbus_config *config, int64_t still_us, char *message);

#endif
