/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <errno.h>
#include <math.h>

/* The bottle check: a bottle rested on the pan beside the cup is known by its gross
 * mass; weighed again after the pour it must have lost what the cup gained. */

#define BOTTLE_REST_US (2 * US_PER_S)
#define BOTTLE_MATCH_G 2.0  /* beside the doubt: what runs down a neck, or a cap left off */
#define BOTTLE_LEAST_G 30.0 /* lighter than any bottle: a thing */

static int part_index(enum component component)
{
	return component == COMPONENT_A ? PART_A : component == COMPONENT_B ? PART_B : -1;
}

/* What came out of this bottle in the charge not yet closed. */
static double poured_now_g(const struct guide *guide, int part)
{
	if (guide->open < 0 || part_index(guide->dispense[guide->open].component) != part)
		return 0.0;
	return guide->dispense[guide->open].mass_g;
}

static int nearest_part(const struct guide *guide, double mass_g)
{
	double best_g = pour_doubt_g(guide) + BOTTLE_MATCH_G;
	int best = -1;

	for (int part = PART_A; part <= PART_B; part++) {
		double off_g;

		if (guide->bottle_g[part] < 0.0)
			continue;
		off_g = fabs(mass_g - (guide->bottle_g[part] - poured_now_g(guide, part)));
		if (off_g <= best_g) {
			best_g = off_g;
			best = part;
		}
	}
	return best;
}

/* The bottle this charge came from, back on the pan: did it lose what the cup got? */
static bool comes_back(const struct guide *guide, double mass_g, struct message *ret)
{
	int part = guide->bottle_in_use;
	double gain_g, lost_g;

	if (part < 0 || guide->open < 0)
		return false;
	gain_g = poured_now_g(guide, part);
	lost_g = guide->bottle_before_g - mass_g;
	if (gain_g <= 0.0 || lost_g < -BOTTLE_MATCH_G || lost_g > 1.5 * gain_g + 5.0)
		return false;
	*ret = say_dose(MESSAGE_BOTTLE_DISAGREES, charge_of_part((enum part)part), lost_g);
	ret->has |= MESSAGE_HAS_OTHER_MASS_G;
	ret->other_mass_g = gain_g;
	/* Two differences of two readings each. */
	return fabs(lost_g - gain_g) > sqrt(2.0) * pour_doubt_g(guide);
}

/* What the next bottle should be; -1: none is awaited. */
static int awaited_part(const struct guide *guide)
{
	const struct recipe_charge *next = charge_following(guide);

	if (guide->phase == PHASE_LIVE && guide->first_gram_us < 0)
		return part_index(guide->wanted);
	if (guide->phase == PHASE_RESTED && next != NULL)
		return part_index(next->component);
	if (guide->phase == PHASE_TOO_MUCH && guide->top_up.fits)
		return (int)guide->top_up.part;
	return -1;
}

bool bottle_recognise(struct guide *guide, double mass_g, struct message *ret)
{
	int part, awaited = awaited_part(guide);

	if (!guide->recipe.bottles_on_pan || mass_g < BOTTLE_LEAST_G)
		return false;
	guide->bottle_since_us = guide->t_us;
	part = nearest_part(guide, mass_g);
	if (comes_back(guide, mass_g, ret) && part != awaited)
		return true;
	if (part < 0) {
		*ret = say_mass(MESSAGE_BOTTLE_UNKNOWN, mass_g);
		return true;
	}
	*ret = say_dose(MESSAGE_BOTTLE_KNOWN, charge_of_part((enum part)part), mass_g);
	if (part == awaited || part == guide->bottle_in_use || awaited < 0)
		return true;
	ret->id = MESSAGE_BOTTLE_WRONG;
	ret->has |= MESSAGE_HAS_OTHER;
	ret->other = charge_of_part((enum part)awaited);
	return true;
}

static void take_up(struct guide *guide, int part, double mass_g)
{
	guide->identity = IDENTITY_BOTTLE;
	guide->bottle_in_use = part;
	guide->bottle_before_g = mass_g;
	guide->bottle_g[part] = mass_g;
}

void bottle_gone(struct guide *guide, const struct message *was)
{
	int part = part_index(was->component);
	int64_t since_us = guide->bottle_since_us;

	guide->bottle_since_us = -1;
	if (was->id != MESSAGE_BOTTLE_KNOWN || part < 0 || since_us < 0 ||
	    guide->t_us - since_us < BOTTLE_REST_US)
		return;
	if (part != awaited_part(guide)) {
		/* Back after its pour: the shelf's newest value. */
		guide->bottle_g[part] = was->mass_g + poured_now_g(guide, part);
		return;
	}
	if (guide->phase == PHASE_RESTED)
		charge_next(guide, IDENTITY_BOTTLE);
	else if (guide->phase == PHASE_TOO_MUCH)
		charge_press(guide);
	if (guide->phase == PHASE_LIVE && part == part_index(guide->wanted))
		take_up(guide, part, was->mass_g);
}

/* The first bottle, rested on the empty pan and taken off again, says what the press
 * says: this is the lot that was entered and read back. */
void bottle_ready(struct guide *guide)
{
	int part = part_index(guide->recipe.charge[0].component);
	double gross_g = guide->reading.gross_g;

	if (!guide->recipe.bottles_on_pan || part < 0 || !pour_settled(guide))
		return;
	if (gross_g >= BOTTLE_LEAST_G) {
		bool is_it = nearest_part(guide, gross_g) == part;

		if (is_it && guide->bottle_since_us < 0) {
			guide->bottle_since_us = guide->t_us;
			guide->bottle_before_g = gross_g;
			guide_note(guide, say_dose(MESSAGE_BOTTLE_KNOWN,
			                           charge_of_part((enum part)part), gross_g));
		} else if (!is_it) {
			guide->bottle_since_us = -1;
		}
		return;
	}
	if (guide->bottle_since_us < 0)
		return;
	if (guide->t_us - guide->bottle_since_us >= BOTTLE_REST_US) {
		take_up(guide, part, guide->bottle_before_g);
		guide_go(guide, GUIDE_CUP, PHASE_PAN);
	}
	guide->bottle_since_us = -1;
}

void bottle_poured(struct guide *guide)
{
	for (int part = PART_A; part <= PART_B; part++)
		if (guide->bottle_g[part] >= 0.0)
			guide->bottle_g[part] =
			        fmax(0.0, guide->bottle_g[part] - poured_now_g(guide, part));
	guide->bottle_in_use = -1;
}

int guide_bottle_g(const struct guide *guide, enum part part, double *ret_gross_g)
{
	if ((part != PART_A && part != PART_B) || guide->bottle_g[part] < 0.0)
		return -ENODATA;
	*ret_gross_g = fmax(0.0, guide->bottle_g[part] - poured_now_g(guide, (int)part));
	return 0;
}
