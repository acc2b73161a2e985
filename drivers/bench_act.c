/* SPDX-License-Identifier: MIT */
/* What hands do to the bench. */
#include "bench.h"

#include <errno.h>
#include <math.h>
#include <stddef.h>
#include <string.h>

#define PUT_DOWN_S 0.2 /* a load is taken up or given over within */
#define TILT_S     0.4
#define TAPER_S    0.3
#define PINCHES    6.0

/* The load has just changed by this much; the pan comes to feel it. */
static void pass(struct bench *bench, double change_g)
{
	bench->passing_g -= change_g;
	bench->passing_g_per_s = fabs(bench->passing_g) / PUT_DOWN_S;
}

static void put_away(struct bench *bench, struct bench_cup *cup)
{
	if (cup->there)
		bench->away_g += bench_cup_mass(cup) - cup->cup_g;
	*cup = (struct bench_cup){0};
}

static int put_cup(struct bench *bench, int unused, double cup_g)
{
	(void)unused;
	if (bench->pan.there)
		return -EBUSY;
	put_away(bench, &bench->hand);
	bench->pan = (struct bench_cup){.there = true, .cup_g = cup_g};
	pass(bench, cup_g);
	bench_swing(bench, 3.0);
	return 0;
}

static int lift_cup(struct bench *bench, int unused, double unused_amount)
{
	(void)unused;
	(void)unused_amount;
	if (!bench->pan.there)
		return -EBUSY;
	put_away(bench, &bench->hand);
	bench->hand = bench->pan;
	bench->pan = (struct bench_cup){0};
	pass(bench, -bench_cup_mass(&bench->hand));
	return 0;
}

static int return_cup(struct bench *bench, int unused, double unused_amount)
{
	struct bench_cup there = bench->pan;

	(void)unused;
	(void)unused_amount;
	if (!bench->hand.there)
		return -EBUSY;
	bench->pan = bench->hand;
	bench->hand = there;
	pass(bench, bench_cup_mass(&bench->pan) - bench_cup_mass(&there));
	bench_swing(bench, 3.0);
	return 0;
}

static int swap_cup(struct bench *bench, int unused, double cup_g)
{
	int r = lift_cup(bench, 0, 0.0);

	(void)unused;
	if (r < 0)
		return r;
	bench->pan = (struct bench_cup){.there = true, .cup_g = cup_g};
	pass(bench, cup_g);
	bench_swing(bench, 3.0);
	return 0;
}

static int pour(struct bench *bench, int stuff, double g_per_s)
{
	if (bench->flowing && bench->stuff != (enum bench_stuff)stuff)
		return -EBUSY;
	if (!bench->flowing) {
		bench->rate_g_per_s = 0.0;
		bench->wobble_phase = 6.283185307179586 * random_uniform(&bench->hand_random);
	}
	/* A flow begins at the lip with something, or it would be over at once. */
	bench->rate_g_per_s = fmax(bench->rate_g_per_s, 1e-6 * g_per_s);
	bench->flowing = true;
	bench->stuff = (enum bench_stuff)stuff;
	bench->goal_g_per_s = g_per_s;
	bench->slope_g_per_s2 = fabs(g_per_s - bench->rate_g_per_s) / TILT_S;
	return 0;
}

static int stop(struct bench *bench, int unused, double over_s)
{
	(void)unused;
	bench->goal_g_per_s = 0.0;
	bench->slope_g_per_s2 = bench->rate_g_per_s / fmax(over_s, 1e-3);
	return 0;
}

static int taper(struct bench *bench, int unused, double g_per_s)
{
	(void)unused;
	if (!bench->flowing)
		return -EBUSY;
	bench->goal_g_per_s = g_per_s;
	bench->slope_g_per_s2 = fabs(g_per_s - bench->rate_g_per_s) / TAPER_S;
	return 0;
}

static int knock(struct bench *bench, int unused, double amplitude_g)
{
	(void)unused;
	bench_swing(bench, amplitude_g);
	return 0;
}

static int spill(struct bench *bench, int unused, double mass_g)
{
	(void)unused;
	bench->spilt_g[bench->stuff] += mass_g;
	bench->poured_g += mass_g;
	return 0;
}

static int put_object(struct bench *bench, int unused, double mass_g)
{
	(void)unused;
	if (bench->object_g + mass_g < -1e-9)
		return -EBUSY; /* there is not so much to take off */
	bench->object_g = fmax(bench->object_g + mass_g, 0.0);
	pass(bench, mass_g);
	return 0;
}

static int lean(struct bench *bench, int unused, double force_g)
{
	(void)unused;
	pass(bench, force_g - bench->leaning_g);
	bench->leaning_g = force_g;
	return 0;
}

static int take(struct bench *bench, int unused, double mass_g)
{
	double held_g = bench_cup_mass(&bench->pan) - bench->pan.cup_g;

	(void)unused;
	if (!bench->pan.there || held_g < mass_g)
		return -EBUSY;
	for (int i = 0; i < STUFF_COUNT; i++)
		bench->pan.held_g[i] *= 1.0 - mass_g / held_g;
	bench->away_g += mass_g;
	return 0;
}

