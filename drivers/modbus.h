/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_MODBUS_H
#define AMBO_DRIVERS_MODBUS_H

#include "modbus_wire.h"
#include "scale.h"

/* A weighing unit behind Modbus, on a serial line (RTU) or a network (TCP): the unit
 * converts and calibrates, Ambo reads its mass.
 *
 * Options, in the group `modbus`:
 *   link         "rtu" or "tcp"
 *   host, port   TCP: a name or, better, an address (a name is looked up each time the
 *                link opens, which may take seconds); 502
 *   device       RTU: path of the port, best one in /dev/serial/by-id: the link opens
 *                again by this name when a plug was pulled
 *   baud, parity, stop_bits   RTU: 9600, "none", 1. The rate must be the line's true
 *                one: a reply faster than it allows is not believed. For a USB unit that
 *                ignores the rate write 921600
 *   unit_id      1 (1..247; over TCP 0..255)
 *   timeout_ms   1000: how long a unit may take, and how long a scale may be silent
 *                before the reason is told; some converters take over 500 ms
 *   rate_hz      10 reads a second
 *   map          a ready map, see below; every key that follows replaces its own
 *   function     3 holding registers, 4 input registers
 *   address      of the value's first register as sent, from 0 (40001 in many manuals)
 *   type         "int16", "uint16", "int32", "float32"
 *   order        bytes as they arrive, A the most significant: "ABCD", "BADC", "CDAB",
 *                "DCBA"; of 16 bits "AB", "BA"
 *   words        registers of the value, if one wants that checked
 *   factor, unit the mass is the number times factor, in "mg", "g", "kg", "lb" or "oz"
 *   count_g      one count of the samples: by default an integer's last digit, 0.01 g
 *                for a float
 *   low_g, high_g   the mass is not believed beyond: -high_g, what 24 bits hold
 *   jump_g       a step beyond is read twice before it is believed: the larger of 1 g
 *                and 10 counts; 0: never
 *   status       register of the status bits, with settled_bit, overload_bit, fault_bit
 *                ("3", or "!3" for one that means it when clear)
 *   heartbeat    register that changes with every conversion; when it stands still for
 *                heartbeat_ms (timeout_ms) the scale falls silent. Without one a unit
 *                whose converter has died, but which answers, looks like a still load
 *   zero, tare   "coil ADDRESS" or "register ADDRESS VALUE": the unit's own buttons
 *
 * Samples count in count_g, so the station's calibration is known without a weight:
 *   calibration: { degree = 1; zero_counts = 0.0; counts_per_g = 1 / count_g; }
 * (count_g 0.01: counts_per_g 100). A sample's time is the middle of its exchange, right
 * to half the round trip. Its flags: SCALE_RAIL for overload, a fault or no number (no
 * mass is shown), SCALE_VOID when no two readings in a row agreed, SCALE_MOVING,
 * SCALE_REPEAT (the heartbeat has not changed since the last), SCALE_GAP.
 *
 * The ready maps, value at register 0, function 3:
 *   "float32 g", "float32 kg", "float32 kg, low word first", "int32 0.01 g",
 *   "int32 0.1 g, low word first", "int16 1 g", and
 *   "float32 g, status, heartbeat": status in 2 (bits 0 settled, 1 overload, 2 fault),
 *   heartbeat in 3.
 *
 * read() waits for as long as it is told and goes on with the same exchange the next
 * time. A failed exchange is tried again at once, then after half a time-out, twice
 * that and so on up to 2 s; after three the link is opened anew. While the scale has been
 * silent for timeout_ms or more each failure is returned with its sentence. After any
 * failure but an exception another number of registers is read until that succeeds, so
 * that a late reply cannot be mistaken. */
extern const struct scale_driver modbus_driver;

/* Since open; on the thread that reads. */
struct modbus_scale_counts {
	struct modbus_counts wire;
	uint64_t n_samples;
	uint64_t n_probes;      /* reads of another length, after a failure */
	uint64_t n_implausible; /* values refused by the gate (modbus_gate.h) */
	uint64_t n_repeats;     /* readings of a conversion that had been read before */
	uint64_t n_frozen;      /* readings whose heartbeat stood still too long */
};
void modbus_scale_counts(const struct scale *scale, struct modbus_scale_counts *ret);

#endif
