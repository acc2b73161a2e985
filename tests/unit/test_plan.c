/* SPDX-License-Identifier: MIT */
/* A piece cut into layers: each rule, what a layer weighs, and every refusal. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/casting/checks.h"
#include "daemon/casting/layer_depth.h"
#include "tests/support/piece_case.h"

#define PI 3.14159265358979323846

static int setup(void **state)
{
	struct piece_case *made = malloc(sizeof *made);

	assert_non_null(made);
	piece_case_make(made);
	*state = made;
	return 0;
}

static int teardown(void **state)
{
	free(*state);
	return 0;
}

static void embed(struct piece_case *of, const char *name, const char *on, double height_mm,
                  double volume_ml)
{
	struct piece_inclusion *it = &of->piece.inclusions[of->piece.n_inclusions++];

	*it = (struct piece_inclusion){.height_mm = height_mm,
	                               .volume_ml = volume_ml,
	                               .heat_limit_degc = PIECE_INCLUSION_LIMIT_DEGC,
	                               .dried = true,
	                               .count = 1};
	strcpy(it->name, name);
	strcpy(it->rests_on, on);
}

static double sum_mm(const struct plan *plan)
{
	double sum = 0.0;

	for (size_t i = 0; i < plan->n_layers; i++)
		if (!plan->layers[i].top_coat)
			sum += plan->layers[i].depth_mm;
	return sum;
}

static void a_coat_that_no_rule_cuts_is_one_layer(void **state)
{
	struct piece_case *of = *state;

	of->piece.cavity.sections[0].height_mm = 5.0;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 1);
	assert_int_equal(of->plan.layers[0].rule, PLAN_RULE_COAT);
	assert_close(of->plan.layers[0].depth_mm, 5.0, 1e-12);
}

/* By hand: pi/4 20^2 cm2 x 0.5 cm = 157.08 ml, less 12 ml that an inclusion takes up; the
 * mix 1/(100/140/1.15 + 40/140/0.97) g/ml; 2 % of tint on resin and hardener. */
static void a_layer_weighs_what_its_volume_and_the_cup_come_to(void **state)
{
	struct piece_case *of = *state;
	const struct plan_layer *layer = &of->plan.layers[0];
	const double density = 1.0 / (100.0 / 140.0 / 1.15 + 40.0 / 140.0 / 0.97);
	const double ml = PI / 4.0 * 20.0 * 20.0 * 0.5 - 12.0;

	of->piece.cavity.sections[0].height_mm = 5.0;
	of->piece.coats[0].tint_pct = 2.0;
	embed(of, "shell", "", 4.0, 12.0);
	piece_case_plan(of);
	assert_close(layer->volume_ml, ml, 1e-9);
	assert_close(layer->in_piece_g, ml * density, 1e-9);
	assert_close(layer->total_g, ml * density + 5.0, 1e-9);
	assert_close(layer->a_g + layer->b_g + layer->tint_g, layer->total_g, 1e-12);
	assert_close(layer->b_g / layer->a_g, 0.40, 1e-12);
	assert_close(layer->tint_g / (layer->a_g + layer->b_g), 0.02, 1e-9);
	assert_close(of->plan.stock[0].a_g, layer->a_g, 1e-12);
}

static void the_label_cuts_a_coat_into_even_layers(void **state)
{
	struct piece_case *of = *state;

	of->systems[0].label.depth_max_mm = 7.0;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 3);
	for (int i = 0; i < 3; i++) {
		assert_close(of->plan.layers[i].depth_mm, 20.0 / 3.0, 1e-9);
		assert_int_equal(of->plan.layers[i].rule, PLAN_RULE_LABEL);
	}
}

static void heat_cuts_below_the_label_and_keeps_the_95th_percentile_under_the_limit(void **state)
{
	struct piece_case *of = *state;

	of->systems[0].label.depth_max_mm = 200.0;
	of->piece.cavity.sections[0].height_mm = 60.0;
	of->piece.room_degc = 26.0;
	piece_case_plan(of);
	assert_true(of->plan.n_layers >= 2);
	assert_int_equal(of->plan.layers[0].rule, PLAN_RULE_HEAT);
	assert_within(sum_mm(&of->plan), 60.0, 1e-9);
	for (size_t i = 0; i < of->plan.n_layers; i++) {
		const struct plan_layer *layer = &of->plan.layers[i];

		assert_true(layer->peak_band_degc.p95 <= layer->heat_limit_degc);
		assert_true(layer->depth_mm <= layer->label_depth_mm);
		assert_string_equal(layer->heat_limit_of, "system");
	}
}

