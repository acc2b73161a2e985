/* SPDX-License-Identifier: MIT */
#include "iio.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "options.h"
#include "pace.h"
#include "text_file.h"

#define FOLDER_MAX    384u
#define ZEROS_MAX     8u /* exact zeros in a row: noise alone makes that unthinkable */
#define SCALE_LOOK_US 1000000

struct scale {
	char folder[FOLDER_MAX], channel[32];
	char scale_path[FOLDER_MAX + 64];
	int raw_fd;
	bool is_hx711, has_scale;
	double offset, scale;
	int64_t period_us, due_us, last_us, scale_looked_us;
	unsigned zeros;
};

struct iio_options {
	const char *device, *channel, *scale, *folder, *device_where, *scale_where;
	double rate_hz;
};

static int read_options(const struct scale_option *options, size_t n_options, option_report *report,
                        void *context, struct iio_options *ret)
{
	const struct option_spec specs[] = {
	        {"device", OPTION_TEXT, true, 0, 0, "the name or the folder of a device",
	         &ret->device},
	        {"channel", OPTION_TEXT, false, 0, 0, "a channel, like voltage0", &ret->channel},
	        {"scale", OPTION_TEXT, false, 0, 0, "one of in_..._scale_available", &ret->scale},
	        {"rate_hz", OPTION_NUMBER, false, 0.1, 1000, "samples/s", &ret->rate_hz},
	        {"folder", OPTION_TEXT, false, 0, 0, "the folder of the devices", &ret->folder},
	};
	int n;

	*ret = (struct iio_options){.channel = "voltage0",
	                            .folder = "/sys/bus/iio/devices",
	                            .rate_hz = 80.0,
	                            .device_where = "scale",
	                            .scale_where = "scale"};
	n = options_read("iio", options, n_options, specs, sizeof(specs) / sizeof(specs[0]), report,
	                 context);
	for (size_t i = 0; i < n_options; i++) {
		if (strcmp(options[i].key, "device") == 0)
			ret->device_where = options[i].where;
		if (strcmp(options[i].key, "scale") == 0)
			ret->scale_where = options[i].where;
	}
	if (strchr(ret->channel, '/') != NULL || strlen(ret->channel) > 24) {
		char sentence[SCALE_MESSAGE_MAX];

		snprintf(sentence, sizeof(sentence),
		         "%.200s: channel: '%.40s' is no channel; expected one like voltage0",
		         ret->device_where, ret->channel);
		report(context, sentence);
		n++;
	}
	return n;
}

static int iio_check(const struct scale_option *options, size_t n_options, option_report *report,
                     void *context)
{
	struct iio_options parsed;

	return read_options(options, n_options, report, context, &parsed);
}

static int find_device(struct scale *scale, const struct iio_options *options, char *message)
{
	char names[96];
	int r;

	if (strchr(options->device, '/') != NULL) {
		snprintf(scale->folder, sizeof(scale->folder), "%.380s", options->device);
		return 0;
	}
	r = text_file_find_device(options->folder, options->device, scale->folder,
	                          sizeof(scale->folder), names, sizeof(names));
	if (r < 0)
		snprintf(message, SCALE_MESSAGE_MAX,
		         "%.120s: device: no device '%.60s' in %.100s; expected one of: %s (the "
		         "kernel's module for it must be loaded and its device-tree overlay given)",
		         options->device_where, options->device, options->folder, names);
	return r;
}

/* A file of the channel's own, or the one its channels share (in_voltage_scale). */
static bool channel_file(const struct scale *scale, const char *what, char *ret, size_t size)
{
	const size_t letters = strcspn(scale->channel, "0123456789");

	snprintf(ret, size, "%s/in_%s_%s", scale->folder, scale->channel, what);
	if (access(ret, R_OK) == 0)
		return true;
	snprintf(ret, size, "%s/in_%.*s_%s", scale->folder, (int)letters, scale->channel, what);
	return access(ret, R_OK) == 0;
}

