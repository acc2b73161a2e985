/* SPDX-License-Identifier: MIT */
#include "person.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "noise.h"

/* How it works: every sight suggests one wish, or none. A wish must have been there
 * for its delay (reading, taking up a bottle, and always the reaction) before the hands
 * carry it out; another sight that suggests something else starts anew. */

enum wish {
	WISH_NONE,
	WISH_PRESS,
	WISH_PLACE, /* a cup on the pan */
	WISH_LIFT,
	WISH_RETURN,
	WISH_WIPE,
	WISH_EMPTY,
	WISH_POUR,
	WISH_TAPER,
	WISH_STOP,
	WISH_SPRINKLE,
};

enum cup { CUP_AWAY, CUP_ON_PAN, CUP_IN_HAND };

/* Design choices: how long a person takes. */
#define READ_S          1.2 /* a sentence, before a press */
#define DOUBT_S         3.0 /* before accepting something doubtful */
#define HANDLE_S        1.0 /* a cup */
#define NEW_BOTTLE_S    3.5 /* put one down, take up the other */
#define ANSWER_S        5.0 /* for the station to say whether it is enough */
#define SPRINKLE_S      8.0 /* pinches, and what the station says then */
#define POUR_OUT_S      4.0
#define AGAIN_S         5.0 /* nothing came of it: do it again */
#define STIR_MOST_S     600.0
#define LATE_S          0.4  /* a clumsy stop: 0.4 to 1.0 s more */
#define LARGE_G         20.0 /* doses at which one may be clumsy */
#define TAPER_S         2.0  /* slow down so that the rest takes so long */
#define SLOWEST_G_PER_S 0.8  /* while tapering */
#define DROPS_G_PER_S   0.25 /* for the smallest doses */
#define TIP_BACK_S      0.15
#define FILM_RATIO      0.01 /* of the cup's mass: what stays in it */

struct person {
	struct person_config config;
	struct random random;

	enum wish wish;
	char why[64]; /* the sight behind a press: another one is another press */
	int64_t due_us;

	enum cup cup;
	bool emptied;
	int clearings; /* of the pan, tried so far */
	bool pouring;
	double rate_g_per_s, late_s;
	char bottle[16]; /* the component in hand; "" none */
	int64_t rest_us; /* when the hands were last still or sprinkled enough */
	char step[16];
	int64_t step_us; /* since when it is this step */
};

int person_new(const struct person_config *config, struct person **ret)
{
	struct person *person;

	if (!(config->reaction_s > 0.0 && config->reaction_s < 10.0) ||
	    !(config->reaction_sd_s >= 0.0 && 3.0 * config->reaction_sd_s < config->reaction_s) ||
	    !(config->rate_g_per_s >= DROPS_G_PER_S && config->rate_g_per_s <= 1000.0) ||
	    !(config->overshoot_chance >= 0.0 && config->overshoot_chance <= 1.0) ||
	    !(config->cup_g >= 0.1 && config->cup_g <= 1e5))
		return -EINVAL;
	person = calloc(1, sizeof(*person));
	if (person == NULL)
		return -ENOMEM;
	person->config = *config;
	random_seed(&person->random, config->seed);
	person->rest_us = INT64_MIN / 2;
	*ret = person;
	return 0;
}

void person_free(struct person *person)
{
	free(person);
}

static bool is(const char *text, const char *name)
{
	return strcmp(text, name) == 0;
}

static bool is_one_of(const char *text, const char *const *names)
{
	for (; *names != NULL; names++)
		if (is(text, *names))
			return true;
	return false;
}

static double reaction_s(struct person *person)
{
	double sds = fmin(fmax(random_gauss(&person->random), -3.0), 3.0);

	return person->config.reaction_s + sds * person->config.reaction_sd_s;
}

static bool can_press(const struct person_sight *sight)
{
	return sight->press[0] != '\0' && !is(sight->press, "nothing");
}

static bool dispensing(const struct person_sight *sight)
{
	return is(sight->step, "charge") || is(sight->step, "top-up");
}

/* --- what the sights suggest: each sets *delay_s and returns the wish --- */

static enum wish wish_while_pouring(const struct person *person, const struct person_sight *sight,
                                    double *delay_s)
{
	static const char *const stops[] = {"tip-back", "in-band", "too-much", "held",
	                                    "silent",   "hazard",  NULL};

	*delay_s = 0.0;
	if (!dispensing(sight) || !is(sight->component, person->bottle) ||
	    is_one_of(sight->cue, stops) || (sight->has_remaining && sight->remaining_g <= 0.0)) {
		*delay_s = person->late_s;
		return WISH_STOP;
	}
	if (person->config.tapers && person->late_s == 0.0 && sight->has_remaining &&
	    fmax(sight->remaining_g / TAPER_S, SLOWEST_G_PER_S) < 0.7 * person->rate_g_per_s)
		return WISH_TAPER;
	return WISH_NONE;
}

