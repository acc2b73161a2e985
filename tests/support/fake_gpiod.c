/* SPDX-License-Identifier: MIT */
#include "fake_gpiod.h"

#include <errno.h>
#include <string.h>

struct fake_gpiod fake_gpiod;

void fake_gpiod_reset(void)
{
	memset(&fake_gpiod, 0, sizeof(fake_gpiod));
}

void fake_gpiod_level(unsigned line, int level, int64_t t_ns)
{
	struct fake_line *pin = &fake_gpiod.line[line];
	const bool before = (pin->level != 0) != pin->active_low;
	const bool after = (level != 0) != pin->active_low;

	pin->level = level;
	if ((before && !after && pin->falling) || (!before && after && pin->rising)) {
		/* The kernel keeps 16 of a line and drops the rest. */
		pin->edges += pin->edges < 16;
		pin->edge_ns = t_ns;
	}
}

bool fake_fails(void)
{
	if (++fake_gpiod.calls != fake_gpiod.fail_at)
		return false;
	errno = fake_gpiod.fail_errno;
	return true;
}

int fake_get(unsigned line)
{
	struct fake_line *pin = &fake_gpiod.line[line];

	if (!pin->held) {
		errno = EPERM;
		return -1;
	}
	if (fake_gpiod.on_get != NULL)
		pin->level = fake_gpiod.on_get(fake_gpiod.context, line);
	return (pin->level != 0) != pin->active_low;
}

void fake_set(unsigned line, int value)
{
	struct fake_line *pin = &fake_gpiod.line[line];

	pin->level = (value != 0) != pin->active_low;
	if (fake_gpiod.on_set != NULL)
		fake_gpiod.on_set(fake_gpiod.context, line, pin->level);
}

bool fake_wait(unsigned line, int64_t timeout_ns)
{
	fake_gpiod.waits += timeout_ns > 0;
	if (fake_gpiod.line[line].edges == 0 && timeout_ns > 0 && fake_gpiod.on_wait != NULL)
		fake_gpiod.on_wait(fake_gpiod.context, line, timeout_ns);
	return fake_gpiod.line[line].edges > 0;
}

int fake_hold(unsigned line, bool output, int value)
{
	struct fake_line *pin = &fake_gpiod.line[line];

	if (pin->held || pin->used_by != NULL) {
		errno = EBUSY;
		return -1;
	}
	pin->held = true;
	pin->output = output;
	pin->edges = 0;
	if (output)
		fake_set(line, value);
	return 0;
}
