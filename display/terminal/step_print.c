/* SPDX-License-Identifier: MIT */
#include "step_print.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "record_print.h"

void step_print_header(bool text)
{
	if (!text)
		printf("id,t_us,step,message,verdict,sentence\n");
	fflush(stdout);
}

void step_print(const struct live_step *step, bool text)
{
	if (text) {
		printf("%8.1f s  %-9s  %s\n", (double)step->t_us * 1e-6, step->step,
		       step->sentence);
	} else {
		printf("%" PRId64 ",%" PRId64 ",%s,%s,%s,", step->id, step->t_us, step->step,
		       step->message, step->verdict);
		csv_field(stdout, step->sentence);
		putchar('\n');
	}
	fflush(stdout);
}

int step_print_record(sd_bus *bus, int64_t id, bool text)
{
	struct dict *row = calloc(1, sizeof *row);
	sd_bus_message *reply = NULL;
	int r, status;

	if (!row)
		return bus_client_failed("the record", -ENOMEM);
	status = bus_client_call(bus, STATION_RECORDS, "Get", &reply, "x", id);
	if (status == EXIT_OK && (r = dict_read(reply, row)) < 0)
		status = bus_client_failed("the station's answer cannot be read", r);
	if (status == EXIT_OK) {
		putchar('\n');
		if (text) {
			record_print_whole(row);
		} else {
			rows_csv_header(record_columns, record_n_columns);
			rows_csv(row, record_columns, record_n_columns);
		}
		if (!record_is_within(row))
			status = EXIT_FAILED;
	}
	sd_bus_message_unref(reply);
	free(row);
	return status;
}
