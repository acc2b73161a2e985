/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_NOTIFY_H
#define AMBO_STATION_NOTIFY_H

#include <stdbool.h>
#include <stdint.h>

/* What the service manager is told: ready, how it goes, and that all is well. The
 * watchdog is fed only while samples flow or the driver says why they do not: a
 * daemon that hangs in silence is started again. */
struct station;
struct notify;

int notify_new(struct station *station, struct notify **ret); /* -errno */
void notify_free(struct notify *notify);                      /* NULL does nothing */

/* Whether the watchdog may be fed: samples came since the last time, or the source
 * has failed or ended and says so. Pure. */
bool notify_may_feed(uint64_t samples_before, uint64_t samples_now, bool source_says_why);

#endif
