/* SPDX-License-Identifier: MIT */
#include "sensor.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "text_file.h"

#define PATH_LENGTH   448u
#define POWER_ON_DEGC 85.0

struct sensor {
	enum sensor_kind kind;
	char path[PATH_LENGTH]; /* of the ready value, or of the raw code */
	bool raw;               /* value = (code + offset) * scale */
	double offset, scale;
	bool seen_other; /* than the value at power-on */
};

static bool try_file(struct sensor *sensor, const char *folder, const char *format,
                     const char *channel)
{
	char name[96];

	snprintf(name, sizeof(name), format, channel);
	snprintf(sensor->path, sizeof(sensor->path), "%.340s/%s", folder, name);
	return access(sensor->path, R_OK) == 0;
}

static double number_or(const char *folder, const char *channel, const char *what, double otherwise)
{
	char path[PATH_LENGTH];

	snprintf(path, sizeof(path), "%.340s/in_%.40s_%s", folder, channel, what);
	(void)text_file_read_number(path, &otherwise);
	return otherwise;
}

/* hwmon has temp1_input; IIO in_temp_input, or in_temp_raw with offset and scale. All
 * of them are thousandths. */
static bool find_file(struct sensor *sensor, const char *folder, const char *channel)
{
	if (try_file(sensor, folder, "%.40s_input", channel) ||
	    try_file(sensor, folder, "in_%.40s_input", channel))
		return true;
	sensor->raw = try_file(sensor, folder, "in_%.40s_raw", channel);
	if (sensor->raw) {
		sensor->offset = number_or(folder, channel, "offset", 0.0);
		sensor->scale = number_or(folder, channel, "scale", 1.0);
	}
	return sensor->raw;
}

static int find(struct sensor *sensor, const char *what, const char *root, char *message)
{
	static const char *const parents[] = {"/sys/class/hwmon", "/sys/bus/iio/devices"};
	const char *colon = strrchr(what, ':');
	char device[64], folder[344], names[2][120];

	if (what[0] == '/') {
		snprintf(sensor->path, sizeof(sensor->path), "%.440s", what);
		return 0;
	}
	if (colon == NULL || colon - what >= (int)sizeof(device)) {
		snprintf(message, SENSOR_MESSAGE_MAX,
		         "'%.80s' is no sensor; expected NAME:CHANNEL, like sht3x:temp1, or the "
		         "path "
		         "of a file",
		         what);
		return -EINVAL;
	}
	snprintf(device, sizeof(device), "%.*s", (int)(colon - what), what);
	for (size_t i = 0; i < 2; i++) {
		char parent[256];

		snprintf(parent, sizeof(parent), "%.200s%s", root, parents[i]);
		if (text_file_find_device(parent, device, folder, sizeof(folder), names[i],
		                          sizeof(names[i])) == 0 &&
		    find_file(sensor, folder, colon + 1))
			return 0;
	}
	snprintf(message, SENSOR_MESSAGE_MAX,
	         "there is no '%.40s' of a device '%.60s'; expected one of hwmon: %s; of IIO: %s",
	         colon + 1, device, names[0], names[1]);
	return -ENOENT;
}

int sensor_open(const char *what, enum sensor_kind kind, const char *root, char *message,
                struct sensor **ret)
{
	struct sensor *sensor = calloc(1, sizeof(*sensor));
	int r;

	if (sensor == NULL)
		return -ENOMEM;
	sensor->kind = kind;
	r = find(sensor, what, root, message);
	if (r == 0 && access(sensor->path, R_OK) < 0) {
		r = -errno;
		snprintf(message, SENSOR_MESSAGE_MAX, "'%.300s' cannot be read (%s)", sensor->path,
		         strerror(-r));
	}
	if (r < 0) {
		free(sensor);
		return r;
	}
	*ret = sensor;
	return 0;
}

void sensor_close(struct sensor *sensor)
{
	free(sensor);
}

int sensor_read(struct sensor *sensor, double *ret)
{
	const bool degc = sensor->kind == SENSOR_TEMPERATURE_DEGC;
	double value;
	int r = text_file_read_number(sensor->path, &value);

	if (r < 0)
		return r;
	if (sensor->raw)
		value = (value + sensor->offset) * sensor->scale;
	value /= 1000.0;
	if (value < (degc ? -55.0 : 0.0) || value > (degc ? 150.0 : 100.0))
		return -ERANGE;
	if (degc && value == POWER_ON_DEGC && !sensor->seen_other)
		return -ERANGE;
	sensor->seen_other = true;
	*ret = value;
	return 0;
}
