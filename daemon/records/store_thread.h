/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_STORE_THREAD_H
#define AMBO_RECORDS_STORE_THREAD_H

#include "store.h"

/* The store thread: the only one that uses the store's connection once it runs, so
 * that a slow disk never holds up the main loop. Jobs run there in the order they
 * were submitted; their completions come back to the main loop, in that order,
 * through a file descriptor. */
struct store_thread;

#define STORE_THREAD_JOBS_MAX 64u /* submitted and not yet dispatched */

/* Takes the store over on success; closed by store_thread_stop(). -errno. The thread
 * takes no signals. */
int store_thread_start(struct store *store, struct store_thread **ret);

/* Main loop only, also from within done. Runs job(store, context) on the store
 * thread, then done(context) in store_thread_dispatch(); done may be NULL. context is
 * the caller's, untouched by others in between. -EBUSY: the queue is full and nothing
 * was submitted; -ESHUTDOWN: it is being stopped. */
int store_thread_submit(struct store_thread *thread,
                        void (*job)(struct store *store, void *context),
                        void (*done)(void *context), void *context);

/* Readable while completions wait. */
int store_thread_fd(const struct store_thread *thread);
/* Main loop only. Calls done for each job completed; returns how many. */
int store_thread_dispatch(struct store_thread *thread);

/* Main loop only, not from within done. Lets all submitted jobs run, dispatches their
 * completions, closes the store. NULL does nothing. */
void store_thread_stop(struct store_thread *thread);

#endif
