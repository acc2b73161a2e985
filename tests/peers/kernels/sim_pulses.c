/* SPDX-License-Identifier: MIT */
/* sim_pulses CHIP DEVICE SECONDS [realtime]: the width of the clock's high phase on the
 * kernel's gpio-sim, measured as the driver does, and the cost of one conversion. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "drivers/realtime.h"
#include "sim_pins.h"

static int64_t clock_ns(clockid_t clock)
{
	struct timespec now;

	clock_gettime(clock, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static int ascending(const void *a, const void *b)
{
	const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;

	return x < y ? -1 : x > y;
}

#define PULSES_MAX 2000000

int main(int argc, char **argv)
{
	static const struct gpio_line_want wants[] = {
	        {.line = "0", .use = GPIO_OUTPUT},
	        {.line = "1", .use = GPIO_FALLING},
	};
	int64_t *width_ns = malloc(PULSES_MAX * sizeof(*width_ns)), end_ns;
	char message[GPIO_MESSAGE_MAX] = "";
	struct gpio_lines *lines;
	struct rusage before, after;
	int frames = 0, spoilt = 0, n = 0;

	if (argc < 4 || width_ns == NULL)
		return 2;
	if (gpio_lines_open(argv[1], "a bench", wants, 2, message, &lines) < 0 ||
	    (argc > 4 && realtime_begin(message, sizeof(message)) < 0)) {
		puts(message);
		return 1;
	}
	end_ns = clock_ns(CLOCK_MONOTONIC) + atoll(argv[3]) * 1000000000;
	getrusage(RUSAGE_SELF, &before);
	while (clock_ns(CLOCK_MONOTONIC) < end_ns && n + 25 < PULSES_MAX) {
		const struct timespec pause = {.tv_nsec = 2000000};
		int longs = 0;

		for (int i = 0; i < 25; i++) {
			const int64_t begin_ns = clock_ns(CLOCK_MONOTONIC);

			gpio_lines_set(lines, 0, 1);
			gpio_lines_set(lines, 0, 0);
			width_ns[n] = clock_ns(CLOCK_MONOTONIC) - begin_ns;
			longs += width_ns[n++] > HX711_HIGH_MAX_NS;
			if (i < 24)
				gpio_lines_get(lines, 1);
		}
		frames++;
		spoilt += longs > 0;
		nanosleep(&pause, NULL);
	}
	getrusage(RUSAGE_SELF, &after);
	qsort(width_ns, (size_t)n, sizeof(*width_ns), ascending);
	printf("%-9s %6d frames, spoilt %d; high phase us: median %.1f, 99 %% %.1f, 99.9 %% %.1f, "
	       "most %.1f; user %.1f us, system %.1f us a frame of 74 line calls\n",
	       argc > 4 ? "realtime" : "ordinary", frames, spoilt, (double)width_ns[n / 2] / 1e3,
	       (double)width_ns[n * 99L / 100] / 1e3, (double)width_ns[n * 999L / 1000] / 1e3,
	       (double)width_ns[n - 1] / 1e3,
	       (double)((after.ru_utime.tv_sec - before.ru_utime.tv_sec) * 1000000 +
	                after.ru_utime.tv_usec - before.ru_utime.tv_usec) /
	               frames,
	       (double)((after.ru_stime.tv_sec - before.ru_stime.tv_sec) * 1000000 +
	                after.ru_stime.tv_usec - before.ru_stime.tv_usec) /
	               frames);
	gpio_lines_close(lines);
	free(width_ns);
	return 0;
}
