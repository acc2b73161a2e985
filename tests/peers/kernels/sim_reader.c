/* SPDX-License-Identifier: MIT */
/* sim_reader CHIP DEVICE N: N conversions of each input through the kernel's gpio-sim,
 * each compared with what the chip sent. Exit status 0: all exact. */
#include <stdio.h>
#include <stdlib.h>

#include "sim_pins.h"

struct words {
	uint32_t seed;
	int32_t newest;
};

static int32_t sample(void *context, int input)
{
	struct words *words = context;

	(void)input;
	words->seed = words->seed * 1664525u + 1013904223u; /* Numerical Recipes, 7.1 */
	words->newest = (int32_t)(words->seed >> 8) - 0x800000;
	return words->newest;
}

static int read_input(const char *chip, const char *device, enum hx711_input input, int n)
{
	const struct hx711_config config = {.input = input, .n_cells = 1, .rate_hz = 80};
	struct words words = {.seed = (uint32_t)input};
	struct hx711_conversion got;
	struct hx711_pins pins;
	struct sim_pins sim;
	struct hx711 reader;
	int exact = 0, void_ones = 0;
	size_t cell;

	if (sim_pins_open(&sim, chip, device, 80, sample, &words) < 0)
		return -1;
	pins = sim_pins_pins(&sim);
	hx711_init(&reader, &config, &pins);
	for (int i = 0; i < n; i++) {
		if (hx711_read(&reader, 1000000, &got, &cell) != 1)
			break;
		void_ones += (got.flags & SCALE_VOID) != 0;
		exact += got.counts[0] == words.newest && sim.chip.input == (int)input;
	}
	sim_pins_close(&sim);
	printf("%d pulses: %d of %d words exact, %d void, %u rules broken, %u edges through the "
	       "kernel, %u with a foreign time\n",
	       input, exact, n, void_ones, hx711_chip_broken(&sim.chip), sim.edges,
	       sim.foreign_times);
	return exact == n && void_ones == 0 && hx711_chip_broken(&sim.chip) == 0 &&
	                       sim.edges >= (unsigned)n && sim.foreign_times == 0
	               ? 0
	               : -1;
}

int main(int argc, char **argv)
{
	static const enum hx711_input inputs[] = {HX711_A128, HX711_B32, HX711_A64};
	int r = 0;

	if (argc != 4) {
		fputs("usage: sim_reader CHIP DEVICE N\n", stderr);
		return 2;
	}
	for (size_t i = 0; i < 3; i++)
		if (read_input(argv[1], argv[2], inputs[i], atoi(argv[3])) < 0)
			r = 1;
	return r;
}
