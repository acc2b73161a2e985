/* SPDX-License-Identifier: MIT */
/* iio_reader N [KEY VALUE]...: N reads of the driver iio from the kernel's own files,
 * one a line: counts and flags, or the driver's sentence. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/iio.h"

int main(int argc, char **argv)
{
	struct scale_option options[8];
	char message[SCALE_MESSAGE_MAX] = "";
	struct scale_sample sample;
	struct scale *scale;
	size_t n = 0;

	for (int i = 2; i + 1 < argc && n < 8; i += 2)
		options[n++] = (struct scale_option){argv[i], argv[i + 1], "command line"};
	if (argc < 2 || iio_driver.open(options, n, message, &scale) < 0) {
		puts(message);
		return 1;
	}
	for (int i = atoi(argv[1]); i > 0; i--) {
		const int r = iio_driver.read(scale, 1000, &sample, message);

		if (r > 0)
			printf("counts %d flags %u\n", (int)sample.counts, sample.flags);
		else
			printf("%s\n", r < 0 ? message : "silent");
	}
	iio_driver.close(scale);
	return 0;
}
