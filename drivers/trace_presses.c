/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "trace.h"
#include "trace_text.h"

struct trace_presses {
	FILE *stream;
	char *name;
	bool any;
	int64_t last_t_us;
	struct lines lines;
};

int trace_presses_open(const char *path, char *message, struct trace_presses **ret)
{
	struct trace_presses *presses = calloc(1, sizeof(*presses));
	int r = -ENOMEM;

	if (presses == NULL || (presses->name = strdup(path)) == NULL)
		goto fail;
	presses->stream = fopen(path, "re");
	if (presses->stream == NULL) {
		r = -errno;
		goto fail;
	}
	lines_init(&presses->lines, presses->stream);
	*ret = presses;
	return 0;
fail:
	snprintf(message, TRACE_MESSAGE_MAX, "%.200s: cannot be opened: %s", path, strerror(-r));
	trace_presses_free(presses);
	return r;
}

void trace_presses_free(struct trace_presses *presses)
{
	if (presses == NULL)
		return;
	if (presses->stream != NULL)
		fclose(presses->stream);
	free(presses->name);
	free(presses);
}

static int read_press(struct trace_presses *presses, const char *text, struct trace_press *ret,
                      char *message)
{
	struct field t;
	int r;

	field_next(&text, &t);
	r = trace_time(&t, presses->name, presses->lines.number, presses->any, &presses->last_t_us,
	               message);
	if (r < 0)
		return r;
	if (text != NULL)
		text += strspn(text, " \t");
	if (text == NULL || *text == '\0')
		return trace_complain(presses->name, presses->lines.number, message,
		                      "the row has no event; expected t_us,event");
	presses->any = true;
	*ret = (struct trace_press){presses->last_t_us, text, presses->lines.number};
	return 1;
}

int trace_presses_next(struct trace_presses *presses, struct trace_press *ret, char *message)
{
	char *text;
	int r;

	while ((r = trace_line(&presses->lines, presses->name, &text, message)) > 0) {
		text += strspn(text, " \t");
		if (*text == '\0' || *text == '#')
			continue;
		if (!presses->any && strcmp(text, "t_us,event") == 0)
			continue;
		return read_press(presses, text, ret, message);
	}
	return r;
}
