/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_HX711_RIG_H
#define AMBO_TESTS_SUPPORT_HX711_RIG_H

#include "drivers/hx711.h"
#include "hx711_chip.h"

/* A reader wired to chips on a virtual clock: each call of a pin costs some time, a
 * wait costs what the chips take, and the reader may be put off at any edge. */
struct hx711_rig {
	struct hx711_chip chip[HX711_CELLS_MAX];
	size_t n_cells;
	int64_t now_ns, call_ns;
	unsigned taken[HX711_CELLS_MAX]; /* edges of the data pin that were taken */
	unsigned gets, sets, waits, woken_for_nothing;
	/* A pause of pause_ns after the set_clock call of this number (1..); 0 never. */
	unsigned pause_at;
	int64_t pause_ns;
	/* The call of this number (gets, sets and waits together) fails with -EIO. */
	unsigned calls, fail_at;
};

void hx711_rig_init(struct hx711_rig *rig, size_t n_cells, double rate_hz,
                    int32_t (*sample)(void *context, int input), void *context);
struct hx711_pins hx711_rig_pins(struct hx711_rig *rig);

#endif
