/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "args.h"
#include "bus_client.h"
#include "daemon/station/config.h"
#include "daemon/weighing/weigher.h"
#include "drivers/trace.h"
#include "output.h"
#include "terminal.h"
#include "words/words.h"

/* ambo weigh: a recorded trace through the weighing, without a station; or, without
 * a trace, one settled net mass from the station. */

#define COUNTS_MAX 8388608.0 /* 24-bit two's complement */
#define INTERVAL_G 0.1       /* scale interval where no configuration gives one */

struct weigh_options {
	double counts_per_g, zero_counts, noise_g, max_g; /* NAN: not given */
	const char *config_dir, *columns;
	bool csv, as_json;
};

static void say_sentence(void *context, const char *sentence)
{
	(void)context;
	complain("%s", sentence);
}

/* What the trace says of itself stands, unless the command line says otherwise. */
static int make_config(const struct weigh_options *options, const struct trace_about *about,
                       struct weigher_config *ret)
{
	double counts_per_g = options->counts_per_g, zero = options->zero_counts;

	if (options->config_dir) {
		struct conf_report report = {.say = say_sentence};
		struct station_config *config = NULL;

		if (station_config_load(options->config_dir, &report, &config) < 0) {
			if (!report.found)
				complain("%s: the configuration cannot be read",
				         options->config_dir);
			return EXIT_USAGE;
		}
		*ret = config->weigher;
		station_config_free(config);
	} else {
		if (isnan(counts_per_g) && (about->has & TRACE_HAS_COUNTS_PER_G))
			counts_per_g = about->counts_per_g;
		if (isnan(zero) && (about->has & TRACE_HAS_ZERO_COUNTS))
			zero = about->zero_counts;
		if (isnan(counts_per_g) || isnan(zero)) {
			complain("weigh: the trace does not say its calibration: give "
			         "--counts-per-gram and --zero-counts, or --config DIR");
			return EXIT_USAGE;
		}
		*ret = (struct weigher_config){
		        .calibration = {.degree = 1,
		                        .zero_counts = zero,
		                        .g_per_count = 1.0 / counts_per_g},
		        /* As much as the converter can say: Max is not known here. */
		        .max_g = fmax(COUNTS_MAX - zero, 1.0) / counts_per_g,
		        .interval_g = INTERVAL_G,
		};
	}
	if (!isnan(options->noise_g))
		ret->noise_g = options->noise_g;
	if (!isnan(options->max_g))
		ret->max_g = options->max_g;
	/* The zero given is the zero meant: row i depends on no long rest before it. */
	ret->zero_tracking = false;
	return EXIT_OK;
}

static void print_csv(int64_t t_us, const struct reading *reading)
{
	char mass[OUTPUT_NUMBER_MAX], rate[OUTPUT_NUMBER_MAX], sd[OUTPUT_NUMBER_MAX];

	if (!reading->known)
		printf("%" PRId64 ",,,,%s\n", t_us, reading_state_name(reading->state));
	else
		printf("%" PRId64 ",%s,%s,%s,%s\n", t_us, output_number(reading->gross_g, mass),
		       output_number(reading->rate_g_per_s, rate), output_number(reading->sd_g, sd),
		       reading_state_name(reading->state));
}

static void print_json(int64_t t_us, const struct reading *reading)
{
	struct json json;

	json_init(&json, stdout, false);
	json_open(&json, NULL, '{');
	json_whole(&json, "t_us", t_us);
	if (reading->known) {
		json_number(&json, "mass_g", reading->gross_g);
		json_number(&json, "rate_g_per_s", reading->rate_g_per_s);
		json_number(&json, "sd_g", reading->sd_g);
	}
	json_text(&json, "state", reading_state_name(reading->state));
	json_close(&json, '}');
}

static int weigh_rows(struct trace *trace, struct weigher *weigher, bool as_json)
{
	char message[TRACE_MESSAGE_MAX] = "";
	struct scale_sample row;
	struct reading reading;
	int r;

	if (!as_json)
		printf("t_us,mass_g,rate_g_per_s,sd_g,state\n");
	while ((r = trace_next(trace, &row, message)) > 0) {
		const struct weigher_sample sample = {.t_us = row.t_us,
		                                      .counts = row.counts,
		                                      .rail = (row.flags & SCALE_RAIL) != 0,
		                                      .corrupt = (row.flags & SCALE_VOID) != 0,
		                                      .repeat = (row.flags & SCALE_REPEAT) != 0,
		                                      .moving = (row.flags & SCALE_MOVING) != 0};

		weigher_feed(weigher, &sample, &reading);
		if (as_json)
			print_json(row.t_us, &reading);
		else
			print_csv(row.t_us, &reading);
		if (ferror(stdout))
			return EXIT_FAILED;
	}
	if (r < 0) {
		complain("%s", message);
		return EXIT_FAILED;
	}
	return EXIT_OK;
}

