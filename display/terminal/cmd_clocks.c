/* SPDX-License-Identifier: MIT */
#include <stdio.h>

#include "args.h"
#include "bus_client.h"
#include "piece_rows.h"

/* ambo clocks: what is still to come of the layers that cure. */

static int print(sd_bus *bus, bool as_json)
{
	sd_bus_message *reply = NULL;
	struct json json;
	struct piece_printer printer = {
	        .table = &piece_table_clocks, .as_json = as_json, .json = &json};
	int r, status;

	json_init(&json, stdout, true);
	status = bus_client_call(bus, "/org/ambo/pieces", "org.freedesktop.DBus.Properties", "Get",
	                         &reply, "ss", "org.ambo.Pieces1", "Clocks");
	if (status == EXIT_OK) {
		if (as_json)
			json_open(&json, NULL, '[');
		r = sd_bus_message_enter_container(reply, 'v', "aa{sv}");
		if (r >= 0)
			r = rows_read(reply, piece_print_row, &printer);
		if (as_json)
			json_close(&json, ']');
		if (r >= 0)
			piece_print_end(&printer);
		if (r < 0)
			status = bus_client_failed("the station's answer cannot be read", r);
	}
	sd_bus_message_unref(reply);
	fflush(stdout);
	return status;
}

static int heard(sd_bus_message *message, void *context, sd_bus_error *error)
{
	const char *piece, *event, *sentence;
	int64_t layer;

	(void)context;
	(void)error;
	if (sd_bus_message_read(message, "sxss", &piece, &layer, &event, &sentence) >= 0) {
		printf("%s\n", sentence);
		fflush(stdout);
	}
	return 0;
}

/* Until interrupted, or the bus ends: nothing is asked, the station tells. */
static int follow(sd_bus *bus)
{
	int r = sd_bus_match_signal(bus, NULL, STATION_NAME, "/org/ambo/pieces", "org.ambo.Pieces1",
	                            "ClockEvent", heard, NULL);

	while (r >= 0) {
		while ((r = sd_bus_process(bus, NULL)) > 0)
			;
		if (r >= 0)
			r = sd_bus_wait(bus, UINT64_MAX);
	}
	return bus_client_failed("the bus", r);
}

int cmd_clocks(const struct context *context, int argc, char **argv)
{
	bool as_json = false, follows = false;
	const struct arg table[] = {
	        {"--json", ARG_FLAG, &as_json, NULL, "an array of objects", 0, 0},
	        {"--follow", ARG_FLAG, &follows, NULL, "then a line for each event as it comes", 0,
	         0},
	};
	const struct args args = {"clocks [--json] [--follow]",
	                          "The clocks of the layers that cure: what was, and when what is "
	                          "still to come.",
	                          table, 2, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = print(bus, as_json);
	if (status == EXIT_OK && follows)
		status = follow(bus);
	sd_bus_flush_close_unref(bus);
	return status;
}
