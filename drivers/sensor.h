/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_SENSOR_H
#define AMBO_DRIVERS_SENSOR_H

#include <stddef.h>

/* A thermometer or hygrometer that the kernel drives, as a hwmon or an IIO file: the
 * probe in the resin, the air of the room. */
struct sensor;

#define SENSOR_MESSAGE_MAX 512u

enum sensor_kind {
	SENSOR_TEMPERATURE_DEGC, /* -55..150 */
	SENSOR_HUMIDITY_PCT,     /* relative, 0..100 */
};

/* what: the device's name as in its file `name`, a colon and the channel
 * ("w1_slave_temp:temp1", "sht3x:humidity1", "bme280:temp"); or the path of a file that
 * holds thousandths (hwmon's temp1_input, IIO's in_temp_input). root: "" ("/sys/class/hwmon" and
 * "/sys/bus/iio/devices" below it are searched). On 0 the caller owns *ret. -errno with
 * one sentence in message. */
int sensor_open(const char *what, enum sensor_kind kind, const char *root, char *message,
                struct sensor **ret);
void sensor_close(struct sensor *sensor); /* NULL does nothing */

/* May block as long as the kernel's driver converts: a 1-Wire probe 750 ms. 0 with
 * *ret; -ERANGE for a value no such sensor gives, and for the 85 degC that a DS18B20
 * has at power-on (its data sheet, "operation: measuring temperature") until another
 * value was seen; another -errno. */
int sensor_read(struct sensor *sensor, double *ret);

#endif
