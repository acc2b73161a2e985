/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_BUS_READ_H
#define AMBO_TOUCH_BUS_READ_H

#include <systemd/sd-bus.h>

#include "model.h"

/* The bus's dictionaries into the model, under their own names. -errno for a message
 * of another shape; types of some newer station are passed over. */
int bus_read_dict(sd_bus_message *message, struct model *model, enum model_part part, uint32_t row);
/* An aa{sv}: the rows replace those of the part; what is past its last row is left. */
int bus_read_rows(sd_bus_message *message, struct model *model, enum model_part part);

#endif
