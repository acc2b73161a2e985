/* SPDX-License-Identifier: MIT */
#include "replay.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "options.h"
#include "pace.h"
#include "trace.h"

struct scale {
	struct trace *trace;
	struct pace pace;
	bool waiting; /* sample is read, but not due yet */
	struct scale_sample sample;
};

struct replay_options {
	const char *file, *columns_text, *presses;
	double speed;
	struct trace_columns columns;
};

static const char *where_of(const struct scale_option *options, size_t n_options, const char *key)
{
	for (size_t i = 0; i < n_options; i++)
		if (strcmp(options[i].key, key) == 0)
			return options[i].where;
	return "scale";
}

static int check_readable(const char *path, const char *key, const struct scale_option *options,
                          size_t n_options, option_report *report, void *context)
{
	char sentence[SCALE_MESSAGE_MAX];

	if (path == NULL || access(path, R_OK) == 0)
		return 0;
	snprintf(sentence, sizeof(sentence),
	         "%.200s: %s: '%.120s' cannot be read (%s); expected the path of a file",
	         where_of(options, n_options, key), key, path, strerror(errno));
	report(context, sentence);
	return 1;
}

static int read_options(const struct scale_option *options, size_t n_options, option_report *report,
                        void *context, struct replay_options *ret)
{
	const struct option_spec specs[] = {
	        {"file", OPTION_TEXT, true, 0, 0, "the path of a trace", &ret->file},
	        {"speed", OPTION_NUMBER, false, 0, 10000, "(1: true speed, 0: as fast as it can)",
	         &ret->speed},
	        {"columns", OPTION_TEXT, false, 0, 0, "t_us=NAME,raw24=NAME", &ret->columns_text},
	        {"presses", OPTION_TEXT, false, 0, 0, "the path of a file t_us,event",
	         &ret->presses},
	};
	char message[TRACE_MESSAGE_MAX], sentence[SCALE_MESSAGE_MAX];
	int n;

	*ret = (struct replay_options){.speed = 1.0};
	n = options_read("replay", options, n_options, specs, sizeof(specs) / sizeof(specs[0]),
	                 report, context);
	if (trace_columns_read(ret->columns_text, &ret->columns, message) < 0) {
		snprintf(sentence, sizeof(sentence), "%.200s: %.300s",
		         where_of(options, n_options, "columns"), message);
		report(context, sentence);
		n++;
	}
	n += check_readable(ret->file, "file", options, n_options, report, context);
	n += check_readable(ret->presses, "presses", options, n_options, report, context);
	return n;
}

static int replay_check(const struct scale_option *options, size_t n_options, option_report *report,
                        void *context)
{
	struct replay_options parsed;

	return read_options(options, n_options, report, context, &parsed);
}

static int replay_open(const struct scale_option *options, size_t n_options, char *message,
                       struct scale **ret)
{
	struct replay_options parsed;
	struct scale *scale;
	int r;

	message[0] = '\0';
	if (read_options(options, n_options, option_keep_first, message, &parsed) > 0)
		return -EINVAL;
	scale = calloc(1, sizeof(*scale));
	if (scale == NULL) {
		snprintf(message, SCALE_MESSAGE_MAX, "replay: there is no memory to open it");
		return -ENOMEM;
	}
	r = trace_open(parsed.file, &parsed.columns, message, &scale->trace);
	if (r < 0) {
		free(scale);
		return r;
	}
	scale->pace.speed = parsed.speed;
	*ret = scale;
	return 0;
}

static int replay_read(struct scale *scale, int timeout_ms, struct scale_sample *ret_sample,
                       char *message)
{
	int r;

	if (!scale->waiting) {
		r = trace_next(scale->trace, &scale->sample, message);
		if (r <= 0)
			return r < 0 ? r : -ENODATA;
		scale->waiting = true;
	}
	if (!pace_wait(&scale->pace, scale->sample.t_us,
	               pace_now_us() + (int64_t)timeout_ms * 1000)) {
		ret_sample->t_us = pace_own_us(&scale->pace, scale->sample.t_us);
		return 0;
	}
	scale->waiting = false;
	*ret_sample = scale->sample;
	return 1;
}

static void replay_close(struct scale *scale)
{
	if (scale == NULL)
		return;
	trace_free(scale->trace);
	free(scale);
}

const struct scale_driver replay_driver = {
        .name = "replay",
        .own_time = 1,
        .open = replay_open,
        .check = replay_check,
        .read = replay_read,
        .act = NULL,
        .close = replay_close,
};
