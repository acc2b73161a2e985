/* SPDX-License-Identifier: MIT */
#include "plan.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "layer_depth.h"
#include "plan_inside.h"

#define SLACK_MM 1e-6

const char *plan_rule_name(enum plan_rule rule)
{
	switch (rule) {
	case PLAN_RULE_COAT:
		return "coat";
	case PLAN_RULE_HEAT:
		return "heat";
	case PLAN_RULE_LABEL:
		return "label-depth";
	case PLAN_RULE_CUP:
		return "cup-limit";
	case PLAN_RULE_WORKING_LIFE:
		return "working-life";
	case PLAN_RULE_INCLUSION:
		return "inclusion-height";
	case PLAN_RULE_LEVELLING:
		return "levelling-minimum";
	}
	return "";
}

const char *plan_rule_change(enum plan_rule rule)
{
	switch (rule) {
	case PLAN_RULE_COAT:
		return "another depth of the coat";
	case PLAN_RULE_HEAT:
		return "a cooler room or resin, a raised metal tray under the mould, a slower "
		       "system";
	case PLAN_RULE_LABEL:
		return "a system whose label allows a deeper pour";
	case PLAN_RULE_CUP:
		return "a bigger cup, or more batches to a layer";
	case PLAN_RULE_WORKING_LIFE:
		return "cooler resin, or more and smaller batches to a layer";
	case PLAN_RULE_INCLUSION:
		return "an inclusion of another height";
	case PLAN_RULE_LEVELLING:
		return "a bigger cup: then fewer batches make the layer";
	}
	return "";
}

int plan_refuse(char *ret_sentence, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(ret_sentence, PLAN_SENTENCE_MAX, format, arguments);
	va_end(arguments);
	return -EINVAL;
}

const struct casting_system *plan_system(const struct plan_request *request, const char *id)
{
	for (size_t i = 0; i < request->n_systems; i++)
		if (strcmp(request->systems[i].id, id) == 0)
			return &request->systems[i];
	return NULL;
}

/* The least depth any rule leaves a layer here, and which rule that is. */
static double allowed_mm(const struct coat_cut *cut, double from_mm, enum plan_rule *ret_rule)
{
	const double cups =
	        coat_depth_of_batches_mm(cut, from_mm, cut->request->piece->batches_max);
	double least = cut->system->label.depth_max_mm;

	*ret_rule = PLAN_RULE_LABEL;
	if (cut->heat_mm < least) {
		least = cut->heat_mm;
		*ret_rule = PLAN_RULE_HEAT;
	}
	if (cups < least) {
		least = cups;
		*ret_rule = cut->batch_rule;
	}
	return least;
}

static bool deepest_coat(const struct coat_cut *cut)
{
	const struct piece *piece = cut->request->piece;

	for (size_t i = 0; i < piece->n_coats; i++)
		if (!piece->coats[i].top_coat && piece->coats[i].depth_mm > cut->coat->depth_mm)
			return false;
	return !cut->coat->top_coat;
}

/* A layer's end moves away from the top of an inclusion: down where that leaves a layer
 * that levels, else up. */
static double past_inclusions(const struct coat_cut *cut, double from_mm, double depth_mm,
                              double most_mm)
{
	const struct piece *piece = cut->request->piece;
	const double least = cut->system->label.levelling_min_mm;

	if (from_mm + depth_mm >= cut->to_mm - SLACK_MM || cut->coat->top_coat)
		return depth_mm;
	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const struct piece_inclusion *it = &piece->inclusions[i];
		const double top = it->rests_on_mm + it->height_mm;

		if (fabs(from_mm + depth_mm - top) >= PLAN_COVER_MM - SLACK_MM)
			continue;
		if (top - PLAN_COVER_MM - from_mm >= least)
			return top - PLAN_COVER_MM - from_mm;
		if (top + PLAN_COVER_MM - from_mm <= fmin(most_mm, cut->to_mm - from_mm))
			return top + PLAN_COVER_MM - from_mm;
	}
	return depth_mm;
}

