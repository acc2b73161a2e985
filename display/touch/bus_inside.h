/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_BUS_INSIDE_H
#define AMBO_TOUCH_BUS_INSIDE_H

#include <systemd/sd-bus.h>

#include "bus_link.h"

/* What the two files of the link share: bus_link.c follows the station, bus_orders.c asks
 * it for things. */

#define STATION    "org.ambo.Station"
#define SCALE      STATION, "/org/ambo/scale", "org.ambo.Scale1"
#define BATCH      STATION, "/org/ambo/batch", "org.ambo.Batch1"
#define RECORDS    STATION, "/org/ambo/records", "org.ambo.Records1"
#define PIECES     STATION, "/org/ambo/pieces", "org.ambo.Pieces1"
#define PROPERTIES "org.freedesktop.DBus.Properties"

#define LIST_LIMIT 60u

struct bus_link {
	enum bus_choice choice;
	sd_bus *bus; /* NULL: none at present */
	struct model *model;
	struct ui *ui;
	int64_t try_us; /* when to look for a bus again */
	bool wants_readings;
	sd_bus_slot *readings; /* NULL: not asked for */
	int64_t record_id;     /* asked for last */
	int64_t health_us;     /* when to ask for the scale's health again */
	char drying[128];      /* what is being weighed */
	int curve_fd;          /* where the station writes the curve; -1 none */
	uint32_t events;
};

/* A refusal becomes the notice on the screen. */
void bus_refused(struct bus_link *link, sd_bus_message *reply);
void bus_ask_scale(struct bus_link *link);
void bus_ask_checks(struct bus_link *link);
/* Answers that both ask for. */
int bus_on_systems(sd_bus_message *reply, void *context, sd_bus_error *error);
int bus_on_records(sd_bus_message *reply, void *context, sd_bus_error *error);

#endif
