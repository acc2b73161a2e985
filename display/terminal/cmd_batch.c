/* SPDX-License-Identifier: MIT */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "args.h"
#include "bus_client.h"
#include "terminal.h"

/* The commands that say one thing to the batch: press, hold, discard, again,
 * divide; and bench, which moves the simulated hands. */

/* Opens, calls one method without an answer, closes. */
static int say(const struct context *context, const char *method, int64_t id)
{
	sd_bus *bus = NULL;
	int status = bus_client_open(context, &bus);

	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_BATCH, method, NULL, "x", id);
	sd_bus_flush_close_unref(bus);
	return status;
}

#define BATCH_OPTION                                                                               \
	{                                                                                          \
		"--batch", ARG_WHOLE, &id, "ID", "this batch; without it the one on the pan", 1,   \
		        9e15                                                                       \
	}

int cmd_press(const struct context *context, int argc, char **argv)
{
	bool other_part = false;
	int64_t id = 0;
	const struct arg table[] = {
	        {"--other-part", ARG_FLAG, &other_part, NULL,
	         "that was the other part: relabel what was just poured", 0, 0},
	        BATCH_OPTION,
	};
	const struct args args = {"press [--other-part] [--batch ID]",
	                          "Says yes, on with it: what the touch, the foot switch and Enter "
	                          "in `ambo mix` say.",
	                          table, 2, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	return say(context, other_part ? "OtherPart" : "Press", id);
}

int cmd_hold(const struct context *context, int argc, char **argv)
{
	int64_t id = 0;
	const struct arg table[] = {BATCH_OPTION};
	const struct args args = {"hold [--batch ID]",
	                          "Stops the batch and keeps it; `ambo press` goes on.", table, 1,
	                          0};
	const char *operands[ARGS_OPERANDS_MAX];
	int status = args_parse(&args, argc, argv, operands);

	return status != ARGS_GO_ON ? status : say(context, "Hold", id);
}

static bool sure(void)
{
	int answer, c;

	printf("Discard the batch? What was weighed stays on record. y/N ");
	fflush(stdout);
	answer = getchar();
	for (c = answer; c != '\n' && c != EOF; c = getchar())
		;
	return answer == 'y' || answer == 'Y';
}

int cmd_discard(const struct context *context, int argc, char **argv)
{
	int64_t id = 0;
	bool yes = false;
	const struct arg table[] = {
	        BATCH_OPTION,
	        {"--yes", ARG_FLAG, &yes, NULL, "do not ask", 0, 0},
	};
	const struct args args = {"discard [--batch ID] [--yes]",
	                          "Ends the batch without pouring it. Asks first on a terminal;\n"
	                          "elsewhere --yes is needed. Mixed resin in the cup still heats:\n"
	                          "spread it thin on something that does not burn.",
	                          table, 2, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!yes && !terminal_in()) {
		complain("discard: say --yes to discard without being asked");
		return EXIT_USAGE;
	}
	if (!yes && !sure()) {
		printf("Kept.\n");
		return EXIT_FAILED;
	}
	return say(context, "Discard", id);
}

int cmd_again(const struct context *context, int argc, char **argv)
{
	const struct args args = {
	        "again",
	        "Begins the last batch once more: its system, mass and actual tint share, with "
	        "cup,\n"
	        "lots and checks afresh. Prints the new batch's number; `ambo mix` leads on.",
	        NULL, 0, 0};
	const char *operands[ARGS_OPERANDS_MAX], *warning = "";
	sd_bus_message *reply = NULL;
	sd_bus *bus = NULL;
	int64_t id = 0;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_BATCH, "Again", &reply, "");
	if (status == EXIT_OK) {
		if (sd_bus_message_read(reply, "xs", &id, &warning) < 0)
			status = EXIT_FAILED;
		printf("%" PRId64 "\n", id);
		if (*warning)
			complain("%s", warning);
	}
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

int cmd_divide(const struct context *context, int argc, char **argv)
{
	double mass_g = 0.0, tint_pct = 0.0;
	const char *tint_label = "";
	int64_t id = 0, child = 0;
	const struct arg table[] = {
	        {"--mass", ARG_NUMBER, &mass_g, "G", "grams of mixed resin to weigh out (needed)",
	         1e-3, 1e6},
	        {"--tint", ARG_NUMBER, &tint_pct, "PERCENT", "tint of its own, of the mixed mass",
	         0, 100},
	        {"--tint-label", ARG_TEXT, &tint_label, "TEXT", "what that tint is called", 0, 0},
	        BATCH_OPTION,
	};
	const struct args args = {
	        "divide --mass G [--tint PERCENT] [--tint-label TEXT] [--batch ID]",
	        "Weighs part of a mixed batch into another cup. The part inherits ratio, verdict,\n"
	        "lots and clock. Prints the new batch's number.",
	        table, 4, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus_message *reply = NULL;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (mass_g <= 0.0) {
		complain("divide: say how much with --mass, in grams");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_BATCH, "Divide", &reply, "xdds", id, mass_g,
		                         tint_pct, tint_label);
	if (status == EXIT_OK && sd_bus_message_read(reply, "x", &child) < 0)
		status = EXIT_FAILED;
	if (status == EXIT_OK)
		printf("%" PRId64 "\n", child);
	sd_bus_message_unref(reply);
	sd_bus_flush_close_unref(bus);
	return status;
}

int cmd_bench(const struct context *context, int argc, char **argv)
{
	const struct args args = {
	        "bench VERB [AMOUNT]",
	        "Moves the hands at the simulated bench:\n"
	        "  cup G            put an empty cup of G grams on the pan\n"
	        "  lift, return     take the cup off, put it back as it is\n"
	        "  swap G           another empty cup instead\n"
	        "  pour-a, pour-b, pour-tint, pour-filler RATE   tilt the bottle, g/s\n"
	        "  taper RATE       go over to that rate\n"
	        "  stop S           tip back within S seconds; it drips\n"
	        "  tint G           sprinkle G grams\n"
	        "  knock G, spill G, object G, press-pan G, wipe, empty G, unplug, plug",
	        NULL, 0, 2};
	const char *operands[ARGS_OPERANDS_MAX];
	double amount = 0.0;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0] || (operands[1] && args_number(operands[1], &amount) < 0)) {
		complain("expected: ambo %s",
		         "bench VERB [AMOUNT], an amount with a decimal point");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status =
		        bus_client_call(bus, STATION_BENCH, "Act", NULL, "sd", operands[0], amount);
	sd_bus_flush_close_unref(bus);
	return status;
}
