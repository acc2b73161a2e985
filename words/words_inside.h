/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WORDS_WORDS_INSIDE_H
#define AMBO_WORDS_WORDS_INSIDE_H

/* The sentences' templates one by one, English; NULL past the last, "" where a row has
 * none. */
const char *words_row_template(unsigned i);
const char *words_advice_template(unsigned i);

#endif
