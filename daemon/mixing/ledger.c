/* SPDX-License-Identifier: MIT */
#include "ledger.h"

#include <errno.h>
#include <math.h>

_Static_assert(GUIDE_POINTS_MAX <= 255, "points are indexed by uint8_t");
_Static_assert(GUIDE_POINTS_MAX >= 2 * GUIDE_DISPENSES_MAX + 4, "pan, cup, and two a dispense");

int ledger_point(struct guide *guide, double gross_g, double u_g)
{
	uint32_t index = guide->n_points;

	if (index >= GUIDE_POINTS_MAX)
		return -ENOSPC;
	guide->n_points++;
	ledger_move_point(guide, index, gross_g, u_g);
	return (int)index;
}

void ledger_move_point(struct guide *guide, uint32_t index, double gross_g, double u_g)
{
	guide->point[index] = (struct weighing_point){.gross_g = gross_g, .u_g = u_g};
	guide->point_us[index] = guide->reading.t_us;
	for (uint32_t i = 0; i < guide->n_dispenses; i++) {
		struct guide_dispense *row = &guide->dispense[i];

		if (!row->by_eye)
			row->mass_g = guide->point[row->after].gross_g -
			              guide->point[row->before].gross_g;
	}
}

int ledger_record(struct guide *guide)
{
	struct guide_dispense *row;
	int after;

	if (guide->open >= 0) {
		row = &guide->dispense[guide->open];
		row->end_us = guide->reading.t_us;
		ledger_move_point(guide, row->after, guide->reading.gross_g, guide->u_g);
		return 0;
	}
	if (guide->n_dispenses >= GUIDE_DISPENSES_MAX)
		return -ENOSPC;
	after = ledger_point(guide, guide->reading.gross_g, guide->u_g);
	if (after < 0)
		return after;
	guide->open = (int32_t)guide->n_dispenses++;
	row = &guide->dispense[guide->open];
	*row = (struct guide_dispense){
	        .component = guide->wanted,
	        .identity = guide->identity,
	        .before = guide->start_point,
	        .after = (uint8_t)after,
	        .top_up = guide->step == GUIDE_TOP_UP,
	        .mass_g = guide->point[after].gross_g - guide->point[guide->start_point].gross_g,
	        .start_us = guide->first_gram_us < 0 ? guide->reading.t_us : guide->first_gram_us,
	        .end_us = guide->reading.t_us,
	};
	return 0;
}

void ledger_close(struct guide *guide)
{
	if (guide->open >= 0)
		guide->start_point = guide->dispense[guide->open].after;
	guide->start_fresh = false;
	guide->open = -1;
	guide->first_gram_us = -1;
}

static double sum_g(const struct guide *guide, enum component component, int32_t but_row)
{
	double sum = 0.0;

	for (uint32_t i = 0; i < guide->n_dispenses; i++)
		if ((int32_t)i != but_row && guide->dispense[i].component == component)
			sum += guide->dispense[i].mass_g;
	return sum;
}

double ledger_mass_g(const struct guide *guide, enum component component)
{
	return sum_g(guide, component, -1);
}

double ledger_mass_before_g(const struct guide *guide, enum component component)
{
	return sum_g(guide, component, guide->open);
}

double ledger_contents_g(const struct guide *guide)
{
	double sum = 0.0;

	for (uint32_t i = 0; i < guide->n_dispenses; i++)
		sum += guide->dispense[i].mass_g;
	return fmax(0.0, sum - guide->given_g);
}

static bool reactive(enum component component)
{
	return component == COMPONENT_A || component == COMPONENT_B;
}

/* Rows as ratio_of() takes them; -1 for but_row takes all. */
static size_t parts_of(const struct guide *guide, int32_t but_row, struct weighed_part *parts)
{
	size_t n = 0;

	for (uint32_t i = 0; i < guide->n_dispenses; i++) {
		const struct guide_dispense *row = &guide->dispense[i];

		if ((int32_t)i == but_row || row->by_eye || !reactive(row->component))
			continue;
		parts[n++] = (struct weighed_part){
		        .part = row->component == COMPONENT_A ? PART_A : PART_B,
		        .before = row->before,
		        .after = row->after,
		};
	}
	return n;
}

static int inherited(const struct guide *guide, struct ratio *ret)
{
	double ratio;

	if (!(guide->inherited_resin_g > 0.0))
		return -EDOM;
	ratio = guide->inherited_hardener_g / guide->inherited_resin_g;
	*ret = (struct ratio){
	        .resin_g = guide->inherited_resin_g,
	        .hardener_g = guide->inherited_hardener_g,
	        .ratio = ratio,
	        .u_ratio = guide->inherited_u_ratio,
	        .deviation_pct = 100.0 * (ratio / guide->recipe.ratio - 1.0),
	        .u_deviation_pct = 100.0 * guide->inherited_u_ratio / guide->recipe.ratio,
	};
	return 0;
}

int ledger_ratio(const struct guide *guide, struct ratio *ret)
{
	struct weighed_part parts[GUIDE_DISPENSES_MAX];
	size_t n;

	if (guide->divided)
		return inherited(guide, ret);
	n = parts_of(guide, -1, parts);
	return ratio_of(guide->point, guide->n_points, parts, n, guide->recipe.system.hardener,
	                guide->recipe.ratio, ret);
}

int ledger_ratio_live(const struct guide *guide, double gross_g, struct ratio *ret)
{
	struct weighing_point points[GUIDE_POINTS_MAX + 1u];
	struct weighed_part parts[GUIDE_DISPENSES_MAX + 1u];
	size_t n;

	if (guide->divided || !reactive(guide->wanted))
		return ledger_ratio(guide, ret);
	for (uint32_t i = 0; i < guide->n_points; i++)
		points[i] = guide->point[i];
	points[guide->n_points] = (struct weighing_point){.gross_g = gross_g, .u_g = guide->u_g};
	n = parts_of(guide, guide->open, parts);
	parts[n++] = (struct weighed_part){
	        .part = guide->wanted == COMPONENT_A ? PART_A : PART_B,
	        .before = guide->start_point,
	        .after = (uint8_t)guide->n_points,
	};
	return ratio_of(points, guide->n_points + 1u, parts, n, guide->recipe.system.hardener,
	                guide->recipe.ratio, ret);
}

int ledger_ratio_without(const struct guide *guide, enum part part, double mass_g,
                         struct ratio *ret)
{
	double relative;
	int r = ledger_ratio(guide, ret);

	if (r < 0)
		return r;
	relative = ret->ratio > 0.0 ? ret->u_ratio / ret->ratio : 0.0;
	*(part == guide->recipe.system.hardener ? &ret->hardener_g : &ret->resin_g) -= mass_g;
	if (!(ret->resin_g > 0.0) || !(ret->hardener_g > 0.0))
		return -EDOM;
	ret->ratio = ret->hardener_g / ret->resin_g;
	ret->u_ratio = relative * ret->ratio;
	ret->deviation_pct = 100.0 * (ret->ratio / guide->recipe.ratio - 1.0);
	ret->u_deviation_pct = 100.0 * ret->u_ratio / guide->recipe.ratio;
	return 0;
}

bool ledger_has_room(const struct guide *guide)
{
	return guide->n_dispenses + 2u <= GUIDE_DISPENSES_MAX &&
	       guide->n_points + 4u <= GUIDE_POINTS_MAX;
}
