/* SPDX-License-Identifier: MIT */
/* 15 s of a real converter at 84.3 samples/s under pushes and impacts, in integer
 * units. The recording stays with its owner: AMBO_TRACES names its folder. */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/weighing/weigher.h"

#define WINDOW 42u /* rows: half a second */

static void impacts_are_never_called_settled(void **state)
{
	static int units[2000];
	const struct weigher_config config = {.calibration = {.degree = 1, .g_per_count = 1.0},
	                                      .max_g = 20000.0,
	                                      .interval_g = 1.0};
	struct weigher *weigher = NULL;
	char path[4096], line[128];
	uint32_t n = 0, busy = 0;
	long long t_us;
	FILE *file;

	(void)state;
	snprintf(path, sizeof(path), "%s/recorded_hx711_84sps.csv", getenv("AMBO_TRACES"));
	file = fopen(path, "r");
	assert_non_null(file);
	assert_int_equal(weigher_new(&config, &weigher), 0);
	while (fgets(line, sizeof(line), file) != NULL) {
		struct weigher_sample sample;
		struct reading reading;
		int low, high;

		if (sscanf(line, "%lld,%d", &t_us, &units[n]) != 2)
			continue;
		sample = (struct weigher_sample){.t_us = t_us, .counts = units[n]};
		weigher_feed(weigher, &sample, &reading);
		low = high = units[n];
		for (uint32_t i = 0; i < WINDOW && i <= n; i++) {
			low = units[n - i] < low ? units[n - i] : low;
			high = units[n - i] > high ? units[n - i] : high;
		}
		if (high - low > 10) {
			busy++;
			assert_int_not_equal(reading.state, READING_SETTLED);
		}
		n++;
		assert_true(n < sizeof(units) / sizeof(*units));
	}
	fclose(file);
	weigher_free(weigher);
	print_message("%u rows, %u of them during impacts\n", n, busy);
	assert_true(busy > 500);
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(impacts_are_never_called_settled)};
	const char *folder = getenv("AMBO_TRACES");

	if (folder == NULL || *folder == '\0') {
		puts("skip: AMBO_TRACES does not name the folder of the recorded samples");
		return 77;
	}
	return cmocka_run_group_tests(tests, NULL, NULL);
}
