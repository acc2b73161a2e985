/* SPDX-License-Identifier: MIT */
/* gpio_lines over libgpiod 1.6: every line is a request, and a file, of its own. */
#include "gpio_lines.h"

#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>
#include <string.h>

#include "gpio_refuse.h"

struct gpio_lines {
	struct gpiod_chip *chip;
	size_t n;
	struct gpiod_line *line[GPIO_LINES_MAX];
	bool events[GPIO_LINES_MAX];
};

static struct gpiod_line *find_line(struct gpiod_chip *chip, const char *name)
{
	unsigned offset;

	if (gpio_line_offset(name, &offset) == 0)
		return gpiod_chip_get_line(chip, offset);
	return gpiod_chip_find_line(chip, name);
}

static int request(struct gpiod_line *line, const char *consumer, const struct gpio_line_want *want)
{
	static const int types[] = {
	        [GPIO_OUTPUT] = GPIOD_LINE_REQUEST_DIRECTION_OUTPUT,
	        [GPIO_INPUT] = GPIOD_LINE_REQUEST_DIRECTION_INPUT,
	        [GPIO_FALLING] = GPIOD_LINE_REQUEST_EVENT_FALLING_EDGE,
	        [GPIO_BOTH] = GPIOD_LINE_REQUEST_EVENT_BOTH_EDGES,
	};
	const struct gpiod_line_request_config config = {
	        .consumer = consumer,
	        .request_type = types[want->use],
	        .flags = (want->active_low ? GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW : 0) |
	                 (want->pull_up ? GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_UP : 0),
	};

	return gpiod_line_request(line, &config, want->value);
}

int gpio_lines_open(const char *chip, const char *consumer, const struct gpio_line_want *wants,
                    size_t n_wants, char *message, struct gpio_lines **ret)
{
	struct gpio_lines *lines;
	int r;

	if (n_wants == 0 || n_wants > GPIO_LINES_MAX)
		return -EINVAL;
	lines = calloc(1, sizeof(*lines));
	if (lines == NULL)
		return -ENOMEM;
	lines->chip = gpiod_chip_open_lookup(chip);
	if (lines->chip == NULL) {
		r = gpio_refuse_chip(chip, errno, message);
		goto out;
	}
	for (size_t i = 0; i < n_wants; i++) {
		struct gpiod_line *line = find_line(lines->chip, wants[i].line);

		if (line == NULL || request(line, consumer, &wants[i]) < 0) {
			const int error = errno;

			r = gpio_refuse_line(chip, wants[i].line, error,
			                     line != NULL ? gpiod_line_consumer(line) : NULL,
			                     message);
			goto out;
		}
		lines->line[i] = line;
		lines->events[i] = wants[i].use == GPIO_FALLING || wants[i].use == GPIO_BOTH;
		lines->n++;
	}
	*ret = lines;
	return 0;
out:
	gpio_lines_close(lines);
	return r;
}

void gpio_lines_close(struct gpio_lines *lines)
{
	if (lines == NULL)
		return;
	if (lines->chip != NULL)
		gpiod_chip_close(lines->chip); /* gives the lines back too */
	free(lines);
}

int gpio_lines_set(struct gpio_lines *lines, size_t i, int value)
{
	return gpiod_line_set_value(lines->line[i], value) < 0 ? -errno : 0;
}

int gpio_lines_get(struct gpio_lines *lines, size_t i)
{
	const int value = gpiod_line_get_value(lines->line[i]);

	return value < 0 ? -errno : value;
}

int gpio_lines_wait(struct gpio_lines *lines, size_t i, int64_t timeout_us, int64_t *ret_edge_ns)
{
	const struct timespec timeout = {.tv_sec = timeout_us / 1000000,
	                                 .tv_nsec = timeout_us % 1000000 * 1000};
	struct gpiod_line_event event;
	int r = gpiod_line_event_wait(lines->line[i], &timeout);

	if (r > 0 && gpiod_line_event_read(lines->line[i], &event) < 0)
		r = -1;
	if (r < 0)
		return errno == EINTR ? 0 : -errno;
	if (r > 0)
		*ret_edge_ns = event.ts.tv_sec * INT64_C(1000000000) + event.ts.tv_nsec;
	return r;
}

int gpio_lines_drain(struct gpio_lines *lines, size_t i)
{
	struct gpiod_line_event events[16]; /* as many as the kernel keeps */
	const struct timespec at_once = {0};
	int r;

	/* A line that never rests must not hold us: one kernel queue and what came meanwhile. */
	for (int turn = 0; turn < 4; turn++) {
		r = gpiod_line_event_wait(lines->line[i], &at_once);
		if (r > 0)
			r = gpiod_line_event_read_multiple(lines->line[i], events, 16);
		if (r < 0)
			return -errno;
		if (r < 16)
			break;
	}
	return 0;
}

int gpio_lines_fd(struct gpio_lines *lines, size_t i)
{
	return lines->events[i] ? gpiod_line_event_get_fd(lines->line[i]) : -EINVAL;
}
