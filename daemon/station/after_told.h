/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_AFTER_TOLD_H
#define AMBO_STATION_AFTER_TOLD_H

#include "batches.h"

/* What follows from a commit, outside the guide: the bus is told, the bottles' masses
 * go to the shelf, what was poured into its piece. @context: the
 * station; @failure: why the store failed, else NULL. */
void after_told(void *context, struct batch *batch, const char *failure);

#endif
