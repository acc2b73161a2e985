/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_PERSON_H
#define AMBO_DRIVERS_PERSON_H

#include <stdbool.h>
#include <stdint.h>

/* A simulated person at the simulated bench: sees only what the display shows,
 * reacts late, tapers near the target, sometimes overshoots, drips. Never told the
 * truth. Pure and seeded: the same seed and sights give the same hands. */
struct person;

/* What the display shows at this moment; text as on the bus. */
struct person_sight {
	int64_t t_us;
	char step[16];      /* guide_step_name */
	char component[16]; /* component_name */
	char message[32];   /* message_name */
	char cue[16];       /* cue_name */
	char press[16];     /* press_meaning_name */
	bool has_remaining;
	double remaining_g; /* < 0: over */
};

enum person_hand {
	HAND_NONE,
	HAND_PRESS, /* press; amount unused */
	HAND_BENCH, /* verb and amount for scale_driver.act */
};
struct person_action {
	enum person_hand hand;
	char verb[24];
	double amount;
};

struct person_config {
	uint64_t seed;
	double reaction_s, reaction_sd_s; /* 0.23 +- 0.04 */
	double rate_g_per_s;              /* full pour, 12 */
	bool tapers;                      /* slows down near the target */
	double overshoot_chance;          /* of a clumsy stop, 0..1 */
	double cup_g;                     /* the cup it will place */
};

int person_new(const struct person_config *config, struct person **ret); /* -EINVAL, -ENOMEM */
void person_free(struct person *person);

/* Called with each new sight, in order of time. Returns 1 with *ret set when the
 * hands do something now (call again until 0), else 0. */
int person_look(struct person *person, const struct person_sight *sight, struct person_action *ret);

#endif
