/* SPDX-License-Identifier: MIT */
#include "hx711_driver.h"

#include <errno.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "gpio_lines.h"
#include "hx711.h"
#include "options.h"
#include "pace.h"
#include "realtime.h"

#define LINE_NAME_MAX 64u
#define CLOCK_LINE    0u /* data lines follow it */

struct scale {
	struct gpio_lines *lines;
	struct hx711 chip;
	size_t n_cells, chosen; /* chosen: from 1; 0: all */
	char data[HX711_CELLS_MAX][LINE_NAME_MAX];
	int64_t idle_after_us;         /* 0: never */
	_Atomic int64_t idle_since_us; /* 0: in use */
	bool realtime_tried, has_notice, rests;
	char notice[SCALE_MESSAGE_MAX];
};

struct hx711_options {
	const char *chip, *clock, *data, *input, *combine;
	double rate_hz, idle_s;
	char data_line[HX711_CELLS_MAX][LINE_NAME_MAX];
	size_t n_cells, chosen;
	enum hx711_input input_pulses;
};

struct reporting {
	const struct scale_option *options;
	size_t n_options;
	option_report *report;
	void *context;
	int n;
};

static void mistake(struct reporting *to, const char *key, const char *value, const char *why)
{
	char sentence[SCALE_MESSAGE_MAX];
	const char *where = "scale";

	for (size_t i = 0; i < to->n_options; i++)
		if (strcmp(to->options[i].key, key) == 0)
			where = to->options[i].where;
	snprintf(sentence, sizeof(sentence), "%.200s: %s: '%.60s' %s", where, key, value, why);
	to->report(to->context, sentence);
	to->n++;
}

/* "5, LOAD_CELL" into lines. -EINVAL: none, too many, one too long, one twice. */
static int split_lines(const char *text, struct hx711_options *ret)
{
	while (ret->n_cells < HX711_CELLS_MAX) {
		const char *from = text + strspn(text, " ");
		const size_t span = strcspn(from, ",");
		size_t length = span;

		while (length > 0 && from[length - 1] == ' ')
			length--;
		if (length == 0 || length >= LINE_NAME_MAX)
			return -EINVAL;
		memcpy(ret->data_line[ret->n_cells], from, length);
		for (size_t i = 0; i < ret->n_cells; i++)
			if (strcmp(ret->data_line[i], ret->data_line[ret->n_cells]) == 0)
				return -EINVAL;
		ret->n_cells++;
		if (from[span] == '\0')
			return 0;
		text = from + span + 1;
	}
	return -EINVAL;
}

static void read_input(struct hx711_options *options, struct reporting *to)
{
	if (strcmp(options->input, "A128") == 0)
		options->input_pulses = HX711_A128;
	else if (strcmp(options->input, "A64") == 0)
		options->input_pulses = HX711_A64;
	else if (strcmp(options->input, "B32") == 0)
		options->input_pulses = HX711_B32;
	else
		mistake(to, "input", options->input,
		        "is no input; expected A128, A64 or B32 (channel and gain)");
}

static void read_combine(struct hx711_options *options, struct reporting *to)
{
	double chosen;

	if (strcmp(options->combine, "sum") == 0)
		return;
	if (option_number(options->combine, &chosen) < 0 || chosen < 1 ||
	    chosen > (double)options->n_cells || chosen != (double)(size_t)chosen)
		mistake(to, "combine", options->combine,
		        "is neither 'sum' nor one of the cells; expected sum, or the number of a "
		        "cell from 1 on");
	else
		options->chosen = (size_t)chosen;
}