/* Between a depth at which the fitted resin is cool and one at which 95 of 100 are. */
static void the_doubt_cuts_what_the_fitted_resin_alone_would_not(void **state)
{
	struct piece_case *of = *state;
	bool seen = false;

	of->systems[0].label.depth_max_mm = 200.0;
	of->piece.room_degc = 23.0;
	for (double height = 6.0; height <= 16.0; height += 1.0) {
		of->piece.cavity.sections[0].height_mm = height;
		of->piece.coats[0].depth_mm = 0.0;
		piece_case_plan(of);
		for (size_t i = 0; i < of->plan.n_layers; i++)
			assert_true(of->plan.layers[i].peak_band_degc.p95 <= 60.0);
		/* Cut, though the fitted resin is 20 K away from the limit. */
		seen = seen || (of->plan.n_layers > 1 && of->plan.layers[0].peak_degc < 40.0);
	}
	assert_true(seen);
}

/* The pruned search is the same number as searching for every sample. */
static void the_5th_percentile_alone_is_the_bands(void **state)
{
	struct piece_case *of = *state;
	struct band *band = malloc(sizeof *band);
	char sentence[LABEL_SENTENCE_MAX];
	struct percentiles all;
	double alone;

	assert_non_null(band);
	for (unsigned n = 20; n <= 100; n += 40)
		for (double below = 0.0; below <= 10.0; below += 10.0) {
			const struct heat_case heat = {.resin = of->systems[0].fit.resin,
			                               .depth_mm = 10.0,
			                               .below_mm = below,
			                               .below = of->systems[0].fit.resin.material,
			                               .top_w_per_m2k = 10.0,
			                               .bottom_w_per_m2k = 5.0,
			                               .ambient_degc = 25.0,
			                               .start_degc = 25.0,
			                               .below_degc = 25.0};

			assert_int_equal(band_draw(&of->systems[0].times, &band_spread_usual, 3, n,
			                           band, sentence),
			                 0);
			assert_int_equal(band_depth(band, &heat, 50.0, 200.0, &all), 0);
			assert_int_equal(layer_depth_5th(band, &heat, 50.0, 200.0, &alone), 0);
			assert_close(alone, all.p5, 0.006); /* each search is good to 0.5 % */
			/* Bounded by what the caller can use. */
			assert_int_equal(layer_depth_5th(band, &heat, 50.0, 1.0, &alone), 0);
			assert_close(alone, 1.0, 1e-12);
		}
	free(band);
}

static void an_inclusion_lowers_the_limit_of_its_layer_and_those_above(void **state)
{
	struct piece_case *of = *state;

	of->piece.n_coats = 2;
	strcpy(of->piece.coats[0].name, "base");
	of->piece.coats[0].depth_mm = 5.0;
	strcpy(of->piece.coats[1].name, "cover");
	embed(of, "fern", "base", 1.0, 1.0);
	of->piece.inclusions[0].heat_limit_degc = 45.0;
	piece_case_plan(of);
	assert_string_equal(of->plan.layers[0].heat_limit_of, "system");
	assert_string_equal(of->plan.layers[1].heat_limit_of, "fern");
	assert_close(of->plan.layers[1].heat_limit_degc, 45.0, 1e-12);
	of->piece.mould_limit_degc = 40.0;
	piece_case_plan(of);
	assert_string_equal(of->plan.layers[0].heat_limit_of, "mould");
}

static void a_small_cup_cuts_the_layer_and_a_bigger_one_does_not(void **state)
{
	struct piece_case *of = *state;

	of->piece.cavity.sections[0].height_mm = 10.0;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 1);
	of->piece.cup_limit_g = 200.0;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 2);
	assert_int_equal(of->plan.layers[0].rule, PLAN_RULE_CUP);
	assert_true(of->plan.layers[0].batch_g <= 200.0);
	/* Two batches to a layer do it too. */
	of->piece.batches_max = 2;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 1);
	assert_int_equal(of->plan.layers[0].batches, 2);
	assert_true(of->plan.layers[0].batch_g <= 200.0);
	assert_close(of->plan.layers[0].loss_g, 10.0, 1e-12);
}

