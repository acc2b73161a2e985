/* SPDX-License-Identifier: MIT */
#include "json_writer.h"

#include <math.h>

static void put(struct json_writer *json, char c)
{
	if (json->length + 1 < json->size)
		json->buffer[json->length] = c;
	json->length++;
}

static void put_all(struct json_writer *json, const char *text)
{
	while (*text)
		put(json, *text++);
}

/* Length of the well-formed UTF-8 sequence at text, 0 for none: RFC 3629, 4
 * (no overlong forms, no surrogates, nothing past U+10FFFF). */
static size_t utf8_length(const unsigned char *text)
{
	unsigned char low = 0x80, high = 0xbf;
	size_t length;

	if (text[0] < 0x80)
		return 1;
	if (text[0] >= 0xc2 && text[0] <= 0xdf)
		length = 2;
	else if (text[0] >= 0xe0 && text[0] <= 0xef)
		length = 3;
	else if (text[0] >= 0xf0 && text[0] <= 0xf4)
		length = 4;
	else
		return 0;
	if (text[0] == 0xe0)
		low = 0xa0;
	if (text[0] == 0xed)
		high = 0x9f;
	if (text[0] == 0xf0)
		low = 0x90;
	if (text[0] == 0xf4)
		high = 0x8f;
	if (text[1] < low || text[1] > high)
		return 0;
	for (size_t i = 2; i < length; i++)
		if (text[i] < 0x80 || text[i] > 0xbf)
			return 0;
	return length;
}

static void put_string(struct json_writer *json, const char *text)
{
	static const char hex[] = "0123456789abcdef";
	const unsigned char *at = (const unsigned char *)text;

	put(json, '"');
	while (*at) {
		size_t length = utf8_length(at);

		if (length == 0) {
			put_all(json, "\xef\xbf\xbd");
			length = 1;
		} else if (*at == '"' || *at == '\\') {
			put(json, '\\');
			put(json, (char)*at);
		} else if (*at < 0x20) {
			put_all(json, "\\u00");
			put(json, hex[*at >> 4]);
			put(json, hex[*at & 15]);
		} else {
			for (size_t i = 0; i < length; i++)
				put(json, (char)at[i]);
		}
		at += length;
	}
	put(json, '"');
}

static void put_key(struct json_writer *json, const char *key)
{
	if (json->comma)
		put(json, ',');
	json->comma = true;
	if (!key)
		return;
	put_string(json, key);
	put(json, ':');
}

void json_begin(struct json_writer *json, char *buffer, size_t size)
{
	*json = (struct json_writer){.buffer = buffer, .size = size};
}

size_t json_end(struct json_writer *json)
{
	if (json->size > 0)
		json->buffer[json->length < json->size ? json->length : json->size - 1] = '\0';
	return json->length;
}

void json_open(struct json_writer *json, const char *key, char bracket)
{
	put_key(json, key);
	put(json, bracket);
	json->comma = false;
}

void json_close(struct json_writer *json, char bracket)
{
	put(json, bracket);
	json->comma = true;
}

void json_text(struct json_writer *json, const char *key, const char *text)
{
	put_key(json, key);
	put_string(json, text);
}

void json_integer(struct json_writer *json, const char *key, int64_t value)
{
	char digits[20];
	size_t n = 0;
	/* The magnitude of INT64_MIN fits only unsigned. */
	uint64_t rest = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;

	put_key(json, key);
	if (value < 0)
		put(json, '-');
	do {
		digits[n++] = (char)('0' + rest % 10);
		rest /= 10;
	} while (rest > 0);
	while (n > 0)
		put(json, digits[--n]);
}

void json_bool(struct json_writer *json, const char *key, bool value)
{
	put_key(json, key);
	put_all(json, value ? "true" : "false");
}

void json_null(struct json_writer *json, const char *key)
{
	put_key(json, key);
	put_all(json, "null");
}

void json_e6(struct json_writer *json, const char *key, double value)
{
	double millionths = value * 1e6;

	/* 2^63 itself is a double, and the first that does not fit; NaN fails both. */
	if (millionths > -0x1p63 && millionths < 0x1p63)
		json_integer(json, key, llround(millionths));
	else
		json_null(json, key);
}
