/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_POUR_ADVICE_H
#define AMBO_STATION_POUR_ADVICE_H

#include <stddef.h>

#include "daemon/casting/plan.h"

/* May all that is in the cup go into the layer, or is some to be kept back? Asked for each
 * batch of a piece once its masses are known, and again when a top-up changes them: a
 * larger batch is deeper and hotter. Main loop; computed on the worker. */
struct batch;
struct station;

#define POUR_ADVICE_MAX 256u

/* After each commit; and again while pour_advice_waits(): the worker was busy. */
void pour_advice_look(struct station *station, struct batch *batch);
bool pour_advice_waits(const struct batch *batch);

/* "Pour all: ...", or "Keep back 16 g: ...". */
void pour_advice_sentence(const struct plan_advice *advice, char *ret, size_t size);

#endif
