/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_JSON_WRITER_H
#define AMBO_RECORDS_JSON_WRITER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* JSON into a caller's buffer, integers only; counts on when the buffer is full,
 * like snprintf. A key of NULL inside arrays. */
struct json_writer {
	char *buffer;
	size_t size, length;
	bool comma; /* the next value needs one before it */
};

void json_begin(struct json_writer *json, char *buffer, size_t size);
/* Ends the text with a NUL; returns its whole length, written or not. */
size_t json_end(struct json_writer *json);

void json_open(struct json_writer *json, const char *key, char bracket); /* '{' or '[' */
void json_close(struct json_writer *json, char bracket);                 /* '}' or ']' */
void json_text(struct json_writer *json, const char *key, const char *text);
void json_integer(struct json_writer *json, const char *key, int64_t value);
void json_bool(struct json_writer *json, const char *key, bool value);
void json_null(struct json_writer *json, const char *key);
/* value in millionths: grams as micrograms, seconds as us. null where it is not
 * finite or beyond what an integer holds. */
void json_e6(struct json_writer *json, const char *key, double value);

#endif
