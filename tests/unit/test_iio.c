/* SPDX-License-Identifier: MIT */
/* The kernel-driven converter and the sensors, on made trees of files: names and contents
 * as the kernel's Documentation/ABI/testing/sysfs-bus-iio and sysfs-class-hwmon say. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "drivers/iio.h"
#include "drivers/sensor.h"
#include "tests/support/temp_folder.h"

static char message[SCALE_MESSAGE_MAX], path[TEMP_PATH_MAX];
static struct scale *scale;

static void folder(void **state, const char *name)
{
	temp_path(state, name, path);
	assert_int_equal(mkdir(path, 0700), 0);
}

static void file(void **state, const char *name, const char *text)
{
	temp_path(state, name, path);
	write_whole_file(path, text, strlen(text));
}

/* As the kernel's hx711 driver shows itself. */
static void hx711_tree(void **state)
{
	folder(state, "iio:device0");
	file(state, "iio:device0/name", "ads1115\n");
	folder(state, "iio:device1");
	file(state, "iio:device1/name", "hx711\n");
	file(state, "iio:device1/in_voltage0_raw", "8398608\n");
	file(state, "iio:device1/in_voltage_scale", "0.000002327\n");
	file(state, "iio:device1/in_voltage0_scale_available", "0.000002327 0.000004655\n");
	scale = NULL;
	message[0] = '\0';
}

static int open_device(void **state, const char *device, const char *key, const char *value)
{
	const struct scale_option options[] = {
	        {"device", device, "ambo.conf:5"},
	        {"folder", *state, "ambo.conf:6"},
	        {"rate_hz", "1000", "ambo.conf:7"},
	        {key, value, "ambo.conf:8"},
	};

	message[0] = '\0';
	return iio_driver.open(options, key != NULL ? 4 : 3, message, &scale);
}

static int32_t read_counts(uint32_t *ret_flags)
{
	struct scale_sample sample;

	if (iio_driver.read(scale, 100, &sample, message) != 1)
		fail_msg("no sample: %s", message);
	if (ret_flags != NULL)
		*ret_flags = sample.flags;
	return sample.counts;
}

static void the_hx711s_codes_are_offset_binary(void **state)
{
	uint32_t flags;

	hx711_tree(state);
	assert_int_equal(open_device(state, "hx711", NULL, NULL), 0);
	assert_int_equal(read_counts(&flags), 10000);
	assert_int_equal(flags, 0);
	file(state, "iio:device1/in_voltage0_raw", "16777215\n");
	assert_int_equal(read_counts(&flags), 8388607);
	assert_int_equal(flags & SCALE_RAIL, SCALE_RAIL);
	file(state, "iio:device1/in_voltage0_raw", "0\n");
	assert_int_equal(read_counts(&flags), -8388608);
	assert_int_equal(flags & SCALE_RAIL, SCALE_RAIL);
	iio_driver.close(scale);
	iio_driver.close(NULL);
}

static void an_offset_file_is_believed_and_other_converters_are_read(void **state)
{
	hx711_tree(state);
	file(state, "iio:device0/in_voltage2_raw", "-1200\n");
	file(state, "iio:device0/in_voltage2_offset", "25\n");
	assert_int_equal(open_device(state, "ads1115", "channel", "voltage2"), 0);
	assert_int_equal(read_counts(NULL), -1175);
	iio_driver.close(scale);
	file(state, "iio:device1/in_voltage_offset", "-8388600\n");
	assert_int_equal(open_device(state, "hx711", NULL, NULL), 0);
	assert_int_equal(read_counts(NULL), 10008);
	iio_driver.close(scale);
	temp_path(state, "iio:device1", path);
	assert_int_equal(open_device(state, path, NULL, NULL), 0);
	iio_driver.close(scale);
}

static void an_unvarying_exact_zero_is_a_fault(void **state)
{
	struct scale_sample sample;
	uint32_t flags;
	int r = 0, n = 0;

	hx711_tree(state);
	assert_int_equal(open_device(state, "hx711", NULL, NULL), 0);
	file(state, "iio:device1/in_voltage0_raw", "8388608\n");
	assert_int_equal(read_counts(&flags), 0);
	assert_int_equal(flags & SCALE_VOID, 0); /* one may be by chance */
	while (n < 20 && (r = iio_driver.read(scale, 100, &sample, message)) == 1) {
		assert_int_equal(sample.flags & SCALE_VOID, SCALE_VOID);
		n++;
	}
	assert_int_equal(r, -EIO);
	assert_int_equal(n, 6);
	assert_non_null(strstr(message, "stuck low"));
	file(state, "iio:device1/in_voltage0_raw", "8388609\n");
	assert_int_equal(read_counts(&flags), 1);
	assert_int_equal(flags & SCALE_VOID, 0);
	iio_driver.close(scale);
}

static void a_gain_is_set_and_anothers_change_of_it_is_found(void **state)
{
	struct scale_sample sample;
	char *text;
	int r = 1;

	hx711_tree(state);
	assert_int_equal(open_device(state, "hx711", "scale", "0.000004655"), 0);
	temp_path(state, "iio:device1/in_voltage_scale", path);
	text = read_whole_file(path, &(size_t){0});
	assert_int_equal(strncmp(text, "0.000004655", 11), 0);
	free(text);
	file(state, "iio:device1/in_voltage_scale", "0.000002327\n");
	for (int n = 0; n < 3000 && r >= 0; n++)
		r = iio_driver.read(scale, 100, &sample, message);
	assert_int_equal(r, -ESTALE);
	assert_non_null(strstr(message, "the gain was changed by another program"));
	iio_driver.close(scale);
}

static void says(int r, int expected, const char *words)
{
	assert_int_equal(r, expected);
	if (strstr(message, words) == NULL)
		fail_msg("'%s' does not say '%s'", message, words);
}

