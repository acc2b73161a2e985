/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_STEP_PRINT_H
#define AMBO_TERMINAL_STEP_PRINT_H

#include "live.h"

/* A batch's steps as they happen, a line each; and the committed record at its end. */

void step_print_header(bool text); /* of the CSV; nothing for people */
void step_print(const struct live_step *step, bool text);

/* Fetches the committed record and prints it. EXIT_OK only when it is done and within
 * tolerance; EXIT_FAILED when it is not. */
int step_print_record(sd_bus *bus, int64_t id, bool text);

#endif
