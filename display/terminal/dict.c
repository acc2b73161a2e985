/* SPDX-License-Identifier: MIT */
#include "dict.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static bool under(const char *key, const char *top)
{
	size_t n = strlen(top);

	return strncmp(key, top, n) == 0 && (key[n] == '\0' || key[n] == '.');
}

static void forget(struct dict *dict, const char *top)
{
	uint32_t kept = 0;

	for (uint32_t i = 0; i < dict->n; i++)
		if (!under(dict->entry[i].key, top)) {
			if (kept != i)
				dict->entry[kept] = dict->entry[i];
			kept++;
		}
	dict->n = kept;
}

static int add(struct dict *dict, const char *key, char type, double number, int64_t whole,
               const char *text)
{
	struct dict_entry *entry;

	if (dict->n == DICT_ENTRIES_MAX)
		return -ENOSPC;
	entry = &dict->entry[dict->n++];
	snprintf(entry->key, sizeof entry->key, "%s", key);
	entry->type = type;
	entry->number = number;
	entry->whole = whole;
	snprintf(entry->text, sizeof entry->text, "%s", text);
	return 0;
}

static int read_basic(sd_bus_message *message, char type, const char *key, struct dict *dict)
{
	union {
		double d;
		int64_t x;
		uint64_t t;
		int32_t i;
		uint32_t u;
		int b;
		const char *s;
	} value;
	int r = sd_bus_message_read_basic(message, type, &value);

	if (r < 0)
		return r;
	switch (type) {
	case SD_BUS_TYPE_DOUBLE:
		return add(dict, key, 'd', value.d, 0, "");
	case SD_BUS_TYPE_INT64:
		return add(dict, key, 'x', (double)value.x, value.x, "");
	case SD_BUS_TYPE_UINT64:
		return add(dict, key, 'x', (double)value.t, (int64_t)value.t, "");
	case SD_BUS_TYPE_INT32:
		return add(dict, key, 'x', value.i, value.i, "");
	case SD_BUS_TYPE_UINT32:
		return add(dict, key, 'x', value.u, value.u, "");
	case SD_BUS_TYPE_BOOLEAN:
		return add(dict, key, 'b', value.b, value.b, "");
	default:
		return add(dict, key, 's', 0.0, 0, value.s);
	}
}

static int read_value(sd_bus_message *message, char type, const char *contents, const char *key,
                      struct dict *dict);

static int read_array(sd_bus_message *message, const char *contents, const char *key,
                      struct dict *dict)
{
	char inner_key[DICT_KEY_MAX], type;
	const char *inner, *name;
	int r;

	r = sd_bus_message_enter_container(message, SD_BUS_TYPE_ARRAY, contents);
	if (r < 0)
		return r;
	for (int i = 0; (r = sd_bus_message_peek_type(message, &type, &inner)) > 0; i++) {
		if (type != SD_BUS_TYPE_DICT_ENTRY) {
			snprintf(inner_key, sizeof inner_key, "%.50s.%d", key, i);
			r = read_value(message, type, inner, inner_key, dict);
		} else if ((r = sd_bus_message_enter_container(message, type, inner)) >= 0 &&
		           (r = sd_bus_message_read_basic(message, 's', &name)) >= 0) {
			snprintf(inner_key, sizeof inner_key, "%.30s%s%.32s", key, *key ? "." : "",
			         name);
			if (!*key)
				forget(dict, inner_key);
			r = sd_bus_message_peek_type(message, &type, &inner);
			if (r > 0)
				r = read_value(message, type, inner, inner_key, dict);
			if (r >= 0)
				r = sd_bus_message_exit_container(message);
		}
		if (r < 0)
			return r;
	}
	return r < 0 ? r : sd_bus_message_exit_container(message);
}

static int read_value(sd_bus_message *message, char type, const char *contents, const char *key,
                      struct dict *dict)
{
	const char *inner;
	char inner_type;
	int r;

	switch (type) {
	case SD_BUS_TYPE_VARIANT:
		r = sd_bus_message_enter_container(message, type, contents);
		if (r >= 0)
			r = sd_bus_message_peek_type(message, &inner_type, &inner);
		if (r > 0)
			r = read_value(message, inner_type, inner, key, dict);
		return r < 0 ? r : sd_bus_message_exit_container(message);
	case SD_BUS_TYPE_ARRAY:
		return read_array(message, contents, key, dict);
	case SD_BUS_TYPE_DOUBLE:
	case SD_BUS_TYPE_INT64:
	case SD_BUS_TYPE_UINT64:
	case SD_BUS_TYPE_INT32:
	case SD_BUS_TYPE_UINT32:
	case SD_BUS_TYPE_BOOLEAN:
	case SD_BUS_TYPE_STRING:
	case SD_BUS_TYPE_OBJECT_PATH:
		return read_basic(message, type, key, dict);
	default: /* a type of some newer station */
		return sd_bus_message_skip(message, NULL);
	}
}

int dict_read(sd_bus_message *message, struct dict *dict)
{
	return read_array(message, "{sv}", "", dict);
}

const struct dict_entry *dict_find(const struct dict *dict, const char *key)
{
	for (uint32_t i = 0; i < dict->n; i++)
		if (strcmp(dict->entry[i].key, key) == 0)
			return &dict->entry[i];
	return NULL;
}

const char *dict_text(const struct dict *dict, const char *key)
{
	const struct dict_entry *entry = dict_find(dict, key);

	return entry ? entry->text : "";
}

int64_t dict_whole(const struct dict *dict, const char *key)
{
	const struct dict_entry *entry = dict_find(dict, key);

	return entry ? entry->whole : 0;
}

bool dict_bool(const struct dict *dict, const char *key)
{
	return dict_whole(dict, key) != 0;
}

bool dict_number(const struct dict *dict, const char *key, double *ret)
{
	const struct dict_entry *entry = dict_find(dict, key);

	if (!entry || (entry->type != 'd' && entry->type != 'x'))
		return false;
	*ret = entry->number;
	return true;
}
