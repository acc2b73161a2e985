/* SPDX-License-Identifier: MIT */
#include "canonical.h"

#include <math.h>

#include "json_writer.h"

static const char *part_name(enum part part)
{
	return component_name(part == PART_A ? COMPONENT_A : COMPONENT_B);
}

static const char *basis_name(enum basis basis)
{
	switch (basis) {
	case BASIS_WEIGHT:
		return "weight";
	case BASIS_VOLUME:
		return "volume";
	case BASIS_NONE:
		break;
	}
	return "none";
}

static void known_or_null(struct json_writer *json, const char *key, double value, bool known)
{
	if (known)
		json_e6(json, key, value);
	else
		json_null(json, key);
}

static void text_or_null(struct json_writer *json, const char *key, const char *text)
{
	if (text[0])
		json_text(json, key, text);
	else
		json_null(json, key);
}

static void write_system(struct json_writer *json, const struct resin_system *system)
{
	json_open(json, "system", '{');
	json_text(json, "id", system->id);
	json_text(json, "name", system->name);
	json_text(json, "basis", basis_name(system->basis));
	json_text(json, "hardener", part_name(system->hardener));
	json_open(json, "parts", '[');
	for (int i = PART_A; i <= PART_B; i++) {
		const struct system_part *part = &system->part[i];

		json_open(json, NULL, '{');
		json_text(json, "part", part_name((enum part)i));
		json_text(json, "label", part->label);
		json_e6(json, "parts_e6", part->parts);
		known_or_null(json, "density_ug_per_ml", part->density_g_per_ml,
		              part->density_g_per_ml > 0);
		text_or_null(json, "lot", part->lot);
		text_or_null(json, "expiry", part->expiry);
		json_close(json, '}');
	}
	json_close(json, ']');
	known_or_null(json, "tolerance_pct_e6", system->tolerance_pct, system->tolerance_pct > 0);
	json_e6(json, "working_life_us", system->working_life_s);
	json_e6(json, "working_life_mass_ug", system->working_life_mass_g);
	json_e6(json, "working_life_degc_e6", system->working_life_degc);
	json_close(json, '}');
}

static void write_request(struct json_writer *json, const struct recipe *recipe)
{
	json_open(json, "request", '{');
	json_e6(json, "total_ug", recipe->total_g);
	json_e6(json, "ratio_e6", recipe->ratio);
	json_e6(json, "tolerance_pct_e6", recipe->tolerance_pct);
	json_e6(json, "tint_pct_e6", recipe->tint_pct);
	text_or_null(json, "piece", recipe->piece);
	text_or_null(json, "layer", recipe->layer);
	known_or_null(json, "cup_limit_ug", recipe->cup_limit_g, recipe->cup_limit_g > 0);
	json_e6(json, "max_ug", recipe->max_g);
	json_e6(json, "u_reading_ug", recipe->u_reading_g);
	json_e6(json, "stir_us", recipe->stir_s);
	json_e6(json, "working_life_us", recipe->working_life_s);
	json_open(json, "charges", '[');
	for (uint32_t i = 0; i < recipe->n_charges && i < RECIPE_CHARGES_MAX; i++) {
		json_open(json, NULL, '{');
		json_text(json, "component", component_name(recipe->charge[i].component));
		json_text(json, "label", recipe->charge[i].label);
		json_e6(json, "target_ug", recipe->charge[i].target_g);
		json_close(json, '}');
	}
	json_close(json, ']');
	json_close(json, '}');
}

static const struct weighing_point *point_of(const struct guide *guide, uint8_t index)
{
	return index < guide->n_points && index < GUIDE_POINTS_MAX ? &guide->point[index] : NULL;
}

static void write_dispense(struct json_writer *json, const struct guide *guide,
                           const struct guide_dispense *dispense)
{
	const struct weighing_point *before = point_of(guide, dispense->before);
	const struct weighing_point *after = point_of(guide, dispense->after);
	bool weighed = before && after && !dispense->by_eye;

	json_open(json, NULL, '{');
	json_text(json, "component", component_name(dispense->component));
	json_text(json, "identity", identity_name(dispense->identity));
	json_e6(json, "mass_ug", dispense->mass_g);
	/* The two readings are taken as independent, as in ratio.h. */
	known_or_null(json, "u_ug", weighed ? hypot(before->u_g, after->u_g) : 0, weighed);
	known_or_null(json, "before_ug", weighed ? before->gross_g : 0, weighed);
	known_or_null(json, "after_ug", weighed ? after->gross_g : 0, weighed);
	json_integer(json, "start_us", dispense->start_us);
	json_integer(json, "end_us", dispense->end_us);
	json_bool(json, "by_eye", dispense->by_eye);
	json_bool(json, "top_up", dispense->top_up);
	json_close(json, '}');
}

static void write_dispenses(struct json_writer *json, const struct guide *guide)
{
	json_open(json, "dispenses", '[');
	for (uint32_t i = 0; i < guide->n_dispenses && i < GUIDE_DISPENSES_MAX; i++)
		write_dispense(json, guide, &guide->dispense[i]);
	json_close(json, ']');
}

