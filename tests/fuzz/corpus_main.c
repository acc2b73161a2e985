/* SPDX-License-Identifier: MIT */
/* Runs a fuzz target over the files named on the command line: each as it is, cut
 * short everywhere, and with each byte spoilt. Deterministic; needs no fuzzer. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define BYTES_MAX 4096u /* of a corpus file */

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int run_file(const char *path)
{
	static uint8_t bytes[BYTES_MAX];
	FILE *stream = fopen(path, "rb");
	size_t size;

	if (stream == NULL) {
		perror(path);
		return -1;
	}
	size = fread(bytes, 1, sizeof(bytes), stream);
	fclose(stream);
	for (size_t n = 0; n <= size; n++)
		LLVMFuzzerTestOneInput(bytes, n);
	for (size_t i = 0; i < size; i++) {
		static const uint8_t spoil[] = {0x00, 0x80, 0xff, '\n', ',', '-', '9', '#', '='};
		const uint8_t was = bytes[i];

		for (size_t k = 0; k < sizeof(spoil); k++) {
			bytes[i] = spoil[k];
			LLVMFuzzerTestOneInput(bytes, size);
		}
		bytes[i] = was;
	}
	return 0;
}

int main(int argc, char **argv)
{
	int failed = argc < 2;

	for (int i = 1; i < argc; i++)
		failed |= run_file(argv[i]) < 0;
	printf("%d corpus files\n", argc - 1);
	return failed;
}
