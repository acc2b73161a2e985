/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>
#include <string.h>

#include "fake_gpiod.h"

struct gpiod_chip {
	int unused;
};
struct gpiod_line_settings {
	struct fake_line as;
};
struct gpiod_line_config {
	size_t n;
	unsigned offset[FAKE_LINES];
	struct fake_line as[FAKE_LINES];
};
struct gpiod_line_request {
	size_t n;
	unsigned offset[FAKE_LINES];
};
struct gpiod_edge_event {
	unsigned offset;
	uint64_t t_ns;
};
struct gpiod_edge_event_buffer {
	struct gpiod_edge_event event[64];
};
struct gpiod_line_info {
	unsigned offset;
};

static struct gpiod_chip chip;

static void *object(size_t size)
{
	if (fake_fails())
		return NULL;
	fake_gpiod.others++;
	return calloc(1, size);
}

static void drop(void *some)
{
	if (some != NULL)
		fake_gpiod.others--;
	free(some);
}

struct gpiod_chip *gpiod_chip_open(const char *path)
{
	if (fake_fails())
		return NULL;
	errno = fake_gpiod.open_error != 0 ? fake_gpiod.open_error : ENOENT;
	/* A label is looked for among the chips of this machine: "bench" stands for one. */
	if (fake_gpiod.open_error != 0 ||
	    (strcmp(path, "/dev/gpiochip0") != 0 && strcmp(path, "/dev/bench") != 0))
		return NULL;
	fake_gpiod.chips++;
	return &chip;
}

void gpiod_chip_close(struct gpiod_chip *closed)
{
	(void)closed;
	fake_gpiod.chips--;
}

struct gpiod_chip_info *gpiod_chip_get_info(struct gpiod_chip *of)
{
	(void)of;
	return object(1);
}

void gpiod_chip_info_free(struct gpiod_chip_info *info)
{
	drop(info);
}

const char *gpiod_chip_info_get_label(struct gpiod_chip_info *info)
{
	(void)info;
	return "bench";
}

int gpiod_chip_get_line_offset_from_name(struct gpiod_chip *of, const char *name)
{
	(void)of;
	if (fake_fails())
		return -1;
	for (unsigned i = 0; i < FAKE_LINES; i++)
		if (fake_gpiod.line[i].name != NULL && strcmp(fake_gpiod.line[i].name, name) == 0)
			return (int)i;
	errno = ENOENT;
	return -1;
}

struct gpiod_line_settings *gpiod_line_settings_new(void)
{
	return object(sizeof(struct gpiod_line_settings));
}

void gpiod_line_settings_free(struct gpiod_line_settings *settings)
{
	drop(settings);
}

int gpiod_line_settings_set_direction(struct gpiod_line_settings *settings,
                                      enum gpiod_line_direction direction)
{
	settings->as.output = direction == GPIOD_LINE_DIRECTION_OUTPUT;
	return fake_fails() ? -1 : 0;
}

int gpiod_line_settings_set_edge_detection(struct gpiod_line_settings *settings,
                                           enum gpiod_line_edge edge)
{
	settings->as.falling = edge == GPIOD_LINE_EDGE_FALLING || edge == GPIOD_LINE_EDGE_BOTH;
	settings->as.rising = edge == GPIOD_LINE_EDGE_BOTH;
	return fake_fails() ? -1 : 0;
}

int gpiod_line_settings_set_bias(struct gpiod_line_settings *settings, enum gpiod_line_bias bias)
{
	settings->as.pull_up = bias == GPIOD_LINE_BIAS_PULL_UP;
	return fake_fails() ? -1 : 0;
}

void gpiod_line_settings_set_active_low(struct gpiod_line_settings *settings, bool active_low)
{
	settings->as.active_low = active_low;
}

int gpiod_line_settings_set_output_value(struct gpiod_line_settings *settings,
                                         enum gpiod_line_value value)
{
	settings->as.level = value == GPIOD_LINE_VALUE_ACTIVE;
	return fake_fails() ? -1 : 0;
}

struct gpiod_line_config *gpiod_line_config_new(void)
{
	return object(sizeof(struct gpiod_line_config));
}

void gpiod_line_config_free(struct gpiod_line_config *config)
{
	drop(config);
}

int gpiod_line_config_add_line_settings(struct gpiod_line_config *config, const unsigned *offsets,
                                        size_t n_offsets, struct gpiod_line_settings *settings)
{
	if (fake_fails())
		return -1;
	for (size_t i = 0; i < n_offsets; i++) {
		config->offset[config->n] = offsets[i];
		config->as[config->n++] = settings->as;
	}
	return 0;
}

struct gpiod_request_config *gpiod_request_config_new(void)
{
	return object(1);
}

void gpiod_request_config_free(struct gpiod_request_config *config)
{
	drop(config);
}

void gpiod_request_config_set_consumer(struct gpiod_request_config *config, const char *consumer)
{
	(void)config;
	(void)consumer;
}