/* How deep the next layer is by all rules but heat, which is only asked about a depth. */
static int choose_depth(struct coat_cut *cut, struct plan_layer *layer, char *ret_sentence)
{
	const double left = cut->to_mm - layer->from_mm;
	const double least = cut->system->label.levelling_min_mm;
	const int wanted = deepest_coat(cut) ? cut->request->layers_wanted : 0;
	double most, n, moved;

	most = allowed_mm(cut, layer->from_mm, &layer->rule);
	if (most < least &&
	    (layer->rule == PLAN_RULE_CUP || layer->rule == PLAN_RULE_WORKING_LIFE)) {
		most = fmin(fmin(least, left), fmin(cut->heat_mm, cut->system->label.depth_max_mm));
		layer->rule = PLAN_RULE_LEVELLING;
	}
	if (most < fmin(least, left) - SLACK_MM)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\" may be poured %.2f mm deep at %.1f mm (%s) and %s "
		                   "levels only from %.1f mm; expected %s",
		                   cut->coat->name, most, layer->from_mm,
		                   plan_rule_name(layer->rule), cut->system->id, least,
		                   plan_rule_change(layer->rule));
	n = fmax(1.0, ceil(left / most - 1e-9));
	if (wanted > 0)
		n = fmax(n, ceil(wanted * left / (cut->to_mm - cut->from_mm) - 1e-6));
	/* What cut the coat's first layers set the depth of its last one too. */
	if (n == 1.0)
		layer->rule = cut->cut_by;
	cut->cut_by = layer->rule;
	layer->depth_mm = left / n;
	moved = past_inclusions(cut, layer->from_mm, layer->depth_mm, most);
	if (moved != layer->depth_mm)
		layer->rule = PLAN_RULE_INCLUSION;
	layer->depth_mm = moved;
	if (coat_batches(cut, coat_mass_g(cut, layer->from_mm, moved)) > (int)PLAN_BATCHES_MAX)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\": %.2f mm at %.1f mm would take more than %u cups "
		                   "of %.4g g; expected %s",
		                   cut->coat->name, moved, layer->from_mm, PLAN_BATCHES_MAX,
		                   cut->batch_max_g, plan_rule_change(cut->batch_rule));
	return 0;
}

/* Too hot at that depth: how deep may it be? Never past the depth that was asked. */
static int search_heat(struct coat_cut *cut, struct plan_layer *layer, char *ret_sentence)
{
	const struct heat_case heat = coat_heat_case(cut, layer->from_mm, layer->depth_mm);
	double found_mm;
	int r = layer_depth_5th(cut->band, &heat, layer->heat_limit_degc, layer->depth_mm,
	                        &found_mm);

	if (r < 0)
		return r;
	if (found_mm < HEAT_DEPTH_MIN_MM)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\": at %.1f C in the room and %.1f C in the resin no "
		                   "layer stays under %.0f C (%s); expected it cooler",
		                   cut->coat->name, cut->request->piece->room_degc,
		                   plan_resin_degc(cut->request->piece), layer->heat_limit_degc,
		                   layer->heat_limit_of);
	layer->model_depth_mm = found_mm;
	cut->heat_mm = PLAN_HEAT_MARGIN * found_mm;
	return 0;
}

#define SEARCHES_MAX 4

static int next_layer(struct coat_cut *cut, double from_mm, struct plan_layer *layer,
                      char *ret_sentence)
{
	int r;

	layer->from_mm = from_mm;
	layer->model_depth_mm = (double)NAN;
	layer->label_depth_mm = cut->system->label.depth_max_mm;
	/* Each search only makes it thinner; an inclusion may move it up once or twice. */
	for (int i = 0; i < SEARCHES_MAX; i++) {
		r = choose_depth(cut, layer, ret_sentence);
		if (r == 0)
			r = coat_layer_cool(cut, layer);
		if (r == 1)
			r = coat_layer_band(cut, layer);
		if (r != 0)
			break;
		r = search_heat(cut, layer, ret_sentence);
		if (r < 0)
			break;
	}
	if (r == 0)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\": no depth at %.1f mm keeps clear of an inclusion's "
		                   "top and under %.0f C (%s)",
		                   cut->coat->name, from_mm, layer->heat_limit_degc,
		                   layer->heat_limit_of);
	if (r > 0)
		r = coat_layer_course(cut, layer);
	if (r == 0)
		coat_weigh(cut, layer);
	return r;
}

