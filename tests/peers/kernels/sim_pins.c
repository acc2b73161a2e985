/* SPDX-License-Identifier: MIT */
#include "sim_pins.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static int64_t real_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static void pull(struct sim_pins *sim)
{
	const char *text;

	hx711_chip_advance(&sim->chip, sim->now_ns);
	if (sim->chip.data == sim->pulled)
		return;
	sim->pulled = sim->chip.data;
	text = sim->pulled ? "pull-up" : "pull-down";
	sim->pull_ns = real_ns();
	if (pwrite(sim->pull_fd, text, strlen(text), 0) < 0) {
		perror("pull");
		exit(1);
	}
}

static int set_clock(void *context, int level)
{
	struct sim_pins *sim = context;
	char text[4];
	int r = gpio_lines_set(sim->lines, 0, level);

	sim->now_ns += 1000;
	if (r == 0 && pread(sim->value_fd, text, sizeof(text), 0) < 1)
		r = -errno;
	if (r < 0)
		return r;
	hx711_chip_clock(&sim->chip, text[0] == '1', sim->now_ns);
	pull(sim);
	return 0;
}

static int get_data(void *context, size_t cell)
{
	struct sim_pins *sim = context;

	(void)cell;
	sim->now_ns += 500;
	pull(sim);
	if (hx711_chip_data(&sim->chip, sim->now_ns) != gpio_lines_get(sim->lines, 1))
		return -EIO; /* chip and kernel must not disagree */
	return sim->chip.data;
}

/* The chip gets ready: the edge that follows must come through the kernel. */
static int wait_data(void *context, size_t cell, int64_t timeout_us, int64_t *ret_edge_ns)
{
	struct sim_pins *sim = context;
	const int64_t until_ns = sim->now_ns + timeout_us * 1000;
	const int64_t next_ns = hx711_chip_next_ns(&sim->chip);
	int r;

	(void)cell;
	sim->now_ns = next_ns < until_ns ? next_ns : until_ns;
	pull(sim);
	r = gpio_lines_wait(sim->lines, 1, sim->pulled == 0 ? 1000000 : 0, ret_edge_ns);
	if (r > 0) {
		sim->edges++;
		/* User-mode Linux keeps its time to some milliseconds. */
		sim->foreign_times += *ret_edge_ns < sim->pull_ns - 100000000 ||
		                      *ret_edge_ns > real_ns() + 100000000;
		sim->now_ns += 2000;
		*ret_edge_ns = sim->now_ns;
	}
	return r;
}

static int drain(void *context, size_t cell)
{
	const struct sim_pins *sim = context;

	(void)cell;
	return gpio_lines_drain(sim->lines, 1);
}

static int64_t now_ns(void *context)
{
	struct sim_pins *sim = context;

	return sim->now_ns += 20;
}

static void sleep_us(void *context, int64_t us)
{
	struct sim_pins *sim = context;

	sim->now_ns += us * 1000;
}

int sim_pins_open(struct sim_pins *sim, const char *chip, const char *device, double rate_hz,
                  int32_t (*sample)(void *context, int input), void *context)
{
	static const struct gpio_line_want wants[] = {
	        {.line = "0", .use = GPIO_OUTPUT},
	        {.line = "1", .use = GPIO_FALLING},
	};
	char path[300], message[GPIO_MESSAGE_MAX] = "";
	int r;

	memset(sim, 0, sizeof(*sim));
	snprintf(path, sizeof(path), "%.250s/sim_gpio0/value", device);
	sim->value_fd = open(path, O_RDONLY | O_CLOEXEC);
	snprintf(path, sizeof(path), "%.250s/sim_gpio1/pull", device);
	sim->pull_fd = open(path, O_RDWR | O_CLOEXEC);
	if (sim->value_fd < 0 || sim->pull_fd < 0) {
		perror(path);
		return -errno;
	}
	sim->now_ns = 1000000000;
	sim->pulled = -1;
	hx711_chip_init(&sim->chip, rate_hz, sample, context, sim->now_ns);
	r = gpio_lines_open(chip, "a test", wants, 2, message, &sim->lines);
	if (r < 0)
		fprintf(stderr, "%s\n", message);
	return r;
}

void sim_pins_close(struct sim_pins *sim)
{
	gpio_lines_close(sim->lines);
	close(sim->value_fd);
	close(sim->pull_fd);
}

struct hx711_pins sim_pins_pins(struct sim_pins *sim)
{
	return (struct hx711_pins){sim, set_clock, get_data, wait_data, drain, now_ns, sleep_us};
}