static int wipe(struct bench *bench, int unused, double unused_amount)
{
	(void)unused;
	(void)unused_amount;
	for (int i = 0; i < STUFF_COUNT; i++) {
		bench->away_g += bench->spilt_g[i];
		bench->spilt_g[i] = 0.0;
	}
	bench_swing(bench, 10.0);
	return 0;
}

static int empty(struct bench *bench, int unused, double left_g)
{
	double held_g = bench_cup_mass(&bench->hand) - bench->hand.cup_g;

	(void)unused;
	if (!bench->hand.there || held_g < left_g)
		return -EBUSY;
	for (int i = 0; i < STUFF_COUNT && held_g > 0.0; i++)
		bench->hand.held_g[i] *= left_g / held_g;
	bench->away_g += held_g - left_g;
	return 0;
}

static int sprinkle(struct bench *bench, int stuff, double mass_g)
{
	if (bench->powder_left_g > 0.0)
		return -EBUSY;
	bench->powder = (enum bench_stuff)stuff;
	bench->powder_left_g = mass_g;
	bench->pinch_g = mass_g / PINCHES;
	bench->next_pinch_s = bench->t_s;
	return 0;
}

static int plug(struct bench *bench, int unplugged, double unused_amount)
{
	(void)unused_amount;
	if (bench->unplugged && !unplugged)
		bench->silent_periods = 3; /* the converter's own start-up */
	bench->unplugged = unplugged;
	return 0;
}

static int place(struct bench *bench, int unused, double where)
{
	(void)unused;
	if (where != nearbyint(where))
		return -EINVAL;
	bench->place = (int)where;
	return 0;
}

enum wrong { WRONG_CORNER, WRONG_BEND, WRONG_GAIN, WRONG_SWAPPED, WRONG_OPEN, WRONG_CLOCK };

static int go_wrong(struct bench *bench, int which, double amount)
{
	switch ((enum wrong)which) {
	case WRONG_CORNER:
		bench->corner_ratio = amount;
		break;
	case WRONG_BEND:
		bench->bend_ratio = amount;
		break;
	case WRONG_GAIN:
		bench->gain = amount - 1.0;
		break;
	case WRONG_SWAPPED:
		bench->swapped = amount != 0.0;
		break;
	case WRONG_OPEN:
		bench->open_bridge = amount != 0.0;
		break;
	case WRONG_CLOCK:
		bench->config.corrupt_ratio = amount;
		break;
	}
	return 0;
}

static int hum(struct bench *bench, int hz, double amplitude_g)
{
	bench->hum_hz = hz;
	bench->hum_g = amplitude_g;
	return 0;
}

static const struct {
	const char *verb;
	int (*act)(struct bench *bench, int which, double amount);
	int which;
	double min, max; /* of the amount; both 0: it has none */
} acts[] = {
        {"cup", put_cup, 0, 0.1, 1e5},
        {"lift", lift_cup, 0, 0, 0},
        {"return", return_cup, 0, 0, 0},
        {"swap", swap_cup, 0, 0.1, 1e5},
        {"pour-a", pour, STUFF_A, 1e-3, 1e3},
        {"pour-b", pour, STUFF_B, 1e-3, 1e3},
        {"pour-tint", pour, STUFF_TINT, 1e-3, 1e3},
        {"pour-filler", pour, STUFF_FILLER, 1e-3, 1e3},
        {"stop", stop, 0, 0.0, 10.0},
        {"taper", taper, 0, 1e-3, 1e3},
        {"knock", knock, 0, 0.0, 1e5},
        {"spill", spill, 0, 1e-3, 1e5},
        {"object", put_object, 0, -1e5, 1e5},
        {"press-pan", lean, 0, 0.0, 1e6},
        {"take", take, 0, 1e-3, 1e5},
        {"wipe", wipe, 0, 0, 0},
        {"empty", empty, 0, 0.0, 1e5},
        {"tint", sprinkle, STUFF_TINT, 1e-3, 1e4},
        {"filler", sprinkle, STUFF_FILLER, 1e-3, 1e4},
        {"unplug", plug, 1, 0, 0},
        {"plug", plug, 0, 0, 0},
        {"place", place, 0, 0.0, 4.0},
        {"corner", go_wrong, WRONG_CORNER, -0.1, 0.1},
        {"bend", go_wrong, WRONG_BEND, -0.1, 0.1},
        {"gain", go_wrong, WRONG_GAIN, 0.1, 10.0},
        {"swapped-pair", go_wrong, WRONG_SWAPPED, 0.0, 1.0},
        {"open-bridge", go_wrong, WRONG_OPEN, 0.0, 1.0},
        {"loose-clock", go_wrong, WRONG_CLOCK, 0.0, 0.5},
        {"hum-50", hum, 50, 0.0, 1e4},
        {"hum-60", hum, 60, 0.0, 1e4},
};

int bench_act(struct bench *bench, const char *verb, double amount)
{
	for (size_t i = 0; i < sizeof(acts) / sizeof(acts[0]); i++) {
		bool amountless = acts[i].min == 0.0 && acts[i].max == 0.0;

		if (strcmp(verb, acts[i].verb) != 0)
			continue;
		if (!amountless && !(amount >= acts[i].min && amount <= acts[i].max))
			return -EINVAL;
		return acts[i].act(bench, acts[i].which, amount);
	}
	return -EINVAL;
}
