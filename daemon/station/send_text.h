/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_SEND_TEXT_H
#define AMBO_STATION_SEND_TEXT_H

#include <stddef.h>
#include <systemd/sd-event.h>

/* Writes a text to a descriptor that a client has opened, without ever waiting for
 * that client: a file at once, a pipe, socket or terminal as it takes it, at most
 * SEND_TEXT_US long. Calls done once, perhaps before it returns. fd and text stay the
 * caller's until then. */
#define SEND_TEXT_US 20000000u

void send_text(sd_event *event, int fd, const char *text, size_t length,
               void (*done)(void *context, int result), void *context);

#endif