/* What the person asked for in words: so many layers, deeper than the rules may let.
 * *ret becomes such a layer; refused only where it would run away. */
static int asked_for(const struct coat_cut *cut, struct plan *plan, struct plan_layer *ret,
                     char *ret_sentence)
{
	const int wanted = cut->request->layers_wanted;
	int r;

	ret->from_mm = cut->from_mm;
	ret->depth_mm = (cut->to_mm - cut->from_mm) / wanted;
	r = coat_layer_cool(cut, ret);
	if (r >= 0)
		r = coat_layer_band(cut, ret);
	if (r < 0)
		return r;
	plan->runaway = ret->runaway_share > 0.05;
	if (plan->runaway)
		return plan_refuse(ret_sentence, "%d layer(s) of %.1f mm: runaway: do not pour",
		                   wanted, ret->depth_mm);
	return 0;
}

static int too_few(const struct coat_cut *cut, const struct plan_layer *asked, int layers,
                   char *ret_sentence)
{
	return plan_refuse(ret_sentence,
	                   "%d layer(s) of %.1f mm would be too deep (up to %.0f C; the label "
	                   "allows %.1f mm, the limit is %.0f C); expected at least %d",
	                   cut->request->layers_wanted, asked->depth_mm, asked->peak_band_degc.p95,
	                   cut->system->label.depth_max_mm, asked->heat_limit_degc, layers);
}

static int cut_coat(struct coat_cut *cut, struct plan *plan, char *ret_sentence)
{
	double at_mm = fmax(cut->from_mm, cut->coat->top_coat ? 0.0 : cut->request->poured_mm);
	const bool asks = cut->request->layers_wanted > 0 && deepest_coat(cut);
	struct plan_layer asked = {0};
	int layers = 0, r;

	r = asks ? asked_for(cut, plan, &asked, ret_sentence) : 0;
	if (r < 0)
		return r;
	if (cut->to_mm - at_mm < fmin(cut->system->label.levelling_min_mm, 0.5) - SLACK_MM &&
	    at_mm > cut->from_mm)
		return 0; /* what is left would be a film */
	if (cut->to_mm - at_mm < cut->system->label.levelling_min_mm - SLACK_MM &&
	    at_mm <= cut->from_mm)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\" is %.2f mm deep and %s levels only from %.1f mm; "
		                   "expected a deeper coat",
		                   cut->coat->name, cut->to_mm - at_mm, cut->system->id,
		                   cut->system->label.levelling_min_mm);
	while (at_mm < cut->to_mm - SLACK_MM) {
		struct plan_layer *layer = &plan->layers[plan->n_layers];

		if (plan->n_layers + 1 >= PLAN_LAYERS_MAX)
			return plan_refuse(ret_sentence,
			                   "more than %u layers; expected a system that may be "
			                   "poured deeper",
			                   PLAN_LAYERS_MAX - 1);
		*layer = (struct plan_layer){.coat = cut->index,
		                             .top_coat = cut->coat->top_coat,
		                             .edge_tape = cut->coat->edge_tape};
		snprintf(layer->system, sizeof(layer->system), "%s", cut->system->id);
		r = next_layer(cut, at_mm, layer, ret_sentence);
		if (r < 0)
			return r;
		at_mm += layer->depth_mm;
		plan->n_layers++;
		layers++;
	}
	if (asks && layers > cut->request->layers_wanted)
		return too_few(cut, &asked, layers, ret_sentence);
	return 0;
}

/* The label's thickness or its coverage; where both are given they must agree. */
static double top_coat_depth_mm(const struct piece_coat *coat, const struct casting_system *system)
{
	if (coat->coverage_g_per_m2 == 0.0)
		return coat->depth_mm;
	return coat->coverage_g_per_m2 / system->density_g_per_ml / 1000.0;
}

