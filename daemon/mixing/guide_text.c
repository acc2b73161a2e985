/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "guide_fields.h"
#include "guide_inside.h"

/* A guide as text: "key value" a line, after a line that tells the version. Doubles
 * with 17 digits: they come back exactly. */

#define VERSION_LINE "guide 1"
#define KEY_MAX      64u

struct writer {
	char *buffer;
	size_t size, length;
};

__attribute__((format(printf, 2, 3))) static void put(struct writer *writer, const char *format,
                                                      ...)
{
	size_t room = writer->length < writer->size ? writer->size - writer->length : 0;
	va_list arguments;
	int n;

	va_start(arguments, format);
	n = vsnprintf(room > 0 ? writer->buffer + writer->length : NULL, room, format, arguments);
	va_end(arguments);
	if (n > 0)
		writer->length += (size_t)n;
}

static void put_text(struct writer *writer, const char *text)
{
	for (; *text != '\0'; text++) {
		if (*text == '\n')
			put(writer, "\\n");
		else if (*text == '\\')
			put(writer, "\\\\");
		else
			put(writer, "%c", *text);
	}
}

static void put_value(struct writer *writer, const struct field *field, const char *at)
{
	int32_t i32 = 0;
	uint32_t u32;
	int64_t i64;
	double number;

	if (field->kind == FIELD_INT32 || field->kind == FIELD_NAME)
		memcpy(&i32, at, sizeof(i32));
	switch (field->kind) {
	case FIELD_INT32:
		put(writer, "%" PRId32, i32);
		break;
	case FIELD_NAME:
		put(writer, "%s", field->name(i32));
		break;
	case FIELD_UINT32:
		memcpy(&u32, at, sizeof(u32));
		put(writer, "%" PRIu32, u32);
		break;
	case FIELD_INT64:
		memcpy(&i64, at, sizeof(i64));
		put(writer, "%" PRId64, i64);
		break;
	case FIELD_BYTE:
		put(writer, "%u", (unsigned)*(const uint8_t *)at);
		break;
	case FIELD_BOOL:
		put(writer, "%s", *(const bool *)at ? "yes" : "no");
		break;
	case FIELD_DOUBLE:
		memcpy(&number, at, sizeof(number));
		put(writer, "%.17g", number);
		break;
	case FIELD_TEXT:
		put_text(writer, at);
		break;
	}
}

static uint32_t rows_used(const struct field_table *table, const struct guide *guide)
{
	uint32_t rows = table->rows;

	if (table->rows_used_offset != SIZE_MAX)
		memcpy(&rows, (const char *)guide + table->rows_used_offset, sizeof(rows));
	return rows < table->rows ? rows : table->rows;
}

size_t guide_write(const struct guide *guide, char *buffer, size_t size)
{
	struct writer writer = {.buffer = buffer, .size = size};

	put(&writer, "%s\n", VERSION_LINE);
	for (size_t t = 0; t < n_guide_tables; t++) {
		const struct field_table *table = &guide_tables[t];

		for (uint32_t row = 0; row < rows_used(table, guide); row++)
			for (size_t f = 0; f < table->n_fields; f++) {
				const struct field *field = &table->fields[f];

				if (table->prefix[0] != '\0' && table->stride > 0)
					put(&writer, "%s.%" PRIu32 ".", table->prefix, row);
				else if (table->prefix[0] != '\0')
					put(&writer, "%s.", table->prefix);
				put(&writer, "%s ", field->key);
				put_value(&writer, field,
				          (const char *)guide + table->offset +
				                  row * table->stride + field->offset);
				put(&writer, "\n");
			}
	}
	return writer.length;
}

static int get_text(const char *value, size_t length, char *at, size_t size)
{
	size_t n = 0;

	for (size_t i = 0; i < length; i++) {
		char c = value[i];

		if (c == '\\' && i + 1 < length)
			c = value[++i] == 'n' ? '\n' : value[i];
		if (n + 1 >= size)
			return -EINVAL;
		at[n++] = c;
	}
	memset(at + n, 0, size - n);
	return 0;
}

static int get_name(const struct field *field, const char *value, char *at)
{
	for (int32_t i = 0; i < (int32_t)field->size; i++)
		if (strcmp(field->name(i), value) == 0) {
			memcpy(at, &i, sizeof(i));
			return 0;
		}
	return -EINVAL;
}

static int get_integer(const char *value, int64_t low, int64_t high, int64_t *ret)
{
	char *end;

	errno = 0;
	*ret = strtoll(value, &end, 10);
	return errno != 0 || end == value || *end != '\0' || *ret < low || *ret > high ? -EINVAL
	                                                                               : 0;
}

static int get_value(const struct field *field, const char *value, size_t length, char *at)
{
	int64_t whole = 0;
	double number;
	char *end;
	int r = 0;

	switch (field->kind) {
	case FIELD_TEXT:
		return get_text(value, length, at, field->size);
	case FIELD_NAME:
		return get_name(field, value, at);
	case FIELD_BOOL:
		if (strcmp(value, "yes") != 0 && strcmp(value, "no") != 0)
			return -EINVAL;
		*(bool *)at = value[0] == 'y';
		return 0;
	case FIELD_DOUBLE:
		number = strtod(value, &end);
		if (end == value || *end != '\0' || !isfinite(number))
			return -EINVAL;
		memcpy(at, &number, sizeof(number));
		return 0;
	case FIELD_INT64:
		r = get_integer(value, INT64_MIN / 4, INT64_MAX / 4, &whole);
		if (r == 0)
			memcpy(at, &whole, sizeof(whole));
		return r;
	case FIELD_INT32:
		r = get_integer(value, INT32_MIN, INT32_MAX, &whole);
		if (r == 0)
			memcpy(at, &(int32_t){(int32_t)whole}, sizeof(int32_t));
		return r;
	case FIELD_UINT32:
		r = get_integer(value, 0, UINT32_MAX, &whole);
		if (r == 0)
			memcpy(at, &(uint32_t){(uint32_t)whole}, sizeof(uint32_t));
		return r;
	case FIELD_BYTE:
		r = get_integer(value, 0, UINT8_MAX, &whole);
		if (r == 0)
			*(uint8_t *)at = (uint8_t)whole;
		return r;
	}
	return -EINVAL;
}