static enum wish press_after(const struct person_sight *sight, double seconds, double *delay_s)
{
	*delay_s = seconds;
	return can_press(sight) ? WISH_PRESS : WISH_NONE;
}

static enum wish wish_at_cup(const struct person *person, const struct person_sight *sight,
                             double *delay_s)
{
	*delay_s = HANDLE_S;
	if (is(sight->message, "clear-the-pan"))
		return person->clearings % 2 == 0 ? WISH_LIFT : WISH_WIPE;
	if (is(sight->message, "place-cup") && person->cup != CUP_ON_PAN)
		return WISH_PLACE;
	return WISH_NONE;
}

static double since_s(int64_t then_us, const struct person_sight *sight)
{
	return (double)(sight->t_us - then_us) * 1e-6;
}

static enum wish wish_to_dispense(const struct person *person, const struct person_sight *sight,
                                  double *delay_s)
{
	bool new_bottle = !is(sight->component, person->bottle);
	bool powder = is(sight->message, "add-powder") || is(sight->message, "by-eye");
	double rested_s = since_s(person->rest_us, sight);

	if (!sight->has_remaining || sight->remaining_g <= 0.0 || is(sight->component, "mixed"))
		return WISH_NONE;
	if (new_bottle)
		*delay_s = NEW_BOTTLE_S;
	else
		*delay_s = fmax(0.0, (powder ? SPRINKLE_S : ANSWER_S) - rested_s);
	return powder ? WISH_SPRINKLE : WISH_POUR;
}

static enum wish wish_at_charge(const struct person *person, const struct person_sight *sight,
                                double *delay_s)
{
	static const char *const decided[] = {"charge-done", "too-much", "top-up-wont-fit",
	                                      "dilution", NULL};
	static const char *const doubtful[] = {"cannot-tell", "ratio-outside", NULL};

	if (is(sight->message, "ratio-within") && person->cup == CUP_ON_PAN) {
		*delay_s = HANDLE_S;
		return WISH_LIFT;
	}
	if (is_one_of(sight->message, decided))
		return press_after(sight, READ_S, delay_s);
	if (is_one_of(sight->message, doubtful) || is(sight->press, "accept"))
		return press_after(sight, DOUBT_S, delay_s);
	if (is(sight->press, "top-up"))
		return press_after(sight, READ_S, delay_s);
	if (is(sight->message, "by-eye") && is(person->bottle, sight->component))
		return press_after(sight,
		                   fmax(READ_S, SPRINKLE_S - since_s(person->rest_us, sight)),
		                   delay_s); /* sprinkled already */
	if (is(sight->message, "wait-settle"))
		return WISH_NONE;
	return wish_to_dispense(person, sight, delay_s);
}

static enum wish wish_when_held(const struct person *person, const struct person_sight *sight,
                                double *delay_s)
{
	*delay_s = HANDLE_S;
	if (person->cup == CUP_IN_HAND &&
	    (is(sight->message, "cup-lifted") || is(sight->message, "resume-check")))
		return WISH_RETURN;
	return press_after(sight, is(sight->press, "accept") ? DOUBT_S : READ_S, delay_s);
}

static enum wish wish_at_stir(const struct person *person, const struct person_sight *sight,
                              double *delay_s)
{
	*delay_s = HANDLE_S;
	if (person->cup == CUP_ON_PAN)
		return WISH_LIFT;
	if (is(sight->message, "stir-unconfirmed"))
		return press_after(sight, READ_S, delay_s);
	if (is(sight->press, "accept"))
		return press_after(sight, DOUBT_S, delay_s);
	/* Not told in time: by one's own count. */
	if (since_s(person->step_us, sight) > STIR_MOST_S)
		return press_after(sight, READ_S, delay_s);
	return WISH_NONE;
}

static enum wish wish_at_pour(const struct person *person, const struct person_sight *sight,
                              double *delay_s)
{
	*delay_s = HANDLE_S;
	if (is(sight->message, "life-over"))
		return WISH_NONE; /* not into the mould any more */
	if (!person->emptied && person->cup == CUP_ON_PAN)
		return WISH_LIFT;
	if (!person->emptied) {
		*delay_s = POUR_OUT_S;
		return WISH_EMPTY;
	}
	if (person->cup == CUP_IN_HAND)
		return WISH_RETURN; /* weighed back */
	return press_after(sight, 2.0 * AGAIN_S, delay_s);
}

