/* SPDX-License-Identifier: MIT */
#include "panel_wire.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "action_text.h"
#include "drivers/code_reader.h"
#include "drivers/panel_options.h"
#include "panel_signal.h"
#include "station.h"

#define LOOK_US 100000 /* for what changes without a reading: a clock, a silence */

struct panel_wire {
	struct station *station;
	struct gpio_panel *panel;   /* NULL: no lines */
	struct code_reader *reader; /* NULL: none, or unplugged */
	sd_event_source *timer, *foot, *codes;
	enum panel_signal signal;
	bool failing; /* said already */
};

static enum panel_signal wanted(struct station *station)
{
	char condition[SCALE_MESSAGE_MAX];
	enum panel_signal most = PANEL_DARK;
	bool silent;

	station_condition(station, condition, sizeof(condition));
	silent = strncmp(condition, "failed", 6) == 0 || strcmp(condition, "silent") == 0 ||
	         strcmp(condition, "rail") == 0;
	for (size_t i = 0; i < BATCHES_MAX; i++) {
		const struct batch *batch = &station->batches.batch[i];
		enum panel_signal signal;
		struct guide_view view;

		if (!batch_open(batch))
			continue;
		commit_look(&batch->commit, &view);
		signal = panel_signal_of(&view, silent);
		most = signal > most ? signal : most;
	}
	return most;
}

/* A foot has no screen to be told why not: the lamp shows that nothing has changed. */
static void do_event(struct panel_wire *wire, enum panel_event event)
{
	char why[ACTION_WHY_MAX] = "";

	if (event != PANEL_NOTHING)
		resting_touch(wire->station);
	switch (event) {
	case PANEL_NOTHING:
		break;
	case PANEL_PRESS:
		(void)action_from_text(wire->station, "press", why);
		break;
	case PANEL_HOLD:
		(void)action_from_text(wire->station, "hold", why);
		break;
	case PANEL_APPROVE:
		(void)calibrating_approve(wire->station, why);
		break;
	case PANEL_JAMMED:
		station_log("panel: the foot switch has been down for 20 s: look at it; it counts "
		            "again when it was let go");
		break;
	}
	if (why[0] != '\0')
		station_log("panel: %s", why);
}

static void step(struct panel_wire *wire)
{
	enum panel_event event = PANEL_NOTHING;
	int64_t due_us = INT64_MAX, look_us;
	int r;

	if (wire->panel == NULL)
		return;
	r = gpio_panel_step(wire->panel, station_clock_us(), &event, &due_us);
	if (r < 0 && !wire->failing)
		station_log("panel: its lines fail (%s); trying on", strerror(-r));
	wire->failing = r < 0;
	do_event(wire, event);
	look_us = station_clock_us() + LOOK_US;
	sd_event_source_set_time(wire->timer, (uint64_t)(due_us < look_us ? due_us : look_us));
	sd_event_source_set_enabled(wire->timer, SD_EVENT_ONESHOT);
}

void panel_wire_touch(struct panel_wire *wire)
{
	enum panel_signal signal;

	if (wire == NULL || wire->panel == NULL)
		return;
	signal = wanted(wire->station);
	if (signal == wire->signal)
		return;
	wire->signal = signal;
	gpio_panel_signal(wire->panel, signal, station_clock_us());
	step(wire);
}

static int on_timer(sd_event_source *source, uint64_t due_us, void *context)
{
	struct panel_wire *wire = context;

	(void)source;
	(void)due_us;
	panel_wire_touch(wire);
	step(wire);
	return 0;
}

static int on_foot(sd_event_source *source, int fd, uint32_t revents, void *context)
{
	(void)source;
	(void)fd;
	(void)revents;
	step(context);
	return 0;
}

