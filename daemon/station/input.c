/* SPDX-License-Identifier: MIT */
/* From the ring to the guide: samples become readings, time becomes ticks, rows of
 * the presses file become what a person did. */
#include <errno.h>
#include <math.h>
#include <string.h>

#include "bus.h"
#include "keep.h"
#include "panel_wire.h"
#include "station.h"

#define SHARE_MAX 256 /* things a turn of the loop: then bus and timers have theirs */

static struct batch *reading_batch(struct station *station)
{
	struct batch *batch = batches_pan(&station->batches);

	if (batch == NULL)
		batch = batches_shown(&station->batches);
	return batch != NULL && batch_open(batch) ? batch : NULL;
}

/* Tells everyone who cares of the newest reading. */
static void spread_reading(struct station *station)
{
	struct batch *batch = reading_batch(station);
	const int64_t now_us = station->timeline.now_us;
	struct guide_event event = {.kind = GUIDE_READING, .reading = station->reading};

	station->has_reading = true;
	station->sequence++;
	if (batch != NULL) {
		event.u_reading_g = uncertainty_reading_g(
		        &station->config->doubt, station->reading.sd_g,
		        fabs(station->reading.gross_g), (double)batch_time_us(batch, now_us) / 1e6);
		/* The guide keeps the batch's own time, as for every event. */
		event.reading.t_us = batch_time_us(batch, station->reading.t_us);
		event.reading.still_since_us = station->reading.still_since_us - batch->base_us;
		batches_feed(&station->batches, batch, &event, now_us);
	}
	if (station->bus != NULL)
		bus_reading(station->bus);
	panel_wire_touch(station->panel);
}

static void set_zero_tracking(struct station *station)
{
	weigher_set_zero_tracking(station->weigher,
	                          station->config->weigher.zero_tracking &&
	                                  batches_count_open(&station->batches) == 0 &&
	                                  !batches_waiting(&station->batches));
}

/* The batch that what comes now belongs to. */
static struct batch *follow_pan(struct station *station)
{
	struct batch *batch = reading_batch(station);

	keep_follow_pan(station, batch);
	return batch;
}

static void note_rate(struct station *station, int64_t t_us)
{
	const int64_t since_us = t_us - station->last_sample_us;

	if (station->samples > 0 && since_us > 0)
		station->rate_hz += (1e6 / (double)since_us - station->rate_hz) / 16.0;
	station->last_sample_us = t_us;
	station->samples++;
}

static void take_sample(struct station *station, const struct scale_sample *sample)
{
	const struct weigher_sample weighed = {.t_us = sample->t_us,
	                                       .counts = sample->counts,
	                                       .rail = (sample->flags & SCALE_RAIL) != 0,
	                                       .corrupt = (sample->flags & SCALE_VOID) != 0,
	                                       .repeat = (sample->flags & SCALE_REPEAT) != 0,
	                                       .moving = (sample->flags & SCALE_MOVING) != 0};
	const struct batch *batch = follow_pan(station);

	if (!weighed.repeat)
		note_rate(station, sample->t_us);
	if (station->inputs != NULL && batch != NULL)
		inputs_sample(station->inputs, batch->id, sample->t_us, sample->counts,
		              sample->flags);
	if (station->recording != NULL && trace_write_row(station->recording, sample) < 0) {
		station_log("the recording of %s ends: it cannot be written (%s)",
		            station->config->record_path, strerror(errno));
		fclose(station->recording);
		station->recording = NULL;
	}
	set_zero_tracking(station);
	weigher_feed(station->weigher, &weighed, &station->reading);
	scale_care_sample(station, &weighed);
	spread_reading(station);
}

/* While a source rests its silence is none. */
static int64_t silent_us(const struct station *station)
{
	return station->resting.rests ? INT64_MAX : weigher_silent_us(station->weigher);
}

static void take_silence(struct station *station)
{
	const int64_t now_us = station->timeline.now_us;

	if (resting_look(station))
		return;
	follow_pan(station);
	if (!weigher_tick(station->weigher, now_us, &station->reading))
		return;
	scale_care_tick(station, now_us);
	spread_reading(station);
	if (station->bus != NULL)
		bus_touch(station->bus);
}