static enum wish suggest(const struct person *person, const struct person_sight *sight,
                         double *delay_s)
{
	*delay_s = 0.0;
	if (person->pouring)
		return wish_while_pouring(person, sight, delay_s);
	if (is(sight->step, "ready"))
		return press_after(sight, READ_S, delay_s);
	if (is(sight->step, "cup"))
		return wish_at_cup(person, sight, delay_s);
	if (dispensing(sight))
		return wish_at_charge(person, sight, delay_s);
	if (is(sight->step, "held"))
		return wish_when_held(person, sight, delay_s);
	if (is(sight->step, "stir"))
		return wish_at_stir(person, sight, delay_s);
	if (is(sight->step, "pour"))
		return wish_at_pour(person, sight, delay_s);
	return WISH_NONE; /* done, discarded, or nothing to be seen yet */
}

/* --- the hands --- */

static void take(const char *verb, double amount, struct person_action *ret)
{
	ret->hand = HAND_BENCH;
	snprintf(ret->verb, sizeof(ret->verb), "%s", verb);
	ret->amount = amount;
}

static void pour(struct person *person, const struct person_sight *sight, struct person_action *ret)
{
	char verb[24];
	double wanted_g = sight->remaining_g;

	/* Three seconds' worth at least: small doses drop by drop. */
	person->rate_g_per_s =
	        fmin(fmax(wanted_g / 3.0, DROPS_G_PER_S), person->config.rate_g_per_s);
	person->late_s = 0.0;
	if (wanted_g > LARGE_G && random_uniform(&person->random) < person->config.overshoot_chance)
		person->late_s = LATE_S + 0.6 * random_uniform(&person->random);
	person->pouring = true;
	snprintf(person->bottle, sizeof(person->bottle), "%s", sight->component);
	snprintf(verb, sizeof(verb), "pour-%s", sight->component);
	take(verb, person->rate_g_per_s, ret);
}

static void sprinkle(struct person *person, const struct person_sight *sight,
                     struct person_action *ret)
{
	/* Not all of it at once: pinches are not that even. */
	double mass_g = sight->remaining_g > 1.0 ? 0.85 * sight->remaining_g : sight->remaining_g;

	snprintf(person->bottle, sizeof(person->bottle), "%s", sight->component);
	person->rest_us = sight->t_us;
	take(sight->component, fmax(mass_g, 0.01), ret);
}

static void carry_out(struct person *person, const struct person_sight *sight,
                      struct person_action *ret)
{
	*ret = (struct person_action){.hand = HAND_NONE};
	switch (person->wish) {
	case WISH_NONE:
		return;
	case WISH_PRESS:
		ret->hand = HAND_PRESS;
		return;
	case WISH_PLACE:
		person->cup = CUP_ON_PAN;
		take("cup", person->config.cup_g, ret);
		return;
	case WISH_LIFT:
		person->clearings++;
		if (is(sight->step, "cup")) /* somebody's cup of before: put away */
			person->cup = CUP_AWAY;
		else
			person->cup = CUP_IN_HAND;
		take("lift", 0.0, ret);
		return;
	case WISH_RETURN:
		person->cup = CUP_ON_PAN;
		take("return", 0.0, ret);
		return;
	case WISH_WIPE:
		person->clearings++;
		take("wipe", 0.0, ret);
		return;
	case WISH_EMPTY:
		person->emptied = true;
		take("empty", FILM_RATIO * person->config.cup_g, ret);
		return;
	case WISH_POUR:
		pour(person, sight, ret);
		return;
	case WISH_TAPER:
		person->rate_g_per_s = fmax(sight->remaining_g / TAPER_S, SLOWEST_G_PER_S);
		take("taper", person->rate_g_per_s, ret);
		return;
	case WISH_STOP:
		person->pouring = false;
		person->rest_us = sight->t_us;
		take("stop", TIP_BACK_S, ret);
		return;
	case WISH_SPRINKLE:
		sprinkle(person, sight, ret);
		return;
	}
}

int person_look(struct person *person, const struct person_sight *sight, struct person_action *ret)
{
	char why[sizeof(person->why)] = "";
	double delay_s;
	enum wish wish;

	if (!is(person->step, sight->step)) {
		snprintf(person->step, sizeof(person->step), "%s", sight->step);
		person->step_us = sight->t_us;
	}
	wish = suggest(person, sight, &delay_s);
	if (wish == WISH_PRESS) /* a press means something else after every change */
		snprintf(why, sizeof(why), "%.15s/%.15s/%.15s/%.12s", sight->step, sight->component,
		         sight->message, sight->press);
	if (wish != person->wish || !is(why, person->why)) {
		person->wish = wish;
		memcpy(person->why, why, sizeof(why));
		person->due_us = sight->t_us + (int64_t)((delay_s + reaction_s(person)) * 1e6);
	}
	if (wish == WISH_NONE || sight->t_us < person->due_us)
		return 0;
	carry_out(person, sight, ret);
	/* The same wish again only if nothing came of it. */
	person->due_us = sight->t_us + (int64_t)(AGAIN_S * 1e6);
	if (wish == WISH_TAPER)
		person->wish = WISH_NONE; /* further down after another reaction */
	return 1;
}
