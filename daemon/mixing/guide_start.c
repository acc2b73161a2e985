/* SPDX-License-Identifier: MIT */
#include "guide_inside.h"

#include <math.h>

/* Where a charge is weighed from: a fresh reading, the point shared with the charge
 * before, and what becomes of both when a tail comes late or mass goes missing. */

/* Before anything of this charge has come: a reading whose average does not overlap
 * the last point's is a better start than the point shared with the charge before.
 * What changed in between and cannot be explained widens its doubt. */
void charge_refresh_start(struct guide *guide)
{
	const struct reading *now = &guide->reading;
	double gap_g = now->gross_g - guide->point[guide->start_point].gross_g;
	double u_g = guide->u_g;
	int fresh;

	if (!pour_settled(guide) || now->still_since_us <= guide->point_us[guide->start_point])
		return;
	if (fabs(gap_g) > pour_doubt_g(guide))
		u_g = sqrt(u_g * u_g + gap_g * gap_g / 3.0);
	if (guide->start_fresh) {
		/* Keep the wider doubt: the gap was seen when the point was new. */
		ledger_move_point(guide, guide->start_point, now->gross_g,
		                  fmax(u_g, guide->point[guide->start_point].u_g));
		return;
	}
	fresh = ledger_has_room(guide) ? ledger_point(guide, now->gross_g, u_g) : -1;
	if (fresh < 0)
		return;
	if (fabs(gap_g) > pour_doubt_g(guide))
		guide->unexplained_g += gap_g;
	guide->start_point = (uint8_t)fresh;
	guide->start_fresh = true;
}

void charge_tail(struct guide *guide, bool was_before)
{
	uint32_t last = guide->n_dispenses;

	if (was_before && last > 0) {
		struct guide_dispense *row = &guide->dispense[last - 1];

		row->end_us = guide->reading.t_us;
		ledger_move_point(guide, row->after, guide->reading.gross_g, guide->u_g);
		guide->start_point = row->after;
		guide->start_fresh = false;
		guide->change_us = guide->t_us;
		pour_accept(guide);
		judge_again(guide);
		return;
	}
	guide->asks_still_flowing = false;
}

void charge_lose(struct guide *guide)
{
	double loss_g = guide->reading.gross_g - guide->rest.gross_g;
	double contents_a = ledger_mass_g(guide, COMPONENT_A);
	double contents_b = ledger_mass_g(guide, COMPONENT_B);
	uint8_t last;
	bool alone;

	last = guide->open >= 0 ? guide->dispense[guide->open].after : guide->start_point;
	alone = guide->n_dispenses <= 1 || contents_a <= 0.0 || contents_b <= 0.0;
	guide->accepted |= ACCEPTED_LOSS;
	if (alone && guide->first_gram_us < 0 && guide->open < 0 && guide->n_dispenses > 0) {
		/* Only one thing is in the cup, so that is what went. */
		charge_tail(guide, true);
	} else if (alone && guide->n_dispenses <= 1) {
		; /* the present charge is the only one: its own mass falls */
	} else {
		/* Nobody knows of which part it was: what was poured stays, in doubt. */
		double u_g = sqrt(guide->u_g * guide->u_g + loss_g * loss_g / 3.0);
		int after;

		guide->unexplained_g += loss_g;
		if (guide->first_gram_us >= 0 && guide->open < 0 && ledger_has_room(guide)) {
			struct reading kept = guide->reading;

			guide->reading.gross_g = guide->rest.gross_g;
			ledger_record(guide);
			guide->reading = kept;
			last = guide->dispense[guide->open].after;
		}
		guide->point[last].u_g = fmax(guide->point[last].u_g, u_g);
		after = ledger_point(guide, guide->reading.gross_g, guide->u_g);
		ledger_close(guide);
		if (after >= 0)
			guide->start_point = (uint8_t)after;
		guide->start_fresh = after >= 0;
		guide->first_gram_us = -1;
	}
	pour_accept(guide);
	if (guide->phase != PHASE_LIVE && guide->phase != PHASE_BY_EYE)
		judge_rested(guide);
	else
		judge_again(guide);
}
