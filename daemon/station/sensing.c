/* SPDX-License-Identifier: MIT */
#include "sensing.h"

#include <errno.h>
#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "drivers/sensor.h"
#include "station.h"

#define LOOK_MAX_US INT64_C(1000000)
#define END_S       3

/* What a reading thread and the main loop share. Abandoned, it is the thread's alone. */
struct probe {
	char name[SENSING_NAME_MAX];
	enum sensor_kind kind;
	int64_t every_us;
	pthread_mutex_t lock; /* over what follows */
	pthread_cond_t wake, ended_cond;
	bool stopping, ended, abandoned;
	int64_t read_us; /* when the newest good read began; INT64_MIN: none yet */
	double value;
	int error; /* of the newest read, 0 or -errno */
	char message[SENSOR_MESSAGE_MAX];
};

struct seen {
	struct probe *probe; /* NULL: none configured */
	pthread_t thread;
	bool known, said;
	double value;
	char problem[SENSOR_MESSAGE_MAX + 64];
};

struct sensing {
	struct seen seen[SENSING_COUNT];
	int64_t begun_us, age_max_us, look_us;
	double every_s;
	sd_event_source *timer;
	void (*looked)(void *context, bool news);
	void *context;
};

/* A machine that slept has old values: its sleep counts. */
static int64_t now_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_BOOTTIME, &now);
	return now.tv_sec * INT64_C(1000000) + now.tv_nsec / 1000;
}

static void probe_free(struct probe *probe)
{
	pthread_mutex_destroy(&probe->lock);
	pthread_cond_destroy(&probe->wake);
	pthread_cond_destroy(&probe->ended_cond);
	free(probe);
}

/* One read, without the lock. A device that failed is looked for anew next time: it may
 * have been plugged in again under another number. */
static int read_once(struct probe *probe, struct sensor **sensor, double *ret, char *message)
{
	int r = 0;

	message[0] = '\0';
	if (*sensor == NULL)
		r = sensor_open(probe->name, probe->kind, "", message, sensor);
	if (r == 0)
		r = sensor_read(*sensor, ret);
	if (r == -ERANGE)
		snprintf(message, SENSOR_MESSAGE_MAX,
		         "'%.240s' gives no value such a sensor can have, or that of its power-on",
		         probe->name);
	else if (r < 0 && message[0] == '\0')
		snprintf(message, SENSOR_MESSAGE_MAX, "'%.240s' %s%s", probe->name,
		         r == -EBADMSG ? "holds no number" : "cannot be read: ",
		         r == -EBADMSG ? "" : strerror(-r));
	if (r < 0 && r != -ERANGE) {
		sensor_close(*sensor);
		*sensor = NULL;
	}
	return r;
}

static void wait_for_next(struct probe *probe)
{
	struct timespec until;

	clock_gettime(CLOCK_MONOTONIC, &until);
	until.tv_sec += probe->every_us / 1000000;
	until.tv_nsec += probe->every_us % 1000000 * 1000;
	if (until.tv_nsec >= 1000000000) {
		until.tv_sec++;
		until.tv_nsec -= 1000000000;
	}
	while (!probe->stopping &&
	       pthread_cond_timedwait(&probe->wake, &probe->lock, &until) != ETIMEDOUT)
		;
}

static void *read_for_ever(void *context)
{
	struct probe *probe = context;
	struct sensor *sensor = NULL;
	bool abandoned;

	pthread_mutex_lock(&probe->lock);
	while (!probe->stopping) {
		char message[SENSOR_MESSAGE_MAX];
		int64_t began_us;
		double value = NAN;
		int r;

		pthread_mutex_unlock(&probe->lock);
		began_us = now_us();
		r = read_once(probe, &sensor, &value, message);
		pthread_mutex_lock(&probe->lock);
		probe->error = r;
		memcpy(probe->message, message, sizeof(probe->message));
		if (r == 0) {
			probe->value = value;
			probe->read_us = began_us;
		}
		wait_for_next(probe);
	}
	probe->ended = true;
	abandoned = probe->abandoned;
	pthread_cond_signal(&probe->ended_cond);
	pthread_mutex_unlock(&probe->lock);
	sensor_close(sensor);
	if (abandoned)
		probe_free(probe);
	return NULL;
}

static int probe_new(const char *name, enum sensor_kind kind, double every_s, struct seen *ret)
{
	struct probe *probe = calloc(1, sizeof(*probe));
	pthread_condattr_t monotonic;
	sigset_t all, before;
	int r;

	if (probe == NULL)
		return -ENOMEM;
	snprintf(probe->name, sizeof(probe->name), "%s", name);
	probe->kind = kind;
	probe->every_us = (int64_t)(every_s * 1e6);
	probe->read_us = INT64_MIN;
	pthread_mutex_init(&probe->lock, NULL);
	pthread_condattr_init(&monotonic);
	pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC);
	pthread_cond_init(&probe->wake, &monotonic);
	pthread_cond_init(&probe->ended_cond, &monotonic);
	pthread_condattr_destroy(&monotonic);
	/* Signals are the loop's. */
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	r = -pthread_create(&ret->thread, NULL, read_for_ever, probe);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	if (r < 0) {
		probe_free(probe);
		return r;
	}
	ret->probe = probe;
	return 0;
}

