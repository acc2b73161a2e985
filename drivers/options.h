/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_OPTIONS_H
#define AMBO_DRIVERS_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

#include "scale.h"

/* Turns a driver's options from text into values, and finds every mistake in them. */

/* A decimal number ("-1.5", "2e-3") with a decimal point, whatever the locale: 0,
 * or -EINVAL for anything else (empty, hexadecimal, nan, infinite, trailing text). */
int option_number(const char *text, double *ret);

enum option_kind {
	OPTION_NUMBER, /* ret is a double *, within min..max */
	OPTION_WHOLE,  /* ret is a double *, within min..max, without a fraction */
	OPTION_TEXT,   /* ret is a const char **: borrowed from the options; not empty */
};

struct option_spec {
	const char *key;
	enum option_kind kind;
	bool required;
	double min, max;
	const char *unit; /* for messages, "g/s"; "" for none. Text: what is expected */
	void *ret;        /* keeps its value when the key is not given */
};

typedef void option_report(void *context, const char *sentence);

/* Reports every mistake once, "file:line: key: what is wrong; expected ...": unknown
 * keys, a key given twice, no number, out of range, a required key missing. Values
 * with a mistake leave *ret alone. Returns the number of mistakes. */
int options_read(const char *driver, const struct scale_option *options, size_t n_options,
                 const struct option_spec *specs, size_t n_specs, option_report *report,
                 void *context);

/* An option_report that keeps the first sentence in a message of SCALE_MESSAGE_MAX
 * bytes, which must begin as an empty string. */
void option_keep_first(void *message, const char *sentence);

#endif
