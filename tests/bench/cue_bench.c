/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>

#include "drivers/noise.h"
#include "tests/support/cue_pour.h"

/* How far a hand overshoots 100 g at 12 g/s (+- 15 % from pour to pour), reaction
 * 230 +- 40 ms: with Ambo's cue against a plain number on the same scale. All in virtual
 * time, so the figures are the same on every machine. */

#define POURS 400

struct spread {
	double mean_g, sd_g, worst_g;
	int n, within_1_g;
};

static void add(struct spread *spread, double error_g)
{
	double step = error_g - spread->mean_g;

	spread->n++;
	spread->mean_g += step / spread->n;
	spread->sd_g += step * (error_g - spread->mean_g); /* the sum, until told */
	spread->worst_g = fmax(spread->worst_g, fabs(error_g));
	spread->within_1_g += fabs(error_g) <= 1.0;
}

static struct spread finish(struct spread spread)
{
	spread.sd_g = sqrt(spread.sd_g / (spread.n - 1));
	return spread;
}

static void print(const char *what, const struct spread *s)
{
	printf("%-52s mean %+5.2f g, sd %4.2f g, worst %4.2f g, within 1 g %3.0f %%\n", what,
	       s->mean_g, s->sd_g, s->worst_g, 100.0 * s->within_1_g / s->n);
}

static double rate_of(uint64_t seed)
{
	struct random random;

	random_seed(&random, seed + 1000);
	return 12.0 * fmin(fmax(1.0 + 0.15 * random_gauss(&random), 0.5), 1.5);
}

static struct spread many(struct cue_pour pour, int skip)
{
	struct spread spread = {0};
	bool learnt;

	for (int i = 0; i < POURS + skip; i++) {
		double error_g;

		pour.seed = (uint64_t)i + 1;
		pour.rate_g_per_s = rate_of(pour.seed);
		error_g = cue_pour(&pour, &learnt);
		if (i >= skip)
			add(&spread, error_g);
	}
	return finish(spread);
}

int main(void)
{
	struct cue_pour pour = {.reaction_s = 0.23, .tip_back_s = 0.25};
	struct spread plain, led, plain_tapered, led_tapered, other;
	struct reactions reactions;

	plain = many(pour, 0);
	pour.cued = true;
	led = many(pour, 0);
	pour.tapers = true;
	led_tapered = many(pour, 0);
	pour.cued = false;
	plain_tapered = many(pour, 0);
	print("plain number", &plain);
	print("Ambo's cue", &led);
	print("plain number, tapered", &plain_tapered);
	print("Ambo's cue, tapered", &led_tapered);
	printf("plain number : Ambo's cue, |mean| + sd  %.1f : 1, tapered %.1f : 1\n",
	       (fabs(plain.mean_g) + plain.sd_g) / (fabs(led.mean_g) + led.sd_g),
	       (fabs(plain_tapered.mean_g) + plain_tapered.sd_g) /
	               (fabs(led_tapered.mean_g) + led_tapered.sd_g));

	pour = (struct cue_pour){.cued = true, .reaction_s = 0.35, .tip_back_s = 0.25};
	other = many(pour, 0);
	print("a slower person (350 ms), led as usual", &other);
	reaction_init(&reactions);
	pour.reactions = &reactions;
	other = many(pour, 15);
	print("the same after 15 stops learnt from", &other);
	printf("  leads by %.0f ms\n", 1e3 * cue_pour_reaction_s(&reactions));
	pour = (struct cue_pour){.cued = true, .reaction_s = 0.23, .tip_back_s = 0.15};
	other = many(pour, 0);
	print("a quick wrist (150 ms), led as usual", &other);
	reaction_init(&reactions);
	pour.reactions = &reactions;
	other = many(pour, 15);
	print("the same after 15 stops learnt from", &other);
	printf("  leads by %.0f ms\n", 1e3 * cue_pour_reaction_s(&reactions));
	return 0;
}