/* 25 min of working life for 150 g: not much can be stirred and poured at 1 g/s. */
static void the_working_life_in_the_cup_cuts_what_no_cup_limit_does(void **state)
{
	struct piece_case *of = *state;

	strcpy(of->piece.system, "top");
	of->piece.coats[0].system[0] = '\0';
	of->systems[1].label.depth_max_mm = 15.0;
	of->systems[1].label.peak_max_degc = 119.0;
	of->systems[1].stir_s = 60.0;
	of->piece.cavity.sections[0].width_mm = of->piece.cavity.sections[0].length_mm = 500.0;
	of->piece.cavity.sections[0].height_mm = 2.0;
	of->piece.room_degc = 23.0;
	of->piece.pour_g_per_s = 0.5;
	piece_case_plan(of);
	assert_int_equal(of->plan.layers[0].rule, PLAN_RULE_WORKING_LIFE);
	for (size_t i = 0; i < of->plan.n_layers; i++) {
		const struct plan_layer *layer = &of->plan.layers[i];

		assert_true(PLAN_WEIGH_LAST_S + 60.0 + layer->batch_g / 0.5 <=
		            PLAN_LIFE_SHARE * layer->cup_gel_s + 1.0);
	}
}

static void a_cup_that_keeps_all_it_holds_is_refused(void **state)
{
	struct piece_case *of = *state;

	of->piece.cup_limit_g = 5.0;
	of->piece.cup_loss_g = 8.0;
	piece_case_refused(of, "a cup of 5 g keeps 8 g of it, so that nothing is poured");
	of->piece.cup_limit_g = 8.0;
	piece_case_refused(of, "a cup of 8 g keeps 8 g of it");
	of->piece.cup_limit_g = 200.0;
	piece_case_plan(of);
	/* No limit on the cup, but the working life sets one, and it is less than what stays. */
	of->piece.cup_limit_g = INFINITY;
	strcpy(of->piece.coats[0].system, "top");
	of->systems[1].label.depth_max_mm = 15.0;
	of->systems[1].label.peak_max_degc = 119.0;
	of->piece.room_degc = 23.0;
	of->piece.pour_g_per_s = 0.5;
	of->piece.cup_loss_g = 3000.0;
	piece_case_refused(of, "would take more than 50 cups");
}

static void a_layer_that_would_not_level_takes_more_batches_instead(void **state)
{
	struct piece_case *of = *state;

	of->piece.cup_limit_g = 50.0; /* 1.3 mm a cup, and it levels from 2 mm */
	of->piece.cavity.sections[0].height_mm = 8.0;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 4);
	for (int i = 0; i < 4; i++) {
		assert_int_equal(of->plan.layers[i].rule, PLAN_RULE_LEVELLING);
		assert_close(of->plan.layers[i].depth_mm, 2.0, 1e-9);
		assert_true(of->plan.layers[i].batches > 1);
		assert_true(of->plan.layers[i].batch_g <= 50.0);
	}
}

static void no_layer_ends_just_at_the_top_of_an_inclusion(void **state)
{
	struct piece_case *of = *state;

	of->systems[0].label.depth_max_mm = 10.0;
	embed(of, "stone", "", 10.3, 5.0);
	of->piece.inclusions[0].heat_limit_degc = 120.0;
	piece_case_plan(of);
	assert_int_equal(of->plan.layers[0].rule, PLAN_RULE_INCLUSION);
	assert_close(of->plan.layers[0].depth_mm, 10.3 - PLAN_COVER_MM, 1e-9);
	for (size_t i = 0; i + 1 < of->plan.n_layers; i++)
		assert_true(fabs(of->plan.layers[i].from_mm + of->plan.layers[i].depth_mm - 10.3) >=
		            PLAN_COVER_MM - 1e-9);
	assert_within(sum_mm(&of->plan), 20.0, 1e-9);
}