static int choose_scale(struct scale *scale, const struct iio_options *options, char *message)
{
	char path[FOLDER_MAX + 64], available[160] = "unknown";
	int r = scale->has_scale ? 0 : -ENOENT;

	if (options->scale == NULL)
		return 0;
	if (r == 0)
		r = text_file_write(scale->scale_path, options->scale);
	if (r == 0)
		return 0;
	if (channel_file(scale, "scale_available", path, sizeof(path)))
		(void)text_file_read(path, available, sizeof(available));
	snprintf(message, SCALE_MESSAGE_MAX,
	         "%.120s: scale: '%.40s' cannot be set (%s); expected one of: %s%s",
	         options->scale_where, options->scale, strerror(-r), available,
	         r == -EACCES || r == -EPERM
	                 ? ", and the right to write it: a udev rule for the group of Ambo's user"
	                 : "");
	return r;
}

static int open_channel(struct scale *scale, const struct iio_options *options, char *message)
{
	char path[FOLDER_MAX + 64], name[64] = "";
	int r;

	snprintf(path, sizeof(path), "%s/name", scale->folder);
	(void)text_file_read(path, name, sizeof(name)); /* without one it is no HX711 */
	scale->is_hx711 = strcmp(name, "hx711") == 0;
	scale->has_scale =
	        channel_file(scale, "scale", scale->scale_path, sizeof(scale->scale_path));
	r = choose_scale(scale, options, message);
	if (r < 0)
		return r;
	if (channel_file(scale, "offset", path, sizeof(path)) &&
	    text_file_read_number(path, &scale->offset) == 0)
		scale->is_hx711 = false; /* a newer driver that says its own zero */
	if (scale->is_hx711)
		scale->offset = -IIO_HX711_ZERO;
	if (scale->has_scale && text_file_read_number(scale->scale_path, &scale->scale) < 0)
		scale->has_scale = false;
	snprintf(path, sizeof(path), "%s/in_%s_raw", scale->folder, scale->channel);
	scale->raw_fd = open(path, O_RDONLY | O_CLOEXEC);
	if (scale->raw_fd >= 0)
		return 0;
	r = -errno;
	snprintf(message, SCALE_MESSAGE_MAX, "%.100s: device: '%.250s' cannot be read (%s); %s",
	         options->device_where, path, strerror(-r),
	         r == -EACCES || r == -EPERM
	                 ? "expected the right to: a udev rule for the group of Ambo's user"
	                 : "expected a channel that the device has");
	return r;
}

static void iio_close(struct scale *scale)
{
	if (scale == NULL)
		return;
	if (scale->raw_fd >= 0)
		close(scale->raw_fd);
	free(scale);
}

static int iio_open(const struct scale_option *options, size_t n_options, char *message,
                    struct scale **ret)
{
	struct iio_options parsed;
	struct scale *scale;
	int r;

	message[0] = '\0';
	if (read_options(options, n_options, option_keep_first, message, &parsed) > 0)
		return -EINVAL;
	scale = calloc(1, sizeof(*scale));
	if (scale == NULL) {
		snprintf(message, SCALE_MESSAGE_MAX, "iio: there is no memory to open it");
		return -ENOMEM;
	}
	scale->raw_fd = -1;
	scale->period_us = (int64_t)(1e6 / parsed.rate_hz);
	snprintf(scale->channel, sizeof(scale->channel), "%s", parsed.channel);
	r = find_device(scale, &parsed, message);
	if (r == 0)
		r = open_channel(scale, &parsed, message);
	if (r < 0) {
		iio_close(scale);
		return r;
	}
	*ret = scale;
	return 0;
}

static void sleep_until(int64_t t_us)
{
	const struct timespec until = {.tv_sec = t_us / 1000000, .tv_nsec = t_us % 1000000 * 1000};

	clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
}

