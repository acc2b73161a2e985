/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "args.h"
#include "bus_client.h"
#include "record_print.h"
#include "terminal.h"

/* ambo records: what was mixed, as a table, one whole, or the chain verified. */

enum form { FORM_TABLE, FORM_CSV, FORM_JSON };

struct printer {
	enum form form;
	struct json json;
	int64_t left;
};

static void print_row(const struct dict *row, void *context)
{
	struct printer *printer = context;

	if (printer->left <= 0)
		return;
	printer->left--;
	switch (printer->form) {
	case FORM_TABLE:
		record_print_line(row);
		break;
	case FORM_CSV:
		rows_csv(row, record_columns, record_n_columns);
		break;
	case FORM_JSON:
		json_open(&printer->json, NULL, '{');
		rows_json(&printer->json, row, record_columns, record_n_columns);
		json_close(&printer->json, '}');
		break;
	}
}

#define PAGE 200 /* rows a call; the station allows 500 */

static int list(sd_bus *bus, struct printer *printer)
{
	int64_t cursor = 0, next = 0;
	int status = EXIT_OK;

	if (printer->form == FORM_TABLE)
		record_print_heading();
	if (printer->form == FORM_CSV)
		rows_csv_header(record_columns, record_n_columns);
	if (printer->form == FORM_JSON)
		json_open(&printer->json, NULL, '[');
	do {
		sd_bus_message *reply = NULL;
		uint32_t limit = (uint32_t)(printer->left < PAGE ? printer->left : PAGE);
		int r = 0;

		status = bus_client_call(bus, STATION_RECORDS, "List", &reply, "xu", cursor, limit);
		if (status == EXIT_OK)
			r = rows_read(reply, print_row, printer);
		if (status == EXIT_OK && r >= 0)
			r = sd_bus_message_read(reply, "x", &next);
		if (status == EXIT_OK && r < 0)
			status = bus_client_failed("the station's answer cannot be read", r);
		sd_bus_message_unref(reply);
		/* Newest first: a cursor that does not fall would never end. */
		if (next >= cursor && cursor != 0)
			next = 0;
		cursor = next;
	} while (status == EXIT_OK && cursor != 0 && printer->left > 0);
	if (printer->form == FORM_JSON)
		json_close(&printer->json, ']');
	return status;
}

static void print_step(const struct dict *row, void *context)
{
	struct printer *printer = context;
	int64_t t_us = dict_whole(row, "TimeMicroseconds");

	switch (printer->form) {
	case FORM_TABLE:
		printf("  %9.1f s  %-10s %-18s %s\n", (double)t_us * 1e-6, dict_text(row, "Step"),
		       dict_text(row, "Message"), dict_text(row, "Verdict"));
		break;
	case FORM_CSV:
		rows_csv(row, record_step_columns, record_n_step_columns);
		break;
	case FORM_JSON:
		json_open(&printer->json, NULL, '{');
		rows_json(&printer->json, row, record_step_columns, record_n_step_columns);
		json_close(&printer->json, '}');
		break;
	}
}

/* One record whole. As CSV it is the table of its steps: the record itself is the
 * row that the list prints. */
static int whole(sd_bus *bus, int64_t id, struct printer *printer)
{
	struct dict *row = calloc(1, sizeof *row);
	sd_bus_message *reply = NULL;
	int r, status;

	if (!row)
		return bus_client_failed("records", -ENOMEM);
	status = bus_client_call(bus, STATION_RECORDS, "Get", &reply, "x", id);
	r = status == EXIT_OK ? dict_read(reply, row) : 0;
	if (status == EXIT_OK && r >= 0) {
		if (printer->form == FORM_TABLE)
			record_print_whole(row);
		if (printer->form == FORM_CSV)
			rows_csv_header(record_step_columns, record_n_step_columns);
		if (printer->form == FORM_JSON) {
			json_open(&printer->json, NULL, '{');
			rows_json(&printer->json, row, record_columns, record_n_columns);
			json_open(&printer->json, "steps", '[');
		}
		r = rows_read(reply, print_step, printer);
		if (printer->form == FORM_JSON) {
			json_close(&printer->json, ']');
			json_close(&printer->json, '}');
		}
	}
	if (r < 0)
		status = bus_client_failed("the station's answer cannot be read", r);
	sd_bus_message_unref(reply);
	free(row);
	return status;
}

static int export(sd_bus *bus, int64_t id, const char *what)
{
	fflush(stdout);
	return bus_client_call(bus, STATION_RECORDS, "Export", NULL, "xsh", id, what,
	                       STDOUT_FILENO);
}

static int verify(sd_bus *bus)
{
	sd_bus_message *reply = NULL;
	int64_t links = 0, bad = 0;
	int status = bus_client_call(bus, STATION_RECORDS, "Verify", &reply, "");

	if (status == EXIT_OK && sd_bus_message_read(reply, "xx", &links, &bad) < 0)
		status = EXIT_FAILED;
	sd_bus_message_unref(reply);
	if (status != EXIT_OK)
		return status;
	if (bad) {
		printf("The chain breaks at batch %" PRId64
		       ": its record is not what was committed.\n",
		       bad);
		return EXIT_FAILED;
	}
	printf("The chain is whole: %" PRId64 " finished batches.\n", links);
	return EXIT_OK;
}

int cmd_records(const struct context *context, int argc, char **argv)
{
	bool csv = false, as_json = false, walk = false, curve = false, canonical = false;
	int64_t limit = 50, id = 0;
	const struct arg table[] = {
	        {"--csv", ARG_FLAG, &csv, NULL, "a row for each (with ID: for each of its steps)",
	         0, 0},
	        {"--json", ARG_FLAG, &as_json, NULL, "an array of objects (with ID: one object)", 0,
	         0},
	        {"--limit", ARG_WHOLE, &limit, "N", "the newest N (50)", 1, 1e9},
	        {"--curve", ARG_FLAG, &curve, NULL, "with ID: the pour's own curve, as CSV", 0, 0},
	        {"--canonical", ARG_FLAG, &canonical, NULL,
	         "with ID: the bytes that the chain protects, JSON", 0, 0},
	        {"--verify", ARG_FLAG, &walk, NULL,
	         "walk the chain over all finished batches; 1 if it breaks", 0, 0},
	};
	const struct args args = {"records [--csv | --json] [--limit N] [ID] | --verify",
	                          "What was mixed, newest first, or one record whole.", table, 6,
	                          1};
	const char *operands[ARGS_OPERANDS_MAX];
	struct printer printer;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (csv + as_json + walk + curve + canonical > 1) {
		complain("records: --csv, --json, --curve, --canonical and --verify: choose one");
		return EXIT_USAGE;
	}
	if (operands[0] && (args_whole(operands[0], &id) < 0 || id < 1)) {
		complain("records %s: expected the number of a batch", operands[0]);
		return EXIT_USAGE;
	}
	if ((curve || canonical) && !id) {
		complain("records: say whose, by the number of a batch");
		return EXIT_USAGE;
	}
	printer.form = as_json ? FORM_JSON : csv || !terminal_out() ? FORM_CSV : FORM_TABLE;
	printer.left = limit;
	json_init(&printer.json, stdout, true);
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = walk                 ? verify(bus)
		         : curve || canonical ? export(bus, id, curve ? "curve" : "canonical")
		         : id                 ? whole(bus, id, &printer)
		                              : list(bus, &printer);
	sd_bus_flush_close_unref(bus);
	return status;
}
