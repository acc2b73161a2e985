/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "args.h"
#include "bus_client.h"
#include "rows.h"
#include "terminal.h"
#include "words/words.h"

/* ambo calibrate: be led through a calibration, look at those there were, go back. */

#define LOOK_MS    200
#define ANSWER_MAX 64u

static const struct column list_columns[] = {
        {"id", "Id"},
        {"active", "Active"},
        {"realtime_us", "RealtimeMicroseconds"},
        {"driver", "Driver"},
        {"degc", "Celsius"},
        {"degree", "Degree"},
        {"counts_per_g", "CountsPerGram"},
        {"zero_counts", "ZeroCounts"},
        {"residual_sd_g", "ResidualGrams"},
        {"greatest_load_g", "GreatestLoadGrams"},
        {"hysteresis_g", "HysteresisGrams"},
        {"repeat_sd_g", "RepeatabilityGrams"},
        {"off_centre_g", "OffCentreGrams"},
        {"drift_g", "DriftGrams"},
        {"readings", "Readings"},
};
static const struct column reading_columns[] = {
        {"kind", "Kind"},     {"t_us", "TimeMicroseconds"}, {"mass_g", "MassGrams"},
        {"counts", "Counts"}, {"sd_counts", "DoubtCounts"}, {"place", "Place"},
};
#define N_LIST    (sizeof list_columns / sizeof *list_columns)
#define N_READING (sizeof reading_columns / sizeof *reading_columns)

struct options {
	bool list, cancel, approve, as_csv, as_json;
	double degc;
	int64_t use, readings; /* -1: not given */
};

static void print_person(const struct dict *row, void *context)
{
	const time_t when = (time_t)(dict_whole(row, "RealtimeMicroseconds") / 1000000);
	double counts_per_g = 0.0, degc;
	char date[32] = "?";
	struct tm tm;

	(void)context;
	if (localtime_r(&when, &tm) != NULL)
		strftime(date, sizeof date, "%Y-%m-%d %H:%M", &tm);
	dict_number(row, "CountsPerGram", &counts_per_g);
	printf("%s %3" PRId64 "  %s  %.5g counts/g", dict_bool(row, "Active") ? "*" : " ",
	       dict_whole(row, "Id"), date, counts_per_g);
	if (dict_number(row, "Celsius", &degc))
		printf(", %.0f C", degc);
	printf(" (%s)\n", dict_text(row, "Driver"));
}

struct printing {
	const struct column *columns;
	size_t n;
	struct json *json; /* NULL: CSV */
};

static void print_row(const struct dict *row, void *context)
{
	const struct printing *printing = context;

	if (printing->json == NULL) {
		rows_csv(row, printing->columns, printing->n);
		return;
	}
	json_open(printing->json, NULL, '{');
	rows_json(printing->json, row, printing->columns, printing->n);
	json_close(printing->json, '}');
}

static int print_rows(sd_bus_message *reply, const struct column *columns, size_t n, bool as_json)
{
	struct json json;
	struct printing printing = {columns, n, as_json ? &json : NULL};
	int r;

	json_init(&json, stdout, true);
	if (as_json)
		json_open(&json, NULL, '[');
	else
		rows_csv_header(columns, n);
	r = rows_read(reply, print_row, &printing);
	if (as_json)
		json_close(&json, ']');
	return r;
}

static int list(sd_bus *bus, const struct options *options)
{
	const bool one = options->readings >= 0;
	const bool person = !one && !options->as_csv && !options->as_json && terminal_out();
	sd_bus_message *reply = NULL;
	int status, r = 0;

	status = one ? bus_client_call(bus, STATION_SCALE, "CalibrationReadings", &reply, "x",
	                               options->readings)
	             : bus_client_call(bus, STATION_SCALE, "Calibrations", &reply, "");
	if (status == EXIT_OK && person)
		r = rows_read(reply, print_person, NULL);
	else if (status == EXIT_OK)
		r = one ? print_rows(reply, reading_columns, N_READING, options->as_json)
		        : print_rows(reply, list_columns, N_LIST, options->as_json);
	sd_bus_message_unref(reply);
	return r < 0 ? bus_client_failed("the station's answer cannot be read", r) : status;
}

static int use(sd_bus *bus, int64_t id)
{
	sd_bus_message *reply = NULL;
	int status = bus_client_call(bus, STATION_SCALE, "UseCalibration", &reply, "x", id);

	if (status == EXIT_OK && id == 0)
		printf("The configuration's calibration holds. Set the zero, then ambo check.\n");
	else if (status == EXIT_OK)
		printf("Calibration %" PRId64 " holds. Set the zero, then ambo check.\n", id);
	sd_bus_message_unref(reply);
	return status;
}

/* What was read of standard input and is not yet a line. */
struct lines {
	char kept[ANSWER_MAX];
	size_t n;
};

