/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_SAY_H
#define AMBO_TOUCH_SAY_H

#include <libintl.h>

#include "model.h"
#include "settings.h"
#include "words/words.h"

/* What the screens say, in the person's language: the station's messages by id and
 * arguments, and whole sentences with named values ("{mass} of {total}"). */

#define _(english)  gettext(english)
#define N_(english) (english) /* collected for the catalogue, asked for later */
/* Of one, of many; other languages may have more forms. n: whole, 0 or more. */
#define P_(one, many, n) ngettext(one, many, (unsigned long)(n))

#define SAY_MAX 640u

/* Chooses the language of the process: folder holds CODE/LC_MESSAGES/ambo.mo. "en"
 * needs no catalogue. 0; -ENOENT with a sentence when there is none, English stays. */
int say_language(const char *folder, const char *code, char *ret_sentence, size_t size);
bool say_rtl(void);     /* reads from right to left */
char say_decimal(void); /* mark of a fraction */
/* The language's own name for itself; "English". */
const char *say_language_name(void);

size_t say_headline(const struct model *model, char *buffer, size_t size);
size_t say_sentence(const struct model *model, char *buffer, size_t size);
size_t say_caution(const struct model *model, char *buffer, size_t size);
/* "A resin" of the batch's system; part 0 A, 1 B. */
size_t say_part(const struct model *model, int part, char *buffer, size_t size);
size_t say_component(const struct model *model, char *buffer, size_t size);
size_t say_deviation(const struct model *model, const char *system, double pct, char *buffer,
                     size_t size);
/* What is to be done at the scale, by the message's name and arguments; what is not known
 * here as the station says it. */
size_t say_advice(const char *name, double value, double other, double count, double of,
                  const char *from_station, char *buffer, size_t size);
/* A sentence that the station made itself, a refusal or a plan's warning: what is not known
 * here stays as it is. */
size_t say_read(const char *from_station, char *buffer, size_t size);
/* "100 g resin : 45 g hardener"; "" where the parts are not known. */
void say_parts(const struct model_system *system, char *buffer, size_t size);
void say_read_back(const struct model_system *system, char *buffer, size_t size);

/* The station's names for things, and this language's words for them. The words of name;
 * otherwise where it is in no row. */
struct say_word {
	const char *name, *words; /* words: N_() */
};
const char *say_word(const struct say_word *rows, size_t n, const char *name,
                     const char *otherwise);

/* Fills {name} with the value that stands behind it: name, value, ..., NULL. */
size_t say_fill(char *buffer, size_t size, const char *template, ...) __attribute__((sentinel));

/* "12.3 g", "1234 g"; "45 s", "3 min", "2 h 5 min"; "2.1 %". buffer: WORDS_NUMBER_MAX */
void say_mass(double mass_g, bool pouring, char *buffer);
void say_duration(double seconds, char *buffer);
void say_pct(double pct, char *buffer);
/* "22 °C", "72 °F"; "3.4 mm", "0.13 in". buffer: WORDS_NUMBER_MAX */
void say_degrees(double degc, enum units units, char *buffer);
void say_depth(double depth_mm, enum units units, char *buffer);
/* "Sat 09:00" of this machine's local time; "" unknown. */
void say_day_time(double realtime_us, char *buffer, size_t size);
/* A running clock, "2:45" or "1:05:00". */
void say_clock(double seconds, char *buffer);
/* Fraction with the language's mark, without a unit or a sign. */
void say_number(double value, int decimals, char *buffer);

#endif
