/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_PIECE_ROWS_H
#define AMBO_TERMINAL_PIECE_ROWS_H

#include "rows.h"

/* Rows about pieces as the station sends them, for a person and as JSON. */

struct piece_table {
	const struct column *columns;
	size_t n;
	void (*person)(const struct dict *row);
	const char *none; /* for a person: there are no rows */
};

extern const struct piece_table piece_table_checks, piece_table_photos;
extern const struct piece_table piece_table_list, piece_table_layers, piece_table_plan,
        piece_table_clocks;

struct piece_printer {
	const struct piece_table *table;
	bool as_json;
	struct json *json;
	size_t printed; /* rows */
};
void piece_print_row(const struct dict *row, void *printer);
/* After the last: a person at a terminal is told that there was none. */
void piece_print_end(const struct piece_printer *printer);

#endif
