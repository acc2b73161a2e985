/* SPDX-License-Identifier: MIT */
#include "poured.h"

#include <errno.h>
#include <math.h>

#include "cup.h"

static int add_up(const struct casting_system *system, const struct poured_batch *batches, size_t n,
                  double usual_loss_g, struct poured_layer *layer)
{
	double a_g = 0.0, b_g = 0.0;

	for (size_t i = 0; i < n; i++) {
		const struct poured_batch *one = &batches[i];
		const double all = one->a_g + one->b_g + one->tint_g;
		const double stayed = isnan(one->stayed_g) ? usual_loss_g : one->stayed_g;

		if (!(one->a_g >= 0.0 && one->b_g >= 0.0 && one->tint_g >= 0.0) ||
		    !(one->a_g + one->b_g > 0.0) || !isfinite(all))
			return -EINVAL;
		a_g += one->a_g;
		b_g += one->b_g;
		layer->in_piece_g += fmax(all - stayed, 0.0);
	}
	layer->ratio = system->hardener == PART_B ? b_g / a_g : a_g / b_g;
	layer->deviation_pct = 100.0 * (layer->ratio / system->ratio - 1.0);
	layer->volume_ml = layer->in_piece_g / system->density_g_per_ml;
	return isfinite(layer->ratio) && layer->ratio > 0.0 ? 0 : -EINVAL;
}

static int find_depth(const struct piece *piece, bool top_coat, struct poured_layer *layer)
{
	struct inclusion in[PIECE_INCLUSIONS_MAX];
	const size_t n = piece_displacing(piece, in);
	const double height = cavity_height_mm(&piece->cavity);
	double level = layer->from_mm;
	int r;

	if (top_coat) {
		layer->depth_mm =
		        1000.0 * layer->volume_ml / cavity_area_mm2(&piece->cavity, height);
		return 0;
	}
	r = cavity_level_mm(&piece->cavity, in, n, layer->from_mm, layer->volume_ml, &level);
	if (r == -ERANGE)
		layer->over_ml = layer->volume_ml -
		                 (cavity_volume_ml(&piece->cavity, layer->from_mm, height) -
		                  cavity_displaced_ml(in, n, layer->from_mm, height));
	else if (r < 0)
		return r;
	layer->depth_mm = level - layer->from_mm;
	return 0;
}

/* How far the first batch had come in its cup. */
static int in_the_cup(const struct poured_batch *first, struct heat_case *heat)
{
	const struct cup_case cup = {.resin = heat->resin,
	                             .mass_g = first->a_g + first->b_g + first->tint_g,
	                             .ambient_degc = heat->ambient_degc,
	                             .start_degc = heat->start_degc};
	struct cup_result result;
	int r;

	if (!(first->cup_s > 0.0))
		return 0;
	r = cup_run(&cup, first->cup_s, &result);
	if (r < 0)
		return r;
	/* cup_run() ends where it gels and cools: poured later, it is at least so far. What
	 * ran away in its cup no longer tells a temperature. */
	heat->start_degc = fmin(result.end_degc, HEAT_RUNAWAY_DEGC);
	heat->start_conversion = result.end_conversion;
	return 0;
}

int poured_layer(const struct piece *piece, const struct casting_system *system, bool top_coat,
                 double from_mm, const struct poured_batch *batches, size_t n, double usual_loss_g,
                 double room_degc, struct poured_layer *ret)
{
	const struct casting_resin *label = &system->fit.resin;
	struct poured_layer layer = {.from_mm = from_mm};
	struct heat_case *heat = &layer.heat;
	int r = n > 0 ? add_up(system, batches, n, usual_loss_g, &layer) : -EINVAL;

	if (r == 0)
		r = find_depth(piece, top_coat, &layer);
	if (r < 0)
		return r;
	heat->resin = casting_resin_weighed(
	        label,
	        cure_weighed_stoichiometry(label->cure.stoichiometry, layer.ratio, system->ratio),
	        system->ratio);
	heat->depth_mm = fmin(fmax(layer.depth_mm, HEAT_DEPTH_MIN_MM), HEAT_DEPTH_MAX_MM);
	heat->below_mm = from_mm;
	heat->below = label->material;
	heat->top_w_per_m2k = HEAT_TOP_W_PER_M2K;
	heat->bottom_w_per_m2k = piece->bottom_w_per_m2k;
	heat->ambient_degc = heat->below_degc = room_degc;
	heat->start_degc = isnan(batches[0].resin_degc) ? room_degc : batches[0].resin_degc;
	r = in_the_cup(&batches[0], heat);
	if (r == 0)
		*ret = layer;
	return r;
}

int poured_course(const struct poured_layer *layer, const struct casting_system *system,
                  double holds_equivalent_s, const struct room_reading *room, size_t n_room,
                  struct layer_course *ret)
{
	struct layer_times times = system->course;

	if (holds_equivalent_s > 0.0)
		times.holds_s = holds_equivalent_s;
	return layer_course(&layer->heat, room, n_room, &times, ret);
}