static int read_raw(struct scale *scale, double *ret, char *message)
{
	char text[64];
	const ssize_t n = pread(scale->raw_fd, text, sizeof(text) - 1, 0);

	if (n < 0 && errno == EIO)
		snprintf(message, SCALE_MESSAGE_MAX,
		         "iio: the converter does not answer (%s): check the wires of clock and "
		         "data, and its supply",
		         strerror(errno));
	else if (n < 0)
		snprintf(message, SCALE_MESSAGE_MAX, "iio: %.200s cannot be read any more (%s)",
		         scale->folder, strerror(errno));
	if (n < 0)
		return -errno;
	text[n] = '\0';
	text[strcspn(text, "\n")] = '\0';
	if (option_number(text, ret) < 0 || fabs(*ret) > 2147483647.0) {
		snprintf(message, SCALE_MESSAGE_MAX, "iio: %.200s gives '%.40s', which is no code",
		         scale->folder, text);
		return -EBADMSG;
	}
	return 0;
}

/* Another program has chosen another gain: what is read means something else now. */
static int look_at_scale(struct scale *scale, int64_t now_us, char *message)
{
	double value;

	if (!scale->has_scale || now_us - scale->scale_looked_us < SCALE_LOOK_US)
		return 0;
	scale->scale_looked_us = now_us;
	if (text_file_read_number(scale->scale_path, &value) < 0 || value == scale->scale)
		return 0;
	snprintf(message, SCALE_MESSAGE_MAX,
	         "iio: the gain was changed by another program (scale %.9g, was %.9g): end it, "
	         "and start Ambo again",
	         value, scale->scale);
	return -ESTALE;
}

static int judge(struct scale *scale, double counts, int64_t t_us, struct scale_sample *ret)
{
	const int64_t since_us = t_us - scale->last_us;

	*ret = (struct scale_sample){.t_us = t_us, .counts = (int32_t)counts};
	if (scale->is_hx711 && (counts == -8388608.0 || counts == 8388607.0))
		ret->flags |= SCALE_RAIL;
	if (scale->last_us != 0 && 2 * since_us > 3 * scale->period_us &&
	    /* One that sets its own pace may well be slower than we ask for. */
	    since_us > 150000)
		ret->flags |= SCALE_GAP;
	scale->last_us = t_us;
	scale->zeros = counts == 0.0 ? scale->zeros + 1 : 0;
	if (scale->zeros > 1)
		ret->flags |= SCALE_VOID;
	return scale->zeros >= ZEROS_MAX ? -EIO : 1;
}

static int iio_read(struct scale *scale, int timeout_ms, struct scale_sample *ret_sample,
                    char *message)
{
	const int64_t begin_us = pace_now_us(), until_us = begin_us + (int64_t)timeout_ms * 1000;
	double raw;
	int r;

	if (scale->due_us > begin_us)
		sleep_until(scale->due_us < until_us ? scale->due_us : until_us);
	if (scale->due_us > until_us)
		return 0;
	/* A beat that does not wander, but does not run after what was missed either. */
	scale->due_us += scale->period_us;
	if (scale->due_us < pace_now_us())
		scale->due_us = pace_now_us() + scale->period_us / 2;
	r = look_at_scale(scale, begin_us, message);
	if (r == 0)
		r = read_raw(scale, &raw, message);
	if (r == 0)
		r = judge(scale, raw + scale->offset, pace_now_us(), ret_sample);
	if (r == -EIO && scale->zeros >= ZEROS_MAX)
		snprintf(message, SCALE_MESSAGE_MAX,
		         "iio: exactly zero %u times and more: the data line is stuck low: check "
		         "the wires of clock and data, and the converter's supply",
		         ZEROS_MAX);
	return r;
}

const struct scale_driver iio_driver = {
        .name = "iio",
        .own_time = 0,
        .open = iio_open,
        .check = iio_check,
        .read = iio_read,
        .act = NULL,
        .close = iio_close,
};
