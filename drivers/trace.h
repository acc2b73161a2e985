/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_TRACE_H
#define AMBO_DRIVERS_TRACE_H

#include <stdint.h>
#include <stdio.h>

#include "scale.h"

/* A trace: the samples of a scale as a text file, one a line.
 *
 *   # anything
 *   # t_us,raw24,truth_g  cpg=429.5 offset=190000 fs=84.3 sigma_g=0.09
 *   11269,190087,0.0000
 *
 * Column names stand on the last `#` line before the data, key=value pairs may follow
 * there or on any `#` line before it; or on a header row. Columns other than the ones
 * below are skipped; every row has as many fields as there are names. Lines end in LF
 * or CRLF, the last may lack its end; empty lines and later `#` lines are skipped.
 *
 *   t_us         whole µs, within +-2^53. May repeat (a coarse clock), never falls.
 *   raw24        whole, 24-bit two's complement: -8388608..8388607
 *   driver_flags optional: enum scale_flag or-ed, as the recording driver gave them
 *
 * A whole number may carry a fraction of zeros (190000.0). Without driver_flags the
 * reader marks rails by their code, and gaps by the pairs' fs or the running interval.
 * Memory is bounded (about 70 kB) whatever the file's length. */

#define TRACE_MESSAGE_MAX SCALE_MESSAGE_MAX
#define TRACE_NAME_MAX    64u /* bytes of a column's name, with the NUL */

/* How the wanted columns are called in this file. */
struct trace_columns {
	char t_us[TRACE_NAME_MAX], raw24[TRACE_NAME_MAX];
};

/* "t_us=elapsed,raw24=hx711_units": either, both or none (NULL or "": the columns are
 * called t_us and raw24). -EINVAL with a sentence in message; *ret untouched. */
int trace_columns_read(const char *text, struct trace_columns *ret, char *message);

enum trace_has {
	TRACE_HAS_COUNTS_PER_G = 1u << 0, /* cpg, > 0 */
	TRACE_HAS_ZERO_COUNTS = 1u << 1,  /* offset */
	TRACE_HAS_RATE_HZ = 1u << 2,      /* fs, > 0 */
	TRACE_HAS_NOISE_G = 1u << 3,      /* sigma_g, >= 0 */
};
/* What the key=value pairs say about the scale that was recorded. */
struct trace_about {
	uint32_t has; /* enum trace_has, or-ed: the rest is unknown */
	double counts_per_g, zero_counts, rate_hz, noise_g;
};

struct trace;

/* Opens and reads up to the first sample. On 0 the caller owns *ret (trace_free);
 * else -errno, with "file:line: what is wrong; expected ..." in message
 * (TRACE_MESSAGE_MAX bytes) and *ret untouched. columns NULL: the names as above. */
int trace_open(const char *path, const struct trace_columns *columns, char *message,
               struct trace **ret);
/* The same from a stream, which trace_free() closes; on failure it stays open. */
int trace_open_stream(FILE *stream, const char *name, const struct trace_columns *columns,
                      char *message, struct trace **ret);
void trace_free(struct trace *trace); /* NULL does nothing */

void trace_about(const struct trace *trace, struct trace_about *ret);

/* 1 with *ret_sample, 0 at the end, -errno with a sentence in message: -EBADMSG for what
 * the file says, else the stream's. After a failure, the same again. */
int trace_next(struct trace *trace, struct scale_sample *ret_sample, char *message);

/* Writing: the line of column names, then rows. 0 or -errno. */
int trace_write_header(FILE *stream, const struct trace_about *about);
int trace_write_row(FILE *stream, const struct scale_sample *sample);

/* What was pressed during a trace: rows `t_us,event`, the event being all of the rest
 * of the line; `#` and empty lines are skipped, a header row `t_us,event` may stand
 * first. Times never fall. What an event means is the reader's business. */
struct trace_press {
	int64_t t_us;
	const char *event; /* borrowed until the next call */
	uint64_t line;     /* for messages */
};
struct trace_presses;

int trace_presses_open(const char *path, char *message, struct trace_presses **ret);
void trace_presses_free(struct trace_presses *presses); /* NULL does nothing */
/* As trace_next(). A file without presses is not a mistake. */
int trace_presses_next(struct trace_presses *presses, struct trace_press *ret, char *message);

#endif
