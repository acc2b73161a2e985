/* SPDX-License-Identifier: MIT */
/* gpio_lines over libgpiod 2: all lines in one request, with one file for all edges. */
#include "gpio_lines.h"

#include <errno.h>
#include <glob.h>
#include <gpiod.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "gpio_refuse.h"

struct gpio_lines {
	struct gpiod_chip *chip;
	struct gpiod_line_request *request;
	struct gpiod_edge_event_buffer *events;
	size_t n;
	unsigned offset[GPIO_LINES_MAX];
	bool has_events[GPIO_LINES_MAX];
};

static bool has_label(struct gpiod_chip *chip, const char *label)
{
	struct gpiod_chip_info *info = gpiod_chip_get_info(chip);
	const bool same = info != NULL && strcmp(gpiod_chip_info_get_label(info), label) == 0;

	gpiod_chip_info_free(info);
	return same;
}

/* By path, by name, by label: libgpiod 2 left the search to its callers. NULL with errno. */
static struct gpiod_chip *open_chip(const char *text)
{
	struct gpiod_chip *chip = NULL;
	char path[128];
	int error = ENOENT;
	glob_t found;

	if (strchr(text, '/') != NULL)
		return gpiod_chip_open(text);
	snprintf(path, sizeof(path), "/dev/%.100s", text);
	chip = gpiod_chip_open(path);
	if (chip != NULL || errno != ENOENT || glob("/dev/gpiochip*", 0, NULL, &found) != 0)
		return chip;
	for (size_t i = 0; i < found.gl_pathc && chip == NULL; i++) {
		chip = gpiod_chip_open(found.gl_pathv[i]);
		if (chip == NULL) {
			error = errno; /* one that may not be opened may be the one */
		} else if (!has_label(chip, text)) {
			gpiod_chip_close(chip);
			chip = NULL;
		}
	}
	globfree(&found);
	errno = error;
	return chip;
}

static int find_line(struct gpiod_chip *chip, const char *line, unsigned *ret)
{
	int offset;

	if (gpio_line_offset(line, ret) == 0)
		return 0;
	offset = gpiod_chip_get_line_offset_from_name(chip, line);
	if (offset < 0)
		return -errno;
	*ret = (unsigned)offset;
	return 0;
}

static int add_settings(struct gpiod_line_config *config, unsigned offset,
                        const struct gpio_line_want *want)
{
	static const enum gpiod_line_edge edges[] = {
	        [GPIO_OUTPUT] = GPIOD_LINE_EDGE_NONE,
	        [GPIO_INPUT] = GPIOD_LINE_EDGE_NONE,
	        [GPIO_FALLING] = GPIOD_LINE_EDGE_FALLING,
	        [GPIO_BOTH] = GPIOD_LINE_EDGE_BOTH,
	};
	struct gpiod_line_settings *settings = gpiod_line_settings_new();
	int r = -1;

	if (settings == NULL)
		return -ENOMEM;
	gpiod_line_settings_set_active_low(settings, want->active_low);
	if (gpiod_line_settings_set_direction(
	            settings, want->use == GPIO_OUTPUT ? GPIOD_LINE_DIRECTION_OUTPUT
	                                               : GPIOD_LINE_DIRECTION_INPUT) == 0 &&
	    gpiod_line_settings_set_edge_detection(settings, edges[want->use]) == 0 &&
	    (!want->pull_up ||
	     gpiod_line_settings_set_bias(settings, GPIOD_LINE_BIAS_PULL_UP) == 0) &&
	    gpiod_line_settings_set_output_value(settings,
	                                         want->value != 0 ? GPIOD_LINE_VALUE_ACTIVE
	                                                          : GPIOD_LINE_VALUE_INACTIVE) == 0)
		r = gpiod_line_config_add_line_settings(config, &offset, 1, settings);
	if (r < 0)
		r = -errno;
	gpiod_line_settings_free(settings);
	return r;
}

/* The request is refused as a whole: which line was it, and who has it? */
static int refuse_request(struct gpio_lines *lines, const char *chip,
                          const struct gpio_line_want *wants, int error, char *message)
{
	for (size_t i = 0; i < lines->n; i++) {
		struct gpiod_line_info *info =
		        gpiod_chip_get_line_info(lines->chip, lines->offset[i]);
		const bool wrong = info == NULL || gpiod_line_info_is_used(info);
		int r = -error;

		if (wrong)
			r = gpio_refuse_line(
			        chip, wants[i].line, info == NULL ? EINVAL : error,
			        info == NULL ? NULL : gpiod_line_info_get_consumer(info), message);
		gpiod_line_info_free(info);
		if (wrong)
			return r;
	}
	return gpio_refuse_line(chip, wants[0].line, error, NULL, message);
}

