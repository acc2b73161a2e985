/* SPDX-License-Identifier: MIT */
#include "recipe.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ratio.h"
#include "tint.h"
#include "working_life.h"

/* Where the label gives no stir time: common practice, no source. */
#define STIR_SMALL_S       180.0
#define STIR_LARGE_S       300.0
#define STIR_LARGE_FROM_G  300.0
#define STIR_SHARE_OF_LIFE 0.25 /* stirring may take no more of the working life (practice) */

static enum component part_component(enum part part)
{
	return part == PART_A ? COMPONENT_A : COMPONENT_B;
}

static int refuse(struct message *ret_why, struct message why, int error)
{
	*ret_why = why;
	return error;
}

static int bad(struct message *ret_why, const char *text)
{
	struct message why = {.id = MESSAGE_BAD_REQUEST, .has = MESSAGE_HAS_TEXT};

	snprintf(why.text, sizeof(why.text), "%s", text);
	return refuse(ret_why, why, -EINVAL);
}

static bool at_least_0(double value)
{
	return isfinite(value) && value >= 0.0;
}

/* The texts fit SYSTEM_LABEL_MAX: which number, what is expected. */
static int check_numbers(const struct recipe_request *request, const struct recipe_scale *scale,
                         struct message *ret_why)
{
	if (!at_least_0(request->total_g))
		return bad(ret_why, "total: grams above 0 expected");
	if (!at_least_0(request->volume_ml))
		return bad(ret_why, "volume: millilitres above 0 expected");
	if ((request->total_g > 0.0) == (request->volume_ml > 0.0))
		return bad(ret_why, "total or volume: exactly one above 0");
	if (!at_least_0(request->cup_limit_g))
		return bad(ret_why, "cup limit: grams above 0 expected");
	if (!at_least_0(request->tint_pct))
		return bad(ret_why, "tint: percent of the mixed mass expected");
	if (!at_least_0(request->life_max_s))
		return bad(ret_why, "working life: seconds above 0 expected");
	if (!isnan(request->resin_degc) && !(request->resin_degc >= RECIPE_RESIN_MIN_DEGC &&
	                                     request->resin_degc <= RECIPE_RESIN_MAX_DEGC))
		return bad(ret_why, "resin temperature: -10 to 80 degC expected");
	if (!(scale->max_g > 0.0) || !isfinite(scale->max_g) || !(scale->interval_g > 0.0) ||
	    !(scale->u_reading_g > 0.0) || !isfinite(scale->u_reading_g))
		return bad(ret_why, "scale: Max, interval, doubt above 0 expected");
	return 0;
}

static int find_total(const struct resin_system *system, const struct recipe_request *request,
                      double *ret_total_g, struct message *ret_why)
{
	double density;

	*ret_total_g = request->total_g;
	if (request->total_g > 0.0)
		return 0;
	density = system_mixed_density_g_per_ml(system);
	if (density <= 0.0)
		return bad(ret_why, "volume: both densities must be known");
	*ret_total_g = request->volume_ml * density;
	return 0;
}

static struct message two_masses(enum message_id id, double asked_g, double there_g)
{
	return (struct message){
	        .id = id,
	        .has = MESSAGE_HAS_MASS_G | MESSAGE_HAS_OTHER_MASS_G,
	        .mass_g = asked_g,
	        .other_mass_g = there_g,
	};
}

