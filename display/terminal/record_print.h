/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_RECORD_PRINT_H
#define AMBO_TERMINAL_RECORD_PRINT_H

#include "rows.h"

/* Records as people and programs read them. */

extern const struct column record_columns[];
extern const size_t record_n_columns;
extern const struct column record_step_columns[];
extern const size_t record_n_step_columns;

/* A line of the table, and what stands over it. */
void record_print_heading(void);
void record_print_line(const struct dict *row);
/* One record whole: the masses, the ratio, what is said of it. */
void record_print_whole(const struct dict *row);

/* Whether the committed record says done and within, and its numbers agree. */
bool record_is_within(const struct dict *row);

#endif
