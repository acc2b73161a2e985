/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <gpiod.h>
#include <string.h>
#include <unistd.h>

#include "fake_gpiod.h"

struct gpiod_chip {
	int unused;
};
struct gpiod_line {
	unsigned offset;
};

static struct gpiod_chip chip;
static struct gpiod_line handles[FAKE_LINES];

struct gpiod_chip *gpiod_chip_open_lookup(const char *text)
{
	if (fake_fails())
		return NULL;
	errno = fake_gpiod.open_error != 0 ? fake_gpiod.open_error : ENOENT;
	if (fake_gpiod.open_error != 0 ||
	    (strcmp(text, "/dev/gpiochip0") != 0 && strcmp(text, "gpiochip0") != 0 &&
	     strcmp(text, "bench") != 0))
		return NULL;
	fake_gpiod.chips++;
	return &chip;
}

void gpiod_chip_close(struct gpiod_chip *closed)
{
	(void)closed;
	for (unsigned i = 0; i < FAKE_LINES; i++) {
		fake_gpiod.requests -= fake_gpiod.line[i].held;
		fake_gpiod.line[i].held = false;
	}
	fake_gpiod.chips--;
}

struct gpiod_line *gpiod_chip_get_line(struct gpiod_chip *of, unsigned offset)
{
	(void)of;
	if (fake_fails())
		return NULL;
	if (offset >= FAKE_LINES) {
		errno = EINVAL;
		return NULL;
	}
	handles[offset].offset = offset;
	return &handles[offset];
}

struct gpiod_line *gpiod_chip_find_line(struct gpiod_chip *of, const char *name)
{
	for (unsigned i = 0; i < FAKE_LINES; i++)
		if (fake_gpiod.line[i].name != NULL && strcmp(fake_gpiod.line[i].name, name) == 0)
			return gpiod_chip_get_line(of, i);
	errno = ENOENT;
	return NULL;
}

int gpiod_line_request(struct gpiod_line *line, const struct gpiod_line_request_config *config,
                       int value)
{
	struct fake_line *pin = &fake_gpiod.line[line->offset];
	const int type = config->request_type;

	if (fake_fails())
		return -1;
	pin->falling = type == GPIOD_LINE_REQUEST_EVENT_FALLING_EDGE ||
	               type == GPIOD_LINE_REQUEST_EVENT_BOTH_EDGES;
	pin->rising = type == GPIOD_LINE_REQUEST_EVENT_BOTH_EDGES;
	pin->active_low = (config->flags & GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW) != 0;
	pin->pull_up = (config->flags & GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_UP) != 0;
	if (fake_hold(line->offset, type == GPIOD_LINE_REQUEST_DIRECTION_OUTPUT, value) < 0)
		return -1;
	fake_gpiod.requests++;
	return 0;
}

const char *gpiod_line_consumer(struct gpiod_line *line)
{
	return fake_gpiod.line[line->offset].used_by;
}

int gpiod_line_set_value(struct gpiod_line *line, int value)
{
	if (fake_fails())
		return -1;
	fake_set(line->offset, value);
	return 0;
}

int gpiod_line_get_value(struct gpiod_line *line)
{
	return fake_fails() ? -1 : fake_get(line->offset);
}

int gpiod_line_event_wait(struct gpiod_line *line, const struct timespec *timeout)
{
	if (fake_fails())
		return -1;
	return fake_wait(line->offset, timeout->tv_sec * INT64_C(1000000000) + timeout->tv_nsec);
}

int gpiod_line_event_read_multiple(struct gpiod_line *line, struct gpiod_line_event *events,
                                   unsigned n_events)
{
	struct fake_line *pin = &fake_gpiod.line[line->offset];
	unsigned n = 0;

	if (fake_fails())
		return -1;
	for (; n < n_events && pin->edges > 0; n++, pin->edges--)
		events[n].ts = (struct timespec){.tv_sec = pin->edge_ns / 1000000000,
		                                 .tv_nsec = pin->edge_ns % 1000000000};
	return (int)n;
}

int gpiod_line_event_read(struct gpiod_line *line, struct gpiod_line_event *event)
{
	return gpiod_line_event_read_multiple(line, event, 1) == 1 ? 0 : -1;
}

int gpiod_line_event_get_fd(struct gpiod_line *line)
{
	return 100 + (int)line->offset;
}