/* The next line of standard input within LOOK_MS: 1; 0 none yet; -1 the input ended. */
static int next_line(struct lines *lines, char line[ANSWER_MAX])
{
	char *kept = lines->kept;
	struct pollfd fd = {.fd = STDIN_FILENO, .events = POLLIN};
	ssize_t got;

	for (;;) {
		char *end = memchr(kept, '\n', lines->n);

		if (end != NULL || lines->n == ANSWER_MAX - 1) {
			const size_t length = end != NULL ? (size_t)(end - kept) : lines->n;
			const size_t used = length + (end != NULL ? 1 : 0);

			memcpy(line, kept, length);
			line[length] = '\0';
			memmove(kept, kept + used, lines->n - used);
			lines->n -= used;
			return 1;
		}
		if (poll(&fd, 1, LOOK_MS) <= 0)
			return 0;
		got = read(STDIN_FILENO, kept + lines->n, ANSWER_MAX - 1 - lines->n);
		if (got <= 0)
			return -1;
		lines->n += (size_t)got;
	}
}

static void say_mass(const char *what, const struct dict *now, const char *key)
{
	double g;

	if (dict_number(now, key, &g))
		printf("  %-16s %.3f g%s\n", what, fabs(g), g <= -0.0005 ? " too little" : "");
}

static void print_result(const struct dict *now)
{
	char key[DICT_KEY_MAX];
	double counts_per_g;

	if (dict_number(now, "Calibration.CountsPerGram", &counts_per_g))
		printf("  %-16s %.7g counts/g, degree %" PRId64 "\n", "span", counts_per_g,
		       dict_whole(now, "Calibration.Degree"));
	say_mass("residual sd", now, "Calibration.ResidualGrams");
	say_mass("hysteresis", now, "Calibration.HysteresisGrams");
	say_mass("repeatability sd", now, "Calibration.RepeatabilityGrams");
	say_mass("front", now, "Calibration.FrontGrams");
	say_mass("right", now, "Calibration.RightGrams");
	say_mass("back", now, "Calibration.BackGrams");
	say_mass("left", now, "Calibration.LeftGrams");
	say_mass("drift", now, "Calibration.DriftGrams");
	say_mass("limit", now, "Calibration.LimitGrams");
	for (int i = 0;; i++) {
		snprintf(key, sizeof key, "Calibration.Notes.%d.Sentence", i);
		if (dict_find(now, key) == NULL)
			break;
		printf("  Note: %s\n", dict_text(now, key));
	}
}

#define SAID_MAX 128u

/* Says what is to be done when that has changed; true when it had. */
static bool say(const struct dict *now, char said[SAID_MAX])
{
	char key[SAID_MAX];

	snprintf(key, sizeof key, "%s/%s/%" PRId64 "/%" PRId64, dict_text(now, "Calibration.Step"),
	         dict_text(now, "Calibration.Message"), dict_whole(now, "Calibration.Count"),
	         dict_whole(now, "Calibration.Taken"));
	if (strcmp(key, said) == 0)
		return false;
	memcpy(said, key, sizeof key);
	if (strcmp(dict_text(now, "Calibration.Step"), "done") == 0)
		print_result(now);
	printf("%s\n", dict_text(now, "Calibration.Sentence"));
	if (strcmp(dict_text(now, "Calibration.Step"), "rising") == 0)
		printf("  (grams and Enter; d: go down; q: give up)\n");
	fflush(stdout);
	return true;
}

static int accept(sd_bus *bus)
{
	sd_bus_message *reply = NULL;
	int64_t id = 0;
	int status = bus_client_call(bus, STATION_SCALE, "AcceptCalibration", &reply, "");

	if (status == EXIT_OK && sd_bus_message_read(reply, "x", &id) >= 0)
		printf("Calibration %" PRId64
		       " holds from now on. Set the zero, then ambo check.\n",
		       id);
	sd_bus_message_unref(reply);
	return status;
}

/* A line that a person entered. ARGS_GO_ON, or the end of the command. */
static int answer(sd_bus *bus, const struct dict *now, const char *line)
{
	const char *step = dict_text(now, "Calibration.Step");
	double mass_g = 0.0;

	if (strcmp(line, "q") == 0) {
		int status = bus_client_call(bus, STATION_SCALE, "CancelCalibration", NULL, "");

		if (status == EXIT_OK)
			printf("Given up: the calibration before holds.\n");
		return status == EXIT_OK ? EXIT_FAILED : status;
	}
	if (strcmp(step, "done") == 0)
		return accept(bus);
	if (strcmp(step, "rising") == 0 && strcmp(line, "d") != 0 &&
	    (args_number(line, &mass_g) < 0 || mass_g == 0.0)) {
		complain("\"%s\" is no mass; expected the grams on the pan, d or q", line);
		return ARGS_GO_ON;
	}
	/* Refused or not, the next look says what is to be done. */
	return bus_client_call(bus, STATION_SCALE, "CalibrationNext", NULL, "d", mass_g) ==
	                       EXIT_NO_STATION
	               ? EXIT_NO_STATION
	               : ARGS_GO_ON;
}

