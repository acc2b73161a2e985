/* SPDX-License-Identifier: MIT */
#include "args.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int args_number(const char *text, double *ret)
{
	char *end;
	double value = strtod(text, &end);

	/* strtod() takes "inf", "nan" and hexadecimal; a person never means those. */
	if (end == text || *end || !isfinite(value) || strpbrk(text, "xXnN "))
		return -EINVAL;
	*ret = value;
	return 0;
}

int args_whole(const char *text, int64_t *ret)
{
	char *end;
	long long value;

	errno = 0;
	value = strtoll(text, &end, 10);
	if (end == text || *end || errno || strchr(text, ' '))
		return -EINVAL;
	*ret = value;
	return 0;
}

static int set_value(const struct arg *arg, const char *text)
{
	double number = 0.0;
	int64_t whole = 0;
	int r = 0;

	switch (arg->kind) {
	case ARG_FLAG:
		*(bool *)arg->value = true;
		return 0;
	case ARG_TEXT:
		*(const char **)arg->value = text;
		return 0;
	case ARG_NUMBER:
		r = args_number(text, &number);
		break;
	case ARG_WHOLE:
		r = args_whole(text, &whole);
		number = (double)whole;
		break;
	}
	if (r < 0 || number < arg->low || number > arg->high) {
		const bool whole_one = arg->kind == ARG_WHOLE;

		complain("%s %s: expected a %snumber from %.*g to %.*g%s", arg->name, text,
		         whole_one ? "whole " : "", whole_one ? 17 : 10, arg->low,
		         whole_one ? 17 : 10, arg->high, whole_one ? "" : ", with a decimal point");
		return -EINVAL;
	}
	if (arg->kind == ARG_WHOLE)
		*(int64_t *)arg->value = whole;
	else
		*(double *)arg->value = number;
	return 0;
}

static void help(const struct args *args)
{
	printf("usage: ambo %s\n\n%s\n", args->usage, args->about);
	if (args->n)
		printf("\n");
	for (size_t i = 0; i < args->n; i++) {
		char left[64];

		snprintf(left, sizeof left, "%s%s%s", args->table[i].name,
		         args->table[i].meta ? " " : "",
		         args->table[i].meta ? args->table[i].meta : "");
		printf("  %-22s %s\n", left, args->table[i].help);
	}
	printf("\nExit status: 0 done; 1 refused, failed or not within tolerance; 2 wrong "
	       "options;\n"
	       "3 no station on the bus; 130 interrupted (a running batch goes on).\n");
}

static const struct arg *find(const struct args *args, const char *name, size_t length)
{
	for (size_t i = 0; i < args->n; i++)
		if (strlen(args->table[i].name) == length &&
		    strncmp(args->table[i].name, name, length) == 0)
			return &args->table[i];
	return NULL;
}

/* One option at argv[*i]; takes its value from "=..." or the next argument. */
static int option(const struct args *args, int argc, char **argv, int *i)
{
	const char *equals = strchr(argv[*i], '=');
	size_t length = equals ? (size_t)(equals - argv[*i]) : strlen(argv[*i]);
	const struct arg *arg = find(args, argv[*i], length);
	const char *value = equals ? equals + 1 : NULL;

	if (!arg) {
		complain("%s: no such option; `ambo %s --help` lists them", argv[*i], argv[0]);
		return -EINVAL;
	}
	if (arg->kind == ARG_FLAG && value) {
		complain("%s takes no value", arg->name);
		return -EINVAL;
	}
	if (arg->kind != ARG_FLAG && !value) {
		if (*i + 1 >= argc) {
			complain("%s: expected %s after it", arg->name, arg->meta);
			return -EINVAL;
		}
		value = argv[++*i];
	}
	return set_value(arg, value);
}

int args_parse(const struct args *args, int argc, char **argv,
               const char *ret_operands[ARGS_OPERANDS_MAX])
{
	bool options = true;
	int n = 0;

	for (int i = 0; i < ARGS_OPERANDS_MAX; i++)
		ret_operands[i] = NULL;
	for (int i = 1; i < argc; i++) {
		if (options && strcmp(argv[i], "--") == 0) {
			options = false;
		} else if (options &&
		           (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0)) {
			help(args);
			return EXIT_OK;
		} else if (options && argv[i][0] == '-' && argv[i][1] == '-') {
			if (option(args, argc, argv, &i) < 0)
				return EXIT_USAGE;
		} else if (n < args->max_operands) {
			ret_operands[n++] = argv[i];
		} else {
			complain("%s: one argument too many; usage: ambo %s", argv[i], args->usage);
			return EXIT_USAGE;
		}
	}
	return ARGS_GO_ON;
}