static void a_top_coat_covers_the_rim_and_runs_off(void **state)
{
	struct piece_case *of = *state;
	struct piece_coat *top = &of->piece.coats[1];
	const struct plan_layer *last;

	of->piece.n_coats = 2;
	*top = (struct piece_coat){.depth_mm = 1.5, .top_coat = true, .run_off_pct = 20.0};
	strcpy(top->name, "gloss");
	strcpy(top->system, "top");
	piece_case_plan(of);
	last = &of->plan.layers[of->plan.n_layers - 1];
	assert_true(last->top_coat);
	assert_string_equal(last->system, "top");
	assert_close(last->volume_ml, PI / 4.0 * 400.0 * 0.15 * 1.2, 1e-9);
	assert_int_equal(of->plan.n_stock, 2);
	/* By the label's coverage: 1100 g/m2 at the mix's density. */
	top->depth_mm = 0.0;
	top->coverage_g_per_m2 = 1100.0;
	piece_case_plan(of);
	last = &of->plan.layers[of->plan.n_layers - 1];
	assert_close(last->in_piece_g, PI / 4.0 * 0.04 * 1100.0 * 1.2, 1e-9);
}

static void fewer_layers_than_the_rules_let_are_refused(void **state)
{
	struct piece_case *of = *state;

	of->piece.cavity.sections[0].height_mm = 8.0;
	of->systems[0].label.depth_max_mm = 7.0;
	of->request.layers_wanted = 1;
	piece_case_refused(of, "would be too deep");
	assert_false(of->plan.runaway);
	of->request.layers_wanted = 2;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 2);
	of->piece.cavity.sections[0].height_mm = 20.0;
	of->piece.coats[0].depth_mm = 0.0;
	of->request.layers_wanted = 5;
	piece_case_plan(of);
	assert_int_equal(of->plan.n_layers, 5);
}

static void what_would_run_away_is_only_told_so(void **state)
{
	struct piece_case *of = *state;

	of->piece.cavity.sections[0].height_mm = 150.0;
	of->piece.room_degc = 30.0;
	of->request.layers_wanted = 1;
	piece_case_refused(of, "runaway: do not pour");
	assert_true(of->plan.runaway);
}

static void a_system_without_a_pour_depth_is_refused_in_one_sentence(void **state)
{
	struct piece_case *of = *state;

	of->systems[0].label.depth_max_mm = 0.0;
	piece_case_refused(of, "slow-cast has no pour depth from its label");
}

static void what_no_plan_can_mend_is_refused_with_numbers(void **state)
{
	struct piece_case *of = *state;

	of->piece.mould_limit_degc = 14.0;
	piece_case_refused(of, "no layer stays under 14 C (mould)");
	of->piece.mould_limit_degc = INFINITY;
	of->piece.coats[0].tint_pct = 6.0;
	piece_case_refused(of, "6.00 % of tint");
	of->piece.coats[0].tint_pct = 0.0;
	strcpy(of->piece.coats[0].system, "unheard-of");
	piece_case_refused(of, "there is no system \"unheard-of\"");
}

static void a_coat_thinner_than_levels_is_refused(void **state)
{
	struct piece_case *of = *state;

	of->piece.coats[0].depth_mm = 1.2;
	piece_case_refused(of, "is 1.20 mm deep and slow-cast levels only from 2.0 mm");
}

static void what_is_poured_is_not_planned_again(void **state)
{
	struct piece_case *of = *state;

	piece_case_plan(of);
	of->request.poured_mm = 11.5;
	of->request.not_before_s = 3600.0 * 100.0;
	of->request.opens_at_s = 3600.0 * 105.0;
	of->request.closes_at_s = 3600.0 * 120.0;
	of->request.sand_at_s = 3600.0 * 121.0;
	piece_case_plan(of);
	assert_close(of->plan.layers[0].from_mm, 11.5, 1e-12);
	assert_within(sum_mm(&of->plan), 8.5, 1e-9);
	assert_false(of->plan.layers[0].sand_first);
	assert_true(of->plan.layers[0].pour_at_s + of->plan.layers[0].session_s >=
	            of->request.opens_at_s);
	assert_true(of->plan.layers[0].pour_at_s + of->plan.layers[0].session_s <=
	            of->request.closes_at_s);
}

/* 330 g at 100:45 with 5 g of B too much makes 346.1 g (worked example of a top-up): the
 * layer is deeper than planned, and what is over the label is kept back. */
