/* SPDX-License-Identifier: MIT */
#include "hx711_rig.h"

#include <errno.h>
#include <string.h>

static int spend(struct hx711_rig *rig)
{
	rig->now_ns += rig->call_ns;
	return ++rig->calls == rig->fail_at ? -EIO : 0;
}

static int set_clock(void *context, int level)
{
	struct hx711_rig *rig = context;
	const int r = spend(rig);

	if (r < 0)
		return r;
	for (size_t i = 0; i < rig->n_cells; i++)
		hx711_chip_clock(&rig->chip[i], level, rig->now_ns);
	if (++rig->sets == rig->pause_at)
		rig->now_ns += rig->pause_ns;
	return 0;
}

static int get_data(void *context, size_t cell)
{
	struct hx711_rig *rig = context;
	const int r = spend(rig);

	rig->gets++;
	return r < 0 ? r : hx711_chip_data(&rig->chip[cell], rig->now_ns);
}

/* As the kernel does it: an edge raised since the last one taken returns at once. */
static int wait_data(void *context, size_t cell, int64_t timeout_us, int64_t *ret_edge_ns)
{
	struct hx711_rig *rig = context;
	struct hx711_chip *chip = &rig->chip[cell];
	const int64_t until_ns = rig->now_ns + timeout_us * 1000;
	const int r = spend(rig);

	rig->waits++;
	if (r < 0)
		return r;
	hx711_chip_advance(chip, rig->now_ns);
	while (chip->falls == rig->taken[cell]) {
		const int64_t next_ns = hx711_chip_next_ns(chip);

		rig->now_ns = next_ns < until_ns ? next_ns : until_ns;
		hx711_chip_advance(chip, rig->now_ns);
		if (rig->now_ns == until_ns && chip->falls == rig->taken[cell])
			return 0;
	}
	rig->taken[cell]++;
	*ret_edge_ns = chip->fell_ns;
	rig->now_ns += 2000; /* until the thread runs */
	if (hx711_chip_data(chip, rig->now_ns) != 0)
		rig->woken_for_nothing++;
	return 1;
}

static int drain(void *context, size_t cell)
{
	struct hx711_rig *rig = context;

	hx711_chip_advance(&rig->chip[cell], rig->now_ns);
	rig->taken[cell] = rig->chip[cell].falls;
	return spend(rig);
}

static int64_t now_ns(void *context)
{
	struct hx711_rig *rig = context;

	return rig->now_ns += 20; /* a clock is not read in no time */
}

static void sleep_us(void *context, int64_t us)
{
	struct hx711_rig *rig = context;

	rig->now_ns += us * 1000;
}

void hx711_rig_init(struct hx711_rig *rig, size_t n_cells, double rate_hz,
                    int32_t (*sample)(void *context, int input), void *context)
{
	memset(rig, 0, sizeof(*rig));
	rig->n_cells = n_cells;
	rig->now_ns = 1000000000;
	rig->call_ns = 400;
	for (size_t i = 0; i < n_cells; i++)
		hx711_chip_init(&rig->chip[i], rate_hz, sample, context, rig->now_ns);
}

struct hx711_pins hx711_rig_pins(struct hx711_rig *rig)
{
	return (struct hx711_pins){rig, set_clock, get_data, wait_data, drain, now_ns, sleep_us};
}
