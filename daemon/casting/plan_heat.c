/* SPDX-License-Identifier: MIT */
/* How warm a planned layer gets, how sure that is, and when it may be touched. */
#include <errno.h>
#include <math.h>
#include <stdio.h>

#include "plan_inside.h"

/* What must not get hotter than it bears: all that lies in or under the layer. */
double coat_heat_limit(const struct coat_cut *cut, double top_mm, char ret_of[SYSTEM_LABEL_MAX])
{
	const struct piece *piece = cut->request->piece;
	double limit = cut->system->label.peak_max_degc;

	snprintf(ret_of, SYSTEM_LABEL_MAX, "system");
	if (piece->mould_limit_degc < limit) {
		limit = piece->mould_limit_degc;
		snprintf(ret_of, SYSTEM_LABEL_MAX, "mould");
	}
	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const struct piece_inclusion *it = &piece->inclusions[i];

		if (it->rests_on_mm >= top_mm || it->heat_limit_degc >= limit)
			continue;
		limit = it->heat_limit_degc;
		snprintf(ret_of, SYSTEM_LABEL_MAX, "%s", it->name);
	}
	return limit;
}

struct heat_case coat_heat_case(const struct coat_cut *cut, double from_mm, double depth_mm)
{
	const struct piece *piece = cut->request->piece;

	return (struct heat_case){.resin = cut->system->fit.resin,
	                          .depth_mm = depth_mm,
	                          .below_mm = from_mm,
	                          .below = cut->system->fit.resin.material,
	                          .top_w_per_m2k = HEAT_TOP_W_PER_M2K,
	                          .bottom_w_per_m2k = piece->bottom_w_per_m2k,
	                          .ambient_degc = piece->room_degc,
	                          .start_degc = plan_resin_degc(piece),
	                          .below_degc = piece->room_degc};
}

int coat_layer_cool(const struct coat_cut *cut, struct plan_layer *layer)
{
	const struct heat_case heat = coat_heat_case(cut, layer->from_mm, layer->depth_mm);
	struct heat_wanted wanted = {.tolerance_k = 5e-3};
	struct heat_result result;
	int r;

	layer->heat_limit_degc =
	        coat_heat_limit(cut, layer->from_mm + layer->depth_mm, layer->heat_limit_of);
	wanted.stop_above_degc = layer->heat_limit_degc;
	r = heat_run(&heat, &wanted, &result);
	return r < 0 ? r : result.peak_degc <= layer->heat_limit_degc;
}

int coat_layer_band(const struct coat_cut *cut, struct plan_layer *layer)
{
	const struct heat_case heat = coat_heat_case(cut, layer->from_mm, layer->depth_mm);
	struct band_layer band;
	int r = band_layer(cut->band, &heat, &band);

	if (r < 0)
		return r;
	layer->heat_limit_degc =
	        coat_heat_limit(cut, layer->from_mm + layer->depth_mm, layer->heat_limit_of);
	layer->peak_band_degc = band.peak_degc;
	layer->runaway_share = band.runaway_share;
	/* The doubt of the gel is that of the two clocks: kept here as factors. */
	layer->opens_p95_s = band.gel_top_s.p95 / band.gel_top_s.p50;
	layer->closes_p5_s = band.gel_top_s.p5 / band.gel_top_s.p50;
	return band.peak_degc.p95 <= layer->heat_limit_degc;
}

int coat_layer_course(const struct coat_cut *cut, struct plan_layer *layer)
{
	const struct heat_case heat = coat_heat_case(cut, layer->from_mm, layer->depth_mm);
	const struct room_reading room = {0.0, cut->request->piece->room_degc};
	struct layer_course course;
	const struct casting_label *label = &cut->system->label;
	const double *at = course.at_s;
	int r = layer_course(&heat, &room, 1, &cut->system->course, &course);

	if (r < 0)
		return r;
	layer->peak_degc = course.heat.peak_degc;
	layer->curve = course.curve;
	layer->gel_middle_s = course.heat.gel_middle_s;
	layer->gel_top_s = course.heat.gel_top_s;
	layer->holds_s = at[CLOCK_HOLDS];
	layer->sticky_s = at[CLOCK_STICKY];
	/* Where the label tells, its word is taken for sure. */
	layer->opens_s = at[LAYER_OPENS];
	layer->opens_p95_s =
	        label->recoat_opens_s > 0.0 ? layer->opens_s : layer->opens_s * layer->opens_p95_s;
	layer->closes_s = at[CLOCK_BOND_CLOSES];
	layer->closes_p5_s = label->recoat_closes_s > 0.0 ? layer->closes_s
	                                                  : layer->closes_s * layer->closes_p5_s;
	if (layer->closes_s <= layer->opens_s)
		layer->closes_s = layer->closes_p5_s = (double)NAN;
	layer->handle_s = at[CLOCK_HANDLE];
	layer->full_cure_s = at[CLOCK_FULL_CURE];
	return 0;
}
