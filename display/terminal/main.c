/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "ambo.h"
#include "args.h"

static const struct command commands[] = {
        {"watch", "show the live reading", cmd_watch},
        {"mix", "be led through a batch, or come back to one", cmd_mix},
        {"press", "say yes, on with it, as the foot switch does", cmd_press},
        {"hold", "stop the batch and keep it", cmd_hold},
        {"discard", "end the batch without pouring it", cmd_discard},
        {"again", "begin the last batch once more", cmd_again},
        {"divide", "weigh part of a mixed batch into another cup", cmd_divide},
        {"systems", "list the resin systems", cmd_systems},
        {"records", "list, show and verify what was mixed", cmd_records},
        {"weigh", "weigh what is on the pan, or a recorded trace", cmd_weigh},
        {"cure", "compute the heat and the gel time of a layer or a cup", cmd_cure},
        {"plan", "cut a piece into layers: how deep, how much, when", cmd_plan},
        {"piece", "pieces at the station: describe, pour, report", cmd_piece},
        {"clocks", "what is still to come of the layers that cure", cmd_clocks},
        {"check", "check the scale with a known weight", cmd_check},
        {"health", "tell how the scale is, and what to do about it", cmd_health},
        {"calibrate", "be led through a calibration, or go back to one", cmd_calibrate},
        {"rehearse", "let a simulated person mix at the simulated bench", cmd_rehearse},
        {"bench", "act at the simulated bench", cmd_bench},
};
#define N_COMMANDS (sizeof commands / sizeof *commands)

void complain(const char *format, ...)
{
	va_list arguments;

	fflush(stdout);
	fputs("ambo: ", stderr);
	va_start(arguments, format);
	vfprintf(stderr, format, arguments);
	va_end(arguments);
	fputc('\n', stderr);
}

static void help(void)
{
	printf("usage: ambo [--bus session|system] [--wait SECONDS] COMMAND ...\n\n"
	       "The terminal of an Ambo mixing station.\n\n");
	for (size_t i = 0; i < N_COMMANDS; i++)
		printf("  %-10s %s\n", commands[i].name, commands[i].summary);
	printf("\n  --bus WHICH    session or system; without it, wherever a station answers\n"
	       "  --wait S       wait up to S seconds for a station to appear\n"
	       "  --version      print the version\n"
	       "\n`ambo COMMAND --help` tells more of each.\n\n"
	       "Exit status: 0 done; 1 refused, failed or not within tolerance; 2 wrong options;\n"
	       "3 no station on the bus; 130 interrupted (a running batch goes on).\n");
}

static int choose_bus(const char *which, enum bus_choice *ret)
{
	if (strcmp(which, "session") == 0)
		*ret = BUS_SESSION;
	else if (strcmp(which, "system") == 0)
		*ret = BUS_SYSTEM;
	else
		return -1;
	return 0;
}

/* The options before the command. Returns the command's index in argv, or the
 * negative of an exit status less one. */
static int global_options(int argc, char **argv, struct context *context)
{
	int i = 1;

	for (; i < argc && argv[i][0] == '-'; i++) {
		if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
			help();
			return -1 - EXIT_OK;
		}
		if (strcmp(argv[i], "--version") == 0) {
			printf("ambo %s\n", AMBO_VERSION);
			return -1 - EXIT_OK;
		}
		if (strcmp(argv[i], "--bus") == 0) {
			if (i + 1 >= argc || choose_bus(argv[++i], &context->bus) < 0) {
				complain("--bus: expected session or system after it");
				return -1 - EXIT_USAGE;
			}
		} else if (strcmp(argv[i], "--wait") == 0) {
			if (i + 1 >= argc || args_number(argv[++i], &context->wait_s) < 0 ||
			    context->wait_s < 0.0 || context->wait_s > 600.0) {
				complain("--wait: expected 0 to 600 seconds after it");
				return -1 - EXIT_USAGE;
			}
		} else {
			complain("%s: no such option before a command; `ambo --help` lists them",
			         argv[i]);
			return -1 - EXIT_USAGE;
		}
	}
	return i;
}

static int run(int argc, char **argv)
{
	struct context context = {.bus = BUS_AUTO};
	int first = global_options(argc, argv, &context);

	if (first < 0)
		return -1 - first;
	if (first >= argc) {
		help();
		return EXIT_USAGE;
	}
	for (size_t i = 0; i < N_COMMANDS; i++) {
		if (strcmp(commands[i].name, argv[first]) == 0) {
			context.command = &commands[i];
			return commands[i].run(&context, argc - first, argv + first);
		}
	}
	complain("%s: no such command; `ambo --help` lists them", argv[first]);
	return EXIT_USAGE;
}

int main(int argc, char **argv)
{
	int status = run(argc, argv);

	/* A full disk or a closed pipe behind standard output is a failure too. */
	if (fflush(stdout) != 0 || ferror(stdout)) {
		complain("standard output could not be written whole");
		return status == EXIT_OK ? EXIT_FAILED : status;
	}
	return status;
}
