/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_ELAPSED_H
#define AMBO_STATION_ELAPSED_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/records/store.h"

/* How long the station was away. Within one boot CLOCK_BOOTTIME tells; across a
 * reboot only the wall clock links two times, and only if it was right at both
 * ends. Pure: the stamps come in. */
struct elapsed {
	int64_t us; /* >= 0: where it is not known, the longest that can be argued for */
	bool known;
};

/* Not known: the later of what the wall clock says and how long this boot has
 * lasted, since the station was away at least that long. */
void elapsed_between(const struct store_stamp *then, const struct store_stamp *now,
                     struct elapsed *ret);

#endif
