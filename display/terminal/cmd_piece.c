/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "args.h"
#include "bus_client.h"
#include "daemon/casting/plan.h"
#include "daemon/station/piece_file.h"
#include "daemon/station/read_text.h"
#include "piece_ask.h"
#include "piece_care.h"
#include "piece_rows.h"
#include "terminal.h"

/* ambo piece ...: pieces at the station. Each part of it is a little command. */

static void say(void *context, const char *sentence)
{
	(void)context;
	complain("%s", sentence);
}

/* The units' question where someone can answer it; else it must be said beforehand. */
static int sure_of_units(const struct piece *piece, bool as_written)
{
	char question[PIECE_SENTENCE_MAX], answer[16] = "";

	if (as_written || piece_question(piece, question) == 0)
		return EXIT_OK;
	if (!terminal_in() || !terminal_out()) {
		complain("%s: %s Mend it, or say --as-written", piece->name, question);
		return EXIT_FAILED;
	}
	printf("%s\nKeep what is written? [y/N] ", question);
	fflush(stdout);
	if (!fgets(answer, sizeof answer, stdin) || (answer[0] != 'y' && answer[0] != 'Y'))
		return EXIT_FAILED;
	return EXIT_OK;
}

static int run_new(const struct context *context, int argc, char **argv)
{
	bool as_written = false, print = false;
	const struct arg table[] = {
	        {"--as-written", ARG_FLAG, &as_written, NULL, "the units are meant so", 0, 0},
	        {"--print", ARG_FLAG, &print, NULL, "write it out instead of keeping it", 0, 0},
	};
	const struct args args = {"piece new [FILE] [--print]",
	                          "Describes a piece: from a file, else by asking.", table, 2, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	struct conf_report report = {.say = say};
	char asked[PIECE_TEXT_MAX], *text = NULL;
	struct piece piece;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (operands[0]) {
		/* Read here first: the sentences then name the person's own file and line. */
		if (piece_file_read(operands[0], &report, &piece) < 0 ||
		    read_text(operands[0], CONF_FILE_MAX, &text) < 0)
			return EXIT_FAILED;
		status = EXIT_OK;
	} else {
		status = piece_ask(stdin, asked, &piece);
	}
	if (status == EXIT_OK)
		status = sure_of_units(&piece, as_written);
	if (status == EXIT_OK && print)
		printf("%s", text ? text : asked);
	else if (status == EXIT_OK) {
		status = bus_client_open(context, &bus);
		if (status == EXIT_OK)
			status = bus_client_call(bus, STATION_PIECES, "Keep", NULL, "s",
			                         text ? text : asked);
		if (status == EXIT_OK)
			printf("%s is kept.\n", piece.name);
		sd_bus_flush_close_unref(bus);
	}
	free(text);
	return status;
}

/* A call whose answer is a list of rows, printed as a table of its own or as JSON. */
static int print_rows(sd_bus_message *reply, const struct piece_table *table, bool as_json,
                      struct json *json)
{
	struct piece_printer printer = {.table = table, .as_json = as_json, .json = json};
	int r;

	if (as_json)
		json_open(json, NULL, '[');
	r = rows_read(reply, piece_print_row, &printer);
	if (as_json)
		json_close(json, ']');
	if (r >= 0)
		piece_print_end(&printer);
	return r < 0 ? bus_client_failed("the station's answer cannot be read", r) : EXIT_OK;
}

static int list_like(const struct context *context, int argc, char **argv, const char *usage,
                     const char *about, const char *method, const struct piece_table *rows,
                     bool named)
{
	bool as_json = false;
	const struct arg table[] = {
	        {"--json", ARG_FLAG, &as_json, NULL, "an array of objects", 0, 0}};
	const struct args args = {usage, about, table, 1, named ? 1 : 0};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus_message *reply = NULL;
	struct json json;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (named && !operands[0]) {
		complain("%s: expected the name of a piece", argv[0]);
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = named ? bus_client_call(bus, STATION_PIECES, method, &reply, "s",
		                                 operands[0])
		               : bus_client_call(bus, STATION_PIECES, method, &reply, "");
	json_init(&json, stdout, true);
	if (status == EXIT_OK)
		status = print_rows(reply, rows, as_json, &json);
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

static int run_list(const struct context *context, int argc, char **argv)
{
	return list_like(context, argc, argv, "piece list [--json]",
	                 "The pieces, and how far they are filled.", "List", &piece_table_list,
	                 false);
}

static int run_show(const struct context *context, int argc, char **argv)
{
	return list_like(context, argc, argv, "piece show NAME [--json]",
	                 "The layers of a piece as they were really poured.", "Layers",
	                 &piece_table_layers, true);
}

static int append_what_if(sd_bus_message *call, double room, double resin, double cup,
                          double layers, const char *system)
{
	const struct {
		const char *key;
		double value;
	} numbers[] = {{"RoomDegreesCelsius", room},
	               {"ResinDegreesCelsius", resin},
	               {"CupLimitGrams", cup},
	               {"Layers", layers}};
	int r = sd_bus_message_open_container(call, 'a', "{sv}");

	for (size_t i = 0; r >= 0 && i < sizeof numbers / sizeof *numbers; i++)
		if (!isnan(numbers[i].value))
			r = sd_bus_message_append(call, "{sv}", numbers[i].key, "d",
			                          numbers[i].value);
	if (r >= 0 && system)
		r = sd_bus_message_append(call, "{sv}", "System", "s", system);
	return r < 0 ? r : sd_bus_message_close_container(call);
}

static int print_plan(sd_bus_message *reply, bool as_json)
{
	struct json json;
	const char *warning;
	int status;

	json_init(&json, stdout, true);
	status = print_rows(reply, &piece_table_plan, as_json, &json);
	if (status == EXIT_OK && !as_json && sd_bus_message_enter_container(reply, 'a', "s") >= 0)
		while (sd_bus_message_read(reply, "s", &warning) > 0)
			printf("Note: %s\n", warning);
	return status;
}

static int run_plan(const struct context *context, int argc, char **argv)
{
	double room = NAN, resin = NAN, cup = NAN, layers = NAN;
	const char *system = NULL;
	bool as_json = false;
	const struct arg table[] = {
	        {"--json", ARG_FLAG, &as_json, NULL, "an array of objects", 0, 0},
	        {"--room", ARG_NUMBER, &room, "DEGC", "what if the room were so", 0, 60},
	        {"--resin", ARG_NUMBER, &resin, "DEGC", "the resin before mixing", 0, 80},
	        {"--cup-limit", ARG_NUMBER, &cup, "G", "what a cup may hold", 5, 1e5},
	        {"--layers", ARG_NUMBER, &layers, "N", "for the deepest coat", 1, 30},
	        {"--system", ARG_TEXT, &system, "ID", "instead of the piece's own", 0, 0},
	};
	const struct args args = {"piece plan NAME [--json] [--room DEGC] ...",
	                          "What is left to pour, from what was really poured and the room "
	                          "as it is.",
	                          table, sizeof table / sizeof *table, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus_message *call = NULL, *reply = NULL;
	sd_bus *bus = NULL;
	int r, status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0]) {
		complain("piece plan: expected the name of a piece");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK) {
		r = sd_bus_message_new_method_call(bus, &call, STATION_NAME, STATION_PIECES,
		                                   "Plan");
		if (r >= 0)
			r = sd_bus_message_append(call, "s", operands[0]);
		if (r >= 0)
			r = append_what_if(call, room, resin, cup, layers, system);
		if (r < 0) {
			sd_bus_message_unref(call);
			status = bus_client_failed("Plan", r);
		} else {
			status = bus_client_send(bus, call, &reply);
		}
	}
	if (status == EXIT_OK)
		status = print_plan(reply, as_json);
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

static int run_poured(const struct context *context, int argc, char **argv)
{
	double a = NAN, b = NAN, tint = NAN, stayed = NAN, resin = NAN, cup_s = NAN;
	const char *system = NULL;
	int64_t layer = 0;
	const struct arg table[] = {
	        {"--a", ARG_NUMBER, &a, "G", "of part A, as weighed", 0.001, 1e6},
	        {"--b", ARG_NUMBER, &b, "G", "of part B", 0.001, 1e6},
	        {"--tint", ARG_NUMBER, &tint, "G", "of tint", 0, 1e5},
	        {"--stayed", ARG_NUMBER, &stayed, "G", "in the cup, weighed back", 0, 1e6},
	        {"--resin", ARG_NUMBER, &resin, "DEGC", "the resin before mixing", 0, 80},
	        {"--cup-s", ARG_NUMBER, &cup_s, "S", "since the hardener's first gram", 0, 1e6},
	        {"--layer", ARG_WHOLE, &layer, "N", "more of the last layer, or the next (next)", 0,
	         1e6},
	        {"--system", ARG_TEXT, &system, "ID", "instead of the piece's own", 0, 0},
	};
	const struct args args = {"piece poured NAME --a G --b G [--stayed G] ...",
	                          "Tells what was poured where no batch was begun with --piece.",
	                          table, sizeof table / sizeof *table, 1};
	const struct {
		const char *key;
		const double *value;
	} numbers[] = {{"AGrams", &a},         {"BGrams", &b},
	               {"TintGrams", &tint},   {"StayedGrams", &stayed},
	               {"CupSeconds", &cup_s}, {"ResinDegreesCelsius", &resin}};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus_message *call = NULL;
	sd_bus *bus = NULL;
	int r, status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0] || isnan(a) || isnan(b)) {
		complain("piece poured: expected the name of a piece, --a and --b");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status != EXIT_OK)
		return status;
	r = sd_bus_message_new_method_call(bus, &call, STATION_NAME, STATION_PIECES, "Pour");
	if (r >= 0)
		r = sd_bus_message_append(call, "sx", operands[0], layer);
	if (r >= 0)
		r = sd_bus_message_open_container(call, 'a', "{sv}");
	for (size_t i = 0; r >= 0 && i < sizeof numbers / sizeof *numbers; i++)
		if (!isnan(*numbers[i].value))
			r = sd_bus_message_append(call, "{sv}", numbers[i].key, "d",
			                          *numbers[i].value);
	if (r >= 0 && system)
		r = sd_bus_message_append(call, "{sv}", "System", "s", system);
	if (r >= 0)
		r = sd_bus_message_close_container(call);
	if (r < 0) {
		sd_bus_message_unref(call);
		status = bus_client_failed("Pour", r);
	} else {
		status = bus_client_send(bus, call, NULL);
	}
	if (status == EXIT_OK)
		printf("Kept: its clocks run (ambo clocks).\n");
	sd_bus_flush_close_unref(bus);
	return status;
}

static int run_check(const struct context *context, int argc, char **argv)
{
	double deviation = 0.0, mass = 0.0, keep_back;
	const struct arg table[] = {{"--deviation", ARG_NUMBER, &deviation, "PCT",
	                             "of the ratio, + is hardener (0)", -50, 50}};
	const struct args args = {"piece check NAME GRAMS [--deviation PCT]",
	                          "May all that is in the cup go in, or is some to be kept back?",
	                          table, 1, 2};
	const char *operands[ARGS_OPERANDS_MAX], *sentence;
	sd_bus_message *reply = NULL;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[1] || args_number(operands[1], &mass) < 0 || mass <= 0.0) {
		complain("piece check: expected the name of a piece and the grams in the cup");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_PIECES, "PourCheck", &reply, "sdd",
		                         operands[0], mass, deviation);
	if (status == EXIT_OK && sd_bus_message_read(reply, "ds", &keep_back, &sentence) >= 0)
		printf("%s\n", sentence);
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

static int run_report(const struct context *context, int argc, char **argv)
{
	int64_t layer = 0;
	const struct arg table[] = {
	        {"--layer", ARG_WHOLE, &layer, "N", "which (the last poured)", 0, 1e6}};
	const struct args args = {
	        "piece report NAME holds-now [--layer N]",
	        "An inclusion stays where it is put: kept for the system, whatever "
	        "the room. Moves no other clock.",
	        table, 1, 2};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[1] || strcmp(operands[1], "holds-now") != 0) {
		complain("piece report: expected the name of a piece and holds-now");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_PIECES, "HoldsNow", NULL, "sx", operands[0],
		                         layer);
	if (status == EXIT_OK)
		printf("Kept for this system.\n");
	sd_bus_flush_close_unref(bus);
	return status;
}

