/* SPDX-License-Identifier: MIT */
#include "trace.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "options.h"
#include "trace_text.h"

#define CODE_MIN (-8388608)
#define CODE_MAX 8388607

/* A gap is more than this many periods: the restart after a corrupt read takes 4. */
#define GAP_PERIODS 1.5
/* Weight of one interval in the running period, where the file does not give fs. */
#define PERIOD_WEIGHT 0.1

#define NO_COLUMN SIZE_MAX

struct trace {
	FILE *stream;
	char *name;
	struct trace_columns columns;
	struct trace_about about;
	size_t t_column, raw_column, flags_column, n_columns; /* from 0 */
	bool pending;                                         /* the first sample, read by open */
	struct scale_sample first;
	bool any; /* a sample has been read */
	int64_t last_t_us;
	double period_us; /* 0: not known yet */
	int failed;       /* -errno of the first failure, repeated */
	char failure[TRACE_MESSAGE_MAX];
	struct lines lines;
};

int trace_columns_read(const char *text, struct trace_columns *ret, char *message)
{
	struct trace_columns columns = {"t_us", "raw24"};
	struct field field;

	if (text != NULL && text[0] == '\0')
		text = NULL;
	while (field_next(&text, &field)) {
		const char *equals = memchr(field.text, '=', field.length);
		size_t key = equals != NULL ? (size_t)(equals - field.text) : 0;
		size_t length = field.length - key - 1;
		char *name = NULL, shown[FIELD_SHOWN_MAX];

		if (key == 4 && strncmp(field.text, "t_us", 4) == 0)
			name = columns.t_us;
		if (key == 5 && strncmp(field.text, "raw24", 5) == 0)
			name = columns.raw24;
		if (name == NULL || length == 0 || length >= TRACE_NAME_MAX) {
			snprintf(message, TRACE_MESSAGE_MAX,
			         "columns: '%s' names no column; expected t_us=NAME,raw24=NAME",
			         field_show(&field, shown));
			return -EINVAL;
		}
		memcpy(name, equals + 1, length);
		name[length] = '\0';
	}
	*ret = columns;
	return 0;
}

static int field_is(const struct field *field, const char *name)
{
	return field->length == strlen(name) && memcmp(field->text, name, field->length) == 0;
}

/* Cuts the names off a `#` line, "t_us, raw24  cpg=429.5": they end at the first
 * blank without a comma beside it. Returns the rest. */
static char *cut_names(char *text)
{
	char *end = text;

	for (;;) {
		char *next;

		end += strcspn(end, " \t,");
		next = end + strspn(end, " \t");
		if (*next != ',')
			break;
		end = next + 1;
		end += strspn(end, " \t");
	}
	if (*end == '\0')
		return end;
	*end = '\0';
	return end + 1;
}

static int read_pair(struct trace *trace, const char *key, const char *value, char *message)
{
	static const struct {
		const char *key;
		uint32_t bit;
		double min; /* exclusive for 0 of the two that divide */
		size_t offset;
	} pairs[] = {
	        {"cpg", TRACE_HAS_COUNTS_PER_G, 1e-9, offsetof(struct trace_about, counts_per_g)},
	        {"offset", TRACE_HAS_ZERO_COUNTS, -1e9, offsetof(struct trace_about, zero_counts)},
	        {"fs", TRACE_HAS_RATE_HZ, 1e-6, offsetof(struct trace_about, rate_hz)},
	        {"sigma_g", TRACE_HAS_NOISE_G, 0.0, offsetof(struct trace_about, noise_g)},
	};

	for (size_t i = 0; i < sizeof(pairs) / sizeof(pairs[0]); i++) {
		double number;

		if (strcmp(key, pairs[i].key) != 0)
			continue;
		if (option_number(value, &number) < 0 || number < pairs[i].min || number > 1e9) {
			struct field field = {value, strlen(value)};
			char shown[FIELD_SHOWN_MAX];

			return trace_complain(trace->name, trace->lines.number, message,
			                      "%s: '%s' is no such value; expected a number %s",
			                      key, field_show(&field, shown),
			                      pairs[i].min > 0 ? "over 0" : "within 1e9");
		}
		*(double *)((char *)&trace->about + pairs[i].offset) = number;
		trace->about.has |= pairs[i].bit;
	}
	return 0;
}

static int read_pairs(struct trace *trace, char *text, char *message)
{
	while (*(text += strspn(text, " \t,;")) != '\0') {
		char *end = text + strcspn(text, " \t,;");
		bool more = *end != '\0';
		char *equals;
		int r;

		*end = '\0';
		equals = strchr(text, '=');
		if (equals != NULL) {
			*equals = '\0';
			r = read_pair(trace, text, equals + 1, message);
			if (r < 0)
				return r;
		}
		text = end + more;
	}
	return 0;
}

