/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WORDS_WORDS_INSIDE_H
#define AMBO_WORDS_WORDS_INSIDE_H

#include <stddef.h>

#include "words.h"

/* A buffer that is written to its end and no further, and always ended. */
struct words_out {
	char *buffer;
	size_t size, length; /* size: 1 or more */
};
void words_put(struct words_out *out, const char *text, size_t n);

/* In the language; NULL or "": as it is. */
const char *words_tr(const struct words_language *language, const char *english);
/* The first point of a number becomes the language's mark. */
void words_localise(const struct words_language *language, char *number);

/* The sentences' templates one by one, English; NULL past the last, "" where a row has
 * none. */
const char *words_row_template(unsigned i);
const char *words_advice_template(unsigned i);

#endif
