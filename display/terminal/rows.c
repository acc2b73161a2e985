/* SPDX-License-Identifier: MIT */
#include "rows.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

void rows_csv_header(const struct column *columns, size_t n)
{
	for (size_t i = 0; i < n; i++)
		printf("%s%s", i ? "," : "", columns[i].name);
	putchar('\n');
}

void rows_csv(const struct dict *row, const struct column *columns, size_t n)
{
	char number[OUTPUT_NUMBER_MAX];

	for (size_t i = 0; i < n; i++) {
		const struct dict_entry *entry = dict_find(row, columns[i].key);

		if (i)
			putchar(',');
		if (!entry)
			continue;
		if (entry->type == 'd')
			fputs(output_number(entry->number, number), stdout);
		else if (entry->type == 's')
			csv_field(stdout, entry->text);
		else if (entry->type == 'b')
			fputs(entry->whole ? "true" : "false", stdout);
		else
			printf("%" PRId64, entry->whole);
	}
	putchar('\n');
}

void rows_json(struct json *json, const struct dict *row, const struct column *columns, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		const struct dict_entry *entry = dict_find(row, columns[i].key);

		if (!entry)
			continue;
		if (entry->type == 'd')
			json_number(json, columns[i].name, entry->number);
		else if (entry->type == 's')
			json_text(json, columns[i].name, entry->text);
		else if (entry->type == 'b')
			json_bool(json, columns[i].name, entry->whole != 0);
		else
			json_whole(json, columns[i].name, entry->whole);
	}
}

int rows_read(sd_bus_message *message, void (*each)(const struct dict *row, void *context),
              void *context)
{
	struct dict *row = malloc(sizeof *row);
	int r = row ? sd_bus_message_enter_container(message, 'a', "a{sv}") : -ENOMEM;

	while (r >= 0 && (r = sd_bus_message_at_end(message, false)) == 0) {
		row->n = 0;
		r = dict_read(message, row);
		if (r >= 0)
			each(row, context);
	}
	if (r > 0)
		r = sd_bus_message_exit_container(message);
	free(row);
	return r;
}
