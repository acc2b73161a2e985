/* SPDX-License-Identifier: MIT */
#include "poured.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

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

/* Of what was poured as a top coat, the share that stays on the piece. */
static double stays_on(const struct piece *piece)
{
	for (size_t i = 0; i < piece->n_coats; i++)
		if (piece->coats[i].top_coat)
			return 1.0 / (1.0 + piece->coats[i].run_off_pct / 100.0);
	return 1.0;
}

static int find_depth(const struct piece *piece, bool top_coat, struct poured_layer *layer)
{
	struct inclusion in[PIECE_INCLUSIONS_MAX];
	const size_t n = piece_displacing(piece, in);
	const double height = cavity_height_mm(&piece->cavity);
	double level = layer->from_mm;
	int r;

	if (top_coat) {
		layer->depth_mm = 1000.0 * stays_on(piece) * layer->volume_ml /
		                  cavity_area_mm2(&piece->cavity, height);
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

/* How far a batch had come in its cup. */
static int in_the_cup(const struct poured_batch *batch, const struct heat_case *heat,
                      struct poured_start *ret)
{
	const double room_degc = heat->ambient_degc;
	const struct cup_case cup = {.resin = heat->resin,
	                             .mass_g = batch->a_g + batch->b_g + batch->tint_g,
	                             .ambient_degc = room_degc,
	                             .start_degc = isnan(batch->resin_degc) ? room_degc
	                                                                    : batch->resin_degc};
	struct cup_result result;
	int r;

	*ret = (struct poured_start){.poured_s = fmax(batch->poured_s, 0.0),
	                             .degc = cup.start_degc};
	if (!(batch->cup_s > 0.0))
		return 0;
	r = cup_run(&cup, batch->cup_s, &result);
	if (r < 0)
		return r;
	/* cup_run() ends where it gels and cools: poured later, it is at least so far. What
	 * ran away in its cup no longer tells a temperature. */
	ret->degc = fmin(result.end_degc, HEAT_RUNAWAY_DEGC);
	ret->conversion = result.end_conversion;
	return 0;
}

int poured_layer(const struct piece *piece, const struct casting_system *system, bool top_coat,
                 double from_mm, const struct poured_batch *batches, size_t n, double usual_loss_g,
                 double room_degc, struct poured_layer *ret)
{
	const struct casting_resin *label = &system->fit.resin;
	struct poured_layer layer = {.from_mm = from_mm};
	struct heat_case *heat = &layer.heat;
	int r = n > 0 && n <= POURED_BATCHES_MAX ? add_up(system, batches, n, usual_loss_g, &layer)
	                                         : -EINVAL;

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
	for (layer.n = 0; r == 0 && layer.n < n; layer.n++)
		r = in_the_cup(&batches[layer.n], heat, &layer.start[layer.n]);
	if (r < 0)
		return r;
	heat->start_degc = layer.start[0].degc;
	heat->start_conversion = layer.start[0].conversion;
	*ret = layer;
	return 0;
}

static struct heat_case heat_of(const struct poured_layer *layer, size_t i)
{
	struct heat_case heat = layer->heat;

	heat.start_degc = layer->start[i].degc;
	heat.start_conversion = layer->start[i].conversion;
	return heat;
}

/* The room as this batch knew it: counted from its own pour. The caller frees. */
static struct room_reading *room_of(const struct poured_start *start,
                                    const struct room_reading *room, size_t n)
{
	struct room_reading *own = calloc(n, sizeof(*own));

	for (size_t i = 0; own != NULL && i < n; i++)
		own[i] = (struct room_reading){room[i].t_s - start->poured_s, room[i].degc};
	return own;
}

static int course_of(const struct poured_layer *layer, size_t i, const struct layer_times *times,
                     const struct room_reading *room, size_t n_room, struct layer_course *ret)
{
	const struct heat_case heat = heat_of(layer, i);
	struct room_reading *own = room_of(&layer->start[i], room, n_room);
	int r = own != NULL ? layer_course(&heat, own, n_room, times, ret) : -ENOMEM;

	for (int event = 0; r == 0 && event < LAYER_EVENTS; event++)
		ret->at_s[event] += layer->start[i].poured_s;
	free(own);
	return r;
}

static double both(int event, double one_s, double other_s)
{
	if (layer_event_is_deadline(event))
		return fmin(one_s, other_s); /* NaN is never: the other's */
	return isnan(one_s) || isnan(other_s) ? (double)NAN : fmax(one_s, other_s);
}

static void merge(const struct layer_course *one, struct layer_course *all)
{
	const double hottest_degc = fmax(one->heat.peak_degc, all->heat.peak_degc);
	double at_s[LAYER_EVENTS];

	for (int event = 0; event < LAYER_EVENTS; event++)
		at_s[event] = both(event, one->at_s[event], all->at_s[event]);
	if (one->at_s[CLOCK_GEL] < all->at_s[CLOCK_GEL])
		*all = *one;
	all->heat.peak_degc = hottest_degc;
	for (int event = 0; event < LAYER_EVENTS; event++)
		all->at_s[event] = at_s[event];
}

int poured_course(const struct poured_layer *layer, const struct casting_system *system,
                  double holds_equivalent_s, const struct room_reading *room, size_t n_room,
                  struct layer_course *ret)
{
	struct layer_course *one = malloc(sizeof(*one));
	struct layer_times times = system->course;
	int r;

	if (one == NULL)
		return -ENOMEM;
	if (holds_equivalent_s > 0.0)
		times.holds_s = holds_equivalent_s;
	r = course_of(layer, 0, &times, room, n_room, ret);
	for (size_t i = 1; r == 0 && i < layer->n; i++) {
		r = course_of(layer, i, &times, room, n_room, one);
		if (r == 0)
			merge(one, ret);
	}
	free(one);
	return r;
}

int poured_holds_now(const struct poured_layer *layer, const struct casting_system *system,
                     const struct room_reading *room, size_t n_room, double at_s,
                     double *ret_equivalent_s)
{
	struct layer_course *course = malloc(sizeof(*course));
	double most_s = 0.0;
	int r = course != NULL ? 0 : -ENOMEM;

	for (size_t i = 0; r == 0 && i < layer->n; i++) {
		const struct heat_case heat = heat_of(layer, i);
		struct room_reading *own = room_of(&layer->start[i], room, n_room);
		const double own_s = at_s - layer->start[i].poured_s;
		struct clocks clocks;

		r = own != NULL ? 0 : -ENOMEM;
		if (r == 0 && own_s >= 0.0)
			r = layer_course(&heat, own, n_room, &system->course, course);
		if (r == 0 && own_s >= 0.0)
			r = layer_clocks_at(course, &heat, own, n_room, own_s, &clocks);
		if (r == 0 && own_s >= 0.0)
			most_s = fmax(most_s, clocks_teach_holds(&clocks));
		free(own);
	}
	free(course);
	if (r == 0)
		*ret_equivalent_s = most_s;
	return r;
}
