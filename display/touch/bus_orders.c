/* SPDX-License-Identifier: MIT */
/* What the person wants of the station, and what it answers. */
#define _GNU_SOURCE /* memfd_create */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "bus_inside.h"
#include "bus_read.h"
#include "say.h"

static int on_record(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		bus_refused(link, reply);
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

static int on_rows(sd_bus_message *reply, struct bus_link *link, enum model_part part)
{
	if (sd_bus_message_is_method_error(reply, NULL))
		bus_refused(link, reply);
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

static int on_checks(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	(void)error;
	return on_rows(reply, context, MODEL_CHECKS);
}

void bus_ask_checks(struct bus_link *link)
{
	sd_bus_call_method_async(link->bus, NULL, PIECES, "Checks", on_checks, link, "s",
	                         link->ui->piece);
}

static int on_drying(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	(void)error;
	return on_rows(reply, context, MODEL_DRYING);
}

static void ask_drying(struct bus_link *link)
{
	sd_bus_call_method_async(link->bus, NULL, PIECES, "Inclusions", on_drying, link, "s",
	                         link->ui->piece);
}

static int on_dried(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL))
		bus_refused(link, reply);
	else
		ask_drying(link);
	return 0;
}

/* One settled mass, then kept under the name it was asked for. */
static int on_dry_weighed(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;
	double mass_g, doubt_g;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		bus_refused(link, reply);
	} else if (sd_bus_message_read(reply, "dd", &mass_g, &doubt_g) >= 0) {
		if (mass_g > doubt_g)
			sd_bus_call_method_async(link->bus, NULL, PIECES, "Dry", on_dried, link,
			                         "sd", link->drying, mass_g);
		else
			snprintf(link->ui->notice, sizeof link->ui->notice, "%s",
			         _("Nothing is on the pan that this scale can weigh."));
	}
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static void dry(struct bus_link *link)
{
	snprintf(link->drying, sizeof link->drying, "%s",
	         link->model->drying[link->ui->drying].name);
	sd_bus_call_method_async(link->bus, NULL, SCALE, "Weigh", on_dry_weighed, link, "");
}

static int on_accepted(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL)) {
		bus_refused(link, reply);
	} else {
		ui_accepted(link->ui);
		bus_ask_scale(link);
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
		bus_refused(link, reply);
	} else if (sd_bus_message_read(reply, "sdd", &verdict, &error_g, &limit_g) >= 0) {
		ui_checked(link->ui, verdict, error_g, limit_g);
		bus_ask_scale(link);
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
		bus_refused(link, reply);
	} else if (sd_bus_message_read(reply, "s", &id) >= 0) {
		ui_entered(link->ui, id);
		sd_bus_call_method_async(link->bus, NULL, BATCH, "Systems", bus_on_systems, link,
		                         "");
	}
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_done(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL))
		bus_refused(link, reply);
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
		bus_refused(link, reply);
	else if (sd_bus_message_read(reply, "xs", &id, &warning) >= 0)
		say_read(warning, link->ui->notice, sizeof link->ui->notice);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
}

static int on_weighed(sd_bus_message *reply, void *context, sd_bus_error *error)
{
	struct bus_link *link = context;

	(void)error;
	if (sd_bus_message_is_method_error(reply, NULL))
		bus_refused(link, reply);
	else
		sd_bus_message_read(reply, "dd", &link->ui->weighed_g, &link->ui->weighed_doubt_g);
	link->events |= BUS_EVENT_ANSWER;
	return 0;
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

/* For the layer that was chosen: in as many batches as its plan says. */
static void pour(struct bus_link *link)
{
	const struct model_layer *layer = &link->ui->batches.layer;
	double batches = layer->batches > 1.0 ? layer->batches : 1.0;
	char number[16];
	sd_bus_message *call = NULL;
	int r;

	if (sd_bus_message_new_method_call(link->bus, &call, BATCH, "Begin") < 0)
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

	model_empty(link->model, MODEL_CHECKS);
	model_empty(link->model, MODEL_DRYING);
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
		sd_bus_call_method_async(link->bus, NULL, RECORDS, "List", bus_on_records, link,
		                         "xu", INT64_C(0), LIST_LIMIT);
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
	case ORDER_CHECKS:
		bus_ask_checks(link);
		break;
	case ORDER_DRYING:
		ask_drying(link);
		break;
	case ORDER_DRY:
		dry(link);
		break;
	case ORDER_PRACTICE:
		practice(link);
		break;
	}
}