static void a_cup_with_more_than_the_layer_may_take_keeps_some_back(void **state)
{
	struct piece_case *of = *state;
	struct plan_advice advice;
	const double per_mm_g = PI / 4.0 * 400.0 * 0.1 * of->systems[0].density_g_per_ml;
	const char *key;

	assert_int_equal(piece_complete(&of->piece, of->sentence, &key), 0);
	assert_int_equal(plan_advice(&of->request, 346.1, 0.0, &advice, of->sentence), 0);
	assert_close(advice.depth_mm, (346.1 - 5.0) / per_mm_g, 1e-6);
	assert_close(advice.keep_back_g + 1.0, 1.0, 1e-12); /* pour all */
	of->systems[0].label.depth_max_mm = 8.0;
	assert_int_equal(plan_advice(&of->request, 346.1, 0.0, &advice, of->sentence), 0);
	assert_int_equal(advice.rule, PLAN_RULE_LABEL);
	assert_close(advice.keep_back_g, 341.1 - 8.0 * per_mm_g, 1e-6);
	/* Too warm, and then with too much hardener, which heats. */
	of->systems[0].label.depth_max_mm = 200.0;
	of->piece.room_degc = 30.0;
	assert_int_equal(plan_advice(&of->request, 700.0, 0.0, &advice, of->sentence), 0);
	assert_int_equal(advice.rule, PLAN_RULE_HEAT);
	assert_true(advice.keep_back_g > 1.0);
	assert_true(advice.peak_p95_degc <= 60.0);
	assert_int_equal(plan_advice(&of->request, 0.0, 0.0, &advice, of->sentence), -EINVAL);
}

static size_t checks_of(const struct piece_case *of, size_t layer, struct layer_check *ret)
{
	return layer_checks(&of->piece, &of->plan, layer, ret);
}

static bool has(const struct layer_check *checks, size_t n, enum layer_check_id id)
{
	for (size_t i = 0; i < n; i++)
		if (checks[i].check == id)
			return true;
	return false;
}

static void the_check_list_is_in_order_and_asks_for_no_more_than_applies(void **state)
{
	struct piece_case *of = *state;
	struct layer_check checks[LAYER_CHECKS_MAX];
	size_t n;

	of->piece.n_coats = 3;
	strcpy(of->piece.coats[0].name, "base");
	of->piece.coats[0].depth_mm = 5.0;
	strcpy(of->piece.coats[1].name, "cover");
	of->piece.coats[2] = (struct piece_coat){.name = "gloss",
	                                         .system = "top",
	                                         .top_coat = true,
	                                         .depth_mm = 1.0,
	                                         .edge_tape = true};
	embed(of, "fern", "base", 1.0, 1.0);
	piece_case_plan(of);
	n = checks_of(of, 0, checks);
	assert_int_equal(checks[0].check, CHECK_CLEAN);
	assert_int_equal(checks[1].check, CHECK_LEAK);
	assert_true(has(checks, n, CHECK_LAYOUT));
	assert_false(has(checks, n, CHECK_DRY));
	assert_false(has(checks, n, CHECK_SAND));
	assert_false(has(checks, n, CHECK_TAPE_OFF));
	for (size_t i = 0; i + 1 < n; i++)
		assert_true(checks[i].when <= checks[i + 1].when);
	n = checks_of(of, 1, checks);
	assert_true(has(checks, n, CHECK_DRY));
	assert_false(has(checks, n, CHECK_LEAK));
	assert_false(has(checks, n, CHECK_BOTTLES));
	n = checks_of(of, of->plan.n_layers - 1, checks);
	assert_true(has(checks, n, CHECK_TAPE_ON));
	assert_int_equal(checks[n - 1].check, CHECK_TAPE_OFF);
	assert_false(has(checks, n, CHECK_DRY));
	of->piece.resin_degc = 35.0;
	n = checks_of(of, 0, checks);
	assert_true(has(checks, n, CHECK_BOTTLES));
	of->piece.resin_degc = 15.0;
	n = checks_of(of, 0, checks);
	assert_true(has(checks, n, CHECK_CRYSTALS));
}

static bool warned(const struct plan *plan, const char *says)
{
	for (size_t i = 0; i < plan->n_warnings; i++)
		if (strstr(plan->warnings[i], says))
			return true;
	return false;
}

