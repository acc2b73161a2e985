/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_TRACE_TEXT_H
#define AMBO_DRIVERS_TRACE_TEXT_H

#include <stddef.h>
#include <stdint.h>

#include "lines.h"

/* The pieces of text that traces and presses share. Inside drivers only. */

#define TRACE_T_US_MAX (INT64_C(1) << 53) /* 285 years: differences cannot overflow */

/* A piece of a line: not NUL-terminated. */
struct field {
	const char *text;
	size_t length;
};

/* Takes the field up to the next comma off *rest, blanks and a pair of quotes taken
 * off it. 0 when *rest is used up (NULL). */
int field_next(const char **rest, struct field *ret);

/* A whole number within min..max, perhaps with a fraction of zeros: 0; -EINVAL for no
 * whole number, -ERANGE. */
int field_whole(const struct field *field, int64_t min, int64_t max, int64_t *ret);

/* The field's first bytes for a message, unprintable ones replaced by '?'. */
#define FIELD_SHOWN_MAX 41u
const char *field_show(const struct field *field, char buffer[FIELD_SHOWN_MAX]);

/* Puts "name:line: ..." in message and returns -EBADMSG. */
__attribute__((format(printf, 4, 5))) int trace_complain(const char *name, uint64_t line,
                                                         char *message, const char *format, ...);

/* lines_next() with its failures put in words. */
int trace_line(struct lines *lines, const char *name, char **ret_text, char *message);

/* The field as a time that does not fall behind *last (when any), which it becomes. */
int trace_time(const struct field *field, const char *name, uint64_t line, int any, int64_t *last,
               char *message);

#endif
