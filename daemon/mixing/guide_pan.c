/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

/* Off the pan: the empty pan is read, the resin stirred and poured, the emptied cup
 * perhaps weighed back. Lifting the cup never means poured. */

#define FREE_SHARE     0.8 /* of the cup's mass: more may be the emptied cup itself */
#define PAN_STILL_US   US_PER_S
#define STIRRED_SHARE  0.5  /* a cup back sooner has not been stirred */
#define CUP_BACK_SHARE 0.05 /* of cup and contents: what a stirrer carries off */
#define EMPTY_SHARE    0.9  /* less than this of the contents: some was poured */
#define EMPTIED_SHARE  0.1  /* less than this: the cup is empty but for a film */

void pan_lifted(struct guide *guide, bool lifted)
{
	guide->lifted = lifted;
	guide->free_pan_g = guide->pan_g;
	guide->stir_start_us = guide->t_us;
	guide->touched_us = guide->t_us;
	guide_go(guide, GUIDE_STIR, PHASE_STIRRING);
}

static enum verdict worse(enum verdict a, enum verdict b)
{
	if (a == VERDICT_OUTSIDE || b == VERDICT_OUTSIDE)
		return VERDICT_OUTSIDE;
	if (a == VERDICT_WITHIN && b == VERDICT_WITHIN)
		return VERDICT_WITHIN;
	return VERDICT_CANNOT_TELL;
}

/* The verdict with all of the residue taken off one part. */
static enum verdict bound(const struct guide *guide, enum part part, double *ret_pct)
{
	struct ratio ratio;

	if (ledger_ratio_without(guide, part, guide->residue_g, &ratio) < 0)
		return VERDICT_OUTSIDE;
	*ret_pct = ratio.deviation_pct;
	return ratio_judge(&ratio, guide->recipe.tolerance_pct).verdict;
}

static enum verdict with_residue(struct guide *guide)
{
	enum verdict a = bound(guide, PART_A, &guide->residue_a_pct);
	enum verdict b = bound(guide, PART_B, &guide->residue_b_pct);

	return worse(guide->verdict, worse(a, b));
}

static void read_pan(struct guide *guide)
{
	enum verdict verdict;

	guide->residue_g = guide->reading.gross_g - guide->pan_g;
	guide->pan_read = true;
	ledger_point(guide, guide->reading.gross_g, guide->u_g);
	guide->residue_counts = fabs(guide->residue_g) > pour_doubt_g(guide);
	if (!guide->residue_counts || guide->divided) {
		guide->provisional = false;
		return;
	}
	verdict = with_residue(guide);
	if (verdict != guide->verdict) {
		guide_go(guide, GUIDE_STIR, PHASE_SPILL); /* asked: the verdict waits */
		return;
	}
	guide->provisional = false;
	guide_note(guide, say_mass(guide->residue_g > 0.0 ? MESSAGE_SPILL : MESSAGE_PAN_LIGHTER,
	                           fabs(guide->residue_g)));
}

static bool cup_is_back(const struct guide *guide)
{
	double whole_g = guide->cup_g + ledger_contents_g(guide);

	return pour_settled(guide) && guide->reading.gross_g - guide->pan_g >
	                                      whole_g - fmax(5.0, CUP_BACK_SHARE * whole_g);
}

static bool pan_is_free(const struct guide *guide)
{
	return pour_settled(guide) &&
	       guide->reading.gross_g - guide->pan_g < FREE_SHARE * guide->cup_g;
}

/* What lies on the pan by now is none of the cup's when that comes back. */
static void watch_free_pan(struct guide *guide)
{
	if (pan_is_free(guide))
		guide->free_pan_g = guide->reading.gross_g;
}

void stir_reading(struct guide *guide)
{
	double stirred_s = (double)(guide->t_us - guide->stir_start_us) * 1e-6;

	if (!guide->lifted) {
		guide->lifted = pour_lifted(guide);
		return;
	}
	watch_free_pan(guide);
	if (!guide->pan_read && pan_is_free(guide) &&
	    guide->reading.t_us - guide->reading.still_since_us >= PAN_STILL_US)
		read_pan(guide);
	else if (guide->phase == PHASE_STIRRING && cup_is_back(guide) &&
	         stirred_s >= STIRRED_SHARE * guide->recipe.stir_s) {
		guide->touched_us = guide->t_us;
		guide_go(guide, GUIDE_POUR, PHASE_POURING);
	}
}

void stir_press(struct guide *guide)
{
	if (guide->phase == PHASE_SPILL) {
		guide->accepted |= ACCEPTED_PAN;
		guide->verdict = with_residue(guide);
		guide->provisional = false;
		guide_go(guide, GUIDE_STIR, PHASE_STIRRING);
		return;
	}
	guide_go(guide, GUIDE_POUR, PHASE_POURING);
}

static void done(struct guide *guide)
{
	if (life_over(guide))
		guide->accepted |= ACCEPTED_POURED_LATE;
	guide_go(guide, GUIDE_DONE, PHASE_NONE);
}

void pour_out_reading(struct guide *guide)
{
	double contents_g = ledger_contents_g(guide);
	double over_g = guide->reading.gross_g - guide->free_pan_g - guide->cup_g;

	if (!guide->lifted) {
		guide->lifted = pour_lifted(guide);
		return;
	}
	watch_free_pan(guide);
	if (!pour_settled(guide) || over_g < -pour_doubt_g(guide) ||
	    over_g >= EMPTY_SHARE * contents_g)
		return;
	if (!guide->weighed_back || fabs(over_g - guide->stayed_g) > pour_doubt_g(guide)) {
		guide->weighed_back = true;
		guide->stayed_g = fmax(0.0, over_g);
		guide_go(guide, GUIDE_POUR, PHASE_EMPTIED);
	}
	if (pour_rested(guide) && over_g < EMPTIED_SHARE * contents_g)
		done(guide);
}

void pour_out_press(struct guide *guide)
{
	done(guide);
}
