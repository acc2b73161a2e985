/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_NEAREST_H
#define AMBO_STATION_NEAREST_H

#include <stddef.h>

/* The known name a mistyped one was probably meant to be. */

/* Nearest by edit distance (Levenshtein 1966), NULL when none is within a third of
 * the word's length, or two letters, whichever is more. First of equals. */
const char *nearest_of(const char *word, const char *const *names, size_t n_names);

#endif