static int find_columns(struct trace *trace, const char *names, uint64_t line, char *message)
{
	struct field all = {names, strlen(names)}, field;
	char shown[FIELD_SHOWN_MAX];

	trace->t_column = trace->raw_column = trace->flags_column = NO_COLUMN;
	for (trace->n_columns = 0; field_next(&names, &field); trace->n_columns++) {
		if (field_is(&field, trace->columns.t_us))
			trace->t_column = trace->n_columns;
		else if (field_is(&field, trace->columns.raw24))
			trace->raw_column = trace->n_columns;
		else if (field_is(&field, "driver_flags"))
			trace->flags_column = trace->n_columns;
	}
	if (trace->t_column != NO_COLUMN && trace->raw_column != NO_COLUMN)
		return 0;
	return trace_complain(
	        trace->name, line, message,
	        "there is no column %s among the names '%s'; expected %s,%s, or their own "
	        "names mapped as t_us=NAME,raw24=NAME",
	        trace->t_column == NO_COLUMN ? trace->columns.t_us : trace->columns.raw24,
	        field_show(&all, shown), trace->columns.t_us, trace->columns.raw24);
}

static void mark(struct trace *trace, struct scale_sample *sample)
{
	double interval_us = (double)(sample->t_us - trace->last_t_us);

	if (sample->counts == CODE_MIN || sample->counts == CODE_MAX)
		sample->flags |= SCALE_RAIL;
	if (!trace->any)
		return;
	if (trace->period_us > 0.0 && interval_us > GAP_PERIODS * trace->period_us)
		sample->flags |= SCALE_GAP;
	if (trace->about.has & TRACE_HAS_RATE_HZ)
		return;
	if (trace->period_us <= 0.0)
		trace->period_us = interval_us;
	else /* clipped, so that one gap does not hide the next */
		trace->period_us += PERIOD_WEIGHT *
		                    (fmin(interval_us, 2.0 * trace->period_us) - trace->period_us);
}

static int read_row(struct trace *trace, const char *text, struct scale_sample *ret, char *message)
{
	const uint64_t line = trace->lines.number;
	struct field field, t = {0}, raw = {0}, flags = {0};
	int64_t t_us = trace->last_t_us, counts, bits = 0;
	char shown[FIELD_SHOWN_MAX];
	size_t n = 0;
	int r;

	for (; field_next(&text, &field); n++) {
		if (n == trace->t_column)
			t = field;
		if (n == trace->raw_column)
			raw = field;
		if (n == trace->flags_column)
			flags = field;
	}
	if (n != trace->n_columns)
		return trace_complain(
		        trace->name, line, message,
		        "the row has %zu field%s; expected %zu, as there are column names", n,
		        n == 1 ? "" : "s", trace->n_columns);
	r = trace_time(&t, trace->name, line, trace->any, &t_us, message);
	if (r < 0)
		return r;
	r = field_whole(&raw, CODE_MIN, CODE_MAX, &counts);
	if (r < 0)
		return trace_complain(trace->name, line, message,
		                      "the code '%s' is %s; expected a whole number from %d to %d",
		                      field_show(&raw, shown),
		                      r == -ERANGE ? "out of 24 bits" : "no whole number", CODE_MIN,
		                      CODE_MAX);
	if (trace->flags_column != NO_COLUMN &&
	    (field_whole(&flags, 0, SCALE_FLAGS, &bits) < 0 || (bits & ~(long long)SCALE_FLAGS) != 0))
		return trace_complain(trace->name, line, message,
		                      "the driver_flags '%s' are not known; expected a sum of 1 "
		                      "(rail), 2 (void), 4 (gap), 256 (moving) and 512 (repeat)",
		                      field_show(&flags, shown));
	*ret = (struct scale_sample){t_us, (int32_t)counts, (uint32_t)bits};
	if (trace->flags_column == NO_COLUMN)
		mark(trace, ret);
	trace->any = true;
	trace->last_t_us = t_us;
	return 1;
}

static bool looks_like_data(const char *text)
{
	return strchr("0123456789+-.", text[0]) != NULL;
}

/* A `#` line before the data: pairs, and perhaps the names, which *ret_names keeps.
 * Returns 1 when it names columns. */
