/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "args.h"
#include "live.h"
#include "output.h"
#include "terminal.h"
#include "words/words.h"
#include "words/words_advice.h"

/* ambo watch: the live reading. */

enum form { FORM_PLACE, FORM_CSV, FORM_JSON };

static const struct {
	const char *column, *key;
} quantities[] = {
        {"net_g", "NetGrams"},
        {"gross_g", "GrossGrams"},
        {"rate_g_per_s", "RateGramsPerSecond"},
        {"doubt_g", "DoubtGrams"},
        {"predicted_g", "PredictedGrams"},
        {"remaining_g", "RemainingGrams"},
};
#define N_QUANTITIES (sizeof quantities / sizeof *quantities)

static void print_csv(const struct live_reading *reading)
{
	char number[OUTPUT_NUMBER_MAX];
	double value;

	printf("%" PRId64 ",%" PRId64 ",%s,%s", reading->sequence, reading->t_us, reading->state,
	       reading->cue);
	for (size_t i = 0; i < N_QUANTITIES; i++) {
		bool known = dict_number(&reading->quantities, quantities[i].key, &value);

		printf(",%s", known ? output_number(value, number) : "");
	}
	putchar('\n');
}

static void print_json(const struct live_reading *reading)
{
	struct json json;
	double value;

	json_init(&json, stdout, false);
	json_open(&json, NULL, '{');
	json_whole(&json, "sequence", reading->sequence);
	json_whole(&json, "t_us", reading->t_us);
	json_text(&json, "state", reading->state);
	json_text(&json, "cue", reading->cue);
	for (size_t i = 0; i < N_QUANTITIES; i++)
		if (dict_number(&reading->quantities, quantities[i].key, &value))
			json_number(&json, quantities[i].column, value);
	json_close(&json, '}');
}

/* No minus sign: "3.2 g under zero". */
static void print_in_place(const struct live_reading *reading)
{
	double net, rate;

	printf("\r\033[K");
	if (!dict_number(&reading->quantities, "NetGrams", &net)) {
		printf("      no mass   %s", reading->state);
	} else {
		printf("%10.1f g%s   %s", fabs(net), net <= -0.05 ? " under zero" : "",
		       reading->state);
		if (dict_number(&reading->quantities, "RateGramsPerSecond", &rate) &&
		    fabs(rate) >= 0.05)
			printf("   %.1f g/s %s", fabs(rate), rate > 0.0 ? "in" : "out");
	}
	fflush(stdout);
}

/* Grams that nobody should believe are shown all the same, to whoever mends the scale. */
static int warn_of_guess(sd_bus *bus)
{
	static struct dict scale; /* large for a stack */
	struct advice guess = {.id = ADVICE_NOT_CALIBRATED};
	char sentence[WORDS_SENTENCE_MAX];
	int status = bus_client_properties(bus, STATION_SCALE, &scale);

	if (status != EXIT_OK || dict_bool(&scale, "Calibration.Calibrated"))
		return status;
	words_advice(&guess, sentence, sizeof sentence);
	complain("%s", sentence);
	return EXIT_OK;
}

static int follow(struct live *live, enum form form, int64_t count, double silent_s)
{
	int64_t seen = 0;

	while (count == 0 || seen < count) {
		int events = live_wait(live, -1, (int)(silent_s * 1000.0));

		if (events < 0)
			return bus_client_failed("the bus is lost", events);
		if (events & LIVE_INTERRUPTED) {
			if (form == FORM_PLACE)
				putchar('\n');
			return EXIT_INTERRUPTED;
		}
		if (events & LIVE_GONE) {
			complain("the station has gone");
			return EXIT_NO_STATION;
		}
		if (events == 0) {
			complain("no reading for %.0f s: look at the scale", silent_s);
			return EXIT_FAILED;
		}
		if (!(events & LIVE_READING))
			continue;
		seen++;
		if (form == FORM_CSV)
			print_csv(&live->reading);
		else if (form == FORM_JSON)
			print_json(&live->reading);
		else
			print_in_place(&live->reading);
		/* A reader at the other end of a pipe wants each as it comes. */
		if (fflush(stdout) != 0)
			return EXIT_FAILED;
	}
	if (form == FORM_PLACE)
		putchar('\n');
	return EXIT_OK;
}

int cmd_watch(const struct context *context, int argc, char **argv)
{
	bool csv = false, as_json = false;
	int64_t count = 0;
	const struct arg table[] = {
	        {"--csv", ARG_FLAG, &csv, NULL, "a row for each reading, with a header row", 0, 0},
	        {"--json", ARG_FLAG, &as_json, NULL, "an object a line for each reading", 0, 0},
	        {"--count", ARG_WHOLE, &count, "N", "end after N readings (0: never)", 0, 1e12},
	};
	const struct args args = {
	        "watch [--csv | --json] [--count N]",
	        "The live reading: in place on a terminal, a row each elsewhere. Masses in g, "
	        "rates\n"
	        "in g/s, times in us of the station; an unknown quantity is left empty.",
	        table, 3, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	enum form form;
	struct live *live;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (csv && as_json) {
		complain("--csv and --json: choose one");
		return EXIT_USAGE;
	}
	form = as_json ? FORM_JSON : csv || !terminal_out() ? FORM_CSV : FORM_PLACE;
	live = calloc(1, sizeof *live);
	if (!live)
		return bus_client_failed("watch", -ENOMEM);
	status = bus_client_open(context, &bus);
	live_catch_interrupt();
	if (status == EXIT_OK)
		status = live_open(bus, live);
	if (status == EXIT_OK)
		status = warn_of_guess(bus);
	if (status == EXIT_OK) {
		if (form == FORM_CSV) {
			printf("sequence,t_us,state,cue");
			for (size_t i = 0; i < N_QUANTITIES; i++)
				printf(",%s", quantities[i].column);
			putchar('\n');
		}
		status = follow(live, form, count, 10.0);
	}
	sd_bus_flush_close_unref(bus);
	free(live);
	return status;
}
