/* SPDX-License-Identifier: MIT */
#define _GNU_SOURCE /* memfd_create */
#include "bus_link.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <systemd/sd-bus.h>
#include <unistd.h>

#include "bus_read.h"
#include "say.h"

#define STATION    "org.ambo.Station"
#define SCALE      STATION, "/org/ambo/scale", "org.ambo.Scale1"
#define BATCH      STATION, "/org/ambo/batch", "org.ambo.Batch1"
#define RECORDS    STATION, "/org/ambo/records", "org.ambo.Records1"
#define PROPERTIES "org.freedesktop.DBus.Properties"

#define RETRY_US   250000
#define LIST_LIMIT 60u
#define BATCH_MAX  64 /* messages a turn: drawing must not starve */

struct bus_link {
	enum bus_choice choice;
	sd_bus *bus; /* NULL: none at present */
	struct model *model;
	struct ui *ui;
	int64_t try_us; /* when to look for a bus again */
	int64_t sequence;
	int64_t record_id; /* asked for last */
	int curve_fd;      /* where the station writes the curve; -1 none */
	uint32_t events;
};

static void refused(struct bus_link *link, sd_bus_message *reply)
{
	const sd_bus_error *error = sd_bus_message_get_error(reply);

	snprintf(link->ui->notice, sizeof link->ui->notice, "%s",
	         error && error->message && *error->message ? error->message
	                                                    : _("The station refused that."));
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

static int on_systems(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (!sd_bus_message_is_method_error(reply, NULL))
		bus_read_rows(reply, link->model, MODEL_SYSTEM);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_records(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (!sd_bus_message_is_method_error(reply, NULL))
		bus_read_rows(reply, link->model, MODEL_RECORDS);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_record(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		refused(link, reply);
		return 0;
	}
	model_forget(link->model, MODEL_RECORD, 0, "");
	bus_read_dict(reply, link->model, MODEL_RECORD, 0);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static void read_curve(struct bus_link *link)
{
	FILE *file = link->curve_fd >= 0 ? fdopen(link->curve_fd, "r") : NULL;
	char line[128];
	double first_us = NAN;

	if (!file)
		return;
	link->curve_fd = -1;
	rewind(file);
	model_curve_clear(link->model);
	while (fgets(line, sizeof line, file)) {
		char *end;
		double t_us = strtod(line, &end);

		if (*end != ',' || end == line)
			continue; /* the heading */
		if (isnan(first_us))
			first_us = t_us;
		model_curve_add(link->model, (t_us - first_us) * 1e-6, strtod(end + 1, NULL));
	}
	fclose(file);
}

static int on_curve(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	/* A batch without a curve is not worth a word. */
	if (!sd_bus_message_is_method_error(reply, NULL))
		read_curve(link);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_done(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL))
		refused(link, reply);
	return 0;
}

/* Begin and Again: the warning stands over the batch until the next touch. */
static int on_begun(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *warning;
	int64_t id;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL))
		refused(link, reply);
	else if (sd_bus_message_read(reply, "xs", &id, &warning) >= 0)
		snprintf(link->ui->notice, sizeof link->ui->notice, "%s", warning);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_weighed(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL))
		refused(link, reply);
	else
		sd_bus_message_read(reply, "dd", &link->ui->weighed_g, &link->ui->weighed_doubt_g);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static void ask_all(struct bus_link *link)
{
	/* A screen that shows the scale wants it awake. */
	sd_bus_call_method_async(link->bus, NULL, SCALE, "Watch", NULL, NULL, "");
	sd_bus_call_method_async(link->bus, NULL, STATION, "/org/ambo/scale", PROPERTIES, "GetAll",
	                         on_scale, link, "s", "org.ambo.Scale1");
	sd_bus_call_method_async(link->bus, NULL, BATCH, "Systems", on_systems, link, "");
	sd_bus_call_method_async(link->bus, NULL, RECORDS, "List", on_records, link, "xu",
	                         INT64_C(0), LIST_LIMIT);
	sd_bus_call_method_async(link->bus, NULL, STATION, "/org/ambo/batch", PROPERTIES, "GetAll",
	                         on_batch, link, "s", "org.ambo.Batch1");
}

