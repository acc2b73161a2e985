/* SPDX-License-Identifier: MIT */
#include "guide_script.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define STEP_US        100000
#define PROVISIONAL_US 300000 /* after the last movement */
#define SETTLED_US     800000

struct resin_system script_system(void)
{
	struct resin_system system = {
	        .id = "tidepool-clear",
	        .name = "Tidepool Clear",
	        .hardener = PART_B,
	        .basis = BASIS_WEIGHT,
	        .tolerance_pct = 2.0,
	        .working_life_s = 2400.0,
	        .working_life_mass_g = 400.0,
	        .working_life_degc = 23.0,
	        .stir_s = 180.0,
	        .tint_max_pct = 5.0,
	        .part = {{.label = "resin",
	                  .parts = 100.0,
	                  .density_g_per_ml = 1.15,
	                  .lot = "TA-014",
	                  .expiry = "2031-05-31",
	                  .available_g = -1.0,
	                  .bottle_gross_g = -1.0,
	                  .code = "TP-A"},
	                 {.label = "hardener",
	                  .parts = 45.0,
	                  .density_g_per_ml = 0.98,
	                  .lot = "TB-009",
	                  .expiry = "2031-05-31",
	                  .available_g = -1.0,
	                  .bottle_gross_g = -1.0,
	                  .code = "TP-B"}},
	};

	return system;
}

struct recipe_request script_request(void)
{
	return (struct recipe_request){.total_g = 330.0, .resin_degc = (double)NAN};
}

struct recipe_scale script_scale(void)
{
	return (struct recipe_scale){.max_g = 5000.0,
	                             .interval_g = 0.1,
	                             .u_reading_g = 0.05,
	                             .default_tolerance_pct = 2.0};
}

void script_begin_as(struct script *script, const struct resin_system *system,
                     const struct recipe_request *request, const struct recipe_scale *scale)
{
	struct message why = {0}, warning;
	struct recipe recipe;

	if (recipe_make(system, request, scale, "2027-01-01", &recipe, &why, &warning) < 0)
		fail_msg("refused: %s %s", message_name(why.id), why.text);
	*script = (struct script){.u_g = scale->u_reading_g, .sd_g = 0.01, .moved_us = -SETTLED_US};
	guide_begin(&recipe, &script->guide);
}

void script_begin(struct script *script)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();

	script_begin_as(script, &system, &request, &scale);
}

/* What holds after every event, whatever was done. */
static void check(const struct script *script)
{
	const struct guide *guide = &script->guide;
	struct guide_view view;

	assert_true(guide->n_points <= GUIDE_POINTS_MAX);
	assert_true(guide->n_dispenses <= GUIDE_DISPENSES_MAX);
	assert_true(guide->charge < guide->recipe.n_charges);
	for (uint32_t i = 0; i < guide->n_dispenses; i++) {
		const struct guide_dispense *row = &guide->dispense[i];

		assert_true(row->before < guide->n_points && row->after < guide->n_points);
		if (!row->by_eye)
			assert_within(row->mass_g,
			              guide->point[row->after].gross_g -
			                      guide->point[row->before].gross_g,
			              1e-9);
	}
	guide_look(guide, &view);
	assert_true(isfinite(view.target_g) && isfinite(view.remaining_g) &&
	            isfinite(view.deviation_pct) && isfinite(view.working_life_left_s));
	if (view.verdict == VERDICT_WITHIN && !guide->divided) {
		/* Nothing is called within that the judge does not call so. */
		struct ratio ratio;

		assert_int_equal(guide_ratio(guide, &ratio), 0);
		assert_int_equal(ratio_judge(&ratio, guide->recipe.tolerance_pct).verdict,
		                 VERDICT_WITHIN);
	}
}

static void send(struct script *script, const struct guide_event *event)
{
	struct guide old = script->guide;

	guide_next(&old, event, &script->guide);
	script->commits += guide_differs(&old, &script->guide) != 0;
	if (guide_finished(&old))
		assert_int_equal(guide_differs(&old, &script->guide), 0);
	check(script);
}

