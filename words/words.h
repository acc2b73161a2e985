/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WORDS_WORDS_H
#define AMBO_WORDS_WORDS_H

#include <stddef.h>

#include "daemon/mixing/message.h"
#include "daemon/mixing/system.h"

/* Messages into English: one table (words_table.h), a row a message, of templates
 * that name the message's arguments. An argument the message does not carry drops
 * the phrase around it. Pure: no locale, a decimal point always.
 *
 * Rounding for people: 0.1 g, and 1 g over 1 kg while pouring; deviations to one
 * decimal, rounded away from "within", so that 2.01 % never reads as 2.0 %. No
 * minus sign anywhere: "5.0 g too much", "1.2 % too little B hardener". */

#define WORDS_HEADLINE_MAX 13u  /* bytes with the NUL: at most 12 characters */
#define WORDS_SENTENCE_MAX 512u /* room for any sentence or caution, with the NUL */
#define WORDS_LABEL_MAX    (SYSTEM_LABEL_MAX + 8u)
#define WORDS_NUMBER_MAX   32u

/* Each writes at most size bytes with the NUL and returns the length written.
 * system gives the labels ("B hardener"); NULL where it is not known, then the bare
 * letter stands. */
size_t words_headline(const struct message *message, const struct resin_system *system,
                      char *buffer, size_t size);
size_t words_sentence(const struct message *message, const struct resin_system *system,
                      char *buffer, size_t size);
/* What can hurt here; "" where nothing more than before. Stands with the first
 * message of its risk; the hazards with a clock (pour-soon, life-over) repeat. */
size_t words_caution(const struct message *message, const struct resin_system *system, char *buffer,
                     size_t size);

/* "B hardener", "A resin", "tint". */
size_t words_label(enum component component, const struct resin_system *system, char *buffer,
                   size_t size);

/* Another language: the same, with each template, label and phrase asked of translate
 * first (a gettext catalogue, words_table.h its msgids), decimal as the mark of a
 * fraction, and read_back in place of system_read_back(). NULL: English. */
struct words_language {
	const char *(*translate)(const char *english);
	char decimal;
	const char *read_back; /* NULL: in English */
};
enum words_what { WORDS_HEADLINE, WORDS_SENTENCE, WORDS_CAUTION };
size_t words_in(const struct words_language *language, enum words_what what,
                const struct message *message, const struct resin_system *system, char *buffer,
                size_t size);
size_t words_label_in(const struct words_language *language, enum component component,
                      const struct resin_system *system, char *buffer, size_t size);
/* "1.2 % too little B hardener" */
void words_deviation_in(const struct words_language *language, double pct,
                        const struct resin_system *system, char *buffer, size_t size);
void words_mass_in(const struct words_language *language, double mass_g, bool pouring,
                   char *buffer);

/* Of UTF-8: all bytes but those that go on a character. */
size_t words_characters(const char *text);

/* The numbers as people read them, magnitudes only. buffer: WORDS_NUMBER_MAX. */
void words_mass(double mass_g, bool pouring, char *buffer); /* "12.3 g"; pouring: "1234 g" */
void words_pct(double pct, char *buffer);                   /* "2.1 %", rounded up */
void words_duration(double seconds, char *buffer);          /* "45 s", "3 min 20 s", "2 h 5 min" */

#endif