static int read_options(const struct scale_option *options, size_t n_options, option_report *report,
                        void *context, struct hx711_options *ret)
{
	const struct option_spec specs[] = {
	        {"chip", OPTION_TEXT, true, 0, 0, "the path, name or label of a GPIO chip",
	         &ret->chip},
	        {"clock", OPTION_TEXT, true, 0, 0, "the offset or name of a line", &ret->clock},
	        {"data", OPTION_TEXT, true, 0, 0, "the offsets or names of 1 to 4 lines",
	         &ret->data},
	        {"input", OPTION_TEXT, false, 0, 0, "A128, A64 or B32", &ret->input},
	        {"rate_hz", OPTION_NUMBER, false, 10, 80, "samples/s", &ret->rate_hz},
	        {"combine", OPTION_TEXT, false, 0, 0, "sum, or the number of a cell",
	         &ret->combine},
	        {"idle_s", OPTION_NUMBER, false, 0, 1e6, "s (0: never)", &ret->idle_s},
	};
	struct reporting to = {options, n_options, report, context, 0};

	*ret = (struct hx711_options){.input = "A128", .combine = "sum", .rate_hz = 10.0};
	ret->input_pulses = HX711_A128;
	to.n = options_read("hx711", options, n_options, specs, sizeof(specs) / sizeof(specs[0]),
	                    report, context);
	if (ret->rate_hz != 10.0 && ret->rate_hz != 80.0)
		mistake(&to, "rate_hz", "", "is none the converter has; expected 10 or 80");
	if (ret->data != NULL && split_lines(ret->data, ret) < 0)
		mistake(&to, "data", ret->data,
		        "is no list of lines; expected 1 to 4 different ones, like \"5,6\"");
	read_input(ret, &to);
	read_combine(ret, &to);
	return to.n;
}

static int hx711_check(const struct scale_option *options, size_t n_options, option_report *report,
                       void *context)
{
	struct hx711_options parsed;

	return read_options(options, n_options, report, context, &parsed);
}

static int set_clock(void *context, int level)
{
	const struct scale *scale = context;

	return gpio_lines_set(scale->lines, CLOCK_LINE, level);
}

static int get_data(void *context, size_t cell)
{
	const struct scale *scale = context;

	return gpio_lines_get(scale->lines, CLOCK_LINE + 1 + cell);
}

static int wait_data(void *context, size_t cell, int64_t timeout_us, int64_t *ret_edge_ns)
{
	const struct scale *scale = context;

	return gpio_lines_wait(scale->lines, CLOCK_LINE + 1 + cell, timeout_us, ret_edge_ns);
}

static int drain(void *context, size_t cell)
{
	const struct scale *scale = context;

	return gpio_lines_drain(scale->lines, CLOCK_LINE + 1 + cell);
}

