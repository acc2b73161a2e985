/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_BUS_CLIENT_H
#define AMBO_TERMINAL_BUS_CLIENT_H

#include <systemd/sd-bus.h>

#include "ambo.h"
#include "dict.h"

/* A connection to the station. Whatever fails is said once, as one sentence on
 * standard error, and comes back as an enum exit_status. */

#define STATION_NAME      "org.ambo.Station"
#define STATION_SCALE     "/org/ambo/scale", "org.ambo.Scale1"
#define STATION_BATCH     "/org/ambo/batch", "org.ambo.Batch1"
#define STATION_RECORDS   "/org/ambo/records", "org.ambo.Records1"
#define STATION_PIECES    "/org/ambo/pieces", "org.ambo.Pieces1"
#define STATION_BENCH     "/org/ambo/bench", "org.ambo.Bench1"
#define STATION_TIMEOUT_S 25.0

/* Connects and, for at most context->wait_s, waits until a station answers. On
 * EXIT_OK the caller owns *ret (sd_bus_flush_close_unref). */
int bus_client_open(const struct context *context, sd_bus **ret);

/* A method call with its arguments by types. ret_reply may be NULL; else on EXIT_OK
 * the caller owns it (sd_bus_message_unref). */
int bus_client_call(sd_bus *bus, const char *path, const char *interface, const char *method,
                    sd_bus_message **ret_reply, const char *types, ...);
/* The same for a message built by the caller, which this takes and frees. */
int bus_client_send(sd_bus *bus, sd_bus_message *call, sd_bus_message **ret_reply);

/* Every property of an interface. */
int bus_client_properties(sd_bus *bus, const char *path, const char *interface, struct dict *ret);

/* "what: why", the errno that sd-bus returned: EXIT_FAILED, or EXIT_NO_STATION. */
int bus_client_failed(const char *what, int error);

#endif