static void call_after(struct script *script)
{
	if (script->after == NULL || script->inside_after)
		return;
	script->inside_after = true;
	script->after(script);
	script->inside_after = false;
}

void script_event(struct script *script, enum guide_event_kind kind, const char *text,
                  double seconds)
{
	struct guide_event event = {.kind = kind, .t_us = script->t_us, .seconds = seconds};

	if (text != NULL)
		snprintf(event.text, sizeof(event.text), "%s", text);
	send(script, &event);
}

void script_press(struct script *script)
{
	script_event(script, GUIDE_PRESS, NULL, 0.0);
	call_after(script);
}

static void sample(struct script *script, double rate_g_per_s)
{
	struct guide_event event = {.kind = GUIDE_READING, .u_reading_g = script->u_g};
	struct reading *reading = &event.reading;
	int64_t still_us;

	script->t_us += STEP_US;
	event.t_us = script->t_us;
	reading->t_us = script->t_us;
	still_us = script->t_us - script->moved_us;
	reading->known = true;
	reading->gross_g = reading->net_g = script->gross_g;
	reading->rate_g_per_s = rate_g_per_s;
	reading->sd_g = script->sd_g;
	reading->warm = true;
	reading->state = rate_g_per_s != 0.0 || still_us < PROVISIONAL_US ? READING_UNSETTLED
	                 : still_us < SETTLED_US                          ? READING_PROVISIONAL
	                                                                  : READING_SETTLED;
	reading->still_since_us =
	        reading->state == READING_UNSETTLED ? script->t_us : script->moved_us;
	if (script->fault) {
		reading->state = READING_FAULT;
		reading->silent = script->silent;
		reading->overload = script->overload;
	}
	send(script, &event);
	script_event(script, GUIDE_TICK, NULL, 0.0);
	call_after(script);
}

void script_rest(struct script *script, double seconds)
{
	for (int i = 0; i < (int)(seconds * 10.0 + 0.5); i++)
		sample(script, 0.0);
}

void script_pour(struct script *script, double mass_g, double rate_g_per_s)
{
	double end_g = script->gross_g + mass_g, step_g = rate_g_per_s * 0.1;

	while (script->gross_g < end_g - 1e-9) {
		script->gross_g = fmin(end_g, script->gross_g + step_g);
		script->moved_us = script->t_us + STEP_US;
		sample(script, rate_g_per_s);
	}
}

void script_put(struct script *script, double mass_g)
{
	script->gross_g += mass_g;
	script->moved_us = script->t_us;
}

void script_wobble(struct script *script, double seconds, double amplitude_g)
{
	double gross_g = script->gross_g;

	for (int i = 0; i < (int)(seconds * 10.0 + 0.5); i++) {
		script->gross_g = gross_g + (i % 2 == 0 ? amplitude_g : -amplitude_g);
		script->moved_us = script->t_us + STEP_US;
		sample(script, i % 2 == 0 ? 20.0 * amplitude_g : -20.0 * amplitude_g);
	}
	script->gross_g = gross_g;
	script->moved_us = script->t_us;
}

void script_to_cup(struct script *script)
{
	script_rest(script, 2.0);
	script_press(script);
	script_rest(script, 2.0);
}

void script_to_charge(struct script *script, double cup_g)
{
	script_to_cup(script);
	script_put(script, cup_g);
	script_rest(script, 7.0);
	assert_int_equal(script->guide.step, GUIDE_CHARGE);
}

void script_fill(struct script *script, double mass_g)
{
	script_pour(script, mass_g, 12.0);
	script_rest(script, 5.0);
}

struct guide_view script_look(const struct script *script)
{
	struct guide_view view;

	guide_look(&script->guide, &view);
	return view;
}

enum message_id script_message(const struct script *script)
{
	return script->guide.message.id;
}
