/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_ARGS_H
#define AMBO_TERMINAL_ARGS_H

#include <stdint.h>

#include "ambo.h"

/* A command's options as a table: parsed from it, and its --help printed from it,
 * so that the two cannot part. Numbers have a decimal point in every locale. */

enum arg_kind {
	ARG_FLAG,   /* bool, set true */
	ARG_NUMBER, /* double, low..high */
	ARG_WHOLE,  /* int64_t, low..high */
	ARG_TEXT,   /* const char *, borrowed from argv */
};

struct arg {
	const char *name; /* with its dashes */
	enum arg_kind kind;
	void *value;      /* of the kind's type; untouched when the option is not given */
	const char *meta; /* what stands for the value in the help; NULL for a flag */
	const char *help;
	double low, high; /* of a number, inclusive */
};

struct args {
	const char *usage; /* after "ambo ", e.g. "press [--batch ID]" */
	const char *about; /* sentences for --help */
	const struct arg *table;
	size_t n;
	int max_operands;
};

#define ARGS_OPERANDS_MAX 2
#define ARGS_GO_ON        (-1)

/* Returns ARGS_GO_ON with the operands set (the rest NULL), EXIT_OK after --help,
 * EXIT_USAGE having said what is wrong. */
int args_parse(const struct args *args, int argc, char **argv,
               const char *ret_operands[ARGS_OPERANDS_MAX]);

/* The whole of text as one finite number: 0 or -EINVAL. */
int args_number(const char *text, double *ret);
int args_whole(const char *text, int64_t *ret);

#endif
