/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_LINES_H
#define AMBO_DRIVERS_LINES_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Reads a text stream line by line in bounded memory, however long it is. */

#define LINES_LENGTH_MAX 4096u /* bytes of a line, without its end */
#define LINES_BUFFER     65536u

struct lines {
	FILE *stream;
	uint64_t number; /* of the line last returned, or of the one that failed; from 1 */
	size_t start, fill;
	char buffer[LINES_BUFFER];
};

void lines_init(struct lines *lines, FILE *stream); /* borrows the stream */

/* 1 with *ret_text the next line, NUL-terminated, without "\n" or "\r\n", valid until
 * the next call; 0 at the end; -EMSGSIZE for a line over LINES_LENGTH_MAX, -EILSEQ for
 * a NUL byte within one, another -errno when the stream fails. */
int lines_next(struct lines *lines, char **ret_text);

#endif
