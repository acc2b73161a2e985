/* SPDX-License-Identifier: MIT */
#include "modbus_say.h"

#include <errno.h>
#include <grp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

struct saying {
	char *message;
	size_t used;
};

__attribute__((format(printf, 2, 3))) static void say(struct saying *to, const char *format, ...)
{
	va_list arguments;
	int n;

	va_start(arguments, format);
	n = vsnprintf(to->message + to->used, SCALE_MESSAGE_MAX - to->used, format, arguments);
	va_end(arguments);
	if (n > 0)
		to->used += (size_t)n;
	if (to->used >= SCALE_MESSAGE_MAX)
		to->used = SCALE_MESSAGE_MAX - 1;
}

static void say_unit(struct saying *to, const struct modbus_wire_config *wire)
{
	say(to, "modbus: unit %d ", wire->unit);
	if (wire->link == MODBUS_TCP)
		say(to, "at %.100s port %d", wire->host, wire->port);
	else
		say(to, "on %.100s (%d baud 8%c%d)", wire->device, wire->baud, wire->parity,
		    wire->stop_bits);
}

static void say_request(struct saying *to, const struct modbus_request *request)
{
	switch ((enum modbus_function)request->function) {
	case MODBUS_READ_HOLDING:
	case MODBUS_READ_INPUT:
		say(to, "asked for %d %s register%s from %d (function %d)", request->word,
		    request->function == MODBUS_READ_HOLDING ? "holding" : "input",
		    request->word == 1 ? "" : "s", request->address, request->function);
		break;
	case MODBUS_WRITE_COIL:
		say(to, "told to set coil %d (function 5)", request->address);
		break;
	case MODBUS_WRITE_REGISTER:
		say(to, "told to set register %d to %d (function 6)", request->address,
		    request->word);
		break;
	}
}

static void say_silence(struct saying *to, const struct modbus_config *config,
                        const struct modbus_request *request, const struct modbus_counts *since,
                        const struct modbus_counts *now)
{
	const char *check =
	        config->wire.link == MODBUS_TCP
	                ? "check its power, its network and its unit id"
	                : "check its power, its wiring, its unit id, baud rate and parity";

	say(to, " does not answer: ");
	say_request(to, request);
	if (now->n_early > since->n_early)
		say(to,
		    ", what came was faster than %d baud can carry: a late reply, or a link "
		    "faster than baud says; set baud to its true rate",
		    config->wire.baud);
	else if (now->n_foreign > since->n_foreign)
		say(to,
		    ", within %d ms only replies to something else came (late, or another "
		    "unit's); raise timeout_ms if it is slow",
		    config->wire.timeout_ms);
	else
		say(to, ", no whole reply within %d ms; %s", config->wire.timeout_ms, check);
}

static void say_exception(struct saying *to, const struct modbus_request *request, int exception)
{
	say(to, " refuses: ");
	say_request(to, request);
	say(to, ", exception %d, %s", exception, modbus_exception_name(exception));
	if (exception == 2)
		say(to, "; expected addresses it has, counted from 0 (40001 in many manuals is 0)");
}

void modbus_say_failure(const struct modbus_config *config, const struct modbus_request *request,
                        int r, int exception, const struct modbus_counts *since,
                        const struct modbus_counts *now, char *message)
{
	struct saying to = {message, 0};

	say_unit(&to, &config->wire);
	switch (r) {
	case -ETIMEDOUT:
		say_silence(&to, config, request, since, now);
		break;
	case -EREMOTEIO:
		say_exception(&to, request, exception);
		break;
	case -EBADMSG:
		say(&to, " sends damaged replies: ");
		say_request(&to, request);
		say(&to, "; check %s",
		    config->wire.link == MODBUS_TCP
		            ? "what lies between, a gateway perhaps"
		            : "wiring, termination, parity, and that no other master is there");
		break;
	default:
		say(&to, ": the link failed (%s)", strerror(-r));
		break;
	}
	say(&to, "; trying again");
}

static void say_port(struct saying *to, const char *device, int r)
{
	struct group group, *found = NULL;
	char names[1024];
	struct stat status;

	switch (r) {
	case -ENOENT:
		say(to, "is not there; expected a port that is, see ls /dev/serial/by-id");
		break;
	case -EACCES:
	case -EPERM:
		if (stat(device, &status) == 0)
			getgrgid_r(status.st_gid, &group, names, sizeof(names), &found);
		say(to, "is not permitted; expected a user of the group %s",
		    found != NULL ? found->gr_name : "that owns it");
		break;
	case -EBUSY:
		say(to, "is in use by another program; expected a port of its own");
		break;
	default:
		say(to, "cannot be opened (%s); expected a serial port", strerror(-r));
		break;
	}
}

void modbus_say_not_open(const struct modbus_config *config, int r, char *message)
{
	const struct modbus_wire_config *wire = &config->wire;
	struct saying to = {message, 0};

	say(&to, "%s: ", config->place);
	if (wire->link == MODBUS_RTU) {
		say(&to, "'%.200s' ", wire->device);
		say_port(&to, wire->device, r);
	} else {
		say(&to,
		    "'%.100s' port %d cannot be reached (%s); expected a unit or gateway "
		    "that listens there",
		    wire->host, wire->port, strerror(-r));
	}
}

void modbus_say_frozen(const struct modbus_config *config, int64_t still_us, char *message)
{
	struct saying to = {message, 0};

	say_unit(&to, &config->wire);
	say(&to,
	    " answers, but its heartbeat in register %d has stood still for %lld ms: its "
	    "converter has stopped, and so its mass is not shown",
	    config->map.heartbeat, (long long)(still_us / 1000));
}
