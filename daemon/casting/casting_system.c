/* SPDX-License-Identifier: MIT */
#include "casting_system.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "clocks.h"
#include "daemon/mixing/tint.h"

/* Stirring where the label says nothing: as mixing does (practice). */
#define STIR_S 300.0

struct answer {
	char *sentence;
	const char **key;
};

__attribute__((format(printf, 3, 4))) static int wrong(const struct answer *answer, const char *key,
                                                       const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(answer->sentence, CASTING_SENTENCE_MAX, format, arguments);
	va_end(arguments);
	*answer->key = key;
	return -EINVAL;
}

/* Worth of a second at one temperature in seconds at another. */
static double worth(const struct cure *cure, double at_degc, double in_degc)
{
	return exp(cure->e2_j_per_mol / CURE_GAS_CONSTANT_J_PER_MOLK *
	           (1.0 / (in_degc + CURE_ZERO_DEGC_K) - 1.0 / (at_degc + CURE_ZERO_DEGC_K)));
}

double casting_system_at_degc(const struct casting_system *system, double s, double label_degc,
                              double degc)
{
	return s * worth(&system->fit.resin.cure, label_degc, degc);
}

/* Where the label names no family: the one whose own pot life lies nearer. */
static int fit_nearest(struct casting_system *system, char *sentence)
{
	const struct casting_resin *families[] = {&casting_resin_fast, &casting_resin_slow};
	const struct casting_resin *named = casting_resin_find(system->label.family);
	double nearest = INFINITY;

	for (size_t i = 0; i < 2; i++) {
		struct label times = system->times;
		struct label_fit fit;
		double far;

		if (named && named != families[i])
			continue;
		times.family = *families[i];
		if (system->label.heat_j_per_kg > 0.0)
			times.family.cure.heat_j_per_kg = system->label.heat_j_per_kg;
		if (system->density_known)
			times.family.material.density_kg_per_m3 = 1000.0 * system->density_g_per_ml;
		if (label_fit(&times, &fit, sentence) < 0)
			continue;
		far = fabs(log(fit.resin.cure.a2_per_s / families[i]->cure.a2_per_s));
		if (far >= nearest)
			continue;
		nearest = far;
		system->fit = fit;
		system->times = times;
	}
	return isinf(nearest) ? -EINVAL : 0;
}

/* Times of one label must come in the order a resin goes through them. */
static int check_order(const struct casting_system *system, const struct answer *answer)
{
	const struct casting_label *label = &system->label;
	double opens = label->recoat_opens_s, closes = label->recoat_closes_s, full, film;

	if (opens > 0.0 && closes > 0.0 && closes <= opens)
		return wrong(answer, "casting.recoat",
		             "the next coat's time closes after %.10g s and opens after %.10g s; "
		             "expected it to close later than it opens",
		             closes, opens);
	full = label->full_cure_s > 0.0
	               ? casting_system_at_degc(system, label->full_cure_s, label->full_cure_degc,
	                                        label->recoat_degc)
	               : INFINITY;
	if (closes > 0.0 && full < closes)
		return wrong(answer, "casting.full_cure",
		             "full cure after %.3g s at %.10g C comes before the next coat's time "
		             "closes, %.10g s; expected it to come later",
		             full, label->recoat_degc, closes);
	film = label->film_gel_s > 0.0 ? casting_system_at_degc(system, label->film_gel_s,
	                                                        label->film_degc, label->holds_degc)
	                               : INFINITY;
	if (label->holds_s > 0.0 && label->holds_s > film)
		return wrong(
		        answer, "casting.holds",
		        "an inclusion is held after %.10g s, but a film has gelled after %.3g s "
		        "at %.10g C; expected it to hold before it gels",
		        label->holds_s, film, label->holds_degc);
	if (label->depth_max_mm > 0.0 && label->levelling_min_mm > label->depth_max_mm)
		return wrong(answer, "casting.levelling_min_mm",
		             "it levels from %.10g mm and may be poured %.10g mm deep; expected a "
		             "minimum under the maximum",
		             label->levelling_min_mm, label->depth_max_mm);
	return 0;
}

static double at_reference(const struct casting_system *system, double s, double degc)
{
	return casting_system_at_degc(system, s, degc, CLOCKS_REFERENCE_DEGC);
}

int casting_system_make(const struct resin_system *system, const struct casting_label *label,
                        struct casting_system *ret, char *ret_sentence, const char **ret_key)
{
	const struct answer answer = {ret_sentence, ret_key};
	struct casting_system made = {.label = *label};
	const double density = system_mixed_density_g_per_ml(system);
	char sentence[LABEL_SENTENCE_MAX] = "";
	double a_over_b;
	int r;

	snprintf(made.id, sizeof(made.id), "%s", system->id);
	snprintf(made.name, sizeof(made.name), "%s", system->name);
	made.hardener = system->hardener;
	made.ratio = system_ratio(system);
	if (!(made.ratio > 0.0))
		return wrong(&answer, "basis", "the ratio of %s is unknown; expected the label's",
		             system->id);
	a_over_b = system->hardener == PART_B ? 1.0 / made.ratio : made.ratio;
	made.b_share = 1.0 / (1.0 + a_over_b);
	made.a_share = 1.0 - made.b_share;
	made.density_known = density > 0.0;
	made.density_g_per_ml =
	        density > 0.0 ? density : casting_resin_fast.material.density_kg_per_m3 / 1000.0;
	made.tint_max_pct = tint_max_pct(system);
	made.stir_s = system->stir_s > 0.0 ? system->stir_s : STIR_S;
	for (int part = 0; part < 2; part++)
		made.available_g[part] = system->part[part].available_g;
	if (made.label.peak_max_degc == 0.0)
		made.label.peak_max_degc = CASTING_PEAK_MAX_DEGC;
	if (made.label.cup_loss_g == 0.0)
		made.label.cup_loss_g = CASTING_CUP_LOSS_G;
	if (made.label.levelling_min_mm == 0.0)
		made.label.levelling_min_mm =
		        made.label.depth_max_mm > 0.0
		                ? fmin(CASTING_LEVELLING_MIN_MM, made.label.depth_max_mm)
		                : CASTING_LEVELLING_MIN_MM;
	made.times = (struct label){.pot_life_s = system->working_life_s,
	                            .pot_mass_g = system->working_life_mass_g,
	                            .pot_degc = system->working_life_degc,
	                            .film_gel_s = label->film_gel_s,
	                            .film_degc = label->film_degc};
	if (fit_nearest(&made, sentence) < 0)
		return wrong(&answer, "casting", "%s", sentence);
	r = check_order(&made, &answer);
	if (r < 0)
		return r;
	made.course = (struct layer_times){
	        .holds_s = at_reference(&made, label->holds_s, label->holds_degc),
	        .opens_s = at_reference(&made, label->recoat_opens_s, label->recoat_degc),
	        .closes_s = at_reference(&made, label->recoat_closes_s, label->recoat_degc)};
	*ret = made;
	return 0;
}
