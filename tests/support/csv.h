/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_CSV_H
#define AMBO_TESTS_SUPPORT_CSV_H

#include <stddef.h>

/* A small table of test data: `#` lines that name its source and hold key=value, one
 * line of column names, then rows without quotes. Whatever is missing fails the test
 * that asks for it. */
struct csv;

struct csv *csv_read(const char *path); /* the caller owns it */
void csv_free(struct csv *csv);         /* NULL does nothing */

size_t csv_rows(const struct csv *csv);
const char *csv_text(const struct csv *csv, size_t row, const char *column);
/* NaN for an empty cell. */
double csv_number(const struct csv *csv, size_t row, const char *column);
/* The whole column; the caller frees it. */
double *csv_column(const struct csv *csv, const char *column);
/* The number after "key=" in the `#` lines. */
double csv_header(const struct csv *csv, const char *key);

#endif