static int64_t now_ns(void *context)
{
	struct timespec now;

	(void)context;
	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static void sleep_us(void *context, int64_t us)
{
	const struct timespec wait = {.tv_sec = us / 1000000, .tv_nsec = us % 1000000 * 1000};

	(void)context;
	nanosleep(&wait, NULL);
}

static int open_lines(struct scale *scale, const struct hx711_options *options,
                      const struct scale_option *option, char *message)
{
	struct gpio_line_want wants[1 + HX711_CELLS_MAX] = {
	        [CLOCK_LINE] = {.line = options->clock, .use = GPIO_OUTPUT},
	};
	char why[GPIO_MESSAGE_MAX] = "";
	int r;

	for (size_t i = 0; i < options->n_cells; i++)
		wants[CLOCK_LINE + 1 + i] =
		        (struct gpio_line_want){.line = scale->data[i], .use = GPIO_FALLING};
	r = gpio_lines_open(options->chip, "ambo scale", wants, 1 + options->n_cells, why,
	                    &scale->lines);
	if (r < 0)
		snprintf(message, SCALE_MESSAGE_MAX, "%.120s: hx711: %.380s", option->where,
		         why[0] != '\0' ? why : strerror(-r));
	return r;
}

static void hx711_close(struct scale *scale)
{
	if (scale == NULL)
		return;
	if (scale->lines != NULL)
		(void)hx711_power_down(&scale->chip); /* as good as it gets: it is let go */
	gpio_lines_close(scale->lines);
	free(scale);
}

static int hx711_open(const struct scale_option *options, size_t n_options, char *message,
                      struct scale **ret)
{
	struct hx711_options parsed;
	struct scale *scale;
	struct hx711_config config;
	int r;

	message[0] = '\0';
	if (read_options(options, n_options, option_keep_first, message, &parsed) > 0)
		return -EINVAL;
	scale = calloc(1, sizeof(*scale));
	if (scale == NULL) {
		snprintf(message, SCALE_MESSAGE_MAX, "hx711: there is no memory to open it");
		return -ENOMEM;
	}
	scale->n_cells = parsed.n_cells;
	scale->chosen = parsed.chosen;
	scale->idle_after_us = (int64_t)(parsed.idle_s * 1e6);
	memcpy(scale->data, parsed.data_line, sizeof(scale->data));
	r = open_lines(scale, &parsed, &options[0], message);
	if (r < 0) {
		hx711_close(scale);
		return r;
	}
	config = (struct hx711_config){parsed.input_pulses, parsed.n_cells, parsed.rate_hz};
	hx711_init(&scale->chip, &config,
	           &(struct hx711_pins){scale, set_clock, get_data, wait_data, drain, now_ns,
	                                sleep_us});
	*ret = scale;
	return 0;
}

static int32_t combined(const struct scale *scale, const int32_t *counts)
{
	const int32_t n = (int32_t)scale->n_cells;
	int32_t sum = 0;

	if (scale->chosen > 0)
		return counts[scale->chosen - 1];
	for (size_t i = 0; i < scale->n_cells; i++)
		sum += counts[i];
	return (sum + (sum < 0 ? -n / 2 : n / 2)) / n;
}

/* Nobody has wanted it up for long enough. */
static bool may_rest(struct scale *scale)
{
	const int64_t since_us = atomic_load(&scale->idle_since_us);

	return since_us != 0 && scale->idle_after_us != 0 &&
	       pace_now_us() - since_us >= scale->idle_after_us;
}

static int hx711_driver_read(struct scale *scale, int timeout_ms, struct scale_sample *ret_sample,
                             char *message)
{
	struct hx711_conversion conversion;
	size_t cell = 0;
	int r;

	if (!scale->realtime_tried) {
		/* Here, for it is this thread that must not be put off. */
		scale->realtime_tried = true;
		scale->has_notice = realtime_begin(scale->notice, sizeof(scale->notice)) < 0;
	}
	if (!may_rest(scale)) {
		scale->rests = false;
	} else {
		/* That it rests is told before the first sleep: nobody waits for its sample. */
		if (scale->rests)
			sleep_us(NULL, (int64_t)timeout_ms * 1000);
		else
			(void)hx711_power_down(&scale->chip);
		scale->rests = true;
		return -ESHUTDOWN;
	}
	r = hx711_read(&scale->chip, (int64_t)timeout_ms * 1000, &conversion, &cell);
	if (r == -EIO && !scale->chip.awake)
		snprintf(message, SCALE_MESSAGE_MAX,
		         "hx711: data line '%.60s' is low straight after a reset: check the wires "
		         "of clock and data, and the converter's supply",
		         scale->data[cell]);
	else if (r < 0)
		snprintf(message, SCALE_MESSAGE_MAX, "hx711: the GPIO lines fail (%s)",
		         strerror(-r));
	if (r <= 0)
		return r;
	ret_sample->t_us = conversion.t_ns / 1000;
	ret_sample->counts = combined(scale, conversion.counts);
	ret_sample->flags = conversion.flags;
	return 1;
}

static void hx711_idle(struct scale *scale, int nobody)
{
	atomic_store(&scale->idle_since_us, nobody ? pace_now_us() : 0);
}

static int hx711_notice(struct scale *scale, char *message)
{
	if (!scale->has_notice)
		return 0;
	scale->has_notice = false;
	snprintf(message, SCALE_MESSAGE_MAX, "hx711: %.480s", scale->notice);
	return 1;
}

static size_t hx711_counts(const struct scale *scale, struct scale_count *ret)
{
	const struct hx711 *chip = &scale->chip;
	const struct scale_count all[] = {
	        {"Conversions", chip->n_given},
	        {"Void", chip->n_long + chip->n_lost + chip->n_restarts},
	        {"LongPulses", chip->n_long},
	        {"LostPulses", chip->n_lost},
	        {"Restarts", chip->n_restarts},
	};

	memcpy(ret, all, sizeof(all));
	return sizeof(all) / sizeof(all[0]);
}

const struct scale_driver hx711_driver = {
        .name = "hx711",
        .own_time = 0,
        .open = hx711_open,
        .check = hx711_check,
        .read = hx711_driver_read,
        .close = hx711_close,
        .notice = hx711_notice,
        .counts = hx711_counts,
        .idle = hx711_idle,
};