/* A call with a number and no answer. */
static int run_room(const struct context *context, int argc, char **argv)
{
	const struct args args = {"piece room DEGC",
	                          "Tells how warm the room is from now on: the clocks follow.",
	                          NULL, 0, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus *bus = NULL;
	double degc;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0] || args_number(operands[0], &degc) < 0) {
		complain("piece room: expected degrees Celsius");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_PIECES, "SetRoom", NULL, "d", degc);
	sd_bus_flush_close_unref(bus);
	return status;
}

static int named_call(const struct context *context, int argc, char **argv, const char *usage,
                      const char *about, const char *method, bool prints)
{
	const struct args args = {usage, about, NULL, 0, 1};
	const char *operands[ARGS_OPERANDS_MAX], *text;
	sd_bus_message *reply = NULL;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0]) {
		complain("piece %s: expected the name of a piece", argv[0]);
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_PIECES, method, &reply, "s", operands[0]);
	if (status == EXIT_OK && prints && sd_bus_message_read(reply, "s", &text) >= 0)
		printf("%s", text);
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

static int run_finish(const struct context *context, int argc, char **argv)
{
	return named_call(context, argc, argv, "piece finish NAME",
	                  "Out of the mould: its clocks stop.", "Finish", false);
}

static int run_file(const struct context *context, int argc, char **argv)
{
	return named_call(context, argc, argv, "piece file NAME",
	                  "Its description, as it was kept.", "File", true);
}

