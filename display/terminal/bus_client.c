/* SPDX-License-Identifier: MIT */
#include "bus_client.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

int bus_client_failed(const char *what, int error)
{
	complain("%s: %s", what, strerror(error < 0 ? -error : error));
	return error == -ECONNRESET || error == -ENOTCONN || error == -EPIPE ? EXIT_NO_STATION
	                                                                     : EXIT_FAILED;
}

static bool answers(sd_bus *bus)
{
	return bus && sd_bus_get_name_creds(bus, STATION_NAME, 0, NULL) >= 0;
}

static int connect_to(enum bus_choice choice, sd_bus **ret)
{
	sd_bus *bus = NULL;
	int r;

	if (choice == BUS_SYSTEM)
		r = sd_bus_open_system(&bus);
	else
		r = sd_bus_open_user(&bus);
	if (r >= 0)
		*ret = bus;
	return r;
}

/* One look: the first of the buses chosen where a station answers. */
static sd_bus *look(enum bus_choice choice)
{
	static const enum bus_choice order[] = {BUS_SESSION, BUS_SYSTEM};

	for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
		sd_bus *bus = NULL;

		if (choice != BUS_AUTO && choice != order[i])
			continue;
		if (connect_to(order[i], &bus) >= 0 && answers(bus))
			return bus;
		sd_bus_flush_close_unref(bus);
	}
	return NULL;
}

int bus_client_open(const struct context *context, sd_bus **ret)
{
	const struct timespec pause = {.tv_nsec = 100000000};
	static const char *const where[] = {"session or system bus", "session bus", "system bus"};
	sd_bus *bus = look(context->bus);

	for (double waited = 0.0; !bus && waited < context->wait_s; waited += 0.1) {
		nanosleep(&pause, NULL);
		bus = look(context->bus);
	}
	if (!bus) {
		complain("no station on the %s: start ambod, or choose with --bus session|system",
		         where[context->bus]);
		return EXIT_NO_STATION;
	}
	*ret = bus;
	return EXIT_OK;
}

static int refused(const sd_bus_error *error, int r)
{
	if (sd_bus_error_has_name(error, SD_BUS_ERROR_SERVICE_UNKNOWN) ||
	    sd_bus_error_has_name(error, SD_BUS_ERROR_NAME_HAS_NO_OWNER) ||
	    sd_bus_error_has_name(error, SD_BUS_ERROR_NO_REPLY) ||
	    sd_bus_error_has_name(error, SD_BUS_ERROR_DISCONNECTED)) {
		complain("the station is gone from the bus: start ambod again");
		return EXIT_NO_STATION;
	}
	if (sd_bus_error_has_name(error, SD_BUS_ERROR_UNKNOWN_OBJECT) ||
	    sd_bus_error_has_name(error, SD_BUS_ERROR_UNKNOWN_METHOD) ||
	    sd_bus_error_has_name(error, SD_BUS_ERROR_UNKNOWN_INTERFACE)) {
		complain("this station does not offer that (%s)", error->message);
		return EXIT_FAILED;
	}
	if (sd_bus_error_is_set(error) && error->message && *error->message) {
		complain("%s", error->message);
		return EXIT_FAILED;
	}
	return bus_client_failed("the call to the station failed", r);
}

int bus_client_send(sd_bus *bus, sd_bus_message *call, sd_bus_message **ret_reply)
{
	sd_bus_error error = SD_BUS_ERROR_NULL;
	int status = EXIT_OK;
	int r = sd_bus_call(bus, call, (uint64_t)(STATION_TIMEOUT_S * 1e6), &error, ret_reply);

	if (r < 0)
		status = refused(&error, r);
	sd_bus_error_free(&error);
	sd_bus_message_unref(call);
	return status;
}

int bus_client_call(sd_bus *bus, const char *path, const char *interface, const char *method,
                    sd_bus_message **ret_reply, const char *types, ...)
{
	sd_bus_message *call = NULL;
	va_list arguments;
	int r;

	va_start(arguments, types);
	r = sd_bus_message_new_method_call(bus, &call, STATION_NAME, path, interface, method);
	if (r >= 0)
		r = sd_bus_message_appendv(call, types, arguments);
	va_end(arguments);
	if (r < 0) {
		sd_bus_message_unref(call);
		return bus_client_failed(method, r);
	}
	return bus_client_send(bus, call, ret_reply);
}

int bus_client_properties(sd_bus *bus, const char *path, const char *interface, struct dict *ret)
{
	sd_bus_message *reply = NULL;
	int status = bus_client_call(bus, path, "org.freedesktop.DBus.Properties", "GetAll", &reply,
	                             "s", interface);

	if (status == EXIT_OK) {
		int r;

		ret->n = 0;
		r = dict_read(reply, ret);
		if (r < 0)
			status = bus_client_failed("the station's answer cannot be read", r);
	}
	sd_bus_message_unref(reply);
	return status;
}
