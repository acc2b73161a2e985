/* SPDX-License-Identifier: MIT */
/* What a whole plan costs: processor time of plan_make() with its 300 samples, as a share
 * of one second, and how it grows with the number of layers. Prints; asserts nothing. */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "tests/support/piece_case.h"

static double cpu_s(void)
{
	struct timespec now;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
	return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* The best of three: other programs share the machine. */
static double plan_s(struct piece_case *of)
{
	double best = 1e9;

	for (int i = 0; i < 3; i++) {
		const double began = cpu_s();

		piece_case_plan(of);
		if (cpu_s() - began < best)
			best = cpu_s() - began;
	}
	return best;
}

int main(void)
{
	struct piece_case *of = malloc(sizeof *of);
	double one_s = 0.0;

	if (!of)
		return 1;
	printf("%-34s %7s %9s %9s\n", "plan with 300 samples", "layers", "cpu s", "/ 1 layer");
	for (int layers = 1; layers <= 16; layers *= 2) {
		double s;

		piece_case_make(of);
		of->request.samples = BAND_SAMPLES;
		of->systems[0].label.depth_max_mm = 5.0;
		of->piece.room_degc = 20.0;
		of->piece.cavity.sections[0].height_mm = 4.0 * layers;
		s = plan_s(of);
		one_s = layers == 1 ? s : one_s;
		printf("%-34s %7zu %9.3f %9.1f\n", "cut by the label, 20 C", of->plan.n_layers, s,
		       s / one_s);
	}
	piece_case_make(of);
	of->request.samples = BAND_SAMPLES;
	of->systems[0].label.depth_max_mm = 100.0;
	of->piece.room_degc = 25.0;
	of->piece.cavity.sections[0].height_mm = 24.0;
	printf("%-34s", "cut by heat, 25 C");
	{
		const double s = plan_s(of);

		printf(" %7zu %9.3f %9.1f\n", of->plan.n_layers, s, s / one_s);
	}
	printf("a plan's memory: %zu kB, its band while it runs: %zu kB\n", sizeof(of->plan) / 1024,
	       sizeof(struct band) / 1024);
	free(of);
	return 0;
}
