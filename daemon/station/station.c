/* SPDX-License-Identifier: MIT */
#include "station.h"

#include <errno.h>
#include <signal.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "after_told.h"
#include "bus.h"
#include "cup_clock.h"
#include "keep.h"
#include "notify.h"
#include "panel_wire.h"
#include "pieces.h"
#include "worker.h"

#define STAMP_US 60000000u /* how often the clocks are kept */

void station_log(const char *format, ...)
{
	char line[2048];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(line, sizeof(line), format, arguments);
	va_end(arguments);
	fprintf(stderr, "ambod: %s\n", line);
}

int64_t station_clock_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000) + now.tv_nsec / 1000;
}

int64_t station_now_us(struct station *station)
{
	if (station->playing)
		return station->timeline.now_us;
	/* Not by a clock that is ahead of what came out: a sample of before may still come,
	 * and would be replayed before this. */
	if (station->config->driver->own_time || station->timeline.begun)
		return timeline_stamp(&station->timeline, INT64_MIN);
	return timeline_stamp(&station->timeline, station_clock_us());
}

void station_photos_folder(const struct station *station, char *ret)
{
	snprintf(ret, PATH_MAX, "%.2000s.photos", station->config->store_path);
}

void station_condition(const struct station *station, char *ret, size_t size)
{
	const struct reading *reading = &station->reading;
	char message[SCALE_MESSAGE_MAX] = "";
	const enum acquisition_state state =
	        acquisition_state(station->acquisition, message, sizeof(message));

	if (state == ACQUISITION_FAILS)
		snprintf(ret, size, "failed: %s", message);
	else if (state == ACQUISITION_ENDED && station->ended)
		snprintf(ret, size, "ended");
	else if (state == ACQUISITION_RESTS || station->resting.rests)
		snprintf(ret, size, "resting");
	else if (!station->has_reading)
		snprintf(ret, size, "%s", resting_overdue(station) ? "silent" : "waiting");
	else if (reading->state == READING_FAULT)
		snprintf(ret, size, "%s",
		         reading->silent      ? "silent"
		         : reading->underload ? "underload"
		         : reading->overload  ? "overload"
		                              : "rail");
	else
		snprintf(ret, size, "%s",
		         reading->overload                     ? "overload"
		         : reading->underload                  ? "underload"
		         : !reading->warm                      ? "warming"
		         : station->care.due.id != ADVICE_NONE ? advice_name(station->care.due.id)
		                                               : "");
}

static int on_signal(sd_event_source *source, const struct signalfd_siginfo *info, void *context)
{
	(void)info;
	(void)context;
	return sd_event_exit(sd_event_source_get_event(source), 0);
}

static int on_completions(sd_event_source *source, int fd, uint32_t revents, void *context)
{
	struct station *station = context;

	(void)source;
	(void)fd;
	(void)revents;
	store_thread_dispatch(station->records);
	input_go_on(station);
	return 0;
}

static void keep_stamp(struct store *store, void *context)
{
	struct store_stamp stamp;

	(void)context;
	store_stamp_now(&stamp);
	(void)store_keep_stamp(store, &stamp); /* the next minute tries again */
}

static int on_minute(sd_event_source *source, uint64_t due_us, void *context)
{
	struct station *station = context;

	(void)store_thread_submit(station->records, keep_stamp, NULL, NULL);
	scale_care_look(station);
	sd_event_source_set_time(source, due_us + STAMP_US);
	sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
	return 0;
}

/* A callback that fails must end the daemon, not go silent. */
static void adopt(sd_event_source *source)
{
	sd_event_source_set_exit_on_failure(source, true);
	sd_event_source_set_floating(source, true);
	sd_event_source_unref(source);
}

static int add_sources(struct station *station)
{
	static const int signals[] = {SIGTERM, SIGINT};
	sd_event_source *source;
	uint64_t now_us;
	int r;

	for (size_t i = 0; i < sizeof(signals) / sizeof(signals[0]); i++) {
		r = sd_event_add_signal(station->event, &source, signals[i], on_signal, station);
		if (r < 0)
			return r;
		adopt(source);
	}
	r = sd_event_add_io(station->event, &source, store_thread_fd(station->records), EPOLLIN,
	                    on_completions, station);
	if (r < 0)
		return r;
	adopt(source);
	sd_event_now(station->event, CLOCK_BOOTTIME, &now_us);
	r = sd_event_add_time(station->event, &source, CLOCK_BOOTTIME, now_us, 1000000, on_minute,
	                      station);
	if (r < 0)
		return r;
	adopt(source);
	return 0;
}