/* Where in the table the key points: its row, and what is left of the key. */
static const char *key_in_table(const struct field_table *table, const char *key, uint32_t *ret_row)
{
	size_t length = strlen(table->prefix);
	int64_t row;
	const char *dot;
	char number[12];

	*ret_row = 0;
	if (length == 0)
		return key;
	if (strncmp(key, table->prefix, length) != 0 || key[length] != '.')
		return NULL;
	key += length + 1;
	if (table->stride == 0)
		return key;
	dot = strchr(key, '.');
	if (dot == NULL || (size_t)(dot - key) >= sizeof(number))
		return NULL;
	memcpy(number, key, (size_t)(dot - key));
	number[dot - key] = '\0';
	if (get_integer(number, 0, (int64_t)table->rows - 1, &row) < 0)
		return NULL;
	*ret_row = (uint32_t)row;
	return dot + 1;
}

static int get_line(const char *line, size_t length, struct guide *guide)
{
	char key[KEY_MAX], value[SYSTEM_NOTES_MAX * 2u];
	const char *space = memchr(line, ' ', length);
	size_t value_length;

	if (space == NULL || (size_t)(space - line) >= sizeof(key))
		return -EINVAL;
	value_length = length - (size_t)(space - line) - 1;
	if (value_length >= sizeof(value))
		return -EINVAL;
	memcpy(key, line, (size_t)(space - line));
	key[space - line] = '\0';
	memcpy(value, space + 1, value_length);
	value[value_length] = '\0';
	for (size_t t = 0; t < n_guide_tables; t++) {
		const struct field_table *table = &guide_tables[t];
		uint32_t row;
		const char *rest = key_in_table(table, key, &row);

		for (size_t f = 0; rest != NULL && f < table->n_fields; f++)
			if (strcmp(table->fields[f].key, rest) == 0)
				return get_value(&table->fields[f], value, value_length,
				                 (char *)guide + table->offset +
				                         row * table->stride +
				                         table->fields[f].offset);
	}
	return -EINVAL;
}

/* What the rest of the guide relies on, whatever a file says. */
static bool is_whole(const struct guide *guide)
{
	const struct recipe *recipe = &guide->recipe;
	bool charging = guide->step == GUIDE_CHARGE || guide->step == GUIDE_TOP_UP ||
	                (guide->step == GUIDE_HELD && (guide->resume_step == GUIDE_CHARGE ||
	                                               guide->resume_step == GUIDE_TOP_UP));

	if (recipe->n_charges < 1 || recipe->n_charges > RECIPE_CHARGES_MAX ||
	    guide->charge >= recipe->n_charges || guide->n_points > GUIDE_POINTS_MAX ||
	    guide->n_dispenses > GUIDE_DISPENSES_MAX)
		return false;
	if (!(recipe->ratio > 0.0) || !(recipe->tolerance_pct > 0.0) || !(recipe->max_g > 0.0) ||
	    !(guide->u_g > 0.0) || !(recipe->interval_g > 0.0))
		return false;
	if (charging && guide->start_point >= guide->n_points)
		return false;
	if (guide->open < -1 || guide->open >= (int32_t)guide->n_dispenses ||
	    guide->bottle_in_use < -1 || guide->bottle_in_use > 1)
		return false;
	if (guide->pan_known && guide->n_points < 1)
		return false;
	if (guide->waiting < WAITING_NONE || guide->waiting > WAITING_OTHER_PART ||
	    guide->top_up.reason > TOP_UP_CANNOT_BE_TOLD)
		return false;
	for (uint32_t i = 0; i < guide->n_points; i++)
		if (guide->point[i].u_g < 0.0)
			return false;
	for (uint32_t i = 0; i < guide->n_dispenses; i++)
		if (guide->dispense[i].before >= guide->n_points ||
		    guide->dispense[i].after >= guide->n_points)
			return false;
	return true;
}

int guide_read(const char *text, struct guide *ret, int *ret_line)
{
	struct guide guide = {.open = -1,
	                      .first_gram_us = -1,
	                      .fault_since_us = -1,
	                      .life_start_us = -1,
	                      .bottle_in_use = -1,
	                      .bottle_since_us = -1,
	                      .bottle_g = {-1.0, -1.0}};
	int line = 0;

	while (*text != '\0') {
		const char *end = strchr(text, '\n');
		size_t length = end != NULL ? (size_t)(end - text) : strlen(text);
		bool ok = ++line > 1 ? get_line(text, length, &guide) == 0
		                     : length == strlen(VERSION_LINE) &&
		                               strncmp(text, VERSION_LINE, length) == 0;

		if (!ok) {
			*ret_line = line;
			return -EINVAL;
		}
		text += length + (end != NULL ? 1 : 0);
	}
	if (!is_whole(&guide)) {
		*ret_line = line;
		return -EINVAL;
	}
	guide_say(&guide);
	*ret = guide;
	return 0;
}
