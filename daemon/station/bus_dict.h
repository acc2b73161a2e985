/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_BUS_DICT_H
#define AMBO_STATION_BUS_DICT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <systemd/sd-bus.h>

/* a{sv}, written entry by entry, and read against a table. */

int dict_begin(sd_bus_message *message); /* opens one a{sv} */
int dict_end(sd_bus_message *message);
int dict_put_double(sd_bus_message *message, const char *key, double value); /* NaN: absent */
int dict_put_text(sd_bus_message *message, const char *key, const char *value);
int dict_put_whole(sd_bus_message *message, const char *key, int64_t value);
int dict_put_bool(sd_bus_message *message, const char *key, bool value);

/* A key that a request may carry: a finite number within low..high, or a text of
 * less than size bytes of UTF-8. */
struct dict_key {
	const char *key;
	double *number;
	double low, high;
	char *text;
	size_t size;
};

#define DICT_WHY_MAX 256u

/* Reads one a{sv}. 0; -EINVAL with one sentence in why (unknown key, wrong type,
 * given twice, NaN, out of range, too long); another -errno of the bus. */
int dict_take(sd_bus_message *message, const struct dict_key *keys, size_t n_keys, char *why);

#endif
