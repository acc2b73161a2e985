/* SPDX-License-Identifier: MIT */
/* What one read of a kernel-driven converter costs on our side: a made folder of files
 * answers at once, where a converter makes its reader wait for the conversion (12.5 ms at
 * 80 a second, which is the wire's own limit). */
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "drivers/iio.h"

#define N 3000

static int64_t now_ns(clockid_t clock)
{
	struct timespec now;

	clock_gettime(clock, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static void put(const char *folder, const char *name, const char *text)
{
	char path[256];
	FILE *file;

	snprintf(path, sizeof(path), "%s/%s", folder, name);
	file = fopen(path, "w");
	if (file == NULL || fputs(text, file) < 0 || fclose(file) != 0) {
		perror(path);
		exit(1);
	}
}

static void measure(struct scale *scale)
{
	const int64_t begun_ns = now_ns(CLOCK_MONOTONIC), cpu_ns = now_ns(CLOCK_PROCESS_CPUTIME_ID);
	char message[SCALE_MESSAGE_MAX];
	struct scale_sample sample;

	for (int i = 0; i < N; i++)
		if (iio_driver.read(scale, 1000, &sample, message) != 1) {
			printf("no sample: %s\n", message);
			exit(1);
		}
	printf("iio: %d reads, %.1f a second of 1000 asked, CPU %.1f us a read\n", N,
	       N / ((double)(now_ns(CLOCK_MONOTONIC) - begun_ns) / 1e9),
	       (double)(now_ns(CLOCK_PROCESS_CPUTIME_ID) - cpu_ns) / N / 1e3);
}

int main(void)
{
	char folder[] = "/tmp/ambo-iio-bench.XXXXXX", device[128], message[SCALE_MESSAGE_MAX];
	static const char *const names[] = {"name", "in_voltage0_raw"};
	struct scale *scale = NULL;

	if (mkdtemp(folder) == NULL)
		return 1;
	snprintf(device, sizeof(device), "%s/iio:device0", folder);
	mkdir(device, 0700);
	put(device, "name", "hx711\n");
	put(device, "in_voltage0_raw", "8398608\n");
	if (iio_driver.open((const struct scale_option[]){{"device", "hx711", "b:1"},
	                                                  {"folder", folder, "b:2"},
	                                                  {"rate_hz", "1000", "b:3"}},
	                    3, message, &scale) < 0)
		printf("%s\n", message);
	else
		measure(scale);
	iio_driver.close(scale);
	for (size_t i = 0; i < 2; i++) {
		char path[192];

		snprintf(path, sizeof(path), "%s/%s", device, names[i]);
		unlink(path);
	}
	rmdir(device);
	rmdir(folder);
	return scale == NULL;
}
