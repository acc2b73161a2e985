/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "bus_inside.h"

#define CHANGES_US     200000 /* properties change at most 5 times a second */
#define READINGS_PER_S 100.0
#define READINGS_BURST 20.0
#define QUEUE_MAX      64u /* messages waiting to be sent: past it, what can be dropped is */

int bus_refuse(sd_bus_message *message, const char *name, const char *format, ...)
{
	char full[96], sentence[1024];
	va_list arguments;

	snprintf(full, sizeof(full), BUS_PREFIX ".Error.%s", name);
	va_start(arguments, format);
	vsnprintf(sentence, sizeof(sentence), format, arguments);
	va_end(arguments);
	return sd_bus_reply_method_errorf(message, full, "%s", sentence);
}

const char *bus_error_name(int error)
{
	switch (-error) {
	case EAGAIN:
		return "NotNow";
	case EALREADY:
		return "Finished";
	case ENOENT:
		return "NoBatch";
	case ERANGE:
		return "OutOfRange";
	case EINVAL:
		return "BadRequest";
	default:
		return "Busy";
	}
}

bool bus_to_store(const struct bus_call *call, void (*run)(struct store *, void *),
                  void (*done)(void *), void *job)
{
	if (store_thread_submit(call->bus->station->records, run, done, job) >= 0)
		return true;
	bus_refuse(call->message, "Busy", "The store is too slow now: wait, then try again.");
	return false;
}

int bus_rows_begin(sd_bus_message *message, sd_bus_message **ret_reply)
{
	int r;

	*ret_reply = NULL;
	r = sd_bus_message_new_method_return(message, ret_reply);
	if (r >= 0)
		r = sd_bus_message_open_container(*ret_reply, 'a', "a{sv}");
	if (r < 0)
		*ret_reply = sd_bus_message_unref(*ret_reply);
	return r;
}

int bus_rows_end(sd_bus_message *reply, int r)
{
	if (r >= 0)
		r = sd_bus_message_close_container(reply);
	if (r >= 0)
		r = sd_bus_send(NULL, reply, NULL);
	sd_bus_message_unref(reply);
	return r;
}

struct bus_call *bus_call_keep(struct bus *bus, sd_bus_message *message)
{
	const char *sender = sd_bus_message_get_sender(message);
	struct bus_call *free_call = NULL;
	unsigned of_sender = 0;

	for (size_t i = 0; i < STATION_CALLS_MAX; i++) {
		struct bus_call *call = &bus->calls[i];
		const char *other;

		if (call->message == NULL) {
			free_call = call;
			continue;
		}
		other = sd_bus_message_get_sender(call->message);
		of_sender += sender != NULL && other != NULL && strcmp(sender, other) == 0;
	}
	if (free_call == NULL || of_sender >= BUS_CALLS_A_SENDER) {
		bus_refuse(message, "Busy", "Too many calls wait for an answer already: wait.");
		return NULL;
	}
	*free_call = (struct bus_call){.bus = bus, .message = sd_bus_message_ref(message)};
	return free_call;
}

void bus_call_drop(struct bus_call *call)
{
	call->message = sd_bus_message_unref(call->message);
}

const struct batch_shown *bus_shown(struct bus *bus)
{
	struct batch *batch;
	struct guide_view view;

	if (!bus->stale)
		return &bus->shown;
	batch = batches_shown(&bus->station->batches);
	if (batch == NULL) {
		shown_none(&bus->shown);
	} else {
		commit_look(&batch->commit, &view);
		shown_make(batch->id, &batch->commit.committed, &view, &bus->shown);
	}
	bus->stale = false;
	return &bus->shown;
}

/* A client that does not read must not make the daemon's memory grow. */
static bool congested(struct bus *bus)
{
	uint64_t queued = 0;

	return sd_bus_get_n_queued_write(bus->bus, &queued) < 0 || queued > QUEUE_MAX;
}

static void send_changes(struct bus *bus)
{
	const struct batch_shown *now;
	uint32_t differs;

	if (congested(bus))
		return; /* the timer comes again */
	bus_scale_changed(bus);
	now = bus_shown(bus);
	differs = shown_differs(&bus->sent, now);
	if (bus_batch_changed(bus, differs, true) >= 0)
		bus->sent = *now;
}

