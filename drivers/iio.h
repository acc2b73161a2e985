/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_IIO_H
#define AMBO_DRIVERS_IIO_H

#include "scale.h"

/* A converter that the kernel drives itself, through its industrial-I/O files (kernel's
 * Documentation/ABI/testing/sysfs-bus-iio). Options:
 *   device     its name, as in the file `name` ("hx711"), or its folder; required
 *   channel    "voltage0" (default): in_voltage0_raw, and _offset and _scale
 *   scale      written to in_..._scale at the start: chooses the gain where the kernel's
 *              driver lets one; one of in_..._scale_available
 *   rate_hz    samples a second at most (80); a converter that makes one wait for each
 *              conversion is read as fast as it converts
 *   folder     where the devices are ("/sys/bus/iio/devices")
 * counts = raw + offset. The HX711's driver gives no offset and its codes are offset
 * binary: its zero is 8388608. A code of exactly zero is what a data line stuck low reads
 * as: more than one in a row is void, an unvarying one a fault.
 * A read blocks as long as the kernel's driver does, for an HX711 whose data line is
 * stuck high 2 s, whatever time-out it is given. */
extern const struct scale_driver iio_driver;

#define IIO_HX711_ZERO 8388608

#endif
