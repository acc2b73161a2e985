/* SPDX-License-Identifier: MIT */
#include "notify.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>

#include "station.h"

#define LOOK_US 500000u /* without a watchdog: how often the status is looked at */

struct notify {
	struct station *station;
	sd_event_source *timer;
	uint64_t period_us, samples;
	bool watched, ready;
	char status[256];
};

bool notify_may_feed(uint64_t samples_before, uint64_t samples_now, bool source_says_why)
{
	return samples_now != samples_before || source_says_why;
}

static void tell_status(struct notify *notify)
{
	struct station *station = notify->station;
	char condition[64 + SCALE_MESSAGE_MAX], status[sizeof(notify->status)];

	station_condition(station, condition, sizeof(condition));
	snprintf(status, sizeof(status), "%s, %zu open batch(es)%s%.180s",
	         station->config->driver->name, batches_count_open(&station->batches),
	         condition[0] != '\0' ? ", scale: " : "", condition);
	if (strcmp(status, notify->status) == 0)
		return;
	memcpy(notify->status, status, sizeof(status));
	sd_notifyf(0, "STATUS=%s", status);
}

static int look(sd_event_source *source, uint64_t due_us, void *context)
{
	struct notify *notify = context;
	struct station *station = notify->station;
	const uint64_t samples = station->samples;
	char message[SCALE_MESSAGE_MAX];
	const bool says_why = acquisition_state(station->acquisition, message, sizeof(message)) !=
	                      ACQUISITION_RUNS;
	const bool well = notify_may_feed(notify->samples, samples, says_why);

	if (well && !notify->ready) {
		notify->ready = true;
		sd_notify(0, "READY=1");
	}
	tell_status(notify);
	if (well && notify->watched)
		sd_notify(0, "WATCHDOG=1");
	notify->samples = samples;
	sd_event_source_set_time(source, due_us + notify->period_us);
	sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
	return 0;
}

int notify_new(struct station *station, struct notify **ret)
{
	struct notify *notify = calloc(1, sizeof(*notify));
	uint64_t watchdog_us = 0, now_us;
	int r;

	if (notify == NULL)
		return -ENOMEM;
	notify->station = station;
	notify->watched = sd_watchdog_enabled(0, &watchdog_us) > 0;
	/* A third: one look may find the samples late. */
	notify->period_us =
	        notify->watched && watchdog_us / 3 < LOOK_US ? watchdog_us / 3 : LOOK_US;
	sd_event_now(station->event, CLOCK_MONOTONIC, &now_us);
	r = sd_event_add_time(station->event, &notify->timer, CLOCK_MONOTONIC,
	                      now_us + notify->period_us / 4, 1, look, notify);
	if (r < 0) {
		free(notify);
		return r;
	}
	sd_event_source_set_exit_on_failure(notify->timer, true);
	*ret = notify;
	return 0;
}

void notify_free(struct notify *notify)
{
	if (notify == NULL)
		return;
	sd_notify(0, "STOPPING=1");
	sd_event_source_unref(notify->timer);
	free(notify);
}
