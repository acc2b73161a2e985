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
#define PIECES     STATION, "/org/ambo/pieces", "org.ambo.Pieces1"
#define PROPERTIES "org.freedesktop.DBus.Properties"

#define RETRY_US   250000
#define LIST_LIMIT 60u
#define HEALTH_US  15000000 /* it sends no word of its own when it changes */
#define BATCH_MAX  64       /* messages a turn: drawing must not starve */

struct bus_link {
	enum bus_choice choice;
	sd_bus *bus; /* NULL: none at present */
	struct model *model;
	struct ui *ui;
	int64_t try_us; /* when to look for a bus again */
	bool wants_readings;
	sd_bus_slot *readings; /* NULL: not asked for */
	int64_t sequence;
	int64_t record_id; /* asked for last */
	int64_t health_us; /* when to ask for the scale's health again */
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

static int on_rows(sd_bus_message *reply, struct bus_link *link, enum model_part part)
{
	if (sd_bus_message_is_method_error(reply, NULL))
		refused(link, reply);
	else
		bus_read_rows(reply, link->model, part);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_pieces(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	(void)error;
	return on_rows(reply, context, MODEL_PIECES);
}

static int on_layers(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	(void)error;
	return on_rows(reply, context, MODEL_LAYERS);
}

/* A piece that is full has no plan: that is an answer, not a mistake. */
static int on_plan(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	struct model *model = link->model;
	const sd_bus_error *why = sd_bus_message_get_error(reply);
	const char *warning = "";

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		warning = why && why->message ? why->message : "";
	} else if (bus_read_rows(reply, model, MODEL_PLAN) >= 0 &&
	           sd_bus_message_enter_container(reply, 'a', "s") > 0 &&
	           sd_bus_message_read(reply, "s", &warning) <= 0) {
		warning = "";
	}
	snprintf(model->plan_note, sizeof model->plan_note, "%s", warning);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static void ask_scale(struct bus_link *link)
{
	sd_bus_call_method_async(link->bus, NULL, STATION, "/org/ambo/scale", PROPERTIES, "GetAll",
	                         on_scale, link, "s", "org.ambo.Scale1");
}

static int on_accepted(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		refused(link, reply);
	} else {
		ui_accepted(link->ui);
		ask_scale(link);
	}
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_checked(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *verdict;
	double error_g, limit_g;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		refused(link, reply);
	} else if (sd_bus_message_read(reply, "sdd", &verdict, &error_g, &limit_g) >= 0) {
		ui_checked(link->ui, verdict, error_g, limit_g);
		ask_scale(link);
	}
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_entered(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	const char *id;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		refused(link, reply);
	} else if (sd_bus_message_read(reply, "s", &id) >= 0) {
		ui_entered(link->ui, id);
		sd_bus_call_method_async(link->bus, NULL, BATCH, "Systems", on_systems, link, "");
	}
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
	ask_scale(link);
	sd_bus_call_method_async(link->bus, NULL, STATION, "/org/ambo/pieces", PROPERTIES, "GetAll",
	                         on_shop, link, "s", "org.ambo.Pieces1");
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
	else if (strcmp(interface, "org.ambo.Pieces1") == 0)
		bus_read_dict(message, link->model, MODEL_SHOP, 0);
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
		ask_scale(link);
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

/* For a piece's next layer: in as many batches as its plan says. */
static void pour(struct bus_link *link)
{
	const struct model_layer *layer = ui_next_layer(link->model);
	double batches = layer && layer->batches > 1.0 ? layer->batches : 1.0;
	char number[16];
	sd_bus_message *call = NULL;
	int r;

	if (!layer || sd_bus_message_new_method_call(link->bus, &call, BATCH, "Begin") < 0)
		return;
	snprintf(number, sizeof number, "%.0f", layer->layer);
	r = sd_bus_message_open_container(call, 'a', "{sv}");
	if (r >= 0)
		r = sd_bus_message_append(call, "{sv}{sv}{sv}{sv}", "System", "s", layer->system,
		                          "TotalGrams", "d",
		                          (layer->total_g - fmax(0.0, layer->tint_g)) / batches,
		                          "Piece", "s", link->ui->piece, "Layer", "s", number);
	if (r >= 0 && layer->tint_g > 0.0)
		r = sd_bus_message_append(call, "{sv}{sv}", "TintPercent", "d",
		                          100.0 * layer->tint_g / (layer->total_g - layer->tint_g),
		                          "TintLabel", "s",
		                          layer->tint[0] ? layer->tint : layer->coat);
	if (r >= 0)
		r = sd_bus_message_close_container(call);
	if (r >= 0)
		sd_bus_call_async(link->bus, NULL, call, on_begun, link, 0);
	sd_bus_message_unref(call);
}

/* Water for both parts: the record says so. */
static void practice(struct bus_link *link)
{
	sd_bus_message *call = NULL;

	if (sd_bus_message_new_method_call(link->bus, &call, BATCH, "Begin") < 0)
		return;
	if (sd_bus_message_append(call, "a{sv}", 3, "System", "s", link->ui->system, "TotalGrams",
	                          "d", link->ui->amount_g, "Piece", "s",
	                          "practice with water") >= 0)
		sd_bus_call_async(link->bus, NULL, call, on_begun, link, 0);
	sd_bus_message_unref(call);
}

static void enter(struct bus_link *link)
{
	const double *value = link->ui->entry.value;
	struct model_system label;
	sd_bus_message *call = NULL;
	int r;

	ui_entry_system(link->ui, &label);
	if (sd_bus_message_new_method_call(link->bus, &call, BATCH, "EnterSystem") < 0)
		return;
	r = sd_bus_message_open_container(call, 'a', "{sv}");
	if (r >= 0)
		r = sd_bus_message_append(
		        call, "{sv}{sv}{sv}{sv}{sv}{sv}{sv}{sv}{sv}{sv}", "Name", "s", label.name,
		        "LabelA", "s", label.label_a, "LabelB", "s", label.label_b, "Basis", "s",
		        label.basis, "Hardener", "s", label.hardener, "PartsA", "d", label.parts_a,
		        "PartsB", "d", label.parts_b, "WorkingLifeSeconds", "d",
		        label.working_life_s, "WorkingLifeGrams", "d", value[ENTRY_LIFE_MASS],
		        "WorkingLifeCelsius", "d", value[ENTRY_LIFE_DEGC]);
	if (r >= 0 && link->ui->entry.by_volume)
		r = sd_bus_message_append(call, "{sv}{sv}", "DensityAGramsPerMillilitre", "d",
		                          value[ENTRY_DENSITY_A], "DensityBGramsPerMillilitre", "d",
		                          value[ENTRY_DENSITY_B]);
	if (r >= 0)
		r = sd_bus_message_close_container(call);
	if (r >= 0)
		sd_bus_call_async(link->bus, NULL, call, on_entered, link, 0);
	sd_bus_message_unref(call);
}

static void ask_piece(struct bus_link *link)
{
	const char *piece = link->ui->piece;

	model_empty(link->model, MODEL_LAYERS);
	model_empty(link->model, MODEL_PLAN);
	link->model->plan_note[0] = '\0';
	sd_bus_call_method_async(link->bus, NULL, PIECES, "Layers", on_layers, link, "s", piece);
	sd_bus_call_method_async(link->bus, NULL, PIECES, "Plan", on_plan, link, "sa{sv}", piece,
	                         0);
}

/* true: it was the scale's. */
static bool send_care(struct bus_link *link, const struct order *order)
{
	const struct ui_check *check = &link->ui->check;

	switch ((int)order->kind) {
	case ORDER_APPROVE:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "Approve", on_done, link, "");
		break;
	case ORDER_CALIBRATE:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "StartCalibration", on_done, link,
		                         "a{sv}", 0);
		break;
	case ORDER_TAKE:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "CalibrationNext", on_done, link,
		                         "d", order->mass_g);
		break;
	case ORDER_ACCEPT:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "AcceptCalibration", on_accepted,
		                         link, "");
		break;
	case ORDER_GIVE_UP:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "CancelCalibration", on_done, link,
		                         "");
		break;
	case ORDER_CHECK:
		sd_bus_call_method_async(link->bus, NULL, SCALE, "Check", on_checked, link, "ds",
		                         check->weight_g, ui_classes[check->weight_class]);
		break;
	default:
		return false;
	}
	return true;
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

	if (!link->bus || send_care(link, order))
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
	case ORDER_FORGET:
	case ORDER_APPROVE:
	case ORDER_CALIBRATE:
	case ORDER_TAKE:
	case ORDER_ACCEPT:
	case ORDER_GIVE_UP:
	case ORDER_CHECK:
		break;
	case ORDER_ENTER:
		enter(link);
		break;
	case ORDER_PIECES:
		sd_bus_call_method_async(link->bus, NULL, PIECES, "List", on_pieces, link, "");
		break;
	case ORDER_PIECE:
		ask_piece(link);
		break;
	case ORDER_POUR:
		pour(link);
		break;
	case ORDER_PRACTICE:
		practice(link);
		break;
	}
}

int64_t bus_link_sequence(const struct bus_link *link)
{
	return link->sequence;
}
