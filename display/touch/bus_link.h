/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_BUS_LINK_H
#define AMBO_TOUCH_BUS_LINK_H

#include "ui.h"

/* The station on the bus, followed and asked without ever waiting for it: the only
 * file that knows sd-bus. Bus and station may vanish and come back at any time. */
struct bus_link;

enum bus_choice { BUS_AUTO, BUS_SESSION, BUS_SYSTEM };

enum bus_event {
	BUS_EVENT_READING = 1u << 0,
	BUS_EVENT_BATCH = 1u << 1,
	BUS_EVENT_LINK = 1u << 2,   /* came or went */
	BUS_EVENT_ANSWER = 1u << 3, /* systems, records, a refusal, a weight */
};

int bus_link_new(enum bus_choice choice, struct model *model, struct ui *ui,
                 struct bus_link **ret); /* model and ui are borrowed, written in process */
void bus_link_free(struct bus_link *link);

/* For poll(); -1 while there is no bus. */
int bus_link_fd(const struct bus_link *link);
short bus_link_poll_events(const struct bus_link *link);

/* When process wants to be called at the latest, CLOCK_MONOTONIC. */
int64_t bus_link_until_us(const struct bus_link *link);
/* Readings come 80 times a second: only while somebody looks at them. */
void bus_link_want_readings(struct bus_link *link, bool wanted);

/* Takes what has come; returns what, enum bus_event or-ed. now_us: CLOCK_MONOTONIC,
 * for when to look again. */
uint32_t bus_link_process(struct bus_link *link, int64_t now_us);

/* Sends an order; what comes of it arrives by process. */
void bus_link_send(struct bus_link *link, const struct order *order);

#endif
