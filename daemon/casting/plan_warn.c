/* SPDX-License-Identifier: MIT */
/* What the person should know before the first pour, worst first. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "air.h"
#include "optical.h"
#include "plan_inside.h"

static void warn(struct plan *plan, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void warn(struct plan *plan, const char *format, ...)
{
	va_list arguments;

	if (plan->n_warnings == PLAN_WARNINGS_MAX)
		return;
	va_start(arguments, format);
	vsnprintf(plan->warnings[plan->n_warnings++], PLAN_SENTENCE_MAX, format, arguments);
	va_end(arguments);
}

/* From now until the layer that first covers it is poured; NaN: it is covered already. */
static double covered_in_s(const struct plan_request *request, const struct plan *plan,
                           const struct piece_inclusion *it)
{
	for (size_t i = 0; i < plan->n_layers; i++) {
		const struct plan_layer *layer = &plan->layers[i];

		if (!layer->top_coat && it->rests_on_mm >= layer->from_mm - 1e-6 &&
		    it->rests_on_mm < layer->from_mm + layer->depth_mm - 1e-6)
			return layer->pour_at_s + layer->session_s - request->not_before_s;
	}
	return (double)NAN;
}

/* By its weighings, where there are any; else by what the person says. */
static void warn_dryness(const struct plan_request *request, const struct piece_inclusion *it,
                         struct plan *plan)
{
	const struct drying_state *drying = &it->drying;
	const double covered_days = covered_in_s(request, plan, it) / DRYING_DAY_S;

	if (isnan(covered_days) || it->heat_limit_degc > PIECE_INCLUSION_STOP_DEGC)
		return; /* poured over, or of glass or metal */
	switch (drying->verdict) {
	case DRYING_NOT_WEIGHED:
		if (!it->dried)
			warn(plan,
			     "\"%s\" is not known to be dry: moisture clouds the resin and rots "
			     "what is in it; weigh it day by day until a day loses under 1 %%",
			     it->name);
		break;
	case DRYING_NOT_YET:
		if (drying->dry_in_s > 0.0)
			warn(plan,
			     "\"%s\" is not dry yet and would be poured over in %.1f days: it "
			     "takes about %.1f more to constant mass",
			     it->name, covered_days, drying->dry_in_s / DRYING_DAY_S);
		else
			warn(plan,
			     "\"%s\" is not known to be dry and would be poured over in %.1f "
			     "days: weigh it until a day loses under 1 %%",
			     it->name, covered_days);
		break;
	case DRYING_STALE:
		warn(plan,
		     "\"%s\" was dry %.0f days ago and draws moisture again: weigh it once more",
		     it->name, drying->since_s / DRYING_DAY_S);
		break;
	case DRYING_DRY:
		break;
	}
}

/* The last surface there will be, a top coat's too. */
static double covered_to_mm(const struct piece *piece)
{
	double to = piece_filled_mm(piece);

	for (size_t i = 0; i < piece->n_coats; i++)
		to += piece->coats[i].top_coat ? piece->coats[i].depth_mm : 0.0;
	return to;
}

static void warn_inclusions(const struct plan_request *request, struct plan *plan)
{
	const struct piece *piece = request->piece;
	const double filled = piece_filled_mm(piece), covered_to = covered_to_mm(piece);
	double hottest = -INFINITY;
	bool delicate = false;

	for (size_t i = 0; i < plan->n_layers; i++)
		hottest = fmax(hottest, plan->layers[i].peak_band_degc.p95);
	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const struct piece_inclusion *it = &piece->inclusions[i];
		const double top = it->rests_on_mm + it->height_mm;

		if (top > filled)
			warn(plan, "\"%s\" will stand %.1f mm out of the last layer", it->name,
			     top - filled);
		else if (covered_to - top < PLAN_COVER_MM - 1e-6)
			warn(plan,
			     "\"%s\" ends %.1f mm under the surface and will show through it as "
			     "the resin shrinks; %.0f mm cover it safely",
			     it->name, fmax(covered_to - top, 0.0), PLAN_COVER_MM);
		delicate |= it->heat_limit_degc <= PIECE_INCLUSION_STOP_DEGC;
		warn_dryness(request, it, plan);
	}
	if (delicate && hottest > PIECE_INCLUSION_PREFER_DEGC)
		warn(plan,
		     "a layer may reach %.1f C: flowers keep their colour best up to %.0f C and "
		     "are damaged at 50",
		     hottest, PIECE_INCLUSION_PREFER_DEGC);
}