static int weigh_trace(const char *path, const struct weigh_options *options)
{
	char message[TRACE_MESSAGE_MAX] = "";
	struct weigher_config config;
	struct weigher *weigher = NULL;
	struct trace_columns columns;
	struct trace_about about;
	struct trace *trace = NULL;
	int status;

	if (trace_columns_read(options->columns, &columns, message) < 0) {
		complain("--columns %s", message);
		return EXIT_USAGE;
	}
	if (trace_open(path, &columns, message, &trace) < 0) {
		complain("%s", message);
		return EXIT_FAILED;
	}
	trace_about(trace, &about);
	status = make_config(options, &about, &config);
	if (status == EXIT_OK && weigher_new(&config, &weigher) < 0) {
		complain("weigh: no scale has this calibration: expected counts per gram and Max "
		         "above 0, and a noise of 0 or more");
		status = EXIT_USAGE;
	}
	if (status == EXIT_OK)
		status = weigh_rows(trace, weigher, options->as_json);
	weigher_free(weigher);
	trace_free(trace);
	return status;
}

static int weigh_pan(const struct context *context, const struct weigh_options *options)
{
	char mass[OUTPUT_NUMBER_MAX], doubt[OUTPUT_NUMBER_MAX];
	sd_bus_message *reply = NULL;
	double net_g = 0.0, doubt_g = 0.0;
	sd_bus *bus = NULL;
	int status = bus_client_open(context, &bus);

	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_SCALE, "Weigh", &reply, "");
	if (status == EXIT_OK && sd_bus_message_read(reply, "dd", &net_g, &doubt_g) < 0)
		status = EXIT_FAILED;
	if (status == EXIT_OK && options->as_json) {
		struct json json;

		json_init(&json, stdout, false);
		json_open(&json, NULL, '{');
		json_number(&json, "net_g", net_g);
		json_number(&json, "doubt_g", doubt_g);
		json_close(&json, '}');
	} else if (status == EXIT_OK && (options->csv || !terminal_out())) {
		printf("net_g,doubt_g\n%s,%s\n", output_number(net_g, mass),
		       output_number(doubt_g, doubt));
	} else if (status == EXIT_OK) {
		words_mass(net_g, false, mass);
		words_mass(2.0 * doubt_g, false, doubt);
		printf("%s%s, known to %s\n", mass, net_g <= -0.05 ? " under zero" : "", doubt);
	}
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

int cmd_weigh(const struct context *context, int argc, char **argv)
{
	struct weigh_options options = {
	        .counts_per_g = NAN, .zero_counts = NAN, .noise_g = NAN, .max_g = NAN};
	const struct arg table[] = {
	        {"--counts-per-gram", ARG_NUMBER, &options.counts_per_g, "N", "of the load cell",
	         1e-6, 1e9},
	        {"--zero-counts", ARG_NUMBER, &options.zero_counts, "N", "code of the empty pan",
	         -COUNTS_MAX, COUNTS_MAX},
	        {"--config", ARG_TEXT, &options.config_dir, "DIR",
	         "calibration from a configuration", 0, 0},
	        {"--columns", ARG_TEXT, &options.columns, "t_us=NAME,raw24=NAME",
	         "how the trace calls its columns", 0, 0},
	        {"--noise-g", ARG_NUMBER, &options.noise_g, "G",
	         "sd of one sample (0, or without it: learnt)", 0, 1e6},
	        {"--max-g", ARG_NUMBER, &options.max_g, "G", "Max of the scale", 1e-6, 1e9},
	        {"--csv", ARG_FLAG, &options.csv, NULL, "rows (what a trace always gives)", 0, 0},
	        {"--json", ARG_FLAG, &options.as_json, NULL, "objects, one a line", 0, 0},
	};
	const struct args args = {
	        "weigh [TRACE.csv] [options]",
	        "With a trace: weighs it without a station. A row for every row of the trace, "
	        "which\n"
	        "may use that row and those before it only: t_us,mass_g,rate_g_per_s,sd_g,state.\n"
	        "State: unsettled, provisional, settled, or fault (at the rails). Before the "
	        "first\n"
	        "estimate mass, rate and sd are empty; a sample held back or rejected repeats the\n"
	        "estimate before it. The calibration comes from the options, else from what the\n"
	        "trace says of itself (cpg=, offset=).\n"
	        "Without a trace: one settled net mass from the station.",
	        table, 8, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (options.csv && options.as_json) {
		complain("--csv and --json: choose one");
		return EXIT_USAGE;
	}
	if (options.config_dir && (!isnan(options.counts_per_g) || !isnan(options.zero_counts))) {
		complain("weigh: --config brings the calibration: leave out --counts-per-gram and "
		         "--zero-counts");
		return EXIT_USAGE;
	}
	if (!operands[0])
		return weigh_pan(context, &options);
	return weigh_trace(operands[0], &options);
}