static void arm(struct bus *bus)
{
	int enabled = SD_EVENT_OFF;

	if (bus->timer == NULL || sd_event_source_get_enabled(bus->timer, &enabled) < 0 ||
	    enabled != SD_EVENT_OFF)
		return;
	sd_event_source_set_time(bus->timer, (uint64_t)(station_clock_us() + CHANGES_US));
	sd_event_source_set_enabled(bus->timer, SD_EVENT_ONESHOT);
}

static int on_timer(sd_event_source *source, uint64_t due_us, void *context)
{
	struct bus *bus = context;

	(void)source;
	(void)due_us;
	bus->stale = true;
	send_changes(bus);
	bus_weigh_look(bus);
	for (size_t i = 0; i < STATION_CALLS_MAX; i++)
		if (bus->calls[i].message != NULL && bus->calls[i].deadline_us != 0) {
			arm(bus); /* a call waits for its time-out */
			break;
		}
	return 0;
}

void bus_touch(struct bus *bus)
{
	bus->stale = true;
	arm(bus);
}

/* The calls that led to a commit, once nothing of the batch is under way any more. */
static void answer_commits(struct bus *bus, const struct batch *batch, const char *failure)
{
	for (size_t i = 0; i < STATION_CALLS_MAX; i++) {
		struct bus_call *call = &bus->calls[i];

		if (call->message == NULL || call->batch_id != batch->id || call->batch_id == 0)
			continue;
		if (failure != NULL)
			bus_refuse(call->message, "StoreFailed",
			           "It could not be stored (%s): the batch is held.", failure);
		else if (!batch->commit.waiting)
			sd_bus_reply_method_return(call->message, "");
		else
			continue;
		bus_call_drop(call);
	}
}

void bus_told(struct bus *bus, const struct batch *batch, const char *failure)
{
	const struct guide *guide = &batch->commit.committed;
	char sentence[WORDS_SENTENCE_MAX];
	struct guide_view view;

	bus_touch(bus);
	answer_commits(bus, batch, failure);
	if (congested(bus))
		return;
	guide_look(guide, &view);
	words_sentence(&view.message, &guide->recipe.system, sentence, sizeof(sentence));
	send_changes(bus);
	sd_bus_emit_signal(bus->bus, BUS_BATCH_PATH, BUS_BATCH, "StepChanged", "xxssss", batch->id,
	                   batch_time_us(batch, bus->station->timeline.now_us),
	                   guide_step_name(view.step), message_name(view.message.id), sentence,
	                   verdict_name(view.verdict));
}

static bool reading_due(struct bus *bus)
{
	const int64_t now_us = station_clock_us();

	bus->readings += (double)(now_us - bus->readings_us) * 1e-6 * READINGS_PER_S;
	bus->readings_us = now_us;
	if (bus->readings > READINGS_BURST)
		bus->readings = READINGS_BURST;
	if (bus->readings < 1.0)
		return false;
	bus->readings -= 1.0;
	return true;
}

static int put_reading(sd_bus_message *signal, struct station *station)
{
	const struct reading *reading = &station->reading;
	struct batch *batch = batches_shown(&station->batches);
	struct guide_view view = {.cue = CUE_NONE};
	int r;

	if (batch != NULL)
		commit_look(&batch->commit, &view);
	r = sd_bus_message_append(signal, "xxs", station->sequence, reading->t_us,
	                          reading_state_name(reading->state));
	if (r >= 0)
		r = dict_begin(signal);
	if (r >= 0 && reading->known && reading->state != READING_FAULT && !reading->overload) {
		dict_put_double(signal, "NetGrams", reading->net_g);
		dict_put_double(signal, "GrossGrams", reading->gross_g);
		dict_put_double(signal, "RateGramsPerSecond", reading->rate_g_per_s);
		dict_put_double(signal, "DoubtGrams",
		                uncertainty_reading_g(&station->config->doubt, reading->sd_g,
		                                      fabs(reading->gross_g), 0.0));
	}
	if (r >= 0 && (view.has & VIEW_HAS_PREDICTED))
		dict_put_double(signal, "PredictedGrams", view.predicted_g);
	if (r >= 0 && (view.has & VIEW_HAS_TARGET))
		dict_put_double(signal, "RemainingGrams", view.remaining_g);
	if (r >= 0)
		r = dict_end(signal);
	return r < 0 ? r : sd_bus_message_append(signal, "s", cue_name(view.cue));
}

