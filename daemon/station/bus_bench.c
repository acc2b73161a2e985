/* SPDX-License-Identifier: MIT */
/* /org/ambo/bench: hands for a simulated bench. Not there with any other scale. */
#include <errno.h>
#include <math.h>

#include "bus_inside.h"

static int act(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct station *station = bus->station;
	const char *verb;
	double amount;
	int r;

	(void)error;
	r = sd_bus_message_read(message, "sd", &verb, &amount);
	if (r < 0)
		return r;
	if (!isfinite(amount))
		return bus_refuse(message, "BadRequest", "The amount is %g; expected a number.",
		                  amount);
	r = station->config->driver->act(station->scale, verb, amount);
	if (r == -EBUSY)
		return bus_refuse(message, "Busy", "The bench cannot do \"%.40s\" as it stands.",
		                  verb);
	if (r < 0)
		return bus_refuse(message, "BadRequest",
		                  "The bench cannot do \"%.40s\" with %g; see the list of verbs.",
		                  verb, amount);
	return sd_bus_reply_method_return(message, "");
}

const sd_bus_vtable bus_bench_vtable[] = {
        SD_BUS_VTABLE_START(0),
        SD_BUS_METHOD_WITH_NAMES("Act", "sd", SD_BUS_PARAM(verb) SD_BUS_PARAM(amount), "", "", act,
                                 SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_VTABLE_END,
};
