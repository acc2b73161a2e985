/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_PEERS_SIM_PINS_H
#define AMBO_TESTS_PEERS_SIM_PINS_H

#include <stdint.h>

#include "drivers/gpio_lines.h"
#include "drivers/hx711.h"
#include "tests/support/hx711_chip.h"

/* The reader's pins on the kernel's own gpio-sim, with a chip soldered to the other side
 * of it: after each set the chip is shown the level that the kernel says its line has,
 * and pulls the data line by the kernel's file. In lock step, so exact; the time of
 * chip and reader is virtual. */
struct sim_pins {
	struct gpio_lines *lines;
	struct hx711_chip chip;
	int value_fd, pull_fd; /* sim_gpio0/value, sim_gpio1/pull */
	int pulled;            /* as last written */
	int64_t pull_ns;       /* when, by the machine's clock */
	int64_t now_ns;
	unsigned edges, foreign_times; /* edges waited for; not since the line was pulled */
};

/* device: gpio-sim's folder of the chip in /sys. Clock is line 0, data line 1. -errno,
 * said on stderr. */
int sim_pins_open(struct sim_pins *sim, const char *chip, const char *device, double rate_hz,
                  int32_t (*sample)(void *context, int input), void *context);
void sim_pins_close(struct sim_pins *sim);
struct hx711_pins sim_pins_pins(struct sim_pins *sim);

#endif
