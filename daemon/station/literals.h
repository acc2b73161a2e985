/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_LITERALS_H
#define AMBO_STATION_LITERALS_H

/* What libconfig 1.5 lets through without a word: a whole number over 32 bits wraps
 * round, and an @include would be read past every limit. Looks at the text before
 * it is parsed, outside strings and comments. */

/* Calls report once for each; returns how many. */
int literals_check(const char *text, void (*report)(void *context, int line, const char *what),
                   void *context);

#endif
