/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_REALTIME_H
#define AMBO_DRIVERS_REALTIME_H

#include <stddef.h>

/* Puts the calling thread before all ordinary work (SCHED_FIFO) and keeps the process's
 * memory from being paged out, so that a clock pulse is not stretched.
 * 0, or -errno with one sentence in message: what was not allowed, what follows, and
 * what would allow it. Whatever was allowed stays. */
#define REALTIME_PRIORITY 50 /* of 1..99: where the kernel's own interrupt threads are */
int realtime_begin(char *message, size_t size);

#endif