/* What the probe says now; true when that is news. */
static bool look_at(const struct sensing *sensing, struct seen *seen)
{
	struct probe *probe = seen->probe;
	const bool was_known = seen->known;
	const double before = seen->value;
	const int64_t now = now_us();
	int64_t since_us;

	pthread_mutex_lock(&probe->lock);
	since_us = probe->read_us != INT64_MIN ? probe->read_us : sensing->begun_us;
	seen->value = probe->value;
	seen->known = probe->read_us != INT64_MIN && now - since_us <= sensing->age_max_us;
	seen->problem[0] = '\0';
	if (probe->error < 0)
		snprintf(seen->problem, sizeof(seen->problem), "%s", probe->message);
	else if (!seen->known && now - since_us > sensing->age_max_us)
		snprintf(seen->problem, sizeof(seen->problem),
		         "'%.240s' has not answered for %.0f s: is its bus stuck?", probe->name,
		         (double)(now - since_us) * 1e-6);
	pthread_mutex_unlock(&probe->lock);
	return seen->known != was_known || (seen->known && seen->value != before);
}

static void say(struct sensing *sensing, enum sensing_what what)
{
	struct seen *seen = &sensing->seen[what];

	if (seen->problem[0] != '\0' && !seen->said) {
		station_log("sensors: %s: %s; trying again every %.3g s", sensing_name(what),
		            seen->problem, sensing->every_s);
		seen->said = true;
	} else if (seen->problem[0] == '\0' && seen->known && seen->said) {
		station_log("sensors: %s: is back", sensing_name(what));
		seen->said = false;
	}
}

static int on_look(sd_event_source *source, uint64_t due_us, void *context)
{
	struct sensing *sensing = context;
	bool news = false;

	for (int what = 0; what < SENSING_COUNT; what++) {
		if (sensing->seen[what].probe == NULL)
			continue;
		if (look_at(sensing, &sensing->seen[what]))
			news = true;
		say(sensing, (enum sensing_what)what);
	}
	sd_event_source_set_time(source, due_us + (uint64_t)sensing->look_us);
	sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
	sensing->looked(sensing->context, news);
	return 0;
}

static int begin(struct sensing *sensing, sd_event *event, const struct sensing_config *config)
{
	uint64_t now;
	int r = 0;

	for (int what = 0; r >= 0 && what < SENSING_COUNT; what++)
		if (config->sensor[what][0] != '\0')
			r = probe_new(config->sensor[what],
			              what == SENSING_AIR_PCT ? SENSOR_HUMIDITY_PCT
			                                      : SENSOR_TEMPERATURE_DEGC,
			              config->every_s, &sensing->seen[what]);
	if (r < 0)
		return r;
	sd_event_now(event, CLOCK_MONOTONIC, &now);
	r = sd_event_add_time(event, &sensing->timer, CLOCK_MONOTONIC,
	                      now + (uint64_t)sensing->look_us, 10000, on_look, sensing);
	return r < 0 ? r : sd_event_source_set_exit_on_failure(sensing->timer, true);
}

int sensing_new(sd_event *event, const struct sensing_config *config,
                void (*looked)(void *context, bool news), void *context, struct sensing **ret)
{
	const double look_us = config->every_s * 1e6;
	struct sensing *sensing;
	bool any = false;
	int r;

	for (int what = 0; what < SENSING_COUNT; what++)
		any = any || config->sensor[what][0] != '\0';
	if (!any)
		return 0;
	sensing = calloc(1, sizeof(*sensing));
	if (sensing == NULL)
		return -ENOMEM;
	sensing->looked = looked;
	sensing->context = context;
	sensing->begun_us = now_us();
	sensing->every_s = config->every_s;
	sensing->age_max_us = (int64_t)((3.0 * config->every_s + 2.0) * 1e6);
	sensing->look_us = look_us < (double)LOOK_MAX_US ? (int64_t)look_us : LOOK_MAX_US;
	r = begin(sensing, event, config);
	if (r < 0) {
		sensing_free(sensing);
		return r;
	}
	*ret = sensing;
	return 0;
}

static void let_go(struct seen *seen, const struct timespec *until)
{
	struct probe *probe = seen->probe;
	bool ended;

	pthread_mutex_lock(&probe->lock);
	while (!probe->ended &&
	       pthread_cond_timedwait(&probe->ended_cond, &probe->lock, until) != ETIMEDOUT)
		;
	ended = probe->ended;
	probe->abandoned = !ended;
	pthread_mutex_unlock(&probe->lock);
	if (!ended) {
		pthread_detach(seen->thread);
		return;
	}
	pthread_join(seen->thread, NULL);
	probe_free(probe);
}

void sensing_free(struct sensing *sensing)
{
	struct timespec until;

	if (sensing == NULL)
		return;
	sd_event_source_disable_unref(sensing->timer);
	for (int what = 0; what < SENSING_COUNT; what++) {
		struct probe *probe = sensing->seen[what].probe;

		if (probe == NULL)
			continue;
		pthread_mutex_lock(&probe->lock);
		probe->stopping = true;
		pthread_cond_signal(&probe->wake);
		pthread_mutex_unlock(&probe->lock);
	}
	clock_gettime(CLOCK_MONOTONIC, &until);
	until.tv_sec += END_S;
	for (int what = 0; what < SENSING_COUNT; what++)
		if (sensing->seen[what].probe != NULL)
			let_go(&sensing->seen[what], &until);
	free(sensing);
}

bool sensing_value(const struct sensing *sensing, enum sensing_what what, double *ret)
{
	if (sensing == NULL || !sensing->seen[what].known)
		return false;
	*ret = sensing->seen[what].value;
	return true;
}

double sensing_or_nan(const struct sensing *sensing, enum sensing_what what)
{
	double value = NAN;

	(void)sensing_value(sensing, what, &value);
	return value;
}

const char *sensing_problem(const struct sensing *sensing, enum sensing_what what)
{
	return sensing == NULL ? "" : sensing->seen[what].problem;
}
