/* SPDX-License-Identifier: MIT */
/* Loaded before ambod's libraries (LD_PRELOAD), a bench where the machine has none: the
 * calls of libgpiod 1.6 that gpio_lines_v1.c makes, and those of a code reader, on files
 * in the folder AMBO_STAND_IN. ambod itself is the unmodified program.
 *
 *   state   struct stand_in, mapped: what the bridge reads, how the chip is
 *   foot    a pipe of '0' and '1': the level of line 1
 *   lines   "t_us line level" for each level that is set on lines 2 and up
 *
 * Line 4's pulses and line 5 are an HX711 (hx711_chip.h) on the machine's own clock; its
 * pulses are as long as the machine makes them. A code reader is any pipe of struct
 * input_event: the controls that only a device of keys has are answered here. */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <gpiod.h>
#include <linux/input.h>
#include <poll.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "hx711_chip.h"

#define FOOT  1u
#define CLOCK 7u
#define DATA  8u
#define LINES 12u

struct stand_in {
	int32_t counts;
	int32_t dead_high;
	uint32_t clock, powerdowns, resets, frames; /* clock: its level; high, and off it is */
};

struct gpiod_chip {
	int unused;
};
struct gpiod_line {
	unsigned offset;
	bool active_low;
};

static struct gpiod_chip the_chip;
static struct gpiod_line lines[LINES];
static volatile struct stand_in *state;
static struct hx711_chip converter;
static unsigned taken;
static int foot_fd = -1, log_fd = -1, foot_level = 1;

static int64_t now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static int open_in(const char *name, int flags)
{
	char path[512];

	snprintf(path, sizeof(path), "%s/%s", getenv("AMBO_STAND_IN"), name);
	return open(path, flags | O_CLOEXEC, 0600);
}

static int32_t bridge(void *context, int input)
{
	(void)context;
	return input == 25 ? state->counts : input == 27 ? state->counts / 2 : 0;
}

static void look(void)
{
	converter.dead_high = state->dead_high != 0;
	hx711_chip_advance(&converter, now_ns());
	state->clock = (uint32_t)converter.clock;
	state->powerdowns = converter.powerdowns;
	state->resets = converter.resets;
	state->frames = converter.frames;
}

static int set_up(void)
{
	int fd;

	if (state != NULL)
		return 0;
	fd = open_in("state", O_RDWR);
	if (fd < 0)
		return -1;
	state = mmap(NULL, sizeof(*state), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
	close(fd);
	foot_fd = open_in("foot", O_RDWR | O_NONBLOCK);
	log_fd = open_in("lines", O_WRONLY | O_CREAT | O_APPEND);
	hx711_chip_init(&converter, 80.0, bridge, NULL, now_ns());
	return state == MAP_FAILED || foot_fd < 0 || log_fd < 0 ? -1 : 0;
}

struct gpiod_chip *gpiod_chip_open_lookup(const char *text)
{
	if (strcmp(text, "bench") != 0 || set_up() < 0) {
		errno = ENOENT;
		return NULL;
	}
	return &the_chip;
}

void gpiod_chip_close(struct gpiod_chip *chip)
{
	(void)chip;
}

struct gpiod_line *gpiod_chip_get_line(struct gpiod_chip *chip, unsigned offset)
{
	(void)chip;
	if (offset >= LINES) {
		errno = EINVAL;
		return NULL;
	}
	lines[offset].offset = offset;
	return &lines[offset];
}

struct gpiod_line *gpiod_chip_find_line(struct gpiod_chip *chip, const char *name)
{
	(void)chip;
	(void)name;
	errno = ENOENT;
	return NULL;
}

static void set(struct gpiod_line *line, int value)
{
	char text[64];
	int n;

	if (line->offset == CLOCK) {
		hx711_chip_clock(&converter, value, now_ns());
		look();
		return;
	}
	n = snprintf(text, sizeof(text), "%lld %u %d\n", (long long)(now_ns() / 1000), line->offset,
	             value);
	if (write(log_fd, text, (size_t)n) != n)
		abort();
}

int gpiod_line_request(struct gpiod_line *line, const struct gpiod_line_request_config *config,
                       int value)
{
	line->active_low = (config->flags & GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW) != 0;
	if (config->request_type == GPIOD_LINE_REQUEST_DIRECTION_OUTPUT)
		set(line, value);
	return 0;
}

const char *gpiod_line_consumer(struct gpiod_line *line)
{
	(void)line;
	return NULL;
}

int gpiod_line_set_value(struct gpiod_line *line, int value)
{
	set(line, value);
	return 0;
}

int gpiod_line_get_value(struct gpiod_line *line)
{
	int level = foot_level;

	if (line->offset == DATA) {
		look();
		level = hx711_chip_data(&converter, now_ns());
	}
	return line->active_low ? !level : level;
}

/* Until the data pin has fallen once more than was taken. */
static int wait_data(int64_t until_ns)
{
	for (;;) {
		int64_t now = now_ns(), next;

		look();
		if (converter.falls != taken)
			return 1;
		if (now >= until_ns)
			return 0;
		next = hx711_chip_next_ns(&converter);
		if (next > until_ns || next < now)
			next = until_ns;
		if (next - now > 2000000) /* another thread may change what is awaited */
			next = now + 2000000;
		nanosleep(&(struct timespec){.tv_nsec = next - now}, NULL);
	}
}

int gpiod_line_event_wait(struct gpiod_line *line, const struct timespec *timeout)
{
	const int64_t ns = timeout->tv_sec * INT64_C(1000000000) + timeout->tv_nsec;
	struct pollfd fd = {.fd = foot_fd, .events = POLLIN};

	return line->offset == DATA ? wait_data(now_ns() + ns) : poll(&fd, 1, (int)(ns / 1000000));
}

int gpiod_line_event_read_multiple(struct gpiod_line *line, struct gpiod_line_event *events,
                                   unsigned n_events)
{
	char levels[16];
	ssize_t n;

	if (line->offset == DATA) {
		taken = converter.falls;
		events[0].ts = (struct timespec){.tv_sec = converter.fell_ns / 1000000000,
		                                 .tv_nsec = converter.fell_ns % 1000000000};
		return 1;
	}
	n = read(foot_fd, levels, n_events < sizeof(levels) ? n_events : sizeof(levels));
	if (n <= 0)
		return -1;
	foot_level = levels[n - 1] == '1';
	return (int)n;
}

int gpiod_line_event_read(struct gpiod_line *line, struct gpiod_line_event *event)
{
	return gpiod_line_event_read_multiple(line, event, 1) == 1 ? 0 : -1;
}

int gpiod_line_event_get_fd(struct gpiod_line *line)
{
	return line->offset == FOOT ? foot_fd : -1;
}

int ioctl(int fd, unsigned long request, ...)
{
	va_list arguments;
	void *argument;

	va_start(arguments, request);
	argument = va_arg(arguments, void *);
	va_end(arguments);
	if (_IOC_TYPE(request) != 'E')
		return (int)syscall(SYS_ioctl, fd, request, argument);
	if (_IOC_NR(request) == _IOC_NR(EVIOCGBIT(0, 1)))
		((unsigned char *)argument)[EV_KEY / 8] = 1u << EV_KEY % 8;
	return 0;
}