static void take_tick(struct station *station)
{
	const int64_t now_us = station->timeline.now_us;
	const struct batch *pan;

	follow_pan(station);
	(void)resting_look(station);
	pan = batches_pan(&station->batches);
	for (size_t i = 0; i < BATCHES_MAX; i++) {
		struct batch *batch = &station->batches.batch[i];
		struct guide_event tick = {.kind = GUIDE_TICK};

		if (!batch_open(batch))
			continue;
		if (batch == pan && guide_on_pan(&batch->commit.committed) &&
		    station->reading.known && station->reading.state != READING_FAULT)
			batches_curve(&station->batches, batch, station->reading.gross_g, now_us);
		batches_feed(&station->batches, batch, &tick, now_us);
	}
	if (station->bus != NULL)
		bus_touch(station->bus);
}

static void next_press(struct station *station)
{
	char message[SCALE_MESSAGE_MAX];
	struct trace_press press;
	int r;

	station->has_press = false;
	if (station->presses == NULL)
		return;
	r = trace_presses_next(station->presses, &press, message);
	if (r > 0) {
		station->has_press = true;
		station->press_us = press.t_us;
		snprintf(station->press, sizeof(station->press), "%s", press.event);
	} else if (r < 0) {
		station_log("%s; the presses after it are not played", message);
		station->presses_failed = true;
	}
}

static void take_press(struct station *station)
{
	char why[ACTION_WHY_MAX], event[sizeof(station->press)];

	memcpy(event, station->press, sizeof(event));
	next_press(station);
	station->playing = true;
	if (action_from_text(station, event, why) < 0) {
		station_log("presses: '%s' at %lld us: %s", event,
		            (long long)station->timeline.now_us, why);
		station->presses_failed = true;
	}
	station->playing = false;
}

/* The source has no more: play the presses that come after it, then rest. */
static bool at_end(struct station *station)
{
	if (station->has_press) {
		timeline_put(&station->timeline,
		             &(struct ring_item){.kind = RING_TIME,
		                                 .sample = {.t_us = station->press_us}});
		return false;
	}
	if (!station->ended) {
		station->ended = true;
		if (station->recording != NULL)
			fflush(station->recording);
		if (station->inputs != NULL)
			inputs_flush(station->inputs);
		if (station->bus != NULL)
			bus_touch(station->bus);
	}
	if (station->exit_at_end && !batches_waiting(&station->batches))
		sd_event_exit(station->event, station->presses_failed ? -EBADMSG : 0);
	return true;
}

/* One thing; false when nothing is left, or nothing may be done now. */
static bool input_step(struct station *station)
{
	struct ring *ring = acquisition_ring(station->acquisition);
	char message[SCALE_MESSAGE_MAX];
	enum acquisition_state state;
	struct ring_item item;

	/* On its own time a source waits for the store: what a batch becomes must not
	 * depend on how fast a disk is. */
	if (station->config->driver->own_time && batches_waiting(&station->batches))
		return false;
	switch (timeline_next(&station->timeline,
	                      station->has_press ? station->press_us : INT64_MAX,
	                      silent_us(station), batches_count_open(&station->batches) > 0)) {
	case TIMELINE_NOTHING:
		state = acquisition_state(station->acquisition, message, sizeof(message));
		if (ring_pop(ring, &item, 1) == 0) {
			if (state == ACQUISITION_FAILS && station->exit_at_end &&
			    station->config->driver->own_time) /* a trace stays wrong */
				sd_event_exit(station->event, -EBADMSG);
			return state == ACQUISITION_ENDED && !at_end(station);
		}
		timeline_put(&station->timeline, &item);
		return true;
	case TIMELINE_PRESS:
		take_press(station);
		return true;
	case TIMELINE_TICK:
		take_tick(station);
		return true;
	case TIMELINE_SILENCE:
		take_silence(station);
		return true;
	case TIMELINE_SAMPLE:
		if (station->n_resume > 0)
			resume_go_on(station);
		take_sample(station, &station->timeline.item.sample);
		return true;
	}
	return false;
}