static int run_checks(const struct context *context, int argc, char **argv)
{
	return list_like(context, argc, argv, "piece checks NAME [--json]",
	                 "What is to be looked at now: of the layer poured last, and before the "
	                 "next.",
	                 "Checks", &piece_table_checks, true);
}

static int run_photos(const struct context *context, int argc, char **argv)
{
	return list_like(context, argc, argv, "piece photos NAME [--json]",
	                 "The photos of a piece; `ambo piece photo --save ID FILE` gets one back.",
	                 "Photos", &piece_table_photos, true);
}

static const struct command parts[] = {
        {"new", "describe a piece, from a file or by being asked", run_new},
        {"list", "the pieces, and how far they are filled", run_list},
        {"show", "a piece's layers as poured", run_show},
        {"plan", "what is left to pour, how deep and when", run_plan},
        {"check", "may all that is in the cup go in?", run_check},
        {"poured", "tell what was poured without a batch", run_poured},
        {"report", "an inclusion holds now", run_report},
        {"room", "tell how warm the room is", run_room},
        {"checks", "what is to be looked at now", run_checks},
        {"dry", "weigh an inclusion while it dries", piece_dry},
        {"photo", "attach a photo to a layer, or get it back", piece_photo},
        {"photos", "the photos there are", run_photos},
        {"file", "a piece's description", run_file},
        {"finish", "out of the mould: its clocks stop", run_finish},
        {"delete", "description, layers and photos; batches stay", piece_delete},
};
#define N_PARTS (sizeof parts / sizeof *parts)

int cmd_piece(const struct context *context, int argc, char **argv)
{
	if (argc > 1 && (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0)) {
		printf("usage: ambo piece PART ...\n\nPieces that are cast, and their layers.\n\n");
		for (size_t i = 0; i < N_PARTS; i++)
			printf("  %-8s %s\n", parts[i].name, parts[i].summary);
		printf("\n`ambo piece PART --help` tells more of each. Exit status: 0 done; 1 "
		       "refused "
		       "or\nfailed; 2 wrong options; 3 no station on the bus.\n");
		return EXIT_OK;
	}
	for (size_t i = 0; argc > 1 && i < N_PARTS; i++)
		if (strcmp(argv[1], parts[i].name) == 0)
			return parts[i].run(context, argc - 1, argv + 1);
	complain("piece%s%s: no such part; `ambo piece --help` lists them", argc > 1 ? " " : "",
	         argc > 1 ? argv[1] : "");
	return EXIT_USAGE;
}