static int guide(sd_bus *bus)
{
	static struct dict now; /* large for a stack */
	char said[SAID_MAX] = "", line[ANSWER_MAX];
	struct lines lines = {.n = 0};
	int status;

	for (;;) {
		status = bus_client_properties(bus, STATION_SCALE, &now);
		if (status != EXIT_OK)
			return status;
		if (!dict_bool(&now, "Calibration.UnderWay")) {
			complain("the calibration was ended by someone else");
			return EXIT_FAILED;
		}
		(void)say(&now, said);
		if (strcmp(dict_text(&now, "Calibration.Step"), "refused") == 0)
			return bus_client_call(bus, STATION_SCALE, "CancelCalibration", NULL, "") ==
			                       EXIT_OK
			               ? EXIT_FAILED
			               : EXIT_NO_STATION;
		status = next_line(&lines, line);
		if (status < 0) {
			complain("standard input ended; the calibration stays: come back with "
			         "`ambo calibrate`, or end it with `ambo calibrate --cancel`");
			return EXIT_FAILED;
		}
		if (status == 0)
			continue;
		/* The scale may have gone on meanwhile: then the answer was to something
		 * else, and nobody accepts a result that was not shown. */
		status = bus_client_properties(bus, STATION_SCALE, &now);
		if (status == EXIT_OK && say(&now, said))
			continue;
		if (status == EXIT_OK)
			status = answer(bus, &now, line);
		if (status != ARGS_GO_ON)
			return status;
	}
}

static int start(sd_bus *bus, double degc)
{
	static struct dict now;
	sd_bus_message *call = NULL;
	int r, status = bus_client_properties(bus, STATION_SCALE, &now);

	if (status != EXIT_OK || dict_bool(&now, "Calibration.UnderWay"))
		return status; /* come back to the one that is */
	r = sd_bus_message_new_method_call(bus, &call, STATION_NAME, STATION_SCALE,
	                                   "StartCalibration");
	if (r >= 0)
		r = sd_bus_message_open_container(call, 'a', "{sv}");
	if (r >= 0 && !isnan(degc))
		r = sd_bus_message_append(call, "{sv}", "Celsius", "d", degc);
	if (r >= 0)
		r = sd_bus_message_close_container(call);
	if (r < 0) {
		sd_bus_message_unref(call);
		return bus_client_failed("StartCalibration", r);
	}
	return bus_client_send(bus, call, NULL);
}

int cmd_calibrate(const struct context *context, int argc, char **argv)
{
	struct options options = {.degc = NAN, .use = -1, .readings = -1};
	const struct arg table[] = {
	        {"--degc", ARG_NUMBER, &options.degc, "C", "how warm it is at the scale", -40, 85},
	        {"--list", ARG_FLAG, &options.list, NULL, "the calibrations there were", 0, 0},
	        {"--readings", ARG_WHOLE, &options.readings, "ID", "what one of them rests on", 1,
	         1e15},
	        {"--use", ARG_WHOLE, &options.use, "ID",
	         "go back to one of them; 0: to the configuration's", 0, 1e15},
	        {"--cancel", ARG_FLAG, &options.cancel, NULL, "end the one under way", 0, 0},
	        {"--approve", ARG_FLAG, &options.approve, NULL,
	         "let the display begin one, for 15 minutes", 0, 0},
	        {"--csv", ARG_FLAG, &options.as_csv, NULL, "rows", 0, 0},
	        {"--json", ARG_FLAG, &options.as_json, NULL, "objects", 0, 0},
	};
	const struct args args = {
	        "calibrate [--degc C] | --list | --readings ID | --use ID | --cancel | --approve",
	        "Leads through a calibration: zero, known loads up and down, the greatest ten "
	        "times\n"
	        "and once at each of four places. One load of a tenth of Max at least, better "
	        "three\n"
	        "up to Max. Names what is wired wrong. Every calibration is kept, with its "
	        "readings.\n"
	        "For keepers: members of the group ambo-keeper.",
	        table, 8, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (options.list + options.cancel + options.approve + (options.use >= 0) + (options.readings >= 0) > 1 ||
	    (options.as_csv && options.as_json)) {
		complain("calibrate: choose one of these options");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK && (options.list || options.readings >= 0))
		status = list(bus, &options);
	else if (status == EXIT_OK && options.use >= 0)
		status = use(bus, options.use);
	else if (status == EXIT_OK && options.cancel)
		status = bus_client_call(bus, STATION_SCALE, "CancelCalibration", NULL, "");
	else if (status == EXIT_OK && options.approve)
		status = bus_client_call(bus, STATION_SCALE, "Approve", NULL, "");
	else if (status == EXIT_OK) {
		status = start(bus, options.degc);
		if (status == EXIT_OK)
			status = guide(bus);
	}
	sd_bus_flush_close_unref(bus);
	return status;
}
