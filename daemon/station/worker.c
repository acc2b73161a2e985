/* SPDX-License-Identifier: MIT */
#include "worker.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/epoll.h>
#include <sys/eventfd.h>
#include <unistd.h>

struct worker {
	int fd;
	sd_event_source *source;
	pthread_t thread;
	bool busy;
	void (*job)(void *context);
	void (*done)(void *context);
	void *context;
};

static void *work(void *context)
{
	struct worker *worker = context;

	worker->job(worker->context);
	(void)eventfd_write(worker->fd, 1); /* cannot fail: the counter is far from full */
	return NULL;
}

static void finish(struct worker *worker)
{
	eventfd_t count;

	pthread_join(worker->thread, NULL);
	(void)eventfd_read(worker->fd, &count);
	worker->busy = false;
	worker->done(worker->context);
}

static int on_done(sd_event_source *source, int fd, uint32_t revents, void *context)
{
	struct worker *worker = context;

	(void)source;
	(void)fd;
	(void)revents;
	if (worker->busy)
		finish(worker);
	return 0;
}

int worker_new(sd_event *event, struct worker **ret)
{
	struct worker *worker = calloc(1, sizeof(*worker));
	int r;

	if (worker == NULL)
		return -ENOMEM;
	worker->fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	if (worker->fd < 0) {
		r = -errno;
		free(worker);
		return r;
	}
	r = sd_event_add_io(event, &worker->source, worker->fd, EPOLLIN, on_done, worker);
	if (r < 0) {
		worker_free(worker);
		return r;
	}
	sd_event_source_set_exit_on_failure(worker->source, true);
	*ret = worker;
	return 0;
}

void worker_free(struct worker *worker)
{
	if (worker == NULL)
		return;
	if (worker->busy)
		finish(worker);
	sd_event_source_disable_unref(worker->source);
	close(worker->fd);
	free(worker);
}

int worker_submit(struct worker *worker, void (*job)(void *context), void (*done)(void *context),
                  void *context)
{
	sigset_t all, before;
	int r;

	if (worker == NULL)
		return -ESHUTDOWN;
	if (worker->busy)
		return -EBUSY;
	worker->job = job;
	worker->done = done;
	worker->context = context;
	/* Signals are the main loop's. */
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	r = pthread_create(&worker->thread, NULL, work, worker);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	worker->busy = r == 0;
	return -r;
}
