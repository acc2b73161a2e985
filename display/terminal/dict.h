/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_DICT_H
#define AMBO_TERMINAL_DICT_H

#include <stdbool.h>
#include <stdint.h>
#include <systemd/sd-bus.h>

/* A dictionary from the bus (a{sv}), kept in the order it came in. What is nested
 * is flattened: Quantities.TargetGrams, Open.0.Id. A key that is absent is an
 * unknown quantity. */

#define DICT_ENTRIES_MAX 192u
#define DICT_KEY_MAX     64u
#define DICT_TEXT_MAX    768u

struct dict_entry {
	char key[DICT_KEY_MAX];
	char type; /* 'd' number, 'x' whole, 'b' bool, 's' text */
	double number;
	int64_t whole; /* also of 'b' */
	char text[DICT_TEXT_MAX];
};

struct dict {
	uint32_t n;
	struct dict_entry entry[DICT_ENTRIES_MAX];
};

/* Reads the a{sv} at the message's place and puts it over what is there: a key that
 * came replaces all that was under it. -errno for what is no a{sv}; -ENOSPC. */
int dict_read(sd_bus_message *message, struct dict *dict);

const struct dict_entry *dict_find(const struct dict *dict, const char *key); /* or NULL */
/* "" , 0 where there is none; a number also of a whole. */
const char *dict_text(const struct dict *dict, const char *key);
int64_t dict_whole(const struct dict *dict, const char *key);
bool dict_bool(const struct dict *dict, const char *key);
bool dict_number(const struct dict *dict, const char *key, double *ret); /* false: unknown */

#endif