/* What the scale, the cup and the label allow. */
static int check_total(const struct recipe *recipe, struct message *ret_why)
{
	double smallest_g =
	        ratio_smallest_total_g(recipe->ratio, recipe->tolerance_pct, recipe->u_reading_g);
	double with_tint = 1.0 + recipe->tint_pct / 100.0;
	double tint_most_pct = tint_max_pct(&recipe->system);

	if (recipe->tint_pct > tint_most_pct)
		return refuse(ret_why,
		              (struct message){.id = MESSAGE_TINT_TOO_MUCH,
		                               .has = MESSAGE_HAS_PCT | MESSAGE_HAS_OTHER_PCT,
		                               .pct = recipe->tint_pct,
		                               .other_pct = tint_most_pct},
		              -ERANGE);
	if (!(recipe->total_g >= smallest_g)) {
		struct message why =
		        two_masses(MESSAGE_TOTAL_TOO_SMALL, recipe->total_g, smallest_g);

		why.has |= MESSAGE_HAS_PCT;
		why.pct = recipe->tolerance_pct;
		return refuse(ret_why, why, -ERANGE);
	}
	if (recipe->total_g * with_tint > recipe->max_g)
		return refuse(
		        ret_why,
		        two_masses(MESSAGE_OVER_MAX, recipe->total_g, recipe->max_g / with_tint),
		        -ERANGE);
	if (recipe->cup_limit_g > 0.0 && recipe->total_g * with_tint > recipe->cup_limit_g)
		return refuse(ret_why,
		              two_masses(MESSAGE_OVER_CUP, recipe->total_g,
		                         recipe->cup_limit_g / with_tint),
		              -ERANGE);
	return 0;
}

static int check_stock(const struct recipe *recipe, struct message *ret_why)
{
	for (uint32_t i = 0; i < recipe->n_charges; i++) {
		const struct recipe_charge *charge = &recipe->charge[i];
		double there_g;
		struct message why;

		if (charge->component != COMPONENT_A && charge->component != COMPONENT_B)
			continue;
		there_g = recipe->system.part[charge->component == COMPONENT_A ? PART_A : PART_B]
		                  .available_g;
		if (there_g < 0.0 || charge->target_g <= there_g)
			continue;
		why = two_masses(MESSAGE_STOCK_SHORT, charge->target_g, there_g);
		why.has |= MESSAGE_HAS_COMPONENT;
		why.component = charge->component;
		return refuse(ret_why, why, -ERANGE);
	}
	return 0;
}

static void add_charge(struct recipe *recipe, enum component component, const char *label,
                       double share_pct, double target_g)
{
	struct recipe_charge *charge = &recipe->charge[recipe->n_charges++];
	size_t n = strlen(label);

	if (n >= sizeof(charge->label))
		n = sizeof(charge->label) - 1;
	charge->component = component;
	/* The label may lie in the recipe itself: snprintf() would not allow that. */
	memmove(charge->label, label, n);
	charge->label[n] = '\0';
	charge->share_pct = share_pct;
	charge->target_g = target_g;
}

static void lay_out_charges(struct recipe *recipe, const char *tint_label)
{
	const struct resin_system *system = &recipe->system;
	enum part hardener = system->hardener, resin = hardener == PART_A ? PART_B : PART_A;
	double resin_g = recipe->total_g / (1.0 + recipe->ratio);
	bool tint = recipe->tint_pct > 0.0;

	recipe->n_charges = 0;
	add_charge(recipe, part_component(resin), system->part[resin].label, 0.0, resin_g);
	for (int late = 0; late < 2; late++) {
		if (tint && system->tint_after_hardener == (late == 1))
			add_charge(recipe, COMPONENT_TINT,
			           tint_label[0] != '\0' ? tint_label : "tint", recipe->tint_pct,
			           tint_dose_g(recipe->total_g, recipe->tint_pct));
		if (late == 0)
			add_charge(recipe, part_component(hardener), system->part[hardener].label,
			           0.0, recipe->total_g - resin_g);
	}
}

static struct message find_warning(const struct recipe *recipe, const char *today)
{
	struct message warning = {.id = MESSAGE_NONE};

