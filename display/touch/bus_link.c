/* SPDX-License-Identifier: MIT */
#include "bus_link.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bus_inside.h"
#include "bus_read.h"
#include "say.h"

#define RETRY_US  250000
#define HEALTH_US 15000000 /* it sends no word of its own when it changes */
#define BATCH_MAX 64       /* messages a turn: drawing must not starve */

void bus_refused(struct bus_link *link, sd_bus_message *reply)
{
	const sd_bus_error *error = sd_bus_message_get_error(reply);
	const char *said = N_("The station refused that.");

	/* What the bus itself says, of a station that is gone or hangs, is for programmers. */
	if (error && strncmp(error->name, "org.freedesktop.DBus.", 21) == 0 &&
	    !sd_bus_error_has_name(error, SD_BUS_ERROR_ACCESS_DENIED))
		said = N_("The station does not answer.");
	else if (error && error->message && *error->message)
		said = error->message;
	say_read(said, link->ui->notice, sizeof link->ui->notice);
	link->events |= BUS_EVENT_ANSWER;
}

static int on_scale(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (!sd_bus_message_is_method_error(reply, NULL)) {
		model_forget(link->model, MODEL_SCALE, 0, "");
		bus_read_dict(reply, link->model, MODEL_SCALE, 0);
	}
	link->events |= BUS_EVENT_BATCH;
	return 0;
}

static int on_batch(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	/* All of it is here: what the station says is of now. */
	if (!sd_bus_message_is_method_error(reply, NULL)) {
		model_forget(link->model, MODEL_BATCH, 0, "");
		bus_read_dict(reply, link->model, MODEL_BATCH, 0);
		link->model->link = LINK_UP;
	}
	link->events |= BUS_EVENT_BATCH | BUS_EVENT_LINK;
	return 0;
}

