/* SPDX-License-Identifier: MIT */
#include "lines.h"

#include <errno.h>
#include <string.h>

_Static_assert(LINES_BUFFER > 2 * LINES_LENGTH_MAX, "a longest line must fit with room to read on");

void lines_init(struct lines *lines, FILE *stream)
{
	lines->stream = stream;
	lines->number = 0;
	lines->start = lines->fill = 0;
}

/* Returns 1 when more has come, 0 at the end. */
static int fill_up(struct lines *lines)
{
	size_t n;

	memmove(lines->buffer, lines->buffer + lines->start, lines->fill - lines->start);
	lines->fill -= lines->start;
	lines->start = 0;
	errno = 0;
	/* One byte stays free: the NUL of a last line without an end. */
	n = fread(lines->buffer + lines->fill, 1, LINES_BUFFER - 1 - lines->fill, lines->stream);
	lines->fill += n;
	if (n == 0 && ferror(lines->stream))
		return errno != 0 ? -errno : -EIO;
	return n > 0;
}

static int give(struct lines *lines, size_t length, size_t end_length, char **ret_text)
{
	char *text = lines->buffer + lines->start;

	lines->start += length + end_length;
	if (length > 0 && text[length - 1] == '\r')
		length--;
	if (length > LINES_LENGTH_MAX)
		return -EMSGSIZE;
	if (memchr(text, '\0', length) != NULL)
		return -EILSEQ;
	text[length] = '\0';
	*ret_text = text;
	return 1;
}

int lines_next(struct lines *lines, char **ret_text)
{
	size_t searched = 0;

	lines->number++;
	for (;;) {
		char *text = lines->buffer + lines->start;
		size_t there = lines->fill - lines->start;
		char *end = memchr(text + searched, '\n', there - searched);
		int r;

		if (end != NULL)
			return give(lines, (size_t)(end - text), 1, ret_text);
		if (there > LINES_LENGTH_MAX + 1) /* + 1: a "\r" */
			return -EMSGSIZE;
		searched = there;
		r = fill_up(lines);
		if (r < 0)
			return r;
		if (r == 0 && there > 0)
			return give(lines, there, 0, ret_text);
		if (r == 0)
			return 0;
	}
}
