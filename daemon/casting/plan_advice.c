/* SPDX-License-Identifier: MIT */
/* After a top-up, or a batch larger than planned: pour all, or keep some back? */
#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "layer_depth.h"
#include "plan_inside.h"

#define SLACK_MM 1e-6

/* The coat that the next layer belongs to. */
static int find_coat(const struct plan_request *request, struct coat_cut *cut, char *ret_sentence)
{
	struct band *band = cut->band;

	for (size_t i = 0; i < request->piece->n_coats; i++) {
		int r = coat_begin(request, i, cut, ret_sentence);

		if (r < 0)
			return r;
		if (cut->coat->top_coat || request->poured_mm < cut->to_mm - 0.3)
			return 0;
		cut->band = band;
	}
	return plan_refuse(ret_sentence, "%.1f mm are poured: the piece is full",
	                   request->poured_mm);
}

/* How deep this much comes to be: past the coat's end it goes on as if it went on. */
static double depth_of_mm(const struct coat_cut *cut, double from_mm, double mass_g)
{
	double low = 0.0, high = cut->to_mm - from_mm;
	const double whole_g = coat_mass_g(cut, from_mm, high);

	if (mass_g >= whole_g)
		return high * mass_g / whole_g;
	for (int i = 0; i < 60; i++) {
		const double middle = 0.5 * (low + high);

		if (coat_mass_g(cut, from_mm, middle) <= mass_g)
			low = middle;
		else
			high = middle;
	}
	return low;
}

static int hot(const struct coat_cut *cut, struct plan_layer *layer, struct plan_advice *advice)
{
	const struct heat_case heat = coat_heat_case(cut, layer->from_mm, layer->depth_mm);
	int r = coat_layer_cool(cut, layer);

	if (r >= 0)
		r = coat_layer_band(cut, layer);
	advice->heat_limit_degc = layer->heat_limit_degc;
	if (r != 0)
		return r;
	advice->runaway = layer->runaway_share > 0.05;
	r = layer_depth_5th(cut->band, &heat, layer->heat_limit_degc, layer->depth_mm,
	                    &advice->allowed_mm);
	advice->allowed_mm *= PLAN_HEAT_MARGIN;
	advice->rule = PLAN_RULE_HEAT;
	layer->depth_mm = fmax(advice->allowed_mm, HEAT_DEPTH_MIN_MM);
	return r < 0 ? r : coat_layer_band(cut, layer);
}

static int judge(struct coat_cut *cut, double mass_g, struct plan_advice *advice)
{
	const double from_mm = fmax(cut->from_mm, cut->request->poured_mm);
	const double loss_g = coat_cup_loss_g(cut);
	struct plan_layer layer = {.from_mm = from_mm};
	const double poured_g = fmax(mass_g - loss_g, 0.0);
	int r;

	advice->depth_mm = advice->allowed_mm = depth_of_mm(cut, from_mm, poured_g);
	advice->rule = PLAN_RULE_COAT;
	if (advice->allowed_mm > cut->to_mm - from_mm)
		advice->allowed_mm = cut->to_mm - from_mm;
	if (advice->allowed_mm > cut->system->label.depth_max_mm) {
		advice->allowed_mm = cut->system->label.depth_max_mm;
		advice->rule = PLAN_RULE_LABEL;
	}
	layer.depth_mm = advice->allowed_mm;
	r = hot(cut, &layer, advice);
	if (r < 0)
		return r;
	advice->peak_p95_degc = layer.peak_band_degc.p95;
	if (advice->allowed_mm < advice->depth_mm - SLACK_MM)
		advice->keep_back_g =
		        fmax(poured_g - coat_mass_g(cut, from_mm, advice->allowed_mm), 0.0);
	return 0;
}

int plan_advice(const struct plan_request *request, double mass_g, double deviation_pct,
                struct plan_advice *ret, char *ret_sentence)
{
	struct plan_advice advice = {0};
	struct band *band = malloc(sizeof(*band));
	struct coat_cut cut = {.band = band};
	int r;

	ret_sentence[0] = '\0';
	if (band == NULL)
		return -ENOMEM;
	if (!(mass_g > 0.0 && mass_g <= 1e6) || !(fabs(deviation_pct) <= 50.0))
		r = plan_refuse(ret_sentence,
		                "%g g that are %g %% off cannot be judged; expected a mass and at "
		                "most 50 %%",
		                mass_g, deviation_pct);
	else
		r = find_coat(request, &cut, ret_sentence);
	if (r == 0)
		r = coat_draw_band(request, cut.system, band, ret_sentence);
	if (r == 0) {
		band_weighed(band, 1.0 + deviation_pct / 100.0, cut.system->ratio);
		r = judge(&cut, mass_g, &advice);
	}
	free(band);
	if (r == 0)
		*ret = advice;
	return r;
}
