/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_CANONICAL_H
#define AMBO_RECORDS_CANONICAL_H

#include <stddef.h>

#include "daemon/mixing/guide.h"

/* The canonical record of a batch: JSON (RFC 8259) by this one writer, fixed key
 * order, no white space, integers only, so that no locale and no printf of a double
 * can change a byte. The same log of inputs gives the same bytes. Pure.
 *
 * Keys say the unit: _ug micrograms, _us microseconds since the batch began, _e6
 * millionths (of a ratio, a percent, a degree, a part). Halves round away from
 * zero. What is not known is null. No wall clock, no ids of the store, no chain.
 * A string that is not UTF-8 has U+FFFD in place of each wrong byte. */
#define CANONICAL_FORMAT 1 /* "format": raised when a key changes its meaning */

/* Writes at most size bytes with the NUL; returns the length it needs without the
 * NUL, like snprintf. */
size_t canonical_write(const struct guide *guide, char *buffer, size_t size);

#endif
