/* SPDX-License-Identifier: MIT */
#include "json_number.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "assert_close.h"

#define FILE_MAX 65536

static const char *space(const char *p)
{
	while (isspace((unsigned char)*p))
		p++;
	return p;
}

/* Past one whole value; our own data holds no escaped quotes. */
static const char *past_value(const char *p)
{
	int depth = 0;

	do {
		if (*p == '"') {
			p = strchr(p + 1, '"');
			if (!p)
				return "";
		}
		depth += (*p == '{' || *p == '[') - (*p == '}' || *p == ']');
		p++;
	} while (*p && (depth > 0 || !strchr(",]}", *p)));
	return p;
}

/* Into the member or element the path's next part names; "" where there is none. */
static const char *enter(const char *p, const char *name, size_t length)
{
	bool array = *p == '[';
	long place = array ? strtol(name, NULL, 10) : 0;

	for (p = space(p + 1); *p && *p != '}' && *p != ']'; p = space(p + 1)) {
		bool here;

		if (array) {
			here = place-- == 0;
		} else {
			const char *end = strchr(p + 1, '"');

			if (!end)
				return "";
			here = (size_t)(end - p - 1) == length && strncmp(p + 1, name, length) == 0;
			p = space(space(end + 1) + 1);
		}
		if (here)
			return p;
		p = space(past_value(p));
		if (*p != ',')
			break;
	}
	return "";
}

double json_number_at(const char *file, const char *path)
{
	static char text[FILE_MAX];
	FILE *in = fopen(file, "rb");
	const char *p = text;
	char *end;
	double value;
	size_t n;

	if (!in)
		fail_msg("%s: cannot be read", file);
	n = fread(text, 1, sizeof text - 1, in);
	fclose(in);
	text[n] = '\0';
	p = space(p);
	for (const char *part = path; *part && *p; part += strcspn(part, "/"), part += *part == '/')
		p = enter(p, part, strcspn(part, "/"));
	value = strtod(p, &end);
	if (end == p)
		fail_msg("%s: no number at %s", file, path);
	return value;
}
