/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_SENSING_H
#define AMBO_STATION_SENSING_H

#include <stdbool.h>
#include <stdint.h>
#include <systemd/sd-event.h>

#include "sensing_config.h"

/* Resin temperature, room temperature and humidity, as the configuration's group
 * `sensors` has them. Each sensor is read on a thread of its own, for one may block for
 * a second and a broken one for ever; the main loop only looks at what came last. A value
 * is known while it is younger than three polls and 2 s: then it is absent, never old. A
 * sensor that is not there, fails or hangs is said once, and tried again at every poll. */
struct sensing;

/* looked is called on the main loop, once a second or at every poll where that is more
 * often; news: a value came, changed or went. *ret NULL when no sensor is configured.
 * -errno. */
int sensing_new(sd_event *event, const struct sensing_config *config,
                void (*looked)(void *context, bool news), void *context, struct sensing **ret);
/* Waits at most 3 s, all in all, for a read under way: one that hangs is left to the end
 * of the process. NULL does nothing. */
void sensing_free(struct sensing *sensing);

/* True with *ret while the value is known. NULL knows nothing. */
bool sensing_value(const struct sensing *sensing, enum sensing_what what, double *ret);
double sensing_or_nan(const struct sensing *sensing, enum sensing_what what);
/* Why a configured sensor gives nothing, one sentence; "" when it does, or there is none. */
const char *sensing_problem(const struct sensing *sensing, enum sensing_what what);

#endif
