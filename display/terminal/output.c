/* SPDX-License-Identifier: MIT */
#include "output.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

void json_init(struct json *json, FILE *out, bool pretty)
{
	*json = (struct json){.out = out, .pretty = pretty};
}

static void text(FILE *out, const char *value)
{
	fputc('"', out);
	for (const unsigned char *c = (const unsigned char *)value; *c; c++) {
		if (*c == '"' || *c == '\\')
			fprintf(out, "\\%c", *c);
		else if (*c < 0x20)
			fprintf(out, "\\u%04x", *c);
		else
			fputc(*c, out);
	}
	fputc('"', out);
}

/* The comma, the line and the key before any value. */
static void lead(struct json *json, const char *key)
{
	if (json->more[json->depth])
		fputc(',', json->out);
	json->more[json->depth] = true;
	if (json->pretty && json->depth > 0)
		fprintf(json->out, "\n%*s", 2 * json->depth, "");
	if (!key)
		return;
	text(json->out, key);
	fputs(json->pretty ? ": " : ":", json->out);
}

void json_open(struct json *json, const char *key, char bracket)
{
	lead(json, key);
	fputc(bracket, json->out);
	if (json->depth + 1 < JSON_DEPTH_MAX)
		json->depth++;
	json->more[json->depth] = false;
}

void json_close(struct json *json, char bracket)
{
	bool any = json->more[json->depth];

	if (json->depth > 0)
		json->depth--;
	if (json->pretty && any)
		fprintf(json->out, "\n%*s", 2 * json->depth, "");
	fputc(bracket, json->out);
	if (json->depth == 0)
		fputc('\n', json->out);
}

void json_number(struct json *json, const char *key, double value)
{
	char buffer[OUTPUT_NUMBER_MAX];

	lead(json, key);
	fputs(isfinite(value) ? output_number(value, buffer) : "null", json->out);
}

void json_whole(struct json *json, const char *key, int64_t value)
{
	lead(json, key);
	fprintf(json->out, "%" PRId64, value);
}

void json_text(struct json *json, const char *key, const char *value)
{
	lead(json, key);
	text(json->out, value);
}

void json_bool(struct json *json, const char *key, bool value)
{
	lead(json, key);
	fputs(value ? "true" : "false", json->out);
}

void csv_field(FILE *out, const char *value)
{
	if (!strpbrk(value, ",\"\r\n")) {
		fputs(value, out);
		return;
	}
	fputc('"', out);
	for (; *value; value++) {
		if (*value == '"')
			fputc('"', out);
		fputc(*value, out);
	}
	fputc('"', out);
}

const char *output_number(double value, char buffer[OUTPUT_NUMBER_MAX])
{
	for (int digits = 15; digits <= 17; digits++) {
		snprintf(buffer, OUTPUT_NUMBER_MAX, "%.*g", digits, value);
		if (strtod(buffer, NULL) == value)
			break;
	}
	return buffer;
}