int coat_begin(const struct plan_request *request, size_t index, struct coat_cut *cut,
               char *ret_sentence)
{
	const struct piece_coat *coat = &request->piece->coats[index];
	const struct casting_system *system = plan_system(request, coat->system);

	if (!system)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\": there is no system \"%s\"; expected "
		                   "one that is configured",
		                   coat->name, coat->system);
	if (!(system->label.depth_max_mm > 0.0))
		return plan_refuse(ret_sentence,
		                   "%s has no pour depth from its label: read the label's maximum "
		                   "depth for one layer and enter it as casting.depth_max_mm; the "
		                   "model never replaces it",
		                   system->id);
	if (coat->tint_pct > system->tint_max_pct)
		return plan_refuse(ret_sentence,
		                   "coat \"%s\" takes %.2f %% of tint and %s at most %.2f %%; "
		                   "expected less",
		                   coat->name, coat->tint_pct, system->id, system->tint_max_pct);
	*cut = (struct coat_cut){.request = request,
	                         .coat = coat,
	                         .index = index,
	                         .system = system,
	                         .band = cut->band,
	                         .tint_share = coat->tint_pct / 100.0,
	                         .cut_by = PLAN_RULE_COAT,
	                         .heat_mm = INFINITY};
	if (coat->top_coat) {
		cut->from_mm = cavity_height_mm(&request->piece->cavity);
		cut->to_mm = cut->from_mm + top_coat_depth_mm(coat, system);
	} else {
		cut->from_mm = piece_coat_from_mm(request->piece, index);
		cut->to_mm = cut->from_mm + coat->depth_mm;
	}
	return coat_batch_limit(cut, ret_sentence);
}

int coat_draw_band(const struct plan_request *request, const struct casting_system *system,
                   struct band *band, char *ret_sentence)
{
	char sentence[LABEL_SENTENCE_MAX] = "";
	int r = band_draw(&system->times, &band_spread_usual, request->seed,
	                  request->samples > 0 ? request->samples : BAND_SAMPLES, band, sentence);

	return r < 0 ? plan_refuse(ret_sentence, "%s: %s", system->id, sentence) : 0;
}

static int cut_coats(const struct plan_request *request, struct band *band, struct plan *ret,
                     char *ret_sentence)
{
	const char *drawn = "";
	int r = 0;

	for (size_t i = 0; r == 0 && i < request->piece->n_coats; i++) {
		struct coat_cut cut = {.band = band};

		r = coat_begin(request, i, &cut, ret_sentence);
		if (r == 0 && strcmp(drawn, cut.system->id) != 0)
			r = coat_draw_band(request, cut.system, band, ret_sentence);
		if (r == 0) {
			drawn = cut.system->id;
			r = cut_coat(&cut, ret, ret_sentence);
		}
	}
	return r;
}

static void add_stock(const struct plan_request *request, struct plan *plan)
{
	for (size_t i = 0; i < plan->n_layers; i++) {
		const struct plan_layer *layer = &plan->layers[i];
		const struct casting_system *system = plan_system(request, layer->system);
		size_t at = 0;

		while (at < plan->n_stock && strcmp(plan->stock[at].system, layer->system) != 0)
			at++;
		if (at == plan->n_stock) {
			plan->stock[plan->n_stock++] =
			        (struct plan_stock){.available_a_g = system->available_g[PART_A],
			                            .available_b_g = system->available_g[PART_B]};
			snprintf(plan->stock[at].system, sizeof(plan->stock[at].system), "%s",
			         layer->system);
		}
		plan->stock[at].a_g += layer->a_g;
		plan->stock[at].b_g += layer->b_g;
		plan->volume_ml += layer->volume_ml;
		plan->total_g += layer->total_g;
	}
}

int plan_make(const struct plan_request *request, struct plan *ret, char *ret_sentence)
{
	struct band *band = malloc(sizeof(*band));
	int r;

	memset(ret, 0, sizeof(*ret));
	if (!band) {
		snprintf(ret_sentence, PLAN_SENTENCE_MAX, "no memory left");
		return -ENOMEM;
	}
	ret_sentence[0] = '\0';
	r = cut_coats(request, band, ret, ret_sentence);
	free(band);
	if (r == 0 && ret->n_layers > 0)
		r = plan_calendar(request, ret, ret_sentence);
	if (r == 0) {
		add_stock(request, ret);
		plan_warn(request, ret);
	} else if (ret_sentence[0] == '\0') {
		snprintf(ret_sentence, PLAN_SENTENCE_MAX,
		         "these numbers leave the range of the arithmetic; expected a piece that "
		         "someone could pour");
	}
	return r;
}