/* All or nothing, as the kernel does it. */
struct gpiod_line_request *gpiod_chip_request_lines(struct gpiod_chip *of,
                                                    struct gpiod_request_config *about,
                                                    struct gpiod_line_config *config)
{
	struct gpiod_line_request *request;

	(void)of;
	(void)about;
	for (size_t i = 0; i < config->n; i++) {
		if (config->offset[i] >= FAKE_LINES) {
			errno = EINVAL;
			return NULL;
		}
		if (fake_gpiod.line[config->offset[i]].used_by != NULL) {
			errno = EBUSY;
			return NULL;
		}
	}
	request = object(sizeof(*request));
	if (request == NULL)
		return NULL;
	fake_gpiod.others--;
	fake_gpiod.requests++;
	request->n = config->n;
	for (size_t i = 0; i < config->n; i++) {
		struct fake_line *pin = &fake_gpiod.line[config->offset[i]];

		request->offset[i] = config->offset[i];
		pin->falling = config->as[i].falling;
		pin->rising = config->as[i].rising;
		pin->active_low = config->as[i].active_low;
		pin->pull_up = config->as[i].pull_up;
		(void)fake_hold(config->offset[i], config->as[i].output, config->as[i].level);
	}
	return request;
}

void gpiod_line_request_release(struct gpiod_line_request *request)
{
	for (size_t i = 0; i < request->n; i++)
		fake_gpiod.line[request->offset[i]].held = false;
	fake_gpiod.requests--;
	free(request);
}

struct gpiod_line_info *gpiod_chip_get_line_info(struct gpiod_chip *of, unsigned offset)
{
	struct gpiod_line_info *info;

	(void)of;
	if (offset >= FAKE_LINES) {
		errno = EINVAL;
		return NULL;
	}
	info = object(sizeof(*info));
	if (info != NULL)
		info->offset = offset;
	return info;
}

void gpiod_line_info_free(struct gpiod_line_info *info)
{
	drop(info);
}

bool gpiod_line_info_is_used(struct gpiod_line_info *info)
{
	return fake_gpiod.line[info->offset].used_by != NULL;
}

const char *gpiod_line_info_get_consumer(struct gpiod_line_info *info)
{
	return fake_gpiod.line[info->offset].used_by;
}

int gpiod_line_request_set_value(struct gpiod_line_request *request, unsigned offset,
                                 enum gpiod_line_value value)
{
	(void)request;
	if (fake_fails())
		return -1;
	fake_set(offset, value == GPIOD_LINE_VALUE_ACTIVE);
	return 0;
}

enum gpiod_line_value gpiod_line_request_get_value(struct gpiod_line_request *request,
                                                   unsigned offset)
{
	int value;

	(void)request;
	value = fake_fails() ? -1 : fake_get(offset);
	return value < 0   ? GPIOD_LINE_VALUE_ERROR
	       : value > 0 ? GPIOD_LINE_VALUE_ACTIVE
	                   : GPIOD_LINE_VALUE_INACTIVE;
}

int gpiod_line_request_wait_edge_events(struct gpiod_line_request *request, int64_t timeout_ns)
{
	if (fake_fails())
		return -1;
	for (size_t i = 0; i < request->n; i++)
		if (fake_gpiod.line[request->offset[i]].edges > 0)
			return 1;
	for (size_t i = 0; i < request->n; i++)
		if (fake_gpiod.line[request->offset[i]].falling &&
		    fake_wait(request->offset[i], timeout_ns))
			return 1;
	return 0;
}

int gpiod_line_request_read_edge_events(struct gpiod_line_request *request,
                                        struct gpiod_edge_event_buffer *buffer, size_t n_events)
{
	size_t n = 0;

	if (fake_fails())
		return -1;
	for (size_t i = 0; i < request->n; i++) {
		struct fake_line *pin = &fake_gpiod.line[request->offset[i]];

		for (; n < n_events && pin->edges > 0; n++, pin->edges--)
			buffer->event[n] = (struct gpiod_edge_event){request->offset[i],
			                                             (uint64_t)pin->edge_ns};
	}
	return (int)n;
}

int gpiod_line_request_get_fd(struct gpiod_line_request *request)
{
	(void)request;
	return 100;
}

struct gpiod_edge_event_buffer *gpiod_edge_event_buffer_new(size_t capacity)
{
	(void)capacity;
	return object(sizeof(struct gpiod_edge_event_buffer));
}

void gpiod_edge_event_buffer_free(struct gpiod_edge_event_buffer *buffer)
{
	drop(buffer);
}

struct gpiod_edge_event *gpiod_edge_event_buffer_get_event(struct gpiod_edge_event_buffer *buffer,
                                                           unsigned long index)
{
	return &buffer->event[index];
}

unsigned gpiod_edge_event_get_line_offset(struct gpiod_edge_event *event)
{
	return event->offset;
}

uint64_t gpiod_edge_event_get_timestamp_ns(struct gpiod_edge_event *event)
{
	return event->t_ns;
}
