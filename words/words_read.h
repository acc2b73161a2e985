/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WORDS_WORDS_READ_H
#define AMBO_WORDS_WORDS_READ_H

#include <stddef.h>

#include "words.h"

/* The bus carries a refusal as one English sentence, for any client to show. Here it is
 * read back: its template is found again among the messages, the advice and words_told.h,
 * and what stood in its gaps goes into the template's translation, itself read back, its
 * fraction with the language's mark. Several sentences in a row are read one by one.
 * What is in no table stays as it is. Writes at most size bytes with the NUL and returns
 * the length written. Pure. */
size_t words_read_in(const struct words_language *language, const char *english, char *buffer,
                     size_t size);

/* The templates of words_told.h, for its test; NULL past the last. */
const char *words_told_template(unsigned i);

#endif
