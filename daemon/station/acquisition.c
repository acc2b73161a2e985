/* SPDX-License-Identifier: MIT */
#include "acquisition.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define RING_CAPACITY   256u /* over 3 s at 80 samples/s */
#define READ_TIMEOUT_MS 100  /* also how soon a silence is told of, and the thread ends */
#define RETRY_MS        500

struct acquisition {
	const struct scale_driver *driver;
	struct scale *scale;
	struct ring *ring;
	pthread_t thread;
	atomic_bool stopping;
	pthread_mutex_t lock; /* over what follows */
	enum acquisition_state state;
	char message[SCALE_MESSAGE_MAX];
};

static void set_state(struct acquisition *acquisition, enum acquisition_state state,
                      const char *message)
{
	pthread_mutex_lock(&acquisition->lock);
	acquisition->state = state;
	snprintf(acquisition->message, sizeof(acquisition->message), "%s", message);
	pthread_mutex_unlock(&acquisition->lock);
}

/* Tells the loop to look at the state although nothing was pushed. */
static void wake(struct acquisition *acquisition)
{
	const uint64_t one = 1;

	(void)!write(ring_fd(acquisition->ring), &one, sizeof(one));
}

/* What the driver has to say although it works, once. */
static void pass_on_notice(struct acquisition *acquisition)
{
	char message[SCALE_MESSAGE_MAX] = "";

	if (acquisition->driver->notice != NULL &&
	    acquisition->driver->notice(acquisition->scale, message) > 0)
		fprintf(stderr, "ambod: scale: %s\n", message);
}

/* Why it does not weigh: once, and again when the reason changes. */
static void tell_failure(char *told, const char *message)
{
	if (strcmp(told, message) == 0)
		return;
	fprintf(stderr, "ambod: scale: %s; trying again\n", message);
	snprintf(told, SCALE_MESSAGE_MAX, "%s", message);
}

static void pause_ms(int ms)
{
	const struct timespec wait = {.tv_sec = ms / 1000, .tv_nsec = (ms % 1000) * 1000000L};

	nanosleep(&wait, NULL);
}

static void *acquire(void *context)
{
	struct acquisition *acquisition = context;
	enum acquisition_state state = ACQUISITION_RUNS;
	char message[SCALE_MESSAGE_MAX], told[SCALE_MESSAGE_MAX] = "";

	while (!atomic_load(&acquisition->stopping)) {
		struct ring_item item = {.sample = {.t_us = INT64_MIN}};
		int r;

		message[0] = '\0';
		r = acquisition->driver->read(acquisition->scale, READ_TIMEOUT_MS, &item.sample,
		                              message);
		pass_on_notice(acquisition);
		if (r == -ENODATA) {
			set_state(acquisition, ACQUISITION_ENDED, message);
			wake(acquisition);
			break;
		}
		if (r < 0) {
			if (message[0] == '\0')
				snprintf(message, sizeof(message), "%s", strerror(-r));
			set_state(acquisition, ACQUISITION_FAILS, message);
			tell_failure(told, message);
			state = ACQUISITION_FAILS;
			wake(acquisition);
			pause_ms(RETRY_MS);
			continue;
		}
		if (r > 0 && state != ACQUISITION_RUNS) {
			state = ACQUISITION_RUNS;
			set_state(acquisition, state, "");
			fprintf(stderr, "ambod: scale: it weighs again\n");
			told[0] = '\0';
		}
		item.kind = r > 0 ? RING_SAMPLE : RING_TIME;
		if (r == 0 && (!acquisition->driver->own_time || item.sample.t_us == INT64_MIN))
			continue;
		if (ring_push(acquisition->ring, &item) == -ECANCELED)
			break;
	}
	return NULL;
}

int acquisition_start(const struct scale_driver *driver, struct scale *scale,
                      struct acquisition **ret)
{
	struct acquisition *acquisition = calloc(1, sizeof(*acquisition));
	sigset_t all, before;
	int r;

	if (acquisition == NULL)
		return -ENOMEM;
	acquisition->driver = driver;
	acquisition->scale = scale;
	pthread_mutex_init(&acquisition->lock, NULL);
	r = ring_new(RING_CAPACITY, driver->own_time != 0, &acquisition->ring);
	if (r < 0)
		goto out;
	/* Signals are the loop's: none may interrupt a driver's timing. */
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	r = -pthread_create(&acquisition->thread, NULL, acquire, acquisition);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
out:
	if (r < 0) {
		ring_free(acquisition->ring);
		free(acquisition);
		return r;
	}
	*ret = acquisition;
	return 0;
}

void acquisition_stop(struct acquisition *acquisition)
{
	if (acquisition == NULL)
		return;
	atomic_store(&acquisition->stopping, true);
	ring_close(acquisition->ring);
	pthread_join(acquisition->thread, NULL);
	ring_free(acquisition->ring);
	pthread_mutex_destroy(&acquisition->lock);
	free(acquisition);
}

struct ring *acquisition_ring(struct acquisition *acquisition)
{
	return acquisition->ring;
}

enum acquisition_state acquisition_state(struct acquisition *acquisition, char *ret_message,
                                         size_t size)
{
	enum acquisition_state state;

	pthread_mutex_lock(&acquisition->lock);
	state = acquisition->state;
	snprintf(ret_message, size, "%s", acquisition->message);
	pthread_mutex_unlock(&acquisition->lock);
	return state;
}