static double weighed_of(const struct guide *guide, enum component component)
{
	double sum = 0;

	for (uint32_t i = 0; i < guide->n_dispenses && i < GUIDE_DISPENSES_MAX; i++)
		if (guide->dispense[i].component == component && !guide->dispense[i].by_eye)
			sum += guide->dispense[i].mass_g;
	return sum;
}

/* What is in the cup by the scale. In a divided batch the parts were never weighed
 * apart: their masses are null, the ratio is the parent's. */
static void write_weighed(struct json_writer *json, const struct guide *guide)
{
	struct ratio ratio;
	bool b_hardens = guide->recipe.system.hardener == PART_B;
	bool has_ratio =
	        guide_ratio(guide, &ratio) == 0 && ratio.resin_g > 0 && ratio.hardener_g > 0;

	json_open(json, "weighed", '{');
	json_bool(json, "divided", guide->divided);
	known_or_null(json, "resin_ug", weighed_of(guide, b_hardens ? COMPONENT_A : COMPONENT_B),
	              !guide->divided);
	known_or_null(json, "hardener_ug", weighed_of(guide, b_hardens ? COMPONENT_B : COMPONENT_A),
	              !guide->divided);
	json_e6(json, "mixed_ug", weighed_of(guide, COMPONENT_MIXED));
	json_e6(json, "tint_ug", weighed_of(guide, COMPONENT_TINT));
	json_e6(json, "filler_ug", weighed_of(guide, COMPONENT_FILLER));
	known_or_null(json, "ratio_e6", has_ratio ? ratio.ratio : 0, has_ratio);
	known_or_null(json, "u_ratio_e6", has_ratio ? ratio.u_ratio : 0, has_ratio);
	known_or_null(json, "deviation_pct_e6", has_ratio ? ratio.deviation_pct : 0, has_ratio);
	known_or_null(json, "u_deviation_pct_e6", has_ratio ? ratio.u_deviation_pct : 0, has_ratio);
	json_e6(json, "unexplained_ug", guide->unexplained_g);
	json_close(json, '}');
}

static void write_cup(struct json_writer *json, const struct guide *guide)
{
	json_open(json, "cup", '{');
	known_or_null(json, "pan_ug", guide->pan_g, guide->pan_known);
	known_or_null(json, "cup_ug", guide->cup_g, guide->cup_known);
	json_close(json, '}');
}

static void time_or_null(struct json_writer *json, const char *key, int64_t t_us, bool known)
{
	if (known)
		json_integer(json, key, t_us);
	else
		json_null(json, key);
}

/* From the verdict to the mould: the clock, the pan under the cup, the stirring and
 * what came back. */
static void write_afterwards(struct json_writer *json, const struct guide *guide)
{
	bool working = guide->life_start_us >= 0;
	bool stirring = guide->stir_start_us > 0;

	json_open(json, "afterwards", '{');
	time_or_null(json, "life_start_us", guide->life_start_us, working);
	time_or_null(json, "life_end_us", guide->life_end_us, working);
	time_or_null(json, "stir_start_us", guide->stir_start_us, stirring);
	known_or_null(json, "residue_ug", guide->residue_g, guide->pan_read);
	known_or_null(json, "residue_a_pct_e6", guide->residue_a_pct,
	              guide->pan_read && guide->residue_counts);
	known_or_null(json, "residue_b_pct_e6", guide->residue_b_pct,
	              guide->pan_read && guide->residue_counts);
	known_or_null(json, "stayed_ug", guide->stayed_g, guide->weighed_back);
	json_e6(json, "given_ug", guide->given_g);
	json_close(json, '}');
}

/* Everything a person answered although the scale could not confirm it. */
static void write_accepted(struct json_writer *json, uint32_t accepted)
{
	static const struct {
		enum guide_accepted flag;
		const char *name;
	} flags[] = {
	        {ACCEPTED_NOT_RESIN, "not-resin"},     {ACCEPTED_LOSS, "loss"},
	        {ACCEPTED_DIFFERENCE, "difference"},   {ACCEPTED_CANNOT_TELL, "cannot-tell"},
	        {ACCEPTED_OUTSIDE, "outside"},         {ACCEPTED_PAN, "pan"},
	        {ACCEPTED_LIFE_OVER, "life-over"},     {ACCEPTED_BOTTLE, "bottle"},
	        {ACCEPTED_POURED_LATE, "poured-late"},
	};

	json_open(json, "accepted", '[');
	for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++)
		if (accepted & (uint32_t)flags[i].flag)
			json_text(json, NULL, flags[i].name);
	json_close(json, ']');
}

size_t canonical_write(const struct guide *guide, char *buffer, size_t size)
{
	struct json_writer json;

	json_begin(&json, buffer, size);
	json_open(&json, NULL, '{');
	json_integer(&json, "format", CANONICAL_FORMAT);
	write_system(&json, &guide->recipe.system);
	write_request(&json, &guide->recipe);
	write_cup(&json, guide);
	write_dispenses(&json, guide);
	write_weighed(&json, guide);
	write_afterwards(&json, guide);
	write_accepted(&json, guide->accepted);
	json_text(&json, "step", guide_step_name(guide->step));
	json_text(&json, "message", message_name(guide->message.id));
	json_text(&json, "verdict", verdict_name(guide->verdict));
	json_bool(&json, "provisional", guide->provisional);
	json_close(&json, '}');
	return json_end(&json);
}
