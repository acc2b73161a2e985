/* SPDX-License-Identifier: MIT */
#include "live.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static volatile sig_atomic_t interrupted;

static void on_interrupt(int signal_number)
{
	(void)signal_number;
	interrupted = 1;
}

void live_catch_interrupt(void)
{
	struct sigaction action = {.sa_handler = on_interrupt};
	sigset_t set;

	sigemptyset(&action.sa_mask);
	/* Blocked but in ppoll(): it cannot slip in between the look and the wait. */
	sigemptyset(&set);
	sigaddset(&set, SIGINT);
	sigaddset(&set, SIGTERM);
	sigprocmask(SIG_BLOCK, &set, NULL);
	sigaction(SIGINT, &action, NULL);
	sigaction(SIGTERM, &action, NULL);
}

static int on_reading(sd_bus_message *message, void *userdata, sd_bus_error *error)
{
	struct live *live = userdata;
	struct live_reading *reading = &live->reading;
	const char *state, *cue;
	int64_t sequence, t_us;

	(void)error;
	if (sd_bus_message_read(message, "xxs", &sequence, &t_us, &state) < 0)
		return 0;
	reading->quantities.n = 0;
	if (dict_read(message, &reading->quantities) < 0 ||
	    sd_bus_message_read(message, "s", &cue) < 0)
		return 0;
	reading->sequence = sequence;
	reading->t_us = t_us;
	snprintf(reading->state, sizeof reading->state, "%s", state);
	snprintf(reading->cue, sizeof reading->cue, "%s", cue);
	live->events |= LIVE_READING;
	return 0;
}

static int on_step(sd_bus_message *message, void *userdata, sd_bus_error *error)
{
	struct live *live = userdata;
	struct live_step *step = &live->step;
	const char *name, *id, *sentence, *verdict;

	(void)error;
	if (sd_bus_message_read(message, "xxssss", &step->id, &step->t_us, &name, &id, &sentence,
	                        &verdict) < 0)
		return 0;
	snprintf(step->step, sizeof step->step, "%s", name);
	snprintf(step->message, sizeof step->message, "%s", id);
	snprintf(step->sentence, sizeof step->sentence, "%s", sentence);
	snprintf(step->verdict, sizeof step->verdict, "%s", verdict);
	live->events |= LIVE_STEP;
	return 0;
}

static int on_properties(sd_bus_message *message, void *userdata, sd_bus_error *error)
{
	struct live *live = userdata;
	const char *interface;

	(void)error;
	if (sd_bus_message_read(message, "s", &interface) < 0 ||
	    strcmp(interface, "org.ambo.Batch1") != 0)
		return 0;
	/* What is only named as invalid, or does not fit, is fetched whole. */
	if (dict_read(message, &live->batch) < 0 ||
	    sd_bus_message_enter_container(message, 'a', "s") < 0 ||
	    sd_bus_message_at_end(message, false) <= 0)
		live->stale = true;
	live->events |= LIVE_BATCH;
	return 0;
}

/* A scale that nobody follows may power down. */
static void watch(struct live *live)
{
	(void)sd_bus_call_method_async(live->bus, NULL, STATION_NAME, STATION_SCALE, "Watch", NULL,
	                               NULL, "");
}

static int on_owner(sd_bus_message *message, void *userdata, sd_bus_error *error)
{
	struct live *live = userdata;
	const char *name, *before, *after;

	(void)error;
	if (sd_bus_message_read(message, "sss", &name, &before, &after) < 0)
		return 0;
	live->gone = *after == '\0';
	live->stale = !live->gone;
	if (!live->gone)
		watch(live);
	live->events |= live->gone ? LIVE_GONE : LIVE_BACK | LIVE_BATCH;
	return 0;
}

int live_open(sd_bus *bus, struct live *live)
{
	int r;

	memset(live, 0, sizeof *live);
	live->bus = bus;
	r = sd_bus_match_signal(bus, NULL, STATION_NAME, STATION_SCALE, "Reading", on_reading,
	                        live);
	if (r >= 0)
		r = sd_bus_match_signal(bus, NULL, STATION_NAME, STATION_BATCH, "StepChanged",
		                        on_step, live);
	if (r >= 0)
		r = sd_bus_match_signal(bus, NULL, STATION_NAME, "/org/ambo/batch",
		                        "org.freedesktop.DBus.Properties", "PropertiesChanged",
		                        on_properties, live);
	if (r >= 0)
		r = sd_bus_add_match(bus, NULL,
		                     "type='signal',sender='org.freedesktop.DBus',"
		                     "member='NameOwnerChanged',arg0='" STATION_NAME "'",
		                     on_owner, live);
	if (r < 0)
		return bus_client_failed("cannot follow the station", r);
	watch(live);
	return bus_client_properties(bus, STATION_BATCH, &live->batch);
}

/* Waits for the bus, the descriptor or Ctrl-C. */
static int wait_ready(struct live *live, int fd, int timeout_ms)
{
	struct pollfd fds[2] = {{.fd = sd_bus_get_fd(live->bus)}, {.fd = fd, .events = POLLIN}};
	struct timespec left = {timeout_ms / 1000, timeout_ms % 1000 * 1000000L};
	int events = sd_bus_get_events(live->bus);
	sigset_t none;
	int r;

	if (events < 0)
		return events;
	fds[0].events = (short)events;
	sigemptyset(&none);
	r = ppoll(fds, fd < 0 ? 1 : 2, &left, &none);
	if (r < 0 && errno != EINTR)
		return -errno;
	if (r > 0 && fds[1].revents)
		live->events |= LIVE_KEY;
	if (interrupted)
		live->events |= LIVE_INTERRUPTED;
	return r;
}

int live_wait(struct live *live, int fd, int timeout_ms)
{
	bool waited = false;
	uint32_t events;
	int r;

	for (;;) {
		/* One message at a time, so that no reading overwrites another unseen. */
		r = sd_bus_process(live->bus, NULL);
		if (r < 0)
			return r;
		if (live->events || (r == 0 && waited))
			break;
		if (r == 0) {
			r = wait_ready(live, fd, timeout_ms);
			if (r < 0 && !live->events)
				return r;
			waited = r == 0;
		}
	}
	if (live->stale && bus_client_properties(live->bus, STATION_BATCH, &live->batch) == EXIT_OK)
		live->stale = false;
	events = live->events;
	live->events = 0;
	return (int)events;
}