static int read_comment(struct trace *trace, char *text, char *names, char *message)
{
	char *rest = cut_names(text);
	int r;

	if (strchr(text, '=') != NULL) { /* it begins with a pair: no names */
		if (rest > text && *rest != '\0')
			rest[-1] = ' ';
		return read_pairs(trace, text, message);
	}
	strcpy(names, text);
	r = read_pairs(trace, rest, message);
	return r < 0 ? r : 1;
}

/* Everything up to the first sample, which is kept. */
static int read_header(struct trace *trace, char *message)
{
	char names[LINES_LENGTH_MAX + 1] = "", *text;
	uint64_t names_line = 0;
	bool header_row = false;
	int r;

	while ((r = trace_line(&trace->lines, trace->name, &text, message)) > 0) {
		if (trace->lines.number == 1 && strncmp(text, "\xef\xbb\xbf", 3) == 0)
			text += 3; /* a byte order mark, as some spreadsheets write */
		text += strspn(text, " \t");
		if (*text == '\0')
			continue;
		if (*text == '#') {
			text += strspn(text, "# \t");
			if (header_row || *text == '\0')
				continue;
			r = read_comment(trace, text, names, message);
			if (r < 0)
				return r;
			if (r > 0)
				names_line = trace->lines.number;
			continue;
		}
		if (!header_row && !looks_like_data(text)) {
			strcpy(names, text);
			names_line = trace->lines.number;
			header_row = true;
			continue;
		}
		if (names_line == 0)
			return trace_complain(
			        trace->name, trace->lines.number, message,
			        "there are no column names; expected '# %s,%s' before "
			        "the first row",
			        trace->columns.t_us, trace->columns.raw24);
		r = find_columns(trace, names, names_line, message);
		if (r < 0)
			return r;
		if (trace->about.has & TRACE_HAS_RATE_HZ)
			trace->period_us = 1e6 / trace->about.rate_hz;
		return read_row(trace, text, &trace->first, message);
	}
	if (r < 0)
		return r;
	return trace_complain(trace->name, trace->lines.number, message,
	                      "the %s; expected rows of %s,%s",
	                      trace->lines.number == 1 ? "file is empty" : "file has no samples",
	                      trace->columns.t_us, trace->columns.raw24);
}

int trace_open_stream(FILE *stream, const char *name, const struct trace_columns *columns,
                      char *message, struct trace **ret)
{
	struct trace *trace = calloc(1, sizeof(*trace));
	int r;

	if (trace == NULL || (trace->name = strdup(name)) == NULL) {
		free(trace);
		snprintf(message, TRACE_MESSAGE_MAX, "%.200s: there is no memory to read it", name);
		return -ENOMEM;
	}
	if (columns != NULL)
		trace->columns = *columns;
	else
		trace_columns_read(NULL, &trace->columns, message);
	lines_init(&trace->lines, stream);
	r = read_header(trace, message);
	if (r < 0) {
		trace_free(trace);
		return r;
	}
	trace->pending = true;
	trace->stream = stream;
	*ret = trace;
	return 0;
}

int trace_open(const char *path, const struct trace_columns *columns, char *message,
               struct trace **ret)
{
	FILE *stream = fopen(path, "re");
	int r;

	if (stream == NULL) {
		r = -errno;
		snprintf(message, TRACE_MESSAGE_MAX, "%.200s: cannot be opened: %s", path,
		         strerror(-r));
		return r;
	}
	r = trace_open_stream(stream, path, columns, message, ret);
	if (r < 0)
		fclose(stream);
	return r;
}

void trace_free(struct trace *trace)
{
	if (trace == NULL)
		return;
	if (trace->stream != NULL)
		fclose(trace->stream);
	free(trace->name);
	free(trace);
}

void trace_about(const struct trace *trace, struct trace_about *ret)
{
	*ret = trace->about;
}

static int next_row(struct trace *trace, struct scale_sample *ret_sample, char *message)
{
	char *text;
	int r;

	while ((r = trace_line(&trace->lines, trace->name, &text, message)) > 0) {
		text += strspn(text, " \t");
		if (*text != '\0' && *text != '#')
			return read_row(trace, text, ret_sample, message);
	}
	return r;
}

int trace_next(struct trace *trace, struct scale_sample *ret_sample, char *message)
{
	int r;

	if (trace->pending) {
		trace->pending = false;
		*ret_sample = trace->first;
		return 1;
	}
	if (trace->failed == 0) {
		r = next_row(trace, ret_sample, trace->failure);
		if (r >= 0)
			return r;
		trace->failed = r;
	}
	memcpy(message, trace->failure, TRACE_MESSAGE_MAX);
	return trace->failed;
}