static void what_should_be_known_before_the_first_pour_is_said(void **state)
{
	struct piece_case *of = *state;

	embed(of, "fern", "", 21.0, 1.0);
	of->piece.inclusions[0].dried = false;
	of->piece.inclusions[0].may_stand_out = true;
	of->piece.humidity_pct = 90.0;
	of->systems[0].available_g[PART_B] = 10.0;
	piece_case_plan(of);
	assert_true(warned(&of->plan, "will stand 1.0 mm out"));
	assert_true(warned(&of->plan, "not known to be dry"));
	assert_true(warned(&of->plan, "too humid to pour"));
	assert_true(warned(&of->plan, "of part B are needed and 10 g are there"));
	of->piece.inclusions[0].dried = true;
	of->piece.humidity_pct = 40.0;
	of->systems[0].available_g[PART_B] = -1.0;
	piece_case_plan(of);
	assert_false(warned(&of->plan, "not known to be dry"));
	assert_false(warned(&of->plan, "humid"));
	assert_false(warned(&of->plan, "are needed"));
}

static void what_hardly_covers_an_inclusion_is_said(void **state)
{
	struct piece_case *of = *state;

	embed(of, "shell", "", 19.8, 1.0);
	of->piece.inclusions[0].heat_limit_degc = 120.0;
	piece_case_plan(of);
	assert_true(warned(&of->plan, "\"shell\" ends 0.2 mm under the surface"));
	of->piece.inclusions[0].height_mm = 19.0;
	piece_case_plan(of);
	assert_false(warned(&of->plan, "under the surface"));
	of->piece.inclusions[0].height_mm = 19.8;
	of->piece.n_coats = 2;
	of->piece.coats[1] = (struct piece_coat){.name = "gloss",
	                                         .system = "top",
	                                         .depth_mm = 1.0,
	                                         .top_coat = true,
	                                         .tint_eps_low = (double)NAN,
	                                         .tint_eps_high = (double)NAN};
	piece_case_plan(of);
	assert_false(warned(&of->plan, "under the surface"));
}

static void weighings_go_before_what_the_person_says(void **state)
{
	struct piece_case *of = *state;
	struct drying_state *drying = &of->piece.inclusions[0].drying;

	embed(of, "fern", "", 2.0, 1.0);
	of->piece.inclusions[0].dried = true;
	drying->verdict = DRYING_NOT_YET;
	drying->dry_in_s = 3.0 * 86400.0;
	piece_case_plan(of);
	assert_true(warned(&of->plan, "\"fern\" is not dry yet"));
	assert_true(warned(&of->plan, "takes about 3.0 more"));
	drying->dry_in_s = (double)NAN;
	piece_case_plan(of);
	assert_true(warned(&of->plan, "\"fern\" is not known to be dry"));
	drying->verdict = DRYING_STALE;
	drying->since_s = 9.0 * 86400.0;
	piece_case_plan(of);
	assert_true(warned(&of->plan, "dry 9 days ago"));
	of->piece.inclusions[0].dried = false;
	drying->verdict = DRYING_DRY;
	piece_case_plan(of);
	assert_false(warned(&of->plan, "dry"));
	/* Sea glass does not rot, and what is poured over cannot be dried any more. */
	drying->verdict = DRYING_NOT_YET;
	of->piece.inclusions[0].heat_limit_degc = 200.0;
	piece_case_plan(of);
	assert_false(warned(&of->plan, "\"fern\" is not"));
}

static void checks_are_due_by_the_layers_clocks(void **state)
{
	double at_s[LAYER_EVENTS];
	struct layer_check check = {.when = CHECK_AFTER_POUR};

	(void)state;
	for (int i = 0; i < LAYER_EVENTS; i++)
		at_s[i] = 40000.0;
	at_s[CLOCK_STICKY] = 9000.0;
	at_s[LAYER_TAPE_OFF] = 12000.0;
	at_s[CLOCK_BOND_CLOSES] = 30000.0;
	assert_true(layer_check_due(&check, 10.0, at_s));
	assert_false(layer_check_due(&check, 1300.0, at_s));
	at_s[CLOCK_STICKY] = 600.0; /* a bubble pass in sticky resin leaves a scar */
	assert_false(layer_check_due(&check, 700.0, at_s));
	at_s[CLOCK_STICKY] = 9000.0;
	check.when = CHECK_BEFORE_GEL;
	assert_false(layer_check_due(&check, 10.0, at_s));
	assert_true(layer_check_due(&check, 400.0, at_s));
	check.when = CHECK_WHILE_GELLED;
	assert_false(layer_check_due(&check, 11000.0, at_s));
	assert_true(layer_check_due(&check, 13000.0, at_s));
	assert_false(layer_check_due(&check, 31000.0, at_s));
	at_s[CLOCK_BOND_CLOSES] = (double)NAN; /* it never closes */
	assert_true(layer_check_due(&check, 31000.0, at_s));
	check.when = CHECK_BEFORE_POUR;
	assert_false(layer_check_due(&check, 10.0, at_s));
}