/* A code as the presses file writes it: what is no letter, digit or -._ is %XX. */
static void scan(struct panel_wire *wire, const char *code)
{
	struct action action = {.kind = ACTION_SCAN};
	char text[ACTION_TEXT_MAX], why[ACTION_WHY_MAX] = "";

	/* Longer than any bottle's here it is a strange one, and must not pass unheard. */
	if (strlen(code) >= sizeof(action.code)) {
		station_log("panel: code '%s' is longer than any that a label may have", code);
		snprintf(action.code, sizeof(action.code), "%.40s...", code);
	} else {
		memcpy(action.code, code, strlen(code));
	}
	action_write(&action, text, sizeof(text));
	if (action_from_text(wire->station, text, why) < 0)
		station_log("panel: code '%s': %s", code, why);
}

static int on_codes(sd_event_source *source, int fd, uint32_t revents, void *context)
{
	struct panel_wire *wire = context;
	char code[CODE_KEYS_MAX + 1];
	int r;

	(void)fd;
	(void)revents;
	while ((r = code_reader_read(wire->reader, code)) > 0)
		scan(wire, code);
	if (r < 0) {
		station_log("panel: the code reader is gone (%s): plug it in and start Ambo again",
		            strerror(-r));
		sd_event_source_set_enabled(source, SD_EVENT_OFF);
	}
	return 0;
}

static int open_lines(struct panel_wire *wire, const struct panel_options *options)
{
	sd_event *event = wire->station->event;
	char message[GPIO_MESSAGE_MAX] = "";
	int r, fd;

	if (options->gpio.chip == NULL)
		return 0;
	r = gpio_panel_open(&options->gpio, station_clock_us(), message, &wire->panel);
	if (r < 0) {
		station_log("%s: panel: %s", options->where,
		            message[0] != '\0' ? message : strerror(-r));
		return r;
	}
	r = sd_event_add_time(event, &wire->timer, CLOCK_MONOTONIC, (uint64_t)station_clock_us(), 1,
	                      on_timer, wire);
	if (r < 0)
		return r;
	sd_event_source_set_exit_on_failure(wire->timer, true);
	fd = gpio_panel_fd(wire->panel);
	if (fd < 0)
		return 0;
	r = sd_event_add_io(event, &wire->foot, fd, EPOLLIN, on_foot, wire);
	if (r >= 0)
		sd_event_source_set_exit_on_failure(wire->foot, true);
	return r;
}

static int open_codes(struct panel_wire *wire, const struct panel_options *options)
{
	char message[CODE_READER_MESSAGE_MAX] = "";
	int r;

	if (options->codes == NULL)
		return 0;
	r = code_reader_open(options->codes, message, &wire->reader);
	if (r < 0) {
		station_log("%s: panel: codes: %s", options->where,
		            message[0] != '\0' ? message : strerror(-r));
		return r;
	}
	r = sd_event_add_io(wire->station->event, &wire->codes, code_reader_fd(wire->reader),
	                    EPOLLIN, on_codes, wire);
	if (r >= 0)
		sd_event_source_set_exit_on_failure(wire->codes, true);
	return r;
}

int panel_wire_new(struct station *station, struct panel_wire **ret)
{
	const struct conf_passed *passed = &station->config->panel;
	struct panel_options options;
	struct panel_wire *wire;
	char message[SCALE_MESSAGE_MAX] = "";
	int r;

	/* Its mistakes were said when the configuration was read. */
	if (panel_options_read(passed->option, passed->n, option_keep_first, message, &options) > 0)
		return -EINVAL;
	if (options.gpio.chip == NULL && options.codes == NULL)
		return 0;
	wire = calloc(1, sizeof(*wire));
	if (wire == NULL)
		return -ENOMEM;
	wire->station = station;
	r = open_lines(wire, &options);
	if (r >= 0)
		r = open_codes(wire, &options);
	if (r < 0) {
		panel_wire_free(wire);
		return r;
	}
	*ret = wire;
	return 0;
}

void panel_wire_free(struct panel_wire *wire)
{
	if (wire == NULL)
		return;
	sd_event_source_disable_unref(wire->timer);
	sd_event_source_disable_unref(wire->foot);
	sd_event_source_disable_unref(wire->codes);
	gpio_panel_close(wire->panel);
	code_reader_close(wire->reader);
	free(wire);
}
