/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_WORKER_H
#define AMBO_STATION_WORKER_H

#include <systemd/sd-event.h>

/* One long computation at a time beside the main loop: a plan takes most of a second,
 * and readings must not wait for it. The thread lives as long as its job. */
struct worker;

int worker_new(sd_event *event, struct worker **ret); /* -errno */
/* Waits for a job under way; its done is called. NULL does nothing. */
void worker_free(struct worker *worker);

/* Main loop only; NULL refuses, -ESHUTDOWN. Runs job(context) on a thread of its own, then done(context) on the
 * main loop. -EBUSY while another runs; -errno; then nothing was begun. */
int worker_submit(struct worker *worker, void (*job)(void *context), void (*done)(void *context),
                  void *context);

#endif
