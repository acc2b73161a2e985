/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_OUTPUT_H
#define AMBO_TERMINAL_OUTPUT_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

/* What other programs read: JSON (RFC 8259) and CSV (RFC 4180). A decimal point in
 * every locale, and as many digits as bring the same double back. */

#define JSON_DEPTH_MAX    8
#define OUTPUT_NUMBER_MAX 32u

struct json {
	FILE *out;
	bool pretty; /* one member a line, indented */
	int depth;
	bool more[JSON_DEPTH_MAX]; /* a comma is due */
};

void json_init(struct json *json, FILE *out, bool pretty);
/* key NULL inside an array, and for the outermost value. */
void json_open(struct json *json, const char *key, char bracket);
void json_close(struct json *json, char bracket);
void json_number(struct json *json, const char *key, double value); /* null unless finite */
void json_whole(struct json *json, const char *key, int64_t value);
void json_text(struct json *json, const char *key, const char *value);
void json_bool(struct json *json, const char *key, bool value);

/* Quoted where it must be. */
void csv_field(FILE *out, const char *value);

/* The shortest of %.15g .. %.17g that reads back the same. */
const char *output_number(double value, char buffer[OUTPUT_NUMBER_MAX]);

#endif
