/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_PLAN_INSIDE_H
#define AMBO_CASTING_PLAN_INSIDE_H

#include "plan.h"

/* What the plan's own files share: one coat being cut into layers. */
struct coat_cut {
	const struct plan_request *request;
	const struct piece_coat *coat;
	size_t index;
	const struct casting_system *system;
	struct band *band;         /* of the system */
	double from_mm, to_mm;     /* in the cavity; a top coat's above the rim */
	double tint_share;         /* grams of tint to a gram of resin + hardener */
	double batch_max_g;        /* what one cup may hold of the mix, tint included */
	enum plan_rule batch_rule; /* what says so */
	enum plan_rule cut_by;     /* what cut this coat so far; PLAN_RULE_COAT: nothing */
	double heat_mm;            /* found for an earlier layer of this coat; INFINITY: none */
};

/* plan.c. cut->band is the caller's. */
int coat_begin(const struct plan_request *request, size_t index, struct coat_cut *cut,
               char *ret_sentence);
int coat_draw_band(const struct plan_request *request, const struct casting_system *system,
                   struct band *band, char *ret_sentence);

/* plan_mass.c */
int coat_batch_limit(struct coat_cut *cut, char *ret_sentence);
/* ml in the piece of a layer, run-off included. */
double coat_volume_ml(const struct coat_cut *cut, double from_mm, double depth_mm);
/* To weigh for it, without the cups' loss. */
double coat_mass_g(const struct coat_cut *cut, double from_mm, double depth_mm);
double coat_cup_loss_g(const struct coat_cut *cut);
int coat_batches(const struct coat_cut *cut, double mass_g);
/* How deep a layer may be for that many full cups. */
double coat_depth_of_batches_mm(const struct coat_cut *cut, double from_mm, int batches);
void coat_weigh(const struct coat_cut *cut, struct plan_layer *layer);

/* plan_heat.c */
double coat_heat_limit(const struct coat_cut *cut, double top_mm, char ret_of[SYSTEM_LABEL_MAX]);
struct heat_case coat_heat_case(const struct coat_cut *cut, double from_mm, double depth_mm);
/* Whether the fitted resin itself stays within the layer's limit, which it sets: 1 or 0.
 * One run that spares the band's 300 where a search is due anyway. */
int coat_layer_cool(const struct coat_cut *cut, struct plan_layer *layer);
/* The band of a layer; 1 within its limit, 0 past it. */
int coat_layer_band(const struct coat_cut *cut, struct plan_layer *layer);
int coat_layer_course(const struct coat_cut *cut, struct plan_layer *layer);

double plan_resin_degc(const struct piece *piece);
const struct casting_system *plan_system(const struct plan_request *request, const char *id);
__attribute__((format(printf, 2, 3))) int plan_refuse(char *ret_sentence, const char *format, ...);

#endif