static int on_reading(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *state, *cue;
	int64_t t_us;

	(void)error;
	if (sd_bus_message_read(message, "xxs", &link->sequence, &t_us, &state) < 0)
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
		sd_bus_call_method_async(link->bus, NULL, RECORDS, "List", on_records, link, "xu",
		                         INT64_C(0), LIST_LIMIT);
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

static int subscribe(struct bus_link *link)
{
	sd_bus *bus = link->bus;
	int r;

	r = sd_bus_match_signal_async(bus, NULL, SCALE, "Reading", on_reading, NULL, link);
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

static void close_bus(struct bus_link *link)
{
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
	events = link->events;
	link->events = 0;
	return events;
}

static void begin(struct bus_link *link)
{
	sd_bus_message *call = NULL;

	if (sd_bus_message_new_method_call(link->bus, &call, BATCH, "Begin") < 0)
		return;
	if (sd_bus_message_append(call, "a{sv}", 2, "System", "s", link->ui->system, "TotalGrams",
	                          "d", link->ui->amount_g) >= 0)
		sd_bus_call_async(link->bus, NULL, call, on_begun, link, 0);
	sd_bus_message_unref(call);
}

static void ask_record(struct bus_link *link, int64_t id)
{
	link->record_id = id;
	model_forget(link->model, MODEL_RECORD, 0, "");
	model_curve_clear(link->model);
	sd_bus_call_method_async(link->bus, NULL, RECORDS, "Get", on_record, link, "x", id);
	if (link->curve_fd >= 0)
		close(link->curve_fd);
	link->curve_fd = memfd_create("curve", MFD_CLOEXEC);
	if (link->curve_fd >= 0)
		sd_bus_call_method_async(link->bus, NULL, RECORDS, "Export", on_curve, link, "xsh",
		                         id, "curve", link->curve_fd);
}

void bus_link_send(struct bus_link *link, const struct order *order)
{
	/* Of the batch that is on the screen, never of one that came in between. */
	int64_t id = isfinite(link->model->batch.id) ? (int64_t)link->model->batch.id : 0;

	if (!link->bus)
		return;
	switch (order->kind) {
	case ORDER_PRESS:
		sd_bus_call_method_async(link->bus, NULL, BATCH, "Press", on_done, link, "x", id);
		break;
	case ORDER_HOLD:
		sd_bus_call_method_async(link->bus, NULL, BATCH, "Hold", on_done, link, "x", id);
		break;
	case ORDER_OTHER_PART:
		sd_bus_call_method_async(link->bus, NULL, BATCH, "OtherPart", on_done, link, "x",
		                         id);
		break;
	case ORDER_DISCARD:
		sd_bus_call_method_async(link->bus, NULL, BATCH, "Discard", on_done, link, "x", id);
		break;
	case ORDER_BEGIN:
		begin(link);
		break;
	case ORDER_AGAIN:
		sd_bus_call_method_async(link->bus, NULL, BATCH, "Again", on_begun, link, "");
		break;
	case ORDER_LIST:
		sd_bus_call_method_async(link->bus, NULL, RECORDS, "List", on_records, link, "xu",
		                         INT64_C(0), LIST_LIMIT);
		break;
	case ORDER_RECORD:
		ask_record(link, order->id);
		break;
	case ORDER_ZERO:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "Zero", on_done, link, "");
		break;
	case ORDER_WEIGH:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "Weigh", on_weighed, link, "");
		break;
	case ORDER_NONE:
	case ORDER_SETTINGS:
		break;
	}
}

int64_t bus_link_sequence(const struct bus_link *link)
{
	return link->sequence;
}
