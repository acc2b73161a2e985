/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_CURE_REQUEST_H
#define AMBO_TERMINAL_CURE_REQUEST_H

#include "ambo.h"
#include "daemon/casting/cup.h"
#include "daemon/casting/heat.h"

/* What `ambo cure` was asked. */

#define CURE_TIMES_MAX 4096u

struct cure_request {
	bool json;
	bool cup; /* else a layer */
	struct heat_case layer;
	struct cup_case in_cup;
	double tolerance_k, until_s;
	double times_s[CURE_TIMES_MAX]; /* as asked, in any order */
	size_t n_times;
};

/* Reads the options; returns ARGS_GO_ON, or the exit status having said why. */
int cure_request_read(int argc, char **argv, struct cure_request *ret);

#endif
