/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>

#include "tests/support/guide_script.h"

/* Random walks through the guide, seeded. What must hold after every event is
 * asserted in guide_script.c: tables bounded, masses the differences of their points,
 * finished is final, and nothing called within that the judge does not call so. */

struct dice {
	uint64_t state;
};

static uint32_t roll(struct dice *dice, uint32_t sides)
{
	/* splitmix64, public domain (Vigna). */
	uint64_t z = dice->state += 0x9e3779b97f4a7c15u;

	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
	z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
	return (uint32_t)((z ^ (z >> 31)) >> 32) % sides;
}

static double draw(struct dice *dice, double low, double high)
{
	return low + (high - low) * roll(dice, 1000000) * 1e-6;
}

static void begin(struct script *script, struct dice *dice)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();

	request.total_g = draw(dice, 100.0, 600.0);
	request.tint_pct = roll(dice, 3) == 0 ? draw(dice, 0.05, 4.0) : 0.0;
	request.cup_limit_g = roll(dice, 2) == 0 ? request.total_g * 1.1 : 0.0;
	system.tint_after_hardener = roll(dice, 4) == 0;
	if (roll(dice, 4) == 0)
		system.hardener = PART_A;
	if (roll(dice, 3) == 0) {
		scale.bottles_on_pan = true;
		system.part[PART_A].bottle_gross_g = 1200.0;
		system.part[PART_B].bottle_gross_g = 900.0;
	}
	if (system.hardener == PART_A) {
		system.part[PART_A].parts = 45.0;
		system.part[PART_B].parts = 100.0;
	}
	script_begin_as(script, &system, &request, &scale);
}

static void chaos(struct script *script, struct dice *dice)
{
	struct guide_view view = script_look(script);

	switch (roll(dice, 22)) {
	case 0:
	case 1:
	case 2:
	case 3:
		script_press(script);
		break;
	case 4:
	case 5:
		script_pour(script, draw(dice, 0.1, 150.0), draw(dice, 0.5, 15.0));
		break;
	case 6:
	case 7:
	case 8:
		if ((view.has & VIEW_HAS_TARGET) != 0 && view.remaining_g > 0.1)
			script_pour(script, view.remaining_g * draw(dice, 0.9, 1.1), 12.0);
		break;
	case 9:
		script_put(script, draw(dice, -20.0, 30.0));
		break;
	case 10:
		script_put(script, -script->gross_g + draw(dice, -1.0, 3.0));
		break;
	case 11:
		script_put(script, script->guide.rest.gross_g - script->gross_g);
		break;
	case 12:
		script_wobble(script, draw(dice, 0.2, 3.0), draw(dice, 0.5, 20.0));
		break;
	case 13:
		script_event(script, GUIDE_OTHER_PART, NULL, 0.0);
		break;
	case 14:
		script_event(script, GUIDE_SCAN, roll(dice, 2) == 0 ? "TP-A" : "TP-B", 0.0);
		break;
	case 15:
		script_event(script, roll(dice, 2) == 0 ? GUIDE_HOLD : GUIDE_RESUME, NULL, 0.0);
		break;
	case 16:
		script->fault = roll(dice, 3) == 0;
		script->silent = roll(dice, 2) == 0;
		script->overload = roll(dice, 4) == 0;
		break;
	case 17:
		script_event(script, GUIDE_LIFE, NULL, draw(dice, -10.0, 3000.0));
		break;
	case 18:
		script_put(script, roll(dice, 2) == 0 ? 1200.0 : -1200.0);
		break;
	case 19:
		if (roll(dice, 30) == 0)
			script_event(script, GUIDE_DISCARD, NULL, 0.0);
		else if (roll(dice, 5) == 0)
			script_event(script, GUIDE_STORE_FAILED, "no reason", 0.0);
		break;
	case 20:
		script->u_g = draw(dice, 0.01, roll(dice, 5) == 0 ? 1.0 : 0.1);
		break;
	default:
		script_rest(script, 8.0);
		break;
	}
	script_rest(script, draw(dice, 0.1, 6.0));
}

static void two_thousand_random_walks_keep_every_rule(void **state)
{
	uint32_t reached[GUIDE_DISCARDED + 1] = {0};
	uint32_t messages = 0, said[MESSAGE_COUNT] = {0};

	(void)state;
	for (uint64_t seed = 1; seed <= 2000; seed++) {
		struct dice dice = {.state = seed};
		struct script script;

		begin(&script, &dice);
		for (int i = 0; i < 60 && !guide_finished(&script.guide); i++) {
			if (script.guide.step == GUIDE_CUP && roll(&dice, 2) == 0) {
				script.fault = false;
				script_put(&script, -script.gross_g);
				script_rest(&script, 2.0);
				script_put(&script, 25.0);
				script_rest(&script, 8.0);
			}
			chaos(&script, &dice);
			reached[script.guide.step]++;
			said[script.guide.message.id]++;
		}
	}
	for (int step = GUIDE_READY; step <= GUIDE_DISCARDED; step++)
		assert_true(reached[step] > 0); /* the walk goes everywhere */
	for (int id = 0; id < MESSAGE_COUNT; id++)
		messages += said[id] > 0;
	print_message("%u of %d messages said; %u times done\n", messages, MESSAGE_COUNT,
	              reached[GUIDE_DONE]);
	assert_true(messages >= 35);
}

