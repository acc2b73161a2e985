/* SPDX-License-Identifier: MIT */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "args.h"
#include "bus_client.h"
#include "output.h"
#include "rows.h"
#include "terminal.h"
#include "words/words.h"

/* ambo check: one known weight. ambo health: how the scale is. */

/* Waits for Enter; false when the input ended. */
static bool enter(void)
{
	int c;

	fflush(stdout);
	while ((c = getchar()) != EOF && c != '\n')
		;
	return c != EOF;
}

/* With a person there: an empty pan, its zero, then the weight. */
static int prepare(sd_bus *bus, double nominal_g)
{
	char mass[WORDS_NUMBER_MAX];
	int status;

	words_mass(nominal_g, true, mass);
	printf("Clear the pan, then press Enter. ");
	if (!enter())
		return EXIT_FAILED;
	status = bus_client_call(bus, STATION_SCALE, "Weigh", NULL, "");
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_SCALE, "Zero", NULL, "");
	if (status != EXIT_OK)
		return status;
	printf("Put %s on the middle, then press Enter. ", mass);
	return enter() ? EXIT_OK : EXIT_FAILED;
}

static int print_check(sd_bus_message *reply, bool as_json)
{
	const char *verdict, *sentence;
	double error_g, limit_g;
	struct json json;
	int r = sd_bus_message_read(reply, "sdds", &verdict, &error_g, &limit_g, &sentence);

	if (r < 0)
		return bus_client_failed("the station's answer cannot be read", r);
	if (as_json) {
		json_init(&json, stdout, false);
		json_open(&json, NULL, '{');
		json_text(&json, "verdict", verdict);
		json_number(&json, "error_g", error_g);
		json_number(&json, "limit_g", limit_g);
		json_close(&json, '}');
	} else {
		printf("%s\n", sentence);
	}
	return strcmp(verdict, "passed") == 0 ? EXIT_OK : EXIT_FAILED;
}

int cmd_check(const struct context *context, int argc, char **argv)
{
	const char *weight_class = "M1";
	bool as_json = false, on = false;
	const struct arg table[] = {
	        {"--class", ARG_TEXT, &weight_class, "CLASS",
	         "of the weight, E1 E2 F1 F2 M1 M2 M3 (without it M1)", 0, 0},
	        {"--on", ARG_FLAG, &on, NULL, "the zero is set and the weight on it: ask nothing",
	         0, 0},
	        {"--json", ARG_FLAG, &as_json, NULL, "one object", 0, 0},
	};
	const struct args args = {
	        "check GRAMS [--class M1] [--on]",
	        "The daily check: one known weight against what the scale may err by (OIML R 76, "
	        "in\n"
	        "service) and what the weight itself may be off (OIML R 111). Where input is no\n"
	        "terminal, as with --on. Exit status 0 only when it passed.",
	        table, 3, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus_message *reply = NULL;
	sd_bus *bus = NULL;
	double nominal_g;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (operands[0] == NULL || args_number(operands[0], &nominal_g) < 0) {
		complain("check: expected the weight's nominal value in grams, as 1000");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK && !on && terminal_in())
		status = prepare(bus, nominal_g);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_SCALE, "Weigh", NULL, "");
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_SCALE, "Check", &reply, "ds", nominal_g,
		                         weight_class);
	if (status == EXIT_OK)
		status = print_check(reply, as_json);
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

/* Numbers of the health, with the words for people; NULL: for programs only. */
static const struct {
	const char *name, *key, *label, *unit;
} numbers[] = {
        {"noise_g", "NoiseGrams", "noise of a sample", "g"},
        {"expected_noise_g", "ExpectedNoiseGrams", "noise expected", "g"},
        {"zero_drift_g", "ZeroDriftGrams", "zero moved by", "g"},
        {"zero_drift_s", "ZeroDriftSeconds", "in", "s"},
        {"corrupt_per_1000", "CorruptPerThousand", "corrupt reads", "of 1000"},
        {"samples_per_s", "SamplesPerSecond", "sample rate", "a second"},
        {"hum_hz", "HumHertz", "mains hum", "Hz"},
        {"hum_g", "HumGrams", "of", "g"},
        {"degc", "Celsius", "temperature", "C"},
        {"calibration_degc", "CalibrationCelsius", "calibrated at", "C"},
        {"humidity_pct", "HumidityPercent", "humidity", "%"},
        {"resin_degc", "ResinCelsius", "resin", "C"},
        {"smallest_batch_g", "SmallestBatchGrams", "smallest batch", "g"},
        {"smallest_batch_tolerance_pct", "SmallestBatchTolerancePercent", "at a tolerance of", "%"},
        {"check_error_g", "CheckErrorGrams", "last check", "g"},
        {"check_limit_g", "CheckLimitGrams", "of at most", "g"},
};
#define N_NUMBERS (sizeof numbers / sizeof *numbers)

static void key_of(int i, const char *what, char key[DICT_KEY_MAX])
{
	snprintf(key, DICT_KEY_MAX, "Health.Findings.%d.%s", i, what);
}

#define COUNTER "Health.Counters."

