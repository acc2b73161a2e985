/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_CANONICAL_H
#define AMBO_RECORDS_CANONICAL_H

#include <stddef.h>

#include "daemon/mixing/guide.h"

/* The canonical record of a batch: JSON by this one writer, fixed key order,
 * masses as integers in micrograms, times as integers in us since the batch
 * began, ratios and percentages as integers in millionths; no wall clock, ids or
 * chain. The same log of inputs gives the same bytes. Pure. */

/* Writes at most size bytes with the NUL; returns the length it needs without the
 * NUL, like snprintf. */
size_t canonical_write(const struct guide *guide, char *buffer, size_t size);

#endif