	for (int part = PART_A; part <= PART_B; part++)
		if (today != NULL && system_part_expired(&recipe->system.part[part], today) > 0) {
			warning.id = MESSAGE_EXPIRED;
			warning.has = MESSAGE_HAS_COMPONENT | MESSAGE_HAS_TEXT;
			warning.component = part_component((enum part)part);
			snprintf(warning.text, sizeof(warning.text), "%s",
			         recipe->system.part[part].expiry);
			return warning;
		}
	if (recipe->stir_s > STIR_SHARE_OF_LIFE * recipe->working_life_s) {
		warning.id = MESSAGE_STIR_WONT_FIT;
		warning.has = MESSAGE_HAS_SECONDS | MESSAGE_HAS_OTHER_SECONDS;
		warning.seconds = recipe->stir_s;
		warning.other_seconds = recipe->working_life_s;
	}
	return warning;
}

int recipe_make(const struct resin_system *system, const struct recipe_request *request,
                const struct recipe_scale *scale, const char *today, struct recipe *ret,
                struct message *ret_why, struct message *ret_warning)
{
	struct recipe recipe = {.system = *system};
	int r;

	r = check_numbers(request, scale, ret_why);
	if (r < 0)
		return r;
	recipe.ratio = system_ratio(system);
	if (!(recipe.ratio >= SYSTEM_RATIO_MIN && recipe.ratio <= SYSTEM_RATIO_MAX))
		return bad(ret_why, "system: no usable ratio by weight");
	r = find_total(system, request, &recipe.total_g, ret_why);
	if (r < 0)
		return r;
	recipe.tolerance_pct =
	        system->tolerance_pct > 0.0 ? system->tolerance_pct : scale->default_tolerance_pct;
	if (!system_tolerance_ok(recipe.tolerance_pct))
		return bad(ret_why, "tolerance: 0.1 to 20 % expected");
	recipe.tint_pct = request->tint_pct;
	recipe.cup_limit_g = request->cup_limit_g;
	recipe.max_g = scale->max_g;
	recipe.interval_g = scale->interval_g;
	recipe.u_reading_g = scale->u_reading_g;
	recipe.bottles_on_pan = scale->bottles_on_pan;
	recipe.smallest_dose_g = fmax(4.0 * sqrt(2.0) * scale->u_reading_g, scale->interval_g);
	recipe.smallest_tint_g =
	        tint_smallest_dose_g(scale->u_reading_g, scale->interval_g, RECIPE_TINT_DOUBT_PCT);
	recipe.stir_s = system->stir_s > 0.0                 ? system->stir_s
	                : recipe.total_g < STIR_LARGE_FROM_G ? STIR_SMALL_S
	                                                     : STIR_LARGE_S;
	recipe.working_life_s = working_life_s(system, recipe.total_g, request->resin_degc);
	if (request->life_max_s > 0.0)
		recipe.working_life_s = fmin(recipe.working_life_s, request->life_max_s);
	recipe.resin_known = !isnan(request->resin_degc);
	recipe.resin_degc = recipe.resin_known ? request->resin_degc : 0.0;
	snprintf(recipe.piece, sizeof(recipe.piece), "%s", request->piece);
	snprintf(recipe.layer, sizeof(recipe.layer), "%s", request->layer);
	lay_out_charges(&recipe, request->tint_label);
	r = check_total(&recipe, ret_why);
	if (r == 0)
		r = check_stock(&recipe, ret_why);
	if (r < 0)
		return r;
	*ret = recipe;
	*ret_warning = find_warning(&recipe, today);
	return 0;
}

bool recipe_lot_changed(const struct resin_system *system, const char *const last_lot[2],
                        struct message *ret_warning)
{
	for (int part = PART_A; part <= PART_B; part++) {
		const char *lot = system->part[part].lot;

		if (lot[0] == '\0' || last_lot[part] == NULL || last_lot[part][0] == '\0' ||
		    strcmp(lot, last_lot[part]) == 0)
			continue;
		*ret_warning = (struct message){
		        .id = MESSAGE_LOT_CHANGED,
		        .has = MESSAGE_HAS_COMPONENT | MESSAGE_HAS_TEXT,
		        .component = part_component((enum part)part),
		};
		snprintf(ret_warning->text, sizeof(ret_warning->text), "%s", lot);
		return true;
	}
	return false;
}