static void moist_air_is_on_the_list_where_it_is_known(void **state)
{
	struct piece_case *of = *state;
	struct layer_check checks[LAYER_CHECKS_MAX];
	size_t n;

	piece_case_plan(of);
	assert_false(has(checks, checks_of(of, 0, checks), CHECK_AIR));
	of->piece.humidity_pct = 90.0;
	n = checks_of(of, 0, checks);
	assert_true(has(checks, n, CHECK_AIR));
	for (size_t i = 0; i + 1 < n; i++)
		assert_true(checks[i].when <= checks[i + 1].when);
	of->piece.humidity_pct = 40.0;
	assert_false(has(checks, checks_of(of, 0, checks), CHECK_AIR));
}

/* Beer-Lambert over what lies above the inclusion, twice: 10^-(2 eps c d). */
static void tint_above_the_lowest_inclusion_dims_it(void **state)
{
	struct piece_case *of = *state;

	embed(of, "coin", "", 2.0, 1.0);
	of->piece.coats[0].tint_pct = 0.5;
	of->piece.coats[0].tint_eps_low = 0.02;
	of->piece.coats[0].tint_eps_high = 0.03;
	piece_case_plan(of);
	assert_close(of->plan.seen_high, pow(10.0, -2.0 * 0.02 * 0.5 * 18.0), 1e-9);
	assert_close(of->plan.seen_low, pow(10.0, -2.0 * 0.03 * 0.5 * 18.0), 1e-9);
	of->piece.coats[0].tint_eps_low = (double)NAN;
	piece_case_plan(of);
	assert_true(isnan(of->plan.seen_low));
	assert_non_null(strstr(of->plan.warnings[of->plan.n_warnings - 1], "has no test chip"));
}

static void the_same_request_gives_the_same_plan(void **state)
{
	struct piece_case *of = *state;
	struct plan *first = malloc(sizeof *first);

	assert_non_null(first);
	piece_case_plan(of);
	*first = of->plan;
	piece_case_plan(of);
	assert_memory_equal(first->layers, of->plan.layers, sizeof of->plan.layers);
	free(first);
}

#define test(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	        test(a_coat_that_no_rule_cuts_is_one_layer),
	        test(a_layer_weighs_what_its_volume_and_the_cup_come_to),
	        test(the_label_cuts_a_coat_into_even_layers),
	        test(heat_cuts_below_the_label_and_keeps_the_95th_percentile_under_the_limit),
	        test(the_doubt_cuts_what_the_fitted_resin_alone_would_not),
	        test(the_5th_percentile_alone_is_the_bands),
	        test(an_inclusion_lowers_the_limit_of_its_layer_and_those_above),
	        test(a_small_cup_cuts_the_layer_and_a_bigger_one_does_not),
	        test(the_working_life_in_the_cup_cuts_what_no_cup_limit_does),
	        test(a_cup_that_keeps_all_it_holds_is_refused),
	        test(a_layer_that_would_not_level_takes_more_batches_instead),
	        test(no_layer_ends_just_at_the_top_of_an_inclusion),
	        test(a_top_coat_covers_the_rim_and_runs_off),
	        test(fewer_layers_than_the_rules_let_are_refused),
	        test(what_would_run_away_is_only_told_so),
	        test(a_system_without_a_pour_depth_is_refused_in_one_sentence),
	        test(what_no_plan_can_mend_is_refused_with_numbers),
	        test(a_coat_thinner_than_levels_is_refused),
	        test(what_is_poured_is_not_planned_again),
	        test(a_cup_with_more_than_the_layer_may_take_keeps_some_back),
	        test(the_check_list_is_in_order_and_asks_for_no_more_than_applies),
	        test(what_should_be_known_before_the_first_pour_is_said),
	        test(what_hardly_covers_an_inclusion_is_said),
	        test(weighings_go_before_what_the_person_says),
	        test(checks_are_due_by_the_layers_clocks),
	        test(moist_air_is_on_the_list_where_it_is_known),
	        test(tint_above_the_lowest_inclusion_dims_it),
	        test(the_same_request_gives_the_same_plan),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
