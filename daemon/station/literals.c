/* SPDX-License-Identifier: MIT */
#include "literals.h"

#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool is_word(char c)
{
	return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
	       c == '_' || c == '.' || c == '+' || c == '-' || c == '*' || c == '@';
}

/* Past a comment or a string that begins here; the same place when none does. */
static const char *skip(const char *at, int *line)
{
	if (at[0] == '#' || (at[0] == '/' && at[1] == '/'))
		return at + strcspn(at, "\n");
	if (at[0] == '/' && at[1] == '*') {
		for (at += 2; at[0] != '\0' && !(at[0] == '*' && at[1] == '/'); at++)
			*line += at[0] == '\n';
		return at[0] != '\0' ? at + 2 : at;
	}
	if (at[0] == '"') {
		for (at++; at[0] != '\0' && at[0] != '"'; at++) {
			if (at[0] == '\\' && at[1] != '\0')
				at++;
			*line += at[0] == '\n';
		}
		return at[0] != '\0' ? at + 1 : at;
	}
	return at;
}

/* A whole number, decimal or hexadecimal, that 32 bits cannot hold. */
static bool wraps(const char *word, size_t length)
{
	char text[40], *end;
	long long value;

	if (length == 0 || length >= sizeof(text))
		return length > 0 && strspn(word, "+-0123456789") >= length;
	memcpy(text, word, length);
	text[length] = '\0';
	errno = 0;
	if (text[0] == '0' && (text[1] == 'x' || text[1] == 'X')) {
		value = strtoll(text, &end, 16);
	} else if (text[strspn(text, "+-")] >= '0' && text[strspn(text, "+-")] <= '9') {
		value = strtoll(text, &end, 10);
	} else {
		return false;
	}
	return *end == '\0' && (errno == ERANGE || value > INT32_MAX || value < INT32_MIN);
}

int literals_check(const char *text, void (*report)(void *context, int line, const char *what),
                   void *context)
{
	int line = 1, found = 0;

	for (const char *at = text; *at != '\0';) {
		const char *next = skip(at, &line);
		size_t length = 0;
		char what[160];

		if (next != at) {
			at = next;
			continue;
		}
		while (is_word(at[length]))
			length++;
		if (length == 0) {
			line += *at == '\n';
			at++;
			continue;
		}
		if (length == 8 && memcmp(at, "@include", 8) == 0) {
			report(context, line,
			       "@include is not used here; expected all settings in one file");
			found++;
		} else if (wraps(at, length)) {
			snprintf(
			        what, sizeof(what),
			        "the whole number %.*s does not fit in 32 bits; expected a smaller "
			        "one, or one with a decimal point",
			        length > 40 ? 40 : (int)length, at);
			report(context, line, what);
			found++;
		}
		at += length;
	}
	return found;
}
