/* SPDX-License-Identifier: MIT */
#include "scale.h"

#include <string.h>

#include "hx711_driver.h"
#include "iio.h"
#include "modbus.h"
#include "replay.h"
#include "simulated.h"

const struct scale_driver *const scale_drivers[] = {
        &hx711_driver,
        &iio_driver,
        &modbus_driver,
        &replay_driver,
        &simulated_driver,
        NULL,
};

const struct scale_driver *scale_driver_find(const char *name)
{
	for (size_t i = 0; scale_drivers[i] != NULL; i++)
		if (strcmp(scale_drivers[i]->name, name) == 0)
			return scale_drivers[i];
	return NULL;
}
