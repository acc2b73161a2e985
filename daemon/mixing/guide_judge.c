/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

#include "tint.h"

/* At rest: what the ratio says of what was weighed, and the way on from there. */

static void plan_top_up(struct guide *guide, const struct ratio *ratio)
{
	const struct resin_system *system = &guide->recipe.system;
	struct top_up_limits limits = {
	        .room_g = charge_room_g(guide),
	        .smallest_dose_g = guide->recipe.smallest_dose_g,
	        .tolerance_pct = guide->recipe.tolerance_pct,
	        .u_deviation_pct = ratio->u_deviation_pct,
	};

	for (int part = PART_A; part <= PART_B; part++) {
		double there_g = system->part[part].available_g;

		limits.available_g[part] =
		        there_g < 0.0
		                ? -1.0
		                : fmax(0.0,
		                       there_g - ledger_mass_g(guide,
		                                               charge_of_part((enum part)part)));
	}
	if (ratio_top_up(ratio, system->hardener, guide->recipe.ratio, &limits, &guide->top_up) < 0)
		guide->top_up = (struct top_up){.reason = TOP_UP_CANNOT_BE_TOLD};
	if (!ledger_has_room(guide))
		guide->top_up.fits = 0; /* the tables are full: no more corrections */
}

/* Over: the other part sets it right, where that fits. */
static void judge_over(struct guide *guide, const struct ratio *ratio)
{
	plan_top_up(guide, ratio);
	guide_go(guide, guide->step, guide->top_up.fits ? PHASE_TOO_MUCH : PHASE_STUCK);
}

/* The tail of a part may have come after its verdict, into a later charge: what is
 * recorded last is judged last. */
static bool still_stands(struct guide *guide)
{
	const uint32_t answered = ACCEPTED_OUTSIDE | ACCEPTED_CANNOT_TELL;
	struct ratio ratio;

	if (guide->divided || (guide->accepted & answered) != 0)
		return true;
	if (ledger_ratio(guide, &ratio) < 0)
		return false;
	guide->verdict = ratio_judge(&ratio, guide->recipe.tolerance_pct).verdict;
	if (guide->verdict == VERDICT_WITHIN)
		return true;
	judge_over(guide, &ratio);
	return false;
}

static void charge_is_in(struct guide *guide)
{
	if (charge_following(guide) != NULL)
		guide_go(guide, GUIDE_CHARGE, PHASE_RESTED);
	else if (still_stands(guide))
		guide_go(guide, guide->step, PHASE_VERDICT);
}

/* A charge of which nothing came has no row. */
static void record_what_came(struct guide *guide, const struct charge_target *target)
{
	if (guide->open >= 0 || fabs(target->dispensed_g) > pour_doubt_g(guide))
		ledger_record(guide);
}

/* Short of the part being dispensed: can more of it still set it right? */
static bool goes_on(struct guide *guide, const struct ratio *ratio,
                    const struct charge_target *target)
{
	bool band_empty = 2.0 * ratio->u_deviation_pct >= guide->recipe.tolerance_pct;

	if (guide->step != GUIDE_TOP_UP)
		return !band_empty || target->target_g - target->dispensed_g > pour_doubt_g(guide);
	record_what_came(guide, target);
	plan_top_up(guide, ratio);
	return guide->top_up.fits;
}

static void withdraw(struct guide *guide, enum verdict before, const struct ratio *ratio)
{
	if (before == VERDICT_WITHIN && guide->verdict != VERDICT_WITHIN)
		guide_note(guide, (struct message){.id = MESSAGE_VERDICT_WITHDRAWN,
		                                   .has = MESSAGE_HAS_PCT,
		                                   .pct = ratio->deviation_pct});
}

void judge_again(struct guide *guide)
{
	enum verdict before = guide->verdict;
	struct ratio ratio;

	if (before == VERDICT_NONE || guide->divided || ledger_ratio(guide, &ratio) < 0)
		return;
	guide->verdict = ratio_judge(&ratio, guide->recipe.tolerance_pct).verdict;
	withdraw(guide, before, &ratio);
}

static void judge_ratio(struct guide *guide)
{
	struct ratio ratio;
	struct ratio_verdict judged;
	struct charge_target target;
	enum verdict before = guide->verdict;
	enum component hardener = charge_of_part(guide->recipe.system.hardener), more;

	if (ledger_ratio_live(guide, guide->reading.gross_g, &ratio) < 0)
		return;
	judged = ratio_judge(&ratio, guide->recipe.tolerance_pct);
	more = ratio.deviation_pct > 0.0 ? charge_other(hardener) : hardener;
	charge_target(guide, &target);
	if (judged.verdict == VERDICT_NONE)
		return;
	if (judged.verdict != VERDICT_WITHIN && more == guide->wanted &&
	    goes_on(guide, &ratio, &target)) {
		if (guide->phase != PHASE_LIVE) {
			guide->verdict = VERDICT_NONE;
			guide_go(guide, guide->step, PHASE_LIVE);
		}
	} else {
		record_what_came(guide, &target);
		guide->verdict = judged.verdict;
		guide->provisional = true;
		guide->accepted &= ~(uint32_t)(ACCEPTED_OUTSIDE | ACCEPTED_CANNOT_TELL);
		if (judged.verdict == VERDICT_WITHIN)
			charge_is_in(guide);
		else if (more == guide->wanted)
			guide_go(guide, guide->step, PHASE_STUCK);
		else
			judge_over(guide, &ratio);
	}
	withdraw(guide, before, &ratio);
}

static void warn_of_tint(struct guide *guide, const struct charge_target *target)
{
	double most_pct = tint_max_pct(&guide->recipe.system);

	if (charge_is_powder(guide) && target->dispensed_g > target->high_g &&
	    target->target_g > 0.0)
		guide_note(guide, (struct message){
		                          .id = MESSAGE_TINT_TOO_MUCH,
		                          .has = MESSAGE_HAS_PCT | MESSAGE_HAS_OTHER_PCT,
		                          .pct = guide->recipe.charge[guide->charge].share_pct *
		                                 target->dispensed_g / target->target_g,
		                          .other_pct = most_pct,
		                  });
}

void judge_rested(struct guide *guide)
{
	struct charge_target target;
	bool in_bounds;

	charge_target(guide, &target);
	if (target.judged) {
		judge_ratio(guide);
		return;
	}
	if (target.dispensed_g < target.low_g || target.dispensed_g <= 0.0) {
		if (guide->phase != PHASE_LIVE)
			guide_go(guide, guide->step, PHASE_LIVE); /* taken out again */
		return;
	}
	ledger_record(guide);
	in_bounds = target.dispensed_g <= target.high_g;
	if (!in_bounds && charge_is_reactive(guide->wanted)) {
		/* So much of the first part that the other cannot fit. */
		guide->top_up = (struct top_up){
		        .reason = TOP_UP_NO_ROOM,
		        .short_of_g = target.dispensed_g - target.high_g,
		};
		guide_go(guide, guide->step, PHASE_TOO_MUCH);
		return;
	}
	warn_of_tint(guide, &target);
	charge_is_in(guide);
}