static void warn_air(const struct piece *piece, struct plan *plan)
{
	const double dew = air_dew_point_degc(piece->room_degc, piece->humidity_pct);
	int bits;

	if (isnan(piece->humidity_pct))
		return;
	bits = air_warnings(piece->room_degc, piece->humidity_pct,
	                    fmin(piece->room_degc, plan_resin_degc(piece)));
	if (bits < 0)
		return;
	if (bits & AIR_NEAR_DEW)
		warn(plan,
		     "the resin's surface is within 3 K of the dew point, %.1f C: water would "
		     "settle on it; warm it or dry the air",
		     dew);
	if (bits & AIR_TOO_HUMID)
		warn(plan, "the air is too humid to pour, %.0f %%; wait until it is under %.0f %%",
		     piece->humidity_pct, AIR_HUMIDITY_MAX_PCT);
	else if (bits & AIR_BLUSH)
		warn(plan, "at %.0f %% humidity a clear surface may blush; under %.0f %% is better",
		     piece->humidity_pct, AIR_HUMIDITY_CLEAR_PCT);
}

static void warn_stock(struct plan *plan)
{
	for (size_t i = 0; i < plan->n_stock; i++) {
		const struct plan_stock *stock = &plan->stock[i];

		if (stock->available_a_g >= 0.0 && stock->a_g > stock->available_a_g)
			warn(plan, "%s: %.0f g of part A are needed and %.0f g are there",
			     stock->system, stock->a_g, stock->available_a_g);
		if (stock->available_b_g >= 0.0 && stock->b_g > stock->available_b_g)
			warn(plan, "%s: %.0f g of part B are needed and %.0f g are there",
			     stock->system, stock->b_g, stock->available_b_g);
	}
}

static void warn_cups(const struct plan_request *request, struct plan *plan)
{
	const struct plan_layer *worst = NULL;

	for (size_t i = 0; i < plan->n_layers; i++)
		if (plan->layers[i].cup_peak_degc > HEAT_RUNAWAY_DEGC &&
		    (!worst || plan->layers[i].cup_gel_s < worst->cup_gel_s))
			worst = &plan->layers[i];
	if (worst)
		warn(plan,
		     "%.0f g left standing in the cup run away: they gel after %.0f min and go "
		     "past "
		     "%.0f C, smoke and can ignite; pour at once, spread what is left over thin",
		     worst->batch_g, floor(worst->cup_gel_s / 60.0), HEAT_RUNAWAY_DEGC);
	for (size_t i = 0; i < request->piece->n_coats; i++) {
		const struct casting_system *system =
		        plan_system(request, request->piece->coats[i].system);

		if (system->label.film_gel_s > 0.0 && system->fit.c_learnt)
			continue;
		warn(plan,
		     "%s: the label gives %s, so the model's doubt is wide and layers come out "
		     "thinner; casting.film_gel_s from a test film narrows it",
		     system->id,
		     system->label.film_gel_s > 0.0 ? "times too alike to tell more from"
		                                    : "a pot life only");
		break;
	}
	for (size_t i = 0; i < plan->n_layers; i++)
		if (plan->layers[i].depth_mm <
		    plan_system(request, plan->layers[i].system)->label.levelling_min_mm - 1e-6) {
			warn(plan, "layer %zu is %.2f mm and may not level by itself", i + 1,
			     plan->layers[i].depth_mm);
			break;
		}
}

/* Through all that lies above the lowest inclusion, lit from the viewer's side. */
static void see_through(const struct piece *piece, struct plan *plan)
{
	struct optical_layer layers[PIECE_COATS_MAX];
	struct optical_range seen;
	double top = INFINITY;
	size_t n = 0;

	plan->seen_low = plan->seen_high = (double)NAN;
	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const double own =
		        piece->inclusions[i].rests_on_mm + piece->inclusions[i].height_mm;

		if (own < top) {
			top = own;
			plan->seen_inclusion = i;
		}
	}
	if (isinf(top))
		return;
	for (size_t i = 0; i < piece->n_coats; i++) {
		const struct piece_coat *coat = &piece->coats[i];
		const double from = piece_coat_from_mm(piece, i), to = from + coat->depth_mm;

		if (coat->tint_pct == 0.0 || to <= top)
			continue;
		if (isnan(coat->tint_eps_low)) {
			warn(plan,
			     "how much of \"%s\" will be seen is not known: the tint of coat "
			     "\"%s\" above it has no test chip",
			     piece->inclusions[plan->seen_inclusion].name, coat->name);
			return;
		}
		layers[n++] = (struct optical_layer){.eps_low = coat->tint_eps_low,
		                                     .eps_high = coat->tint_eps_high,
		                                     .dose_pct = coat->tint_pct,
		                                     .thickness_mm = to - fmax(from, top)};
	}
	seen = optical_seen(layers, n, 2);
	plan->seen_low = fmin(seen.low, seen.high);
	plan->seen_high = fmax(seen.low, seen.high);
}

void plan_warn(const struct plan_request *request, struct plan *plan)
{
	warn_cups(request, plan);
	warn_inclusions(request, plan);
	warn_air(request->piece, plan);
	warn_stock(plan);
	see_through(request->piece, plan);
}
