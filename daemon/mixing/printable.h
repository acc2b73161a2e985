/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_PRINTABLE_H
#define AMBO_MIXING_PRINTABLE_H

#include <stdbool.h>
#include <stddef.h>

/* What a person writes goes to a terminal, a screen, other programs' JSON and a bus, all
 * of which want UTF-8 (RFC 3629) and no control characters.
 * Returns 0, or the place, from 1, of the first byte that begins no printable character.
 * @lines: an end of line is one. */
size_t printable_fault(const char *text, bool lines);

#endif
