/* SPDX-License-Identifier: MIT */
#include "store_thread.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <unistd.h>

struct task {
	void (*job)(struct store *, void *);
	void (*done)(void *);
	void *context;
};

/* One ring, three counters that only rise: dispatched <= completed <= submitted. Jobs
 * between the first two wait for the main loop, between the last two for the thread. */
struct store_thread {
	struct store *store;
	pthread_t thread;
	pthread_mutex_t mutex;
	pthread_cond_t work; /* something was submitted, or stopping was set */
	int event_fd;
	bool stopping;
	uint64_t submitted, completed, dispatched;
	struct task ring[STORE_THREAD_JOBS_MAX];
};

static struct task *slot(struct store_thread *thread, uint64_t number)
{
	return &thread->ring[number % STORE_THREAD_JOBS_MAX];
}

static void *run(void *context)
{
	struct store_thread *thread = context;
	const uint64_t one = 1;

	pthread_mutex_lock(&thread->mutex);
	for (;;) {
		struct task task;

		while (thread->completed == thread->submitted && !thread->stopping)
			pthread_cond_wait(&thread->work, &thread->mutex);
		if (thread->completed == thread->submitted)
			break;
		task = *slot(thread, thread->completed);
		pthread_mutex_unlock(&thread->mutex);
		task.job(thread->store, task.context);
		pthread_mutex_lock(&thread->mutex);
		thread->completed++;
		/* Cannot fill up: the ring is bounded far below 2^64 - 1. */
		while (write(thread->event_fd, &one, sizeof one) < 0 && errno == EINTR)
			;
	}
	pthread_mutex_unlock(&thread->mutex);
	return NULL;
}

static int start_without_signals(struct store_thread *thread)
{
	sigset_t all, before;
	int error;

	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	error = pthread_create(&thread->thread, NULL, run, thread);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	return -error;
}

int store_thread_start(struct store *store, struct store_thread **ret)
{
	struct store_thread *thread = calloc(1, sizeof *thread);
	int r;

	if (!thread)
		return -ENOMEM;
	thread->store = store;
	thread->event_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	if (thread->event_fd < 0) {
		r = -errno;
		free(thread);
		return r;
	}
	pthread_mutex_init(&thread->mutex, NULL);
	pthread_cond_init(&thread->work, NULL);
	r = start_without_signals(thread);
	if (r < 0) {
		pthread_cond_destroy(&thread->work);
		pthread_mutex_destroy(&thread->mutex);
		close(thread->event_fd);
		free(thread);
		return r;
	}
	*ret = thread;
	return 0;
}

int store_thread_submit(struct store_thread *thread, void (*job)(struct store *, void *),
                        void (*done)(void *), void *context)
{
	int r = 0;

	pthread_mutex_lock(&thread->mutex);
	if (thread->stopping) {
		r = -ESHUTDOWN;
	} else if (thread->submitted - thread->dispatched == STORE_THREAD_JOBS_MAX) {
		r = -EBUSY;
	} else {
		*slot(thread, thread->submitted) = (struct task){job, done, context};
		thread->submitted++;
		pthread_cond_signal(&thread->work);
	}
	pthread_mutex_unlock(&thread->mutex);
	return r;
}

int store_thread_fd(const struct store_thread *thread)
{
	return thread->event_fd;
}

int store_thread_dispatch(struct store_thread *thread)
{
	uint64_t count;
	int n = 0;

	/* Before the ring is looked at: what completes later makes it readable again. */
	while (read(thread->event_fd, &count, sizeof count) < 0 && errno == EINTR)
		;
	pthread_mutex_lock(&thread->mutex);
	/* Only what is complete now: a done that submits must not keep us here. */
	for (uint64_t end = thread->completed; thread->dispatched < end; n++) {
		struct task task = *slot(thread, thread->dispatched++);

		pthread_mutex_unlock(&thread->mutex);
		if (task.done)
			task.done(task.context);
		pthread_mutex_lock(&thread->mutex);
	}
	pthread_mutex_unlock(&thread->mutex);
	return n;
}

void store_thread_stop(struct store_thread *thread)
{
	if (!thread)
		return;
	pthread_mutex_lock(&thread->mutex);
	thread->stopping = true;
	pthread_cond_signal(&thread->work);
	pthread_mutex_unlock(&thread->mutex);
	pthread_join(thread->thread, NULL);
	store_thread_dispatch(thread);
	store_close(thread->store);
	pthread_cond_destroy(&thread->work);
	pthread_mutex_destroy(&thread->mutex);
	close(thread->event_fd);
	free(thread);
}
