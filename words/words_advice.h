/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WORDS_WORDS_ADVICE_H
#define AMBO_WORDS_WORDS_ADVICE_H

#include <stddef.h>

#include "daemon/weighing/advice.h"

/* What there is to say of the scale, in English: what is so, and what to do. At most
 * WORDS_SENTENCE_MAX with the NUL; returns the length written. "" for ADVICE_NONE.
 * Masses to a hundredth of a gram, since it is scales that are spoken of here. */
struct words_language; /* words.h */
/* In another language; NULL: English. A catalogue's text that is not well made is told as
 * it stands, never read past. */
size_t words_advice_in(const struct words_language *language, const struct advice *advice,
                       char *buffer, size_t size);
size_t words_advice(const struct advice *advice, char *buffer, size_t size);

#endif
