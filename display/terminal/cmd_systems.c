/* SPDX-License-Identifier: MIT */
#include <stdio.h>

#include "args.h"
#include "bus_client.h"
#include "rows.h"
#include "terminal.h"

/* ambo systems: the resin systems of this station, each read back as entered. */

static const struct column columns[] = {
        {"system", "System"},
        {"name", "Name"},
        {"read_back", "ReadBack"},
        {"ratio", "Ratio"},
        {"tolerance_pct", "TolerancePercent"},
        {"mixed_density_g_per_ml", "MixedDensityGramsPerMillilitre"},
        {"working_life_s", "WorkingLifeSeconds"},
        {"stir_s", "StirSeconds"},
        {"notes", "Notes"},
};
#define N_COLUMNS (sizeof columns / sizeof *columns)

static void person(const struct dict *row, void *context)
{
	double tolerance;

	(void)context;
	printf("%s  %s\n", dict_text(row, "System"), dict_text(row, "Name"));
	printf("    %s\n", dict_text(row, "ReadBack"));
	if (dict_number(row, "TolerancePercent", &tolerance))
		printf("    within %.1f %% either way\n", tolerance);
	if (*dict_text(row, "Notes"))
		printf("    %s\n", dict_text(row, "Notes"));
}

static void csv(const struct dict *row, void *context)
{
	(void)context;
	rows_csv(row, columns, N_COLUMNS);
}

static void member(const struct dict *row, void *context)
{
	struct json *json = context;

	json_open(json, NULL, '{');
	rows_json(json, row, columns, N_COLUMNS);
	json_close(json, '}');
}

int cmd_systems(const struct context *context, int argc, char **argv)
{
	bool as_csv = false, as_json = false;
	const struct arg table[] = {
	        {"--csv", ARG_FLAG, &as_csv, NULL, "a row for each, with a header row", 0, 0},
	        {"--json", ARG_FLAG, &as_json, NULL, "an array of objects", 0, 0},
	};
	const struct args args = {"systems [--csv | --json]",
	                          "The resin systems, each read back as it was entered.", table, 2,
	                          0};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus_message *reply = NULL;
	struct json json;
	sd_bus *bus = NULL;
	int r, status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (as_csv && as_json) {
		complain("--csv and --json: choose one");
		return EXIT_USAGE;
	}
	as_csv = as_csv || (!as_json && !terminal_out());
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_BATCH, "Systems", &reply, "");
	if (status == EXIT_OK) {
		json_init(&json, stdout, true);
		if (as_csv)
			rows_csv_header(columns, N_COLUMNS);
		if (as_json)
			json_open(&json, NULL, '[');
		r = rows_read(reply, as_json ? member : as_csv ? csv : person, &json);
		if (as_json)
			json_close(&json, ']');
		if (r < 0)
			status = bus_client_failed("the station's answer cannot be read", r);
	}
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}
