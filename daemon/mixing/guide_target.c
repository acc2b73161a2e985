/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

#include "tint.h"

/* What the present charge should come to, from what is really in the cup. */

bool charge_is_reactive(enum component component)
{
	return component == COMPONENT_A || component == COMPONENT_B;
}

enum component charge_other(enum component component)
{
	return component == COMPONENT_A ? COMPONENT_B : COMPONENT_A;
}

enum component charge_of_part(enum part part)
{
	return part == PART_A ? COMPONENT_A : COMPONENT_B;
}

bool charge_is_powder(const struct guide *guide)
{
	return (guide->wanted == COMPONENT_TINT || guide->wanted == COMPONENT_FILLER) &&
	       guide->dilution_pct <= 0.0;
}

static bool hardens(const struct guide *guide, enum component component)
{
	return component == charge_of_part(guide->recipe.system.hardener);
}

static double cup_holds_g(const struct guide *guide)
{
	double by_max_g = guide->recipe.max_g - (guide->pan_g + guide->cup_g);

	return guide->recipe.cup_limit_g > 0.0 ? fmin(by_max_g, guide->recipe.cup_limit_g)
	                                       : by_max_g;
}

double charge_room_g(const struct guide *guide)
{
	return fmax(0.0, cup_holds_g(guide) - ledger_contents_g(guide));
}

/* The most of the first part that still leaves room for the other at the ratio. */
static double first_part_fits_g(const struct guide *guide)
{
	double ratio = guide->recipe.ratio;
	double mixed_g = cup_holds_g(guide) / (1.0 + guide->recipe.tint_pct / 100.0);

	return hardens(guide, guide->wanted) ? mixed_g * ratio / (1.0 + ratio)
	                                     : mixed_g / (1.0 + ratio);
}

static void first_target(const struct guide *guide, struct charge_target *ret)
{
	double have_g = ledger_mass_before_g(guide, guide->wanted);
	double planned_g = guide->recipe.charge[guide->charge].target_g;

	ret->target_g = planned_g - have_g;
	ret->low_g = FIRST_PART_LOW * planned_g - have_g;
	ret->high_g = fmax(planned_g, first_part_fits_g(guide)) - have_g;
}

static void second_target(const struct guide *guide, double other_g, struct charge_target *ret)
{
	bool hardener = hardens(guide, guide->wanted);
	double have_g = ledger_mass_before_g(guide, guide->wanted);
	double aim = guide->step == GUIDE_TOP_UP ? guide->top_up.aim_ratio : guide->recipe.ratio;
	double exact_g = hardener ? other_g * guide->recipe.ratio : other_g / guide->recipe.ratio;
	double guarded = 0.0;
	struct ratio ratio;

	ret->judged = true;
	ret->target_g = (hardener ? other_g * aim : other_g / aim) - have_g;
	/* The doubt at the target: what is guarded away there. */
	if (ledger_ratio_live(guide, guide->point[guide->start_point].gross_g + ret->target_g,
	                      &ratio) == 0)
		guarded = fmax(0.0, guide->recipe.tolerance_pct - 2.0 * ratio.u_deviation_pct) /
		          100.0;
	ret->low_g = (hardener ? exact_g * (1.0 - guarded) : exact_g / (1.0 + guarded)) - have_g;
	ret->high_g = (hardener ? exact_g * (1.0 + guarded) : exact_g / (1.0 - guarded)) - have_g;
}

/* Mixed mass as it will be, from the reactive parts that are in. */
static double mixed_g(const struct guide *guide)
{
	double a = ledger_mass_before_g(guide, COMPONENT_A);
	double b = ledger_mass_before_g(guide, COMPONENT_B);
	double ratio = guide->recipe.ratio;

	if (guide->divided)
		return ledger_mass_before_g(guide, COMPONENT_MIXED);
	if (a > 0.0 && b > 0.0)
		return a + b;
	if (a <= 0.0 && b <= 0.0)
		return guide->recipe.total_g;
	return hardens(guide, a > 0.0 ? COMPONENT_A : COMPONENT_B) ? (a + b) * (1.0 + 1.0 / ratio)
	                                                           : (a + b) * (1.0 + ratio);
}

static void powder_target(const struct guide *guide, struct charge_target *ret)
{
	const struct recipe_charge *charge = &guide->recipe.charge[guide->charge];
	double in_all_g = mixed_g(guide), share = charge->share_pct, most_pct;
	double pure = guide->dilution_pct > 0.0 ? guide->dilution_pct / 100.0 : 1.0;
	double have_g = ledger_mass_before_g(guide, guide->wanted);

	most_pct = fmax(share * (1.0 + POWDER_BAND), tint_max_pct(&guide->recipe.system));
	ret->target_g = (tint_dose_g(in_all_g, share) - have_g) / pure;
	ret->low_g = ret->target_g - fmax(POWDER_BAND * ret->target_g, pour_doubt_g(guide));
	ret->high_g = (tint_dose_g(in_all_g, most_pct) - have_g) / pure;
}

void charge_target(const struct guide *guide, struct charge_target *ret)
{
	double other_g;

	*ret = (struct charge_target){
	        .dispensed_g = guide->reading.gross_g - guide->point[guide->start_point].gross_g,
	};
	switch (guide->wanted) {
	case COMPONENT_A:
	case COMPONENT_B:
		other_g = ledger_mass_before_g(guide, charge_other(guide->wanted));
		if (other_g > 0.0)
			second_target(guide, other_g, ret);
		else
			first_target(guide, ret);
		break;
	case COMPONENT_TINT:
	case COMPONENT_FILLER:
		powder_target(guide, ret);
		break;
	case COMPONENT_MIXED:
		ret->target_g = guide->recipe.charge[guide->charge].target_g;
		ret->low_g = FIRST_PART_LOW * ret->target_g;
		ret->high_g = fmax(ret->target_g / FIRST_PART_LOW, ret->target_g);
		break;
	}
}
