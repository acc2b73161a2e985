/* SPDX-License-Identifier: MIT */
/* What a layer weighs, and how much of it one cup may hold. */
#include <errno.h>
#include <math.h>

#include "cup.h"
#include "plan_inside.h"

#define SMALLEST_BATCH_G 10.0
#define LARGEST_BATCH_G  50000.0

double plan_resin_degc(const struct piece *piece)
{
	return isnan(piece->resin_degc) ? piece->room_degc : piece->resin_degc;
}

static int in_cup(const struct coat_cut *cut, double mass_g, struct cup_result *ret)
{
	const struct cup_case cup = {.resin = cut->system->fit.resin,
	                             .mass_g = mass_g,
	                             .ambient_degc = cut->request->piece->room_degc,
	                             .start_degc = plan_resin_degc(cut->request->piece)};

	return cup_run(&cup, 0.0, ret);
}

/* What is left of the time when this much has been weighed, stirred and poured. */
static double spare_s(const struct coat_cut *cut, double mass_g)
{
	const double stir_s = cut->system->stir_s;
	struct cup_result cup;

	if (in_cup(cut, mass_g, &cup) < 0 || isnan(cup.gel_s))
		return INFINITY; /* too cold to gel: then nothing hurries */
	return fmin(PLAN_LIFE_SHARE * cup.gel_s - PLAN_WEIGH_LAST_S - stir_s -
	                    mass_g / cut->request->piece->pour_g_per_s,
	            PLAN_STIR_SHARE * cup.gel_s - stir_s);
}

int coat_batch_limit(struct coat_cut *cut, char *ret_sentence)
{
	double low = SMALLEST_BATCH_G, high = LARGEST_BATCH_G;

	cut->batch_max_g = cut->request->piece->cup_limit_g;
	cut->batch_rule = PLAN_RULE_CUP;
	if (cut->batch_max_g <= coat_cup_loss_g(cut))
		return plan_refuse(ret_sentence,
		                   "coat \"%s\": a cup of %.4g g keeps %.4g g of it, so that "
		                   "nothing is poured; expected a bigger cup or a smaller loss",
		                   cut->coat->name, cut->batch_max_g, coat_cup_loss_g(cut));
	if (spare_s(cut, fmin(high, cut->batch_max_g)) >= 0.0)
		return 0;
	if (spare_s(cut, low) < 0.0)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\": resin of %.1f C in a room of %.1f C gives no time "
		                   "to stir %.0f s and pour even %.0f g of %s; expected it cooler, "
		                   "or a slower system",
		                   cut->coat->name, plan_resin_degc(cut->request->piece),
		                   cut->request->piece->room_degc, cut->system->stir_s, low,
		                   cut->system->id);
	while (high / low > 1.001) {
		const double middle = sqrt(low * high);

		if (spare_s(cut, middle) >= 0.0)
			low = middle;
		else
			high = middle;
	}
	if (low < cut->batch_max_g) {
		cut->batch_max_g = low;
		cut->batch_rule = PLAN_RULE_WORKING_LIFE;
	}
	return 0;
}

double coat_volume_ml(const struct coat_cut *cut, double from_mm, double depth_mm)
{
	const struct piece *piece = cut->request->piece;
	struct inclusion in[PIECE_INCLUSIONS_MAX];
	size_t n = piece_displacing(piece, in);
	double area_mm2;

	if (cut->coat->top_coat) {
		area_mm2 = cavity_area_mm2(&piece->cavity, cavity_height_mm(&piece->cavity));
		return area_mm2 * depth_mm * 1e-3 * (1.0 + cut->coat->run_off_pct / 100.0);
	}
	return cavity_volume_ml(&piece->cavity, from_mm, from_mm + depth_mm) -
	       cavity_displaced_ml(in, n, from_mm, from_mm + depth_mm);
}

double coat_mass_g(const struct coat_cut *cut, double from_mm, double depth_mm)
{
	return coat_volume_ml(cut, from_mm, depth_mm) * cut->system->density_g_per_ml;
}

double coat_cup_loss_g(const struct coat_cut *cut)
{
	const double own = cut->request->piece->cup_loss_g;

	return isnan(own) ? cut->system->label.cup_loss_g : own;
}

/* Each cup keeps its loss, so that much more goes into it. */
int coat_batches(const struct coat_cut *cut, double mass_g)
{
	const double each_g = cut->batch_max_g - coat_cup_loss_g(cut);

	/* Also where the working life lets less be mixed than stays in the cup. */
	if (mass_g > each_g * (PLAN_BATCHES_MAX + 0.5))
		return (int)PLAN_BATCHES_MAX + 1;
	return isinf(each_g) ? 1 : (int)fmax(1.0, ceil(mass_g / each_g - 1e-9));
}

double coat_depth_of_batches_mm(const struct coat_cut *cut, double from_mm, int batches)
{
	const double most_g = batches * (cut->batch_max_g - coat_cup_loss_g(cut));
	double low = 0.0, high = cut->to_mm - from_mm;

	if (isinf(most_g) || coat_mass_g(cut, from_mm, high) <= most_g)
		return INFINITY;
	for (int i = 0; i < 60; i++) {
		const double middle = 0.5 * (low + high);

		if (coat_mass_g(cut, from_mm, middle) <= most_g)
			low = middle;
		else
			high = middle;
	}
	return low;
}

void coat_weigh(const struct coat_cut *cut, struct plan_layer *layer)
{
	struct cup_result cup;
	double mixed_g;

	layer->volume_ml = coat_volume_ml(cut, layer->from_mm, layer->depth_mm);
	layer->in_piece_g = layer->volume_ml * cut->system->density_g_per_ml;
	layer->batches = coat_batches(cut, layer->in_piece_g);
	layer->loss_g = layer->batches * coat_cup_loss_g(cut);
	layer->total_g = layer->in_piece_g + layer->loss_g;
	mixed_g = layer->total_g / (1.0 + cut->tint_share);
	layer->tint_g = layer->total_g - mixed_g;
	layer->a_g = mixed_g * cut->system->a_share;
	layer->b_g = mixed_g * cut->system->b_share;
	layer->batch_g = layer->total_g / layer->batches;
	layer->cup_gel_s = layer->cup_peak_degc = (double)NAN;
	if (in_cup(cut, layer->batch_g, &cup) == 0) {
		layer->cup_gel_s = cup.gel_s;
		layer->cup_peak_degc = cup.peak_degc;
	}
	layer->session_s = layer->batches * (PLAN_WEIGH_S + cut->system->stir_s) +
	                   layer->total_g / cut->request->piece->pour_g_per_s;
}
