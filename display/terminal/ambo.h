/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_AMBO_H
#define AMBO_TERMINAL_AMBO_H

#include <stdbool.h>
#include <stddef.h>

/* What every command of `ambo` shares: its exit statuses, its options common to
 * all, and the table it stands in. */

enum exit_status {
	EXIT_OK = 0,
	EXIT_FAILED = 1,        /* refused, failed, or the batch did not come out within */
	EXIT_USAGE = 2,         /* the command line cannot be meant */
	EXIT_NO_STATION = 3,    /* no ambod answers on the bus */
	EXIT_INTERRUPTED = 130, /* Ctrl-C; a running batch goes on */
};

enum bus_choice { BUS_AUTO, BUS_SESSION, BUS_SYSTEM };

struct context {
	const struct command *command;
	enum bus_choice
	        bus;   /* BUS_AUTO: the session bus if a station is there, else the system's */
	double wait_s; /* how long to wait for a station to appear */
};

struct command {
	const char *name;
	const char *summary; /* one line for the list of commands */
	/* argv[0] is the command's name. Returns an enum exit_status. */
	int (*run)(const struct context *context, int argc, char **argv);
};

int cmd_watch(const struct context *context, int argc, char **argv);
int cmd_mix(const struct context *context, int argc, char **argv);
int cmd_press(const struct context *context, int argc, char **argv);
int cmd_hold(const struct context *context, int argc, char **argv);
int cmd_discard(const struct context *context, int argc, char **argv);
int cmd_again(const struct context *context, int argc, char **argv);
int cmd_divide(const struct context *context, int argc, char **argv);
int cmd_bench(const struct context *context, int argc, char **argv);
int cmd_systems(const struct context *context, int argc, char **argv);
int cmd_records(const struct context *context, int argc, char **argv);
int cmd_weigh(const struct context *context, int argc, char **argv);
int cmd_cure(const struct context *context, int argc, char **argv);
int cmd_piece(const struct context *context, int argc, char **argv);
int cmd_clocks(const struct context *context, int argc, char **argv);
int cmd_plan(const struct context *context, int argc, char **argv);
int cmd_calibrate(const struct context *context, int argc, char **argv);
int cmd_check(const struct context *context, int argc, char **argv);
int cmd_health(const struct context *context, int argc, char **argv);
int cmd_rehearse(const struct context *context, int argc, char **argv);

/* "ambo: " and one sentence on standard error. */
void complain(const char *format, ...) __attribute__((format(printf, 1, 2)));

#endif