void input_go_on(struct station *station)
{
	sd_event_source_set_enabled(station->more, SD_EVENT_ONESHOT);
}

static int on_more(sd_event_source *source, void *context)
{
	struct station *station = context;

	(void)source;
	for (int i = 0; i < SHARE_MAX; i++)
		if (!input_step(station))
			return 0;
	input_go_on(station);
	return 0;
}

static int on_ring(sd_event_source *source, int fd, uint32_t revents, void *context)
{
	struct station *station = context;

	(void)fd;
	(void)revents;
	ring_seen(acquisition_ring(station->acquisition));
	return on_more(source, context);
}

/* Without a time of its own a source's silence is noticed by the station's clock; what
 * has come by then is looked at first, for a loop that is late is no silence. */
static int on_tick(sd_event_source *source, uint64_t due_us, void *context)
{
	struct station *station = context;
	struct ring_item item = {.kind = RING_TIME,
	                         .sample = {.t_us = (int64_t)due_us - TIMELINE_LATE_US}};
	uint64_t next_us = due_us + TIMELINE_TICK_US;
	int64_t silent;
	int i = 0;

	while (i < SHARE_MAX && input_step(station))
		i++;
	silent = silent_us(station);
	if (silent <= (int64_t)due_us && silent > item.sample.t_us)
		item.sample.t_us = silent;
	if (i < SHARE_MAX && !station->timeline.has_item)
		timeline_put(&station->timeline, &item);
	input_go_on(station);
	/* Samples that come until the next tick can only put it off. */
	if (silent > (int64_t)due_us && silent < (int64_t)next_us)
		next_us = (uint64_t)silent;
	sd_event_source_set_time(source, next_us);
	sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
	return 0;
}

static int open_presses(struct station *station)
{
	char message[SCALE_MESSAGE_MAX] = "";
	const struct conf_passed *options = &station->config->options;

	for (size_t i = 0; i < options->n; i++) {
		int r;

		if (strcmp(options->option[i].key, "presses") != 0)
			continue;
		station->presses_path = options->option[i].value;
		r = trace_presses_open(station->presses_path, message, &station->presses);
		if (r < 0) {
			station_log("%s: presses: %s; expected a file of t_us,event",
			            options->option[i].where, message);
			return r;
		}
		next_press(station);
		return station->presses_failed ? -EBADMSG : 0;
	}
	return 0;
}

int input_init(struct station *station)
{
	sd_event_source *source = NULL;
	uint64_t now_us;
	int r;

	timeline_init(&station->timeline);
	r = open_presses(station);
	if (r < 0)
		return r;
	r = acquisition_start(station->config->driver, station->scale, &station->acquisition);
	if (r < 0)
		return r;
	r = sd_event_add_io(station->event, &source,
	                    ring_fd(acquisition_ring(station->acquisition)), EPOLLIN, on_ring,
	                    station);
	if (r < 0)
		return r;
	sd_event_source_set_exit_on_failure(source, true);
	sd_event_source_set_floating(source, true);
	sd_event_source_unref(source);
	r = sd_event_add_defer(station->event, &station->more, on_more, station);
	if (r < 0)
		return r;
	sd_event_source_set_exit_on_failure(station->more, true);
	if (station->config->driver->own_time)
		return 0;
	sd_event_now(station->event, CLOCK_MONOTONIC, &now_us);
	r = sd_event_add_time(station->event, &source, CLOCK_MONOTONIC, now_us + TIMELINE_TICK_US,
	                      1, on_tick, station);
	if (r < 0)
		return r;
	sd_event_source_set_exit_on_failure(source, true);
	sd_event_source_set_floating(source, true);
	sd_event_source_unref(source);
	return 0;
}

void input_done(struct station *station)
{
	acquisition_stop(station->acquisition);
	station->acquisition = NULL;
	station->more = sd_event_source_unref(station->more);
	trace_presses_free(station->presses);
	station->presses = NULL;
}