void bus_reading(struct bus *bus)
{
	sd_bus_message *signal = NULL;

	bus_touch(bus);
	bus_weigh_look(bus);
	if (!reading_due(bus) || congested(bus))
		return;
	if (sd_bus_message_new_signal(bus->bus, &signal, BUS_SCALE_PATH, BUS_SCALE, "Reading") >=
	            0 &&
	    put_reading(signal, bus->station) >= 0)
		(void)sd_bus_send(NULL, signal, NULL); /* lost with the connection, which ends us */
	sd_bus_message_unref(signal);
}

static int connect_bus(struct station *station, sd_bus **ret)
{
	const bool system = station->config->system_bus;
	int r = system ? sd_bus_open_system(ret) : sd_bus_open_user(ret);

	if (r < 0)
		station_log("the %s bus cannot be reached (%s); %s", system ? "system" : "session",
		            strerror(-r),
		            system ? "is the D-Bus daemon running?"
		                   : "start ambod within dbus-run-session, or set bus.which");
	return r;
}

static int add_objects(struct bus *bus)
{
	const struct {
		const char *path, *interface;
		const sd_bus_vtable *vtable;
	} objects[] = {
	        {BUS_SCALE_PATH, BUS_SCALE, bus_scale_vtable},
	        {BUS_BATCH_PATH, BUS_BATCH, bus_batch_vtable},
	        {BUS_RECORDS_PATH, BUS_RECORDS, bus_records_vtable},
	        {BUS_PIECES_PATH, BUS_PIECES, bus_pieces_vtable},
	        {BUS_BENCH_PATH, BUS_BENCH, bus_bench_vtable},
	};
	int r = 0;

	for (size_t i = 0; r >= 0 && i < sizeof(objects) / sizeof(objects[0]); i++) {
		if (objects[i].vtable == bus_bench_vtable &&
		    bus->station->config->driver->act == NULL)
			continue; /* there is nothing to act on */
		r = sd_bus_add_object_vtable(bus->bus, NULL, objects[i].path, objects[i].interface,
		                             objects[i].vtable, bus);
	}
	return r;
}

/* A call is somebody: a scale at rest wakes. */
static int on_any(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;

	(void)error;
	if (sd_bus_message_is_method_call(message, NULL, NULL) > 0)
		resting_touch(bus->station);
	return 0;
}

bool bus_is_watched(const struct bus *bus)
{
	bool waits = false;

	for (size_t i = 0; i < STATION_CALLS_MAX; i++)
		waits = waits || bus->calls[i].message != NULL;
	return waits || sd_bus_track_count(bus->watchers) > 0;
}

static int bus_open(struct bus *bus)
{
	struct station *station = bus->station;
	int r;

	r = connect_bus(station, &bus->bus);
	if (r < 0)
		return r;
	r = add_objects(bus);
	if (r >= 0)
		r = sd_bus_track_new(bus->bus, &bus->watchers, NULL, NULL);
	if (r >= 0)
		r = sd_bus_add_filter(bus->bus, NULL, on_any, bus);
	if (r < 0)
		return r;
	r = sd_event_add_time(station->event, &bus->timer, CLOCK_MONOTONIC,
	                      (uint64_t)station_clock_us(), 1, on_timer, bus);
	if (r < 0)
		return r;
	sd_event_source_set_exit_on_failure(bus->timer, true);
	sd_bus_set_exit_on_disconnect(bus->bus, true);
	r = sd_bus_request_name(bus->bus, BUS_SERVICE, 0);
	if (r < 0) {
		station_log(
		        "the name %s cannot be had on the bus (%s); %s", BUS_SERVICE, strerror(-r),
		        r == -EEXIST ? "another ambod runs there" : "is the bus policy installed?");
		return r;
	}
	return sd_bus_attach_event(bus->bus, station->event, SD_EVENT_PRIORITY_NORMAL);
}

int bus_new(struct station *station, struct bus **ret)
{
	struct bus *bus = calloc(1, sizeof(*bus));
	int r;

	if (bus == NULL)
		return -ENOMEM;
	bus->station = station;
	bus->stale = true;
	bus->readings_us = station_clock_us();
	r = bus_open(bus);
	if (r < 0) {
		bus_free(bus);
		return r;
	}
	*ret = bus;
	return 0;
}

void bus_free(struct bus *bus)
{
	if (bus == NULL)
		return;
	for (size_t i = 0; i < STATION_CALLS_MAX; i++)
		bus_call_drop(&bus->calls[i]);
	sd_event_source_unref(bus->timer);
	sd_bus_track_unref(bus->watchers);
	sd_bus_flush_close_unref(bus->bus);
	free(bus);
}
