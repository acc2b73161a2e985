/* SPDX-License-Identifier: MIT */
#include "csv.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "assert_close.h"

#define COLUMNS_MAX 16u
#define ROWS_MAX    5000u
#define BYTES_MAX   (1024u * 1024u)

struct csv {
	char *bytes, *header; /* the file, cut at commas and line ends; its # lines */
	size_t columns, rows;
	char *name[COLUMNS_MAX], *cell[ROWS_MAX][COLUMNS_MAX];
};

static char *read_file(const char *path)
{
	FILE *file = fopen(path, "rb");
	char *bytes = calloc(1, BYTES_MAX);
	size_t n;

	if (file == NULL)
		fail_msg("%s cannot be opened", path);
	assert_non_null(bytes);
	n = fread(bytes, 1, BYTES_MAX, file);
	fclose(file);
	if (n == 0 || n == BYTES_MAX)
		fail_msg("%s is empty or too large", path);
	return bytes;
}

static size_t split(char *line, char *cells[COLUMNS_MAX])
{
	size_t n = 0;

	for (char *next = line; next != NULL && n < COLUMNS_MAX; line = next) {
		next = strchr(line, ',');
		if (next != NULL)
			*next++ = '\0';
		cells[n++] = line;
	}
	return n;
}

struct csv *csv_read(const char *path)
{
	struct csv *csv = calloc(1, sizeof(*csv));

	assert_non_null(csv);
	csv->bytes = read_file(path);
	csv->header = calloc(1, BYTES_MAX);
	assert_non_null(csv->header);
	for (char *line = csv->bytes, *next; line != NULL && *line != '\0'; line = next) {
		next = strchr(line, '\n');
		if (next != NULL)
			*next++ = '\0';
		if (*line == '#')
			strcat(strcat(csv->header, line), "\n");
		else if (csv->columns == 0)
			csv->columns = split(line, csv->name);
		else if (csv->rows == ROWS_MAX ||
		         split(line, csv->cell[csv->rows++]) != csv->columns)
			fail_msg("%s: row %zu has not %zu columns", path, csv->rows, csv->columns);
	}
	if (csv->rows == 0)
		fail_msg("%s has no rows", path);
	return csv;
}

void csv_free(struct csv *csv)
{
	if (csv == NULL)
		return;
	free(csv->bytes);
	free(csv->header);
	free(csv);
}

size_t csv_rows(const struct csv *csv)
{
	return csv->rows;
}

const char *csv_text(const struct csv *csv, size_t row, const char *column)
{
	if (row >= csv->rows)
		fail_msg("there is no row %zu", row);
	for (size_t i = 0; i < csv->columns; i++)
		if (strcmp(csv->name[i], column) == 0)
			return csv->cell[row][i];
	fail_msg("there is no column %s", column);
	return NULL;
}

double csv_number(const struct csv *csv, size_t row, const char *column)
{
	const char *text = csv_text(csv, row, column);
	char *end;
	double value = strtod(text, &end);

	if (*text == '\0')
		return (double)NAN;
	if (*end != '\0')
		fail_msg("column %s, row %zu: \"%s\" is no number", column, row, text);
	return value;
}

double *csv_column(const struct csv *csv, const char *column)
{
	double *values = calloc(csv->rows, sizeof(*values));

	assert_non_null(values);
	for (size_t i = 0; i < csv->rows; i++)
		values[i] = csv_number(csv, i, column);
	return values;
}

double csv_header(const struct csv *csv, const char *key)
{
	size_t length = strlen(key);

	for (const char *at = csv->header; (at = strstr(at, key)) != NULL; at += length)
		if (at[length] == '=' && at > csv->header && at[-1] == ' ')
			return strtod(at + length + 1, NULL);
	fail_msg("the header has no %s=", key);
	return (double)NAN;
}
