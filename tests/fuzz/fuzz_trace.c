/* SPDX-License-Identifier: MIT */
/* Any bytes as a trace: no crash, samples in order of time within 24 bits, and one
 * sentence where it ends early. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/trace.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void demand(int holds, const char *what)
{
	if (holds)
		return;
	fprintf(stderr, "broken: %s\n", what);
	abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	char message[TRACE_MESSAGE_MAX] = "";
	struct scale_sample sample;
	struct trace *trace;
	int64_t last_t_us = INT64_MIN;
	FILE *stream;
	int r;

	if (size == 0)
		return 0;
	stream = fmemopen((void *)(uintptr_t)data, size, "r");
	demand(stream != NULL, "a stream over the bytes");
	if (trace_open_stream(stream, "fuzz", NULL, message, &trace) < 0) {
		demand(strncmp(message, "fuzz:", 5) == 0, "a failure names the file");
		fclose(stream);
		return 0;
	}
	while ((r = trace_next(trace, &sample, message)) > 0) {
		demand(sample.t_us >= last_t_us, "time never falls");
		demand(sample.counts >= -8388608 && sample.counts <= 8388607, "24 bits");
		last_t_us = sample.t_us;
	}
	demand(last_t_us != INT64_MIN, "an opened trace has a sample");
	demand(r == 0 || strncmp(message, "fuzz:", 5) == 0, "a failure names the file");
	trace_free(trace);
	return 0;
}
