/* SPDX-License-Identifier: MIT */
#include "bus_dict.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "nearest.h"

int dict_begin(sd_bus_message *message)
{
	return sd_bus_message_open_container(message, 'a', "{sv}");
}

int dict_end(sd_bus_message *message)
{
	return sd_bus_message_close_container(message);
}

int dict_put_double(sd_bus_message *message, const char *key, double value)
{
	return isfinite(value) ? sd_bus_message_append(message, "{sv}", key, "d", value) : 0;
}

int dict_put_text(sd_bus_message *message, const char *key, const char *value)
{
	return sd_bus_message_append(message, "{sv}", key, "s", value);
}

int dict_put_whole(sd_bus_message *message, const char *key, int64_t value)
{
	return sd_bus_message_append(message, "{sv}", key, "x", value);
}

int dict_put_bool(sd_bus_message *message, const char *key, bool value)
{
	return sd_bus_message_append(message, "{sv}", key, "b", (int)value);
}

static int take_number(sd_bus_message *message, const struct dict_key *key, char *why)
{
	double value;
	int r = sd_bus_message_read(message, "v", "d", &value);

	if (r < 0)
		return r;
	if (!isfinite(value) || value < key->low || value > key->high) {
		snprintf(why, DICT_WHY_MAX, "%s is %g; expected a number from %.10g to %.10g.",
		         key->key, value, key->low, key->high);
		return -EINVAL;
	}
	*key->number = value;
	return 0;
}

static int take_text(sd_bus_message *message, const struct dict_key *key, char *why)
{
	const char *value;
	int r = sd_bus_message_read(message, "v", "s", &value);

	if (r < 0)
		return r;
	/* The bus itself has made sure of UTF-8 without a NUL. */
	for (const char *c = value; *c != '\0'; c++)
		if ((unsigned char)*c < 0x20u || *c == 0x7f) {
			snprintf(why, DICT_WHY_MAX, "%s holds a control character; expected text.",
			         key->key);
			return -EINVAL;
		}
	if (strlen(value) >= key->size) {
		snprintf(why, DICT_WHY_MAX, "%s has %zu bytes; expected at most %zu.", key->key,
		         strlen(value), key->size - 1);
		return -EINVAL;
	}
	snprintf(key->text, key->size, "%s", value);
	return 0;
}

static const struct dict_key *find(const struct dict_key *keys, size_t n_keys, const char *name,
                                   char *why)
{
	const char *names[32], *near;
	size_t n = n_keys < 32 ? n_keys : 32;

	for (size_t i = 0; i < n; i++) {
		if (strcmp(keys[i].key, name) == 0)
			return &keys[i];
		names[i] = keys[i].key;
	}
	near = nearest_of(name, names, n);
	snprintf(why, DICT_WHY_MAX, "There is no key \"%.60s\" here%s%s%s.", name,
	         near != NULL ? "; perhaps \"" : "", near != NULL ? near : "",
	         near != NULL ? "\"" : "");
	return NULL;
}

static int take_entry(sd_bus_message *message, const struct dict_key *keys, size_t n_keys,
                      uint32_t *seen, char *why)
{
	const struct dict_key *key;
	const char *name, *contents;
	int r;

	r = sd_bus_message_read(message, "s", &name);
	if (r < 0)
		return r;
	key = find(keys, n_keys, name, why);
	if (key == NULL)
		return -EINVAL;
	if (*seen & (1u << (key - keys))) {
		snprintf(why, DICT_WHY_MAX, "%s is given twice.", key->key);
		return -EINVAL;
	}
	*seen |= 1u << (key - keys);
	r = sd_bus_message_peek_type(message, NULL, &contents);
	if (r < 0)
		return r;
	if (strcmp(contents, key->number != NULL ? "d" : "s") != 0) {
		snprintf(why, DICT_WHY_MAX, "%s has the type '%.20s'; expected %s.", key->key,
		         contents, key->number != NULL ? "a double 'd'" : "a text 's'");
		return -EINVAL;
	}
	return key->number != NULL ? take_number(message, key, why) : take_text(message, key, why);
}

int dict_take(sd_bus_message *message, const struct dict_key *keys, size_t n_keys, char *why)
{
	uint32_t seen = 0;
	int r;

	r = sd_bus_message_enter_container(message, 'a', "{sv}");
	while (r >= 0 && (r = sd_bus_message_enter_container(message, 'e', "sv")) > 0) {
		r = take_entry(message, keys, n_keys, &seen, why);
		if (r >= 0)
			r = sd_bus_message_exit_container(message);
	}
	return r < 0 ? r : sd_bus_message_exit_container(message);
}