/* "TimedOut" as "timed_out". */
static void name_of(const char *key, char between, char *ret, size_t size)
{
	size_t n = 0;

	for (; *key != '\0' && n + 2 < size; key++) {
		const bool upper = *key >= 'A' && *key <= 'Z';

		if (upper && n > 0)
			ret[n++] = between;
		ret[n++] = (char)(upper ? *key - 'A' + 'a' : *key);
	}
	ret[n] = '\0';
}

/* The next of what the driver has counted, from entry *i on; NULL at the end. */
static const struct dict_entry *next_counter(const struct dict *health, uint32_t *i, char between,
                                             char name[DICT_KEY_MAX])
{
	for (; *i < health->n; ++*i) {
		const struct dict_entry *entry = &health->entry[*i];

		if (strncmp(entry->key, COUNTER, strlen(COUNTER)) != 0)
			continue;
		name_of(entry->key + strlen(COUNTER), between, name, DICT_KEY_MAX);
		++*i;
		return entry;
	}
	return NULL;
}

static void print_json_counters(struct json *json, const struct dict *health)
{
	const struct dict_entry *counter;
	char name[DICT_KEY_MAX];
	uint32_t i = 0;

	json_open(json, "counters", '{');
	while ((counter = next_counter(health, &i, '_', name)) != NULL)
		json_whole(json, name, counter->whole);
	json_close(json, '}');
}

static void print_json(const struct dict *health)
{
	char key[DICT_KEY_MAX];
	struct json json;
	double value;

	json_init(&json, stdout, true);
	json_open(&json, NULL, '{');
	for (size_t i = 0; i < N_NUMBERS; i++) {
		snprintf(key, sizeof key, "Health.%s", numbers[i].key);
		if (dict_number(health, key, &value))
			json_number(&json, numbers[i].name, value);
	}
	json_whole(&json, "calibration_id", dict_whole(health, "Health.CalibrationId"));
	print_json_counters(&json, health);
	json_open(&json, "findings", '[');
	for (int i = 0; key_of(i, "Id", key), dict_find(health, key) != NULL; i++) {
		json_open(&json, NULL, '{');
		json_text(&json, "id", dict_text(health, key));
		key_of(i, "Sentence", key);
		json_text(&json, "sentence", dict_text(health, key));
		json_close(&json, '}');
	}
	json_close(&json, ']');
	json_close(&json, '}');
}

static void print_csv(const struct dict *health)
{
	char key[DICT_KEY_MAX], number[OUTPUT_NUMBER_MAX];
	const struct dict_entry *counter;
	uint32_t at = 0;
	double value;

	printf("name,value\n");
	for (size_t i = 0; i < N_NUMBERS; i++) {
		snprintf(key, sizeof key, "Health.%s", numbers[i].key);
		if (dict_number(health, key, &value))
			printf("%s,%s\n", numbers[i].name, output_number(value, number));
	}
	while ((counter = next_counter(health, &at, '_', key)) != NULL)
		printf("n_%s,%" PRId64 "\n", key, counter->whole);
	for (int i = 0; key_of(i, "Id", key), dict_find(health, key) != NULL; i++)
		printf("finding,%s\n", dict_text(health, key));
}

static void print_person(const struct dict *health)
{
	const struct dict_entry *counter;
	char key[DICT_KEY_MAX];
	uint32_t at = 0;
	double value;

	for (size_t i = 0; i < N_NUMBERS; i++) {
		snprintf(key, sizeof key, "Health.%s", numbers[i].key);
		if (dict_number(health, key, &value))
			printf("  %-18s %.4g %s%s\n", numbers[i].label, fabs(value),
			       numbers[i].unit, value < 0.0 ? " downwards" : "");
	}
	while ((counter = next_counter(health, &at, ' ', key)) != NULL)
		printf("  %-18s %" PRId64 "\n", key, counter->whole);
	for (int i = 0; key_of(i, "Sentence", key), dict_find(health, key) != NULL; i++)
		printf("%s\n", dict_text(health, key));
}

int cmd_health(const struct context *context, int argc, char **argv)
{
	static struct dict health; /* large for a stack */
	bool as_csv = false, as_json = false;
	const struct arg table[] = {
	        {"--csv", ARG_FLAG, &as_csv, NULL, "name,value rows", 0, 0},
	        {"--json", ARG_FLAG, &as_json, NULL, "one object", 0, 0},
	};
	const struct args args = {
	        "health [--csv | --json]",
	        "How the scale is: noise, drift of the zero, corrupt reads, sample rate, hum, the\n"
	        "smallest batch that can be trusted, what the driver has counted on its wires; "
	        "and\n"
	        "what to do about whatever is wrong. Exit status 0 only when nothing is.",
	        table, 2, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (as_csv && as_json) {
		complain("--csv and --json: choose one");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_properties(bus, STATION_SCALE, &health);
	if (status == EXIT_OK) {
		if (as_json)
			print_json(&health);
		else if (as_csv || !terminal_out())
			print_csv(&health);
		else
			print_person(&health);
		status = strcmp(dict_text(&health, "Health.Findings.0.Id"), "well") == 0
		                 ? EXIT_OK
		                 : EXIT_FAILED;
	}
	sd_bus_flush_close_unref(bus);
	return status;
}