static int request(struct gpio_lines *lines, const char *chip, const char *consumer,
                   const struct gpio_line_want *wants, char *message)
{
	struct gpiod_request_config *about = gpiod_request_config_new();
	struct gpiod_line_config *config = gpiod_line_config_new();
	int r = about == NULL || config == NULL ? -ENOMEM : 0;

	for (size_t i = 0; r == 0 && i < lines->n; i++) {
		r = find_line(lines->chip, wants[i].line, &lines->offset[i]);
		if (r == 0)
			r = add_settings(config, lines->offset[i], &wants[i]);
		if (r < 0)
			gpio_refuse_line(chip, wants[i].line, -r, NULL, message);
	}
	if (r == 0) {
		gpiod_request_config_set_consumer(about, consumer);
		lines->request = gpiod_chip_request_lines(lines->chip, about, config);
		if (lines->request == NULL)
			r = refuse_request(lines, chip, wants, errno, message);
	}
	gpiod_request_config_free(about);
	gpiod_line_config_free(config);
	return r;
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
	lines->n = n_wants;
	for (size_t i = 0; i < n_wants; i++)
		lines->has_events[i] = wants[i].use == GPIO_FALLING || wants[i].use == GPIO_BOTH;
	lines->chip = open_chip(chip);
	if (lines->chip == NULL) {
		r = gpio_refuse_chip(chip, errno, message);
		goto out;
	}
	lines->events = gpiod_edge_event_buffer_new(64);
	r = lines->events == NULL ? -ENOMEM : request(lines, chip, consumer, wants, message);
out:
	if (r < 0) {
		gpio_lines_close(lines);
		return r;
	}
	*ret = lines;
	return 0;
}

void gpio_lines_close(struct gpio_lines *lines)
{
	if (lines == NULL)
		return;
	if (lines->request != NULL)
		gpiod_line_request_release(lines->request);
	if (lines->events != NULL)
		gpiod_edge_event_buffer_free(lines->events);
	if (lines->chip != NULL)
		gpiod_chip_close(lines->chip);
	free(lines);
}

int gpio_lines_set(struct gpio_lines *lines, size_t i, int value)
{
	const enum gpiod_line_value to =
	        value != 0 ? GPIOD_LINE_VALUE_ACTIVE : GPIOD_LINE_VALUE_INACTIVE;

	return gpiod_line_request_set_value(lines->request, lines->offset[i], to) < 0 ? -errno : 0;
}

int gpio_lines_get(struct gpio_lines *lines, size_t i)
{
	const enum gpiod_line_value value =
	        gpiod_line_request_get_value(lines->request, lines->offset[i]);

	if (value == GPIOD_LINE_VALUE_ERROR)
		return -errno;
	return value == GPIOD_LINE_VALUE_ACTIVE;
}

static int64_t now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

/* Reads what is there; 1 when line i is among it, with the time of its first edge. */
static int take_events(struct gpio_lines *lines, size_t i, int64_t *ret_edge_ns)
{
	const int n = gpiod_line_request_read_edge_events(lines->request, lines->events, 64);

	if (n < 0)
		return -errno;
	for (int k = 0; k < n; k++) {
		struct gpiod_edge_event *event =
		        gpiod_edge_event_buffer_get_event(lines->events, (unsigned long)k);

		if (gpiod_edge_event_get_line_offset(event) == lines->offset[i]) {
			*ret_edge_ns = (int64_t)gpiod_edge_event_get_timestamp_ns(event);
			return 1;
		}
	}
	return 0;
}

int gpio_lines_wait(struct gpio_lines *lines, size_t i, int64_t timeout_us, int64_t *ret_edge_ns)
{
	const int64_t until_ns = now_ns() + timeout_us * 1000;
	int64_t left_ns = timeout_us * 1000;
	int r;

	do {
		r = gpiod_line_request_wait_edge_events(lines->request, left_ns);
		if (r < 0)
			return errno == EINTR ? 0 : -errno;
		if (r > 0)
			r = take_events(lines, i, ret_edge_ns);
		if (r != 0)
			return r;
		left_ns = until_ns - now_ns();
	} while (left_ns > 0);
	return 0;
}

int gpio_lines_drain(struct gpio_lines *lines, size_t i)
{
	int64_t edge_ns;

	/* A line that never rests must not hold us. */
	for (int turn = 0; turn < 4; turn++) {
		int r = gpiod_line_request_wait_edge_events(lines->request, 0);

		if (r > 0)
			r = take_events(lines, i, &edge_ns);
		else
			return r < 0 ? -errno : 0;
		if (r < 0)
			return r;
	}
	return 0;
}

int gpio_lines_fd(struct gpio_lines *lines, size_t i)
{
	return lines->has_events[i] ? gpiod_line_request_get_fd(lines->request) : -EINVAL;
}
