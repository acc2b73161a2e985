/* SPDX-License-Identifier: MIT */
/* What one HX711 conversion costs: calls of the pins, the system calls these are with
 * libgpiod, and user time of the reader alone (chip and clock are stand-ins). */
#include <stdio.h>
#include <time.h>

#include "tests/support/hx711_rig.h"

#define N 200000

static int64_t cpu_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static int32_t sample(void *context, int input)
{
	int32_t *code = context;

	(void)input;
	return ++*code & 0x7fffff;
}

int main(void)
{
	const struct hx711_config config = {.input = HX711_A128, .n_cells = 1, .rate_hz = 80};
	struct hx711_conversion got;
	struct hx711_rig rig;
	struct hx711_pins pins;
	struct hx711 reader;
	unsigned gets, sets, waits;
	const unsigned drains = 1;
	int64_t used_ns;
	int32_t code = 0;
	size_t cell;

	hx711_rig_init(&rig, 1, 80, sample, &code);
	pins = hx711_rig_pins(&rig);
	hx711_init(&reader, &config, &pins);
	if (hx711_read(&reader, 1000000, &got, &cell) != 1)
		return 1;
	gets = rig.gets;
	sets = rig.sets;
	waits = rig.waits;
	used_ns = cpu_ns();
	for (int i = 0; i < N; i++)
		if (hx711_read(&reader, 1000000, &got, &cell) != 1)
			return 1;
	used_ns = cpu_ns() - used_ns;
	gets = (rig.gets - gets) / N;
	sets = (rig.sets - sets) / N;
	waits = (rig.waits - waits) / N;
	printf("one conversion: %u sets, %u gets, %u wait, %u drain = %u system calls with "
	       "libgpiod 1.6 (a wait is 2, a drain 3)\n",
	       sets, gets, waits, drains, sets + gets + 2 * waits + 3 * drains);
	printf("reader with stand-ins for chip and clock: %.2f us of user time, %.3f %% of the "
	       "12.5 ms between two conversions at 80/s\n",
	       (double)used_ns / N / 1e3, (double)used_ns / N / 12.5e6 * 100.0);
	return 0;
}