/* --- an honest, clumsy person: the truth against what is called within --- */

struct honest {
	struct script script;
	struct dice dice;
	double a_g, b_g; /* in the cup, truly */
};

static double *truth_of(struct honest *honest, enum component component)
{
	static double elsewhere;

	return component == COMPONENT_A   ? &honest->a_g
	       : component == COMPONENT_B ? &honest->b_g
	                                  : &elsewhere;
}

static void came(struct honest *honest, const struct guide_view *view, double mass_g)
{
	bool b_hardens = honest->script.guide.recipe.system.hardener == PART_B;

	if (view->message.id == MESSAGE_DILUTION) /* of the tint in the resin */
		*truth_of(honest, b_hardens ? COMPONENT_A : COMPONENT_B) +=
		        mass_g * (1.0 - view->message.pct / 100.0);
	else
		*truth_of(honest, view->component) += mass_g;
}

static void disturb(struct honest *honest)
{
	struct script *script = &honest->script;
	double gross_g = script->gross_g, thing_g = draw(&honest->dice, 2.5, 40.0);

	switch (roll(&honest->dice, 8)) {
	case 0:
		script_wobble(script, 1.0, draw(&honest->dice, 1.0, 10.0));
		break;
	case 1: /* lifted and put back */
		script_put(script, -gross_g);
		script_rest(script, 4.0);
		script_put(script, gross_g);
		break;
	case 2: /* a thing, on and off */
		script_put(script, thing_g);
		script_rest(script, 4.0);
		script_put(script, -thing_g);
		break;
	case 3: /* the scale, away for a while */
		script->fault = true;
		script_rest(script, 2.0);
		script->fault = false;
		script_put(script, 0.0);
		break;
	default:
		return;
	}
	script_rest(script, 4.0);
}

static void pour_what_is_wanted(struct honest *honest, const struct guide_view *view)
{
	struct script *script = &honest->script;
	double mass_g = view->remaining_g;

	if (roll(&honest->dice, 3) == 0)
		mass_g *= draw(&honest->dice, 0.7, 1.12);
	if (view->message.id == MESSAGE_ADD_POWDER)
		script_put(script, mass_g);
	else
		script_pour(script, mass_g, fmin(12.0, fmax(1.0, mass_g / 3.0)));
	came(honest, view, mass_g);
	script_rest(script, 1.0);
	if (roll(&honest->dice, 3) == 0) { /* a drip, late */
		double drip_g = draw(&honest->dice, 0.05, 0.9);

		script_put(script, drip_g);
		came(honest, view, drip_g);
	}
	script_rest(script, 5.0);
}

static void one_act(struct honest *honest)
{
	struct script *script = &honest->script;
	struct guide_view view = script_look(script);

	disturb(honest);
	view = script_look(script);
	switch (view.step) {
	case GUIDE_CUP:
		script_put(script, 25.0 - script->gross_g);
		script_rest(script, 8.0);
		return;
	case GUIDE_CHARGE:
	case GUIDE_TOP_UP:
		if (view.message.id == MESSAGE_RATIO_WITHIN && view.press == PRESS_STIR) {
			script_put(script, -script->gross_g);
			script_rest(script, 4.0);
		} else if (view.press != PRESS_NOTHING) {
			script_press(script);
			script_rest(script, 4.0);
		} else if ((view.has & VIEW_HAS_TARGET) != 0 && view.remaining_g > 0.05) {
			pour_what_is_wanted(honest, &view);
		}
		return;
	case GUIDE_READY:
	case GUIDE_STIR:
	case GUIDE_POUR:
	case GUIDE_HELD:
		script_press(script);
		script_rest(script, 3.0);
		return;
	case GUIDE_DONE:
	case GUIDE_DISCARDED:
		return;
	}
}

static void what_is_called_within_is_within_in_truth(void **state)
{
	uint32_t within = 0, other = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= 1000; seed++) {
		struct honest honest = {.dice = {.state = seed * 77u}};
		const struct guide *guide = &honest.script.guide;

		begin(&honest.script, &honest.dice);
		for (int i = 0; i < 80 && !guide_finished(guide); i++)
			one_act(&honest);
		if (guide->step != GUIDE_DONE || guide->verdict != VERDICT_WITHIN ||
		    guide->provisional) {
			other++;
			continue;
		}
		within++;
		{
			bool b_hardens = guide->recipe.system.hardener == PART_B;
			double ratio =
			        b_hardens ? honest.b_g / honest.a_g : honest.a_g / honest.b_g;
			double off_pct = 100.0 * (ratio / guide->recipe.ratio - 1.0);

			if (!(fabs(off_pct) <= guide->recipe.tolerance_pct))
				fail_msg(
				        "seed %llu: called within, truly %+.2f %% (A %.2f, B %.2f)",
				        (unsigned long long)seed, off_pct, honest.a_g, honest.b_g);
		}
	}
	print_message("%u called within, all truly; %u ended otherwise\n", within, other);
	assert_true(within >= 600);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(two_thousand_random_walks_keep_every_rule),
	        cmocka_unit_test(what_is_called_within_is_within_in_truth),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
