/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_ROWS_H
#define AMBO_TERMINAL_ROWS_H

#include "dict.h"
#include "output.h"

/* Dictionaries of the bus as rows: which key stands in which column. The same table
 * gives the CSV's columns and the JSON's members. */

struct column {
	const char *name, *key;
};

void rows_csv_header(const struct column *columns, size_t n);
void rows_csv(const struct dict *row, const struct column *columns, size_t n);
/* The members of an object that the caller opened; what is unknown is absent. */
void rows_json(struct json *json, const struct dict *row, const struct column *columns, size_t n);

/* Reads an aa{sv} at the message's place, calling each with one row at a time, which
 * is its only during the call. -errno. */
int rows_read(sd_bus_message *message, void (*each)(const struct dict *row, void *context),
              void *context);

#endif
