/* SPDX-License-Identifier: MIT */
#include "trace_text.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <string.h>

#include "trace.h"

static int is_blank(char c)
{
	return c == ' ' || c == '\t';
}

int field_next(const char **rest, struct field *ret)
{
	const char *text = *rest, *end;

	if (text == NULL)
		return 0;
	end = text + strcspn(text, ",");
	*rest = *end == ',' ? end + 1 : NULL;
	while (text < end && is_blank(*text))
		text++;
	while (end > text && is_blank(end[-1]))
		end--;
	if (end - text >= 2 && *text == '"' && end[-1] == '"') {
		text++;
		end--;
	}
	*ret = (struct field){text, (size_t)(end - text)};
	return 1;
}

int field_whole(const struct field *field, int64_t min, int64_t max, int64_t *ret)
{
	const char *text = field->text, *end = text + field->length;
	int negative = text < end && *text == '-', too_far = 0;
	int64_t value = 0;
	size_t n_digits = 0;

	if (text < end && (*text == '-' || *text == '+'))
		text++;
	for (; text < end && *text >= '0' && *text <= '9'; text++, n_digits++) {
		if (value > INT64_MAX / 10 - 1)
			too_far = 1;
		else
			value = value * 10 + (*text - '0');
	}
	if (n_digits > 0 && text < end && *text == '.')
		for (text++; text < end && *text == '0'; text++)
			;
	if (n_digits == 0 || text < end)
		return -EINVAL;
	if (negative)
		value = -value;
	if (too_far || value < min || value > max)
		return -ERANGE;
	*ret = value;
	return 0;
}

const char *field_show(const struct field *field, char buffer[FIELD_SHOWN_MAX])
{
	size_t n = field->length < FIELD_SHOWN_MAX - 1 ? field->length : FIELD_SHOWN_MAX - 1;

	for (size_t i = 0; i < n; i++)
		buffer[i] = field->text[i] >= ' ' && field->text[i] <= '~' ? field->text[i] : '?';
	buffer[n] = '\0';
	return buffer;
}

int trace_complain(const char *name, uint64_t line, char *message, const char *format, ...)
{
	va_list arguments;
	int n = snprintf(message, TRACE_MESSAGE_MAX, "%.200s:%" PRIu64 ": ", name, line);

	va_start(arguments, format);
	vsnprintf(message + n, TRACE_MESSAGE_MAX - (size_t)n, format, arguments);
	va_end(arguments);
	return -EBADMSG;
}

int trace_line(struct lines *lines, const char *name, char **ret_text, char *message)
{
	int r = lines_next(lines, ret_text);

	if (r == -EMSGSIZE)
		return trace_complain(name, lines->number, message,
		                      "the line is over %u bytes long; expected a row of numbers",
		                      LINES_LENGTH_MAX);
	if (r == -EILSEQ)
		return trace_complain(name, lines->number, message,
		                      "the line holds a NUL byte; expected text");
	if (r < 0)
		trace_complain(name, lines->number, message, "cannot be read: %s", strerror(-r));
	return r;
}

int trace_time(const struct field *field, const char *name, uint64_t line, int any, int64_t *last,
               char *message)
{
	char shown[FIELD_SHOWN_MAX];
	int64_t t_us;
	int r = field_whole(field, -TRACE_T_US_MAX, TRACE_T_US_MAX, &t_us);

	if (r < 0)
		return trace_complain(name, line, message,
		                      "the time '%s' is %s; expected whole microseconds",
		                      field_show(field, shown),
		                      r == -ERANGE ? "out of range" : "no whole number");
	if (any && t_us < *last)
		return trace_complain(name, line, message,
		                      "the time runs backwards, from %" PRId64 " to %" PRId64
		                      " us; expected rows in order of time",
		                      *last, t_us);
	*last = t_us;
	return 0;
}