static void what_is_not_there_is_named(void **state)
{
	struct scale_sample sample;

	hx711_tree(state);
	says(open_device(state, "hx710", NULL, NULL), -ENOENT,
	     "ambo.conf:5: device: no device 'hx710'");
	assert_non_null(strstr(message, "expected one of: ads1115, hx711"));
	says(open_device(state, "hx711", "channel", "voltage7"), -ENOENT,
	     "in_voltage7_raw' cannot be read (No such file or directory)");
	says(open_device(state, "hx711", "channel", "../../x"), -EINVAL, "is no channel");
	says(open_device(state, "ads1115", "scale", "1"), -ENOENT, "ambo.conf:8: scale: '1'");
	assert_int_equal(open_device(state, "hx711", NULL, NULL), 0);
	file(state, "iio:device1/in_voltage0_raw", "abc\n");
	says(iio_driver.read(scale, 100, &sample, message), -EBADMSG, "gives 'abc'");
	file(state, "iio:device1/in_voltage0_raw", "99999999999\n");
	says(iio_driver.read(scale, 100, &sample, message), -EBADMSG, "which is no code");
	file(state, "iio:device1/in_voltage0_raw", "");
	says(iio_driver.read(scale, 100, &sample, message), -EBADMSG, "which is no code");
	iio_driver.close(scale);
}

static void sensors_are_found_in_hwmon_and_in_iio(void **state)
{
	struct sensor *sensor;
	double value;

	folder(state, "sys");
	folder(state, "sys/class");
	folder(state, "sys/class/hwmon");
	folder(state, "sys/class/hwmon/hwmon3");
	file(state, "sys/class/hwmon/hwmon3/name", "sht3x\n");
	file(state, "sys/class/hwmon/hwmon3/temp1_input", "21437\n");
	file(state, "sys/class/hwmon/hwmon3/humidity1_input", "48125\n");
	folder(state, "sys/bus");
	folder(state, "sys/bus/iio");
	folder(state, "sys/bus/iio/devices");
	folder(state, "sys/bus/iio/devices/iio:device0");
	file(state, "sys/bus/iio/devices/iio:device0/name", "hdc100x\n");
	file(state, "sys/bus/iio/devices/iio:device0/in_temp_raw", "25000\n");
	file(state, "sys/bus/iio/devices/iio:device0/in_temp_offset", "-15887.515151\n");
	file(state, "sys/bus/iio/devices/iio:device0/in_temp_scale", "2.517700195\n");
	assert_int_equal(
	        sensor_open("sht3x:temp1", SENSOR_TEMPERATURE_DEGC, *state, message, &sensor), 0);
	assert_int_equal(sensor_read(sensor, &value), 0);
	assert_close(value, 21.437, 1e-12);
	sensor_close(sensor);
	assert_int_equal(
	        sensor_open("sht3x:humidity1", SENSOR_HUMIDITY_PCT, *state, message, &sensor), 0);
	assert_int_equal(sensor_read(sensor, &value), 0);
	assert_close(value, 48.125, 1e-12);
	file(state, "sys/class/hwmon/hwmon3/humidity1_input", "101000\n");
	assert_int_equal(sensor_read(sensor, &value), -ERANGE);
	sensor_close(sensor);
	assert_int_equal(
	        sensor_open("hdc100x:temp", SENSOR_TEMPERATURE_DEGC, *state, message, &sensor), 0);
	assert_int_equal(sensor_read(sensor, &value), 0);
	/* HDC1080 data sheet, 8.6.1: raw / 2^16 * 165 - 40 degC. */
	assert_within(value, 25000.0 / 65536.0 * 165.0 - 40.0, 0.001);
	sensor_close(sensor);
	assert_int_equal(
	        sensor_open("bme280:temp", SENSOR_TEMPERATURE_DEGC, *state, message, &sensor),
	        -ENOENT);
	assert_non_null(strstr(message, "of hwmon: sht3x; of IIO: hdc100x"));
	assert_int_equal(sensor_open("sht3x", SENSOR_TEMPERATURE_DEGC, *state, message, &sensor),
	                 -EINVAL);
}

static void a_probes_value_at_power_on_is_no_temperature(void **state)
{
	struct sensor *sensor;
	double value;
	char probe[TEMP_PATH_MAX];

	file(state, "probe", "85000\n");
	temp_path(state, "probe", probe);
	assert_int_equal(sensor_open(probe, SENSOR_TEMPERATURE_DEGC, "", message, &sensor), 0);
	assert_int_equal(sensor_read(sensor, &value), -ERANGE);
	file(state, "probe", "23062\n");
	assert_int_equal(sensor_read(sensor, &value), 0);
	file(state, "probe", "85000\n");
	assert_int_equal(sensor_read(sensor, &value), 0);
	file(state, "probe", "-127000\n");
	assert_int_equal(sensor_read(sensor, &value), -ERANGE);
	file(state, "probe", "warm\n");
	assert_int_equal(sensor_read(sensor, &value), -EBADMSG);
	sensor_close(sensor);
}

#define IN_FOLDER(test) cmocka_unit_test_setup_teardown(test, temp_folder_make, temp_folder_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        IN_FOLDER(the_hx711s_codes_are_offset_binary),
	        IN_FOLDER(an_offset_file_is_believed_and_other_converters_are_read),
	        IN_FOLDER(an_unvarying_exact_zero_is_a_fault),
	        IN_FOLDER(a_gain_is_set_and_anothers_change_of_it_is_found),
	        IN_FOLDER(what_is_not_there_is_named),
	        IN_FOLDER(sensors_are_found_in_hwmon_and_in_iio),
	        IN_FOLDER(a_probes_value_at_power_on_is_no_temperature),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
