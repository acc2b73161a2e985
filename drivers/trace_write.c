/* SPDX-License-Identifier: MIT */
#include "trace.h"

#include <errno.h>
#include <inttypes.h>
#include <locale.h>
#include <stddef.h>

static int result(FILE *stream, int printed)
{
	if (printed < 0 || ferror(stream))
		return errno != 0 ? -errno : -EIO;
	return 0;
}

int trace_write_header(FILE *stream, const struct trace_about *about)
{
	/* printf() would write decimal commas under some locales. */
	locale_t c_locale = newlocale(LC_NUMERIC_MASK, "C", (locale_t)0), before;
	int n;

	if (c_locale == (locale_t)0)
		return -ENOMEM;
	before = uselocale(c_locale);
	errno = 0;
	n = fprintf(stream, "# t_us,raw24,driver_flags");
	if (n >= 0 && about->has & TRACE_HAS_COUNTS_PER_G)
		n = fprintf(stream, " cpg=%.17g", about->counts_per_g);
	if (n >= 0 && about->has & TRACE_HAS_ZERO_COUNTS)
		n = fprintf(stream, " offset=%.17g", about->zero_counts);
	if (n >= 0 && about->has & TRACE_HAS_RATE_HZ)
		n = fprintf(stream, " fs=%.17g", about->rate_hz);
	if (n >= 0 && about->has & TRACE_HAS_NOISE_G)
		n = fprintf(stream, " sigma_g=%.17g", about->noise_g);
	if (n >= 0)
		n = fprintf(stream, "\n");
	n = result(stream, n);
	uselocale(before);
	freelocale(c_locale);
	return n;
}

int trace_write_row(FILE *stream, const struct scale_sample *sample)
{
	errno = 0;
	return result(stream, fprintf(stream, "%" PRId64 ",%" PRId32 ",%" PRIu32 "\n", sample->t_us,
	                              sample->counts, sample->flags));
}
