/* SPDX-License-Identifier: MIT */
/* hear FILE: what SDL's disk driver wrote (32-bit float, mono, 48 kHz), note
 * by note: "BEGIN END HZ" in samples, then "share S", the share of all energy that lies
 * between 500 and 1500 Hz, and "loudest L". */
#include "listen.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define RATE    48000.0
#define AUDIBLE 0.002
#define NOTES   2000
#define SECONDS 600u
#define SLICE   4800u

static double loudest(const float *samples, size_t n)
{
	double most = 0.0;

	for (size_t i = 0; i < n; i++)
		most = fmax(most, fabs((double)samples[i]));
	return most;
}

/* Of the slices in which something sounds. */
static double share(const float *samples, size_t n)
{
	double sum = 0.0;
	int slices = 0;

	for (size_t i = 0; i + SLICE <= n; i += SLICE)
		if (loudest(samples + i, SLICE) > 10.0 * AUDIBLE) {
			sum += listen_share(samples + i, SLICE, RATE, 500.0, 1500.0);
			slices++;
		}
	return slices > 0 ? sum / slices : 0.0;
}

int main(int argc, char **argv)
{
	const size_t most = SECONDS * (size_t)RATE;
	float *samples = malloc(most * sizeof *samples);
	FILE *file = argc > 1 ? fopen(argv[1], "rb") : NULL;
	static struct heard note[NOTES];
	size_t n, found;

	if (!file || !samples) {
		fprintf(stderr, "hear: no such file\n");
		return 2;
	}
	n = fread(samples, sizeof *samples, most, file);
	fclose(file);
	found = listen_notes(samples, n, RATE, AUDIBLE, 0.01, note, NOTES);
	for (size_t i = 0; i < found; i++)
		printf("%zu %zu %.0f\n", note[i].begin, note[i].end,
		       listen_pitch(samples + note[i].begin, note[i].end - note[i].begin, RATE,
		                    450.0, 1250.0));
	printf("share %.3f\nloudest %.5f\n", share(samples, n), loudest(samples, n));
	free(samples);
	return 0;
}