static int open_store(struct station *station)
{
	const struct station_config *config = station->config;
	char message[STORE_MESSAGE_MAX] = "", folder[PATH_MAX];
	struct store *store = NULL;
	double zero_g;
	int r;

	r = store_open(config->store_path, false, message, &store);
	if (r < 0) {
		station_log("%s", message[0] != '\0' ? message : strerror(-r));
		return r;
	}
	r = scale_care_load(station, store);
	if (r < 0) {
		station_log("%s: the scale's calibration cannot be read: %s", config->store_path,
		            store_reason(r));
		store_close(store);
		return r;
	}
	if (store_get_number(store, "zero_g", &zero_g) >= 0)
		weigher_set_zero_g(station->weigher, zero_g);
	r = resume_find(station, store);
	if (r < 0) {
		station_log("%s: the open batches cannot be read: %s", config->store_path,
		            store_reason(r));
		store_close(store);
		return r;
	}
	r = pieces_load(station, store, &station->pieces);
	if (r < 0) {
		station_log("%s: the pieces cannot be read: %s", config->store_path,
		            store_reason(r));
		store_close(store);
		return r;
	}
	r = store_thread_start(store, &station->records);
	if (r < 0) {
		store_close(store);
		return r;
	}
	station->batches.records = station->records;
	if (config->keep_inputs == 0)
		return 0;
	snprintf(folder, sizeof(folder), "%.2000s.inputs", config->store_path);
	r = inputs_new(folder, (unsigned)config->keep_inputs, INPUTS_BYTES_MAX, &station->inputs);
	station->batches.inputs = station->inputs;
	return r;
}

static int open_scale(struct station *station)
{
	const struct station_config *config = station->config;
	char message[SCALE_MESSAGE_MAX] = "";
	int r;

	r = config->driver->open(config->options.option, config->options.n, message,
	                         &station->scale);
	if (r < 0)
		station_log("%s", message[0] != '\0' ? message : strerror(-r));
	return r;
}

static int open_recording(struct station *station)
{
	const struct weigher_config *weigher = &station->config->weigher;
	const struct trace_about about = {
	        .has = TRACE_HAS_COUNTS_PER_G | TRACE_HAS_ZERO_COUNTS,
	        .counts_per_g = 1.0 / weigher->calibration.g_per_count,
	        .zero_counts = weigher->calibration.zero_counts,
	};
	int r;

	if (station->config->record_path[0] == '\0')
		return 0;
	/* x: never over a recording that is there already. */
	station->recording = fopen(station->config->record_path, "wx");
	r = station->recording == NULL ? -errno : trace_write_header(station->recording, &about);
	if (r < 0)
		station_log("%s: the recording cannot be begun (%s); expected a new file in a "
		            "folder that can be written",
		            station->config->record_path, strerror(-r));
	return r;
}

static int station_open(struct station *station)
{
	int r;

	r = sd_event_default(&station->event);
	if (r < 0)
		return r;
	r = weigher_new(&station->config->weigher, &station->weigher);
	if (r < 0)
		return r;
	station->batches.told = after_told;
	station->batches.lighter = keep_lighter;
	station->batches.context = station;
	if ((r = open_store(station)) < 0 || (r = open_scale(station)) < 0 ||
	    (r = open_recording(station)) < 0 || (r = input_init(station)) < 0 ||
	    (r = add_sources(station)) < 0 ||
	    (r = worker_new(station->event, &station->worker)) < 0 ||
	    (r = bus_new(station, &station->bus)) < 0 || (r = pieces_start(station->pieces)) < 0 ||
	    (r = cup_clock_start(station)) < 0 ||
	    (r = panel_wire_new(station, &station->panel)) < 0 ||
	    (r = sensing_new(station->event, &station->config->sensors, sensed_look, station,
	                     &station->sensing)) < 0)
		return r;
	return notify_new(station, &station->notify);
}

int station_new(const struct station_config *config, bool exit_at_end, struct station **ret)
{
	struct station *station = calloc(1, sizeof(*station));
	int r;

	if (station == NULL)
		return -ENOMEM;
	station->configured = config;
	station->effective = *config; /* what it points to stays the caller's */
	station->config = &station->effective;
	station->exit_at_end = exit_at_end;
	r = station_open(station);
	if (r < 0) {
		station_free(station);
		return r;
	}
	*ret = station;
	return 0;
}

int station_run(struct station *station)
{
	int r = sd_event_loop(station->event);

	/* A lost bus ends the loop with a status of its own: that is a failure, after which
	 * the service manager starts the station again. */
	return r > 0 ? -ENOTCONN : r;
}

void station_free(struct station *station)
{
	if (station == NULL)
		return;
	notify_free(station->notify);
	sensing_free(station->sensing);
	panel_wire_free(station->panel);
	if (station->acquisition != NULL)
		input_done(station);
	if (station->scale != NULL)
		station->config->driver->close(station->scale);
	if (station->records != NULL)
		for (size_t i = 0; i < BATCHES_MAX; i++)
			if (station->batches.batch[i].used)
				batches_curve_flush(&station->batches, &station->batches.batch[i]);
	worker_free(station->worker);
	station->worker = NULL; /* what still comes out of the store finds none */
	cup_clock_done(station);
	/* Completions may still answer calls: the bus goes last. */
	store_thread_stop(station->records);
	pieces_free(station->pieces);
	bus_free(station->bus);
	inputs_free(station->inputs);
	if (station->recording != NULL && fclose(station->recording) != 0)
		station_log("%s: the end of the recording is lost (%s)",
		            station->config->record_path, strerror(errno));
	scale_care_done(station);
	weigher_free(station->weigher);
	free(station->resume);
	sd_event_unref(station->event);
	free(station);
}