int bus_on_systems(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (!sd_bus_message_is_method_error(reply, NULL))
		bus_read_rows(reply, link->model, MODEL_SYSTEM);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

int bus_on_records(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (!sd_bus_message_is_method_error(reply, NULL))
		bus_read_rows(reply, link->model, MODEL_RECORDS);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_shop(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (!sd_bus_message_is_method_error(reply, NULL)) {
		model_empty(link->model, MODEL_CLOCKS);
		bus_read_dict(reply, link->model, MODEL_SHOP, 0);
	}
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

void bus_ask_scale(struct bus_link *link)
{
	sd_bus_call_method_async(link->bus, NULL, STATION, "/org/ambo/scale", PROPERTIES, "GetAll",
	                         on_scale, link, "s", "org.ambo.Scale1");
}

static void ask_all(struct bus_link *link)
{
	/* A screen that shows the scale wants it awake. */
	sd_bus_call_method_async(link->bus, NULL, SCALE, "Watch", NULL, NULL, "");
	bus_ask_scale(link);
	sd_bus_call_method_async(link->bus, NULL, STATION, "/org/ambo/pieces", PROPERTIES, "GetAll",
	                         on_shop, link, "s", "org.ambo.Pieces1");
	sd_bus_call_method_async(link->bus, NULL, BATCH, "Systems", bus_on_systems, link, "");
	sd_bus_call_method_async(link->bus, NULL, RECORDS, "List", bus_on_records, link, "xu",
	                         INT64_C(0), LIST_LIMIT);
	sd_bus_call_method_async(link->bus, NULL, STATION, "/org/ambo/batch", PROPERTIES, "GetAll",
	                         on_batch, link, "s", "org.ambo.Batch1");
}

static int on_reading(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *state, *cue;
	int64_t sequence, t_us;

	(void)error;
	if (sd_bus_message_read(message, "xxs", &sequence, &t_us, &state) < 0)
		return 0;
	model_forget(link->model, MODEL_READING, 0, "");
	bus_read_dict(message, link->model, MODEL_READING, 0);
	if (sd_bus_message_read(message, "s", &cue) < 0)
		return 0;
	model_put_number(link->model, MODEL_READING, 0, "t_us", (double)t_us);
	model_put_text(link->model, MODEL_READING, 0, "state", state);
	model_put_text(link->model, MODEL_READING, 0, "cue", cue);
	link->events |= BUS_EVENT_READING;
	return 0;
}

static int on_changed(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *interface;

	(void)error;
	if (sd_bus_message_read(message, "s", &interface) < 0)
		return 0;
	if (strcmp(interface, "org.ambo.Batch1") == 0)
		bus_read_dict(message, link->model, MODEL_BATCH, 0);
	else if (strcmp(interface, "org.ambo.Scale1") == 0)
		bus_read_dict(message, link->model, MODEL_SCALE, 0);
	else if (strcmp(interface, "org.ambo.Pieces1") == 0) {
		bus_read_dict(message, link->model, MODEL_SHOP, 0);
		/* What is due hangs on the clocks. */
		if (link->ui->screen == SCREEN_LAYER_CHECKS)
			bus_ask_checks(link);
	}
	link->events |= BUS_EVENT_BATCH;
	return 0;
}

/* The batch that ends is in the records from now on. */
static int on_step(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *step;
	int64_t id, t_us;

	(void)error;
	if (sd_bus_message_read(message, "xxs", &id, &t_us, &step) >= 0 &&
	    (strcmp(step, "done") == 0 || strcmp(step, "discarded") == 0))
		sd_bus_call_method_async(link->bus, NULL, RECORDS, "List", bus_on_records, link,
		                         "xu", INT64_C(0), LIST_LIMIT);
	return 0;
}

static void lose(struct bus_link *link)
{
	if (link->model->link == LINK_UP)
		link->model->link = LINK_LOST;
	link->events |= BUS_EVENT_LINK;
}

static int on_owner(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *name, *before, *after;

	(void)error;
	if (sd_bus_message_read(message, "sss", &name, &before, &after) < 0)
		return 0;
	if (*after)
		ask_all(link);
	else
		lose(link);
	return 0;
}

static int ask_readings(struct bus_link *link)
{
	if (!link->bus || !link->wants_readings || link->readings)
		return 0;
	return sd_bus_match_signal_async(link->bus, &link->readings, SCALE, "Reading", on_reading,
	                                 NULL, link);
}

static int subscribe(struct bus_link *link)
{
	sd_bus *bus = link->bus;
	int r = ask_readings(link);

	if (r >= 0)
		r = sd_bus_match_signal_async(bus, NULL, BATCH, "StepChanged", on_step, NULL, link);
	if (r >= 0)
		r = sd_bus_match_signal_async(bus, NULL, STATION, NULL, PROPERTIES,
		                              "PropertiesChanged", on_changed, NULL, link);
	if (r >= 0)
		r = sd_bus_add_match_async(bus, NULL,
		                           "type='signal',sender='org.freedesktop.DBus',"
		                           "member='NameOwnerChanged',arg0='" STATION "'",
		                           on_owner, NULL, link);
	return r;
}

void bus_link_want_readings(struct bus_link *link, bool wanted)
{
	if (wanted == link->wants_readings)
		return;
	link->wants_readings = wanted;
	if (wanted) {
		ask_readings(link);
		return;
	}
	link->readings = sd_bus_slot_unref(link->readings);
	/* The last one is of no time that counts. */
	model_forget(link->model, MODEL_READING, 0, "");
}

static void close_bus(struct bus_link *link)
{
	link->readings = sd_bus_slot_unref(link->readings);
	sd_bus_close_unref(link->bus);
	link->bus = NULL;
	lose(link);
}

/* BUS_AUTO: the session's where there is one, else the system's. */
static void open_bus(struct bus_link *link)
{
	int r = -ENOENT;

	if (link->choice != BUS_SYSTEM)
		r = sd_bus_open_user(&link->bus);
	if (r < 0 && link->choice != BUS_SESSION)
		r = sd_bus_open_system(&link->bus);
	if (r < 0) {
		link->bus = NULL;
		return;
	}
	if (subscribe(link) < 0)
		close_bus(link);
	else
		ask_all(link);
}

int bus_link_new(enum bus_choice choice, struct model *model, struct ui *ui, struct bus_link **ret)
{
	struct bus_link *link = calloc(1, sizeof *link);

	if (!link)
		return -ENOMEM;
	link->choice = choice;
	link->model = model;
	link->ui = ui;
	link->curve_fd = -1;
	*ret = link;
	return 0;
}

void bus_link_free(struct bus_link *link)
{
	if (!link)
		return;
	sd_bus_slot_unref(link->readings);
	sd_bus_flush_close_unref(link->bus);
	if (link->curve_fd >= 0)
		close(link->curve_fd);
	free(link);
}

int bus_link_fd(const struct bus_link *link)
{
	return link->bus ? sd_bus_get_fd(link->bus) : -1;
}

short bus_link_poll_events(const struct bus_link *link)
{
	int events = link->bus ? sd_bus_get_events(link->bus) : 0;

	return (short)(events < 0 ? POLLIN : events);
}

int64_t bus_link_until_us(const struct bus_link *link)
{
	uint64_t until_us;

	if (!link->bus)
		return link->try_us;
	if (sd_bus_get_timeout(link->bus, &until_us) < 0)
		return 0;
	return until_us > INT64_MAX ? INT64_MAX : (int64_t)until_us;
}

uint32_t bus_link_process(struct bus_link *link, int64_t now_us)
{
	uint32_t events;

	if (!link->bus && now_us >= link->try_us) {
		link->try_us = now_us + RETRY_US;
		open_bus(link);
	}
	for (int i = 0; link->bus && i < BATCH_MAX; i++) {
		int r = sd_bus_process(link->bus, NULL);

		if (r < 0) {
			close_bus(link);
			link->try_us = now_us + RETRY_US;
		}
		if (r <= 0)
			break;
	}
	if (link->bus && now_us >= link->health_us && link->model->link == LINK_UP &&
	    !ui_live(link->model)) {
		link->health_us = now_us + HEALTH_US;
		bus_ask_scale(link);
	}
	events = link->events;
	link->events = 0;
	return events;
}
