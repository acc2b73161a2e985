/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/casting/clocks.h"
#include "daemon/casting/cup.h"
#include "daemon/casting/cup_life.h"
#include "daemon/casting/label.h"
#include "tests/support/json_number.h"

#define REFERENCE AMBO_TEST_DATA "/cure_reference.json"

static struct cup_case standing(const struct casting_resin *resin, double mass_g, double degc)
{
	return (struct cup_case){
	        .resin = *resin, .mass_g = mass_g, .ambient_degc = degc, .start_degc = degc};
}

static double reference(const char *name, const char *what)
{
	char path[96];

	snprintf(path, sizeof path, "R4_cup/%s/%s", name, what);
	return json_number_at(REFERENCE, path);
}

static void cups_match_the_reference(void **state)
{
	static const struct {
		const char *name;
		double mass_g, degc;
		bool slow;
	} cups[] = {{"FAST_20C_100g", 100, 20, false},
	            {"FAST_25C_100g", 100, 25, false},
	            {"FAST_25C_500g", 500, 25, false},
	            {"SLOW_25C_100g", 100, 25, true},
	            {"SLOW_25C_500g", 500, 25, true}};

	(void)state;
	for (size_t i = 0; i < sizeof cups / sizeof *cups; i++) {
		struct cup_case cup =
		        standing(cups[i].slow ? &casting_resin_slow : &casting_resin_fast,
		                 cups[i].mass_g, cups[i].degc);
		struct cup_result result;

		assert_int_equal(cup_run(&cup, 0.0, &result), 0);
		assert_close(result.gel_s / 60.0, reference(cups[i].name, "t_gel_min"), 2e-6);
		assert_within(result.peak_degc, reference(cups[i].name, "Tpeak_C"), 1e-4);
		assert_within(result.gel_degc, reference(cups[i].name, "T_at_gel_C"), 3e-4);
		assert_close(result.peak_s / 60.0, reference(cups[i].name, "t_peak_min"), 1e-3);
		assert_close(cup_gel_s(&cup), result.gel_s, 1e-14);
	}
}

/* Published with the model: FAST gel of 100 g at 20, 25, 30 C, and 330 g in a 25 C room
 * from 15, 25, 35, 40 C (computed there to about 0.3 %). */
static void warm_resin_gels_sooner(void **state)
{
	static const double room[] = {20, 25, 30}, room_min[] = {63.54, 39.85, 26.29};
	static const double start[] = {15, 25, 35, 40}, start_min[] = {64.9, 37.5, 19.1, 13.5};

	(void)state;
	for (int i = 0; i < 3; i++) {
		struct cup_case cup = standing(&casting_resin_fast, 100.0, room[i]);

		assert_within(cup_gel_s(&cup) / 60.0, room_min[i], 0.005);
	}
	for (int i = 0; i < 4; i++) {
		struct cup_case cup = standing(&casting_resin_fast, 330.0, 25.0);

		cup.start_degc = start[i];
		assert_close(cup_gel_s(&cup) / 60.0, start_min[i], 0.004);
	}
}

/* By what was weighed: the same cups as above, as a station asks for them. */
static void the_working_life_is_when_the_cup_gels(void **state)
{
	struct casting_system system = {
	        .ratio = 0.5, .hardener = PART_B, .fit = {.resin = casting_resin_fast}};
	const double a_g = 220.0, b_g = 110.0, none = (double)NAN;
	double right_s;

	(void)state;
	assert_close(cup_life_s(&system, a_g, b_g, 0.0, 40.0, 25.0) / 60.0, 13.5, 0.004);
	right_s = cup_life_s(&system, a_g, b_g, 0.0, 25.0, none);
	assert_close(right_s / 60.0, 37.5, 0.004);
	assert_close(cup_life_s(&system, a_g, b_g, 0.0, none, 25.0), right_s, 1e-12);
	/* More of it, or too much hardener: sooner. */
	assert_true(cup_life_s(&system, 2.0 * a_g, 2.0 * b_g, 0.0, 25.0, 25.0) < right_s - 15.0);
	assert_true(cup_life_s(&system, a_g, 1.1 * b_g, 0.0, 25.0, 25.0) < right_s - 15.0);
	system.hardener = PART_A;
	assert_close(cup_life_s(&system, b_g, a_g, 0.0, 25.0, 25.0), right_s, 1e-12);
	assert_true(isnan(cup_life_s(&system, a_g, b_g, 0.0, none, none)));
	assert_true(isnan(cup_life_s(&system, 0.0, b_g, 0.0, 25.0, 25.0)));
}

/* Stopped and taken up again it gels at the same moment. */
static void what_is_left_of_the_working_life_adds_up(void **state)
{
	struct cup_case cup = standing(&casting_resin_fast, 330.0, 25.0);
	struct cup_result whole, first, rest;

	(void)state;
	assert_int_equal(cup_run(&cup, 0.0, &whole), 0);
	assert_int_equal(cup_run(&cup, 1200.0, &first), 0);
	assert_true(isnan(first.gel_s));
	assert_within(first.end_s, 1200.0, 0.0);
	cup.start_degc = first.end_degc;
	cup.start_conversion = first.end_conversion;
	assert_int_equal(cup_run(&cup, 0.0, &rest), 0);
	assert_close(1200.0 + rest.gel_s, whole.gel_s, 1e-6);
}

/* Poured back warm and half cured, into a cool room: it gels at once (a resin of many
 * groups, at 0.21) and cools, and then its own heat overtakes the room. */
static void a_cup_that_cools_at_gel_may_heat_again(void **state)
{
	struct cup_case cup = {.resin = casting_resin_fast,
	                       .mass_g = 33.2,
	                       .ambient_degc = 15.5,
	                       .start_degc = 22.0,
	                       .start_conversion = 0.206};
	struct cup_result result, whole;

	(void)state;
	cup.resin.cure.a1_per_s = 9300.0;
	cup.resin.cure.gel_conversion = 0.9;
	assert_int_equal(cup_run(&cup, 0.0, &whole), 0);
	cup.resin.cure.gel_conversion = 0.21;
	assert_int_equal(cup_run(&cup, 0.0, &result), 0);
	assert_true(result.peak_degc > 22.5 && result.peak_s > 10.0 * result.gel_s);
	assert_within(result.peak_degc, whole.peak_degc, 1e-3);
}

static void a_cup_that_cannot_be_gets_no_answer(void **state)
{
	struct cup_case cup = standing(&casting_resin_fast, 0.0, 25.0);
	struct cup_result result = {.gel_s = 5.0};

	(void)state;
	assert_true(cup_run(&cup, 0.0, &result) < 0);
	assert_within(result.gel_s, 5.0, 0.0);
	cup.mass_g = 100.0;
	cup.ambient_degc = (double)NAN;
	assert_true(cup_run(&cup, 0.0, &result) < 0);
	assert_true(isnan(cup_gel_s(&cup)));
	assert_close(cup_ua_w_per_k(800.0), 4.0 * 0.066, 1e-14);
}

/* Without vitrification and with B = 1, k2 t = [ln((c + a)/c) - ln(1 - a)] / (1 + c)^2 +
 * a / (1 - a) / (1 + c), c = k1 / k2: the rate's partial fractions, integrated by hand. */
static void a_films_gel_is_the_closed_form(void **state)
{
	static const double cs[] = {1e-6, 1e-3, 0.02, 0.2, 1.0, 5.0, 2e3};
	struct cure cure = casting_resin_fast.cure;
	const double k2 = cure.a2_per_s * exp(-cure.e2_j_per_mol / (CURE_GAS_CONSTANT_J_PER_MOLK *
	                                                            (23.0 + CURE_ZERO_DEGC_K)));

	(void)state;
	cure.vitrification = 0.0;
	for (size_t i = 0; i < sizeof cs / sizeof *cs; i++)
		for (double gel = 0.1; gel < 0.95; gel += 0.2) {
			const double c = cs[i];

			cure.a1_per_s = c * cure.a2_per_s;
			cure.gel_conversion = gel;
			assert_close(label_film_gel_s(&cure, 23.0),
			             ((log((c + gel) / c) - log(1.0 - gel)) / pow(1.0 + c, 2.0) +
			              gel / (1.0 - gel) / (1.0 + c)) /
			                     k2,
			             1e-10);
		}
	cure.a1_per_s = 0.0;
	assert_true(isnan(label_film_gel_s(&cure, 23.0)));
	cure.a1_per_s = cure.a2_per_s;
	cure.gel_conversion = 1.0;
	assert_true(isnan(label_film_gel_s(&cure, 23.0)));
}

/* And where it vitrifies, has two energies and too little hardener, the clocks' stepper says
 * the same; a film in the frost never gels. */
static void a_films_gel_is_what_its_clock_says(void **state)
{
	struct cure cure = casting_resin_slow.cure;

	(void)state;
	cure.e1_j_per_mol = 64e3;
	cure.stoichiometry = 0.85;
	cure.gel_conversion = cure_gel_conversion(0.85, 2.0, 4.0);
	for (double degc = 5.0; degc < 45.0; degc += 5.0) {
		const double film_s = label_film_gel_s(&cure, degc);
		struct clocks clocks;

		clocks_init(&clocks, 0.0, degc, 0.0);
		assert_int_equal(clocks_step(&clocks, &cure, 1.2 * film_s, degc), 0);
		assert_close(film_s, clocks.at_s[CLOCK_GEL], 2e-6);
	}
	assert_true(isnan(label_film_gel_s(&cure, -40.0)));
}

static struct label of_the_family(const struct casting_resin *family)
{
	struct cup_case cup = standing(family, 100.0, 25.0);

	return (struct label){.family = *family,
	                      .pot_life_s = cup_gel_s(&cup),
	                      .pot_mass_g = 100.0,
	                      .pot_degc = 25.0};
}

static void a_family_is_found_again_from_its_own_pot_life(void **state)
{
	const struct casting_resin *families[] = {&casting_resin_fast, &casting_resin_slow};

	(void)state;
	for (int i = 0; i < 2; i++) {
		struct label label = of_the_family(families[i]);
		struct label_fit fit;
		char sentence[LABEL_SENTENCE_MAX];

		/* Begun from a family a hundred times too quick. */
		label.family.cure.a1_per_s *= 100.0;
		label.family.cure.a2_per_s *= 100.0;
		assert_int_equal(label_fit(&label, &fit, sentence), 0);
		assert_close(fit.resin.cure.a2_per_s, families[i]->cure.a2_per_s, 1e-4);
		assert_close(fit.c, 0.2, 1e-12);
		assert_false(fit.c_learnt);
	}
}

/* A resin of another c is found from its pot life and its film's gel together. */
static void a_film_gel_time_tells_c(void **state)
{
	struct casting_resin other = casting_resin_fast;
	struct label label;
	struct label_fit fit;
	char sentence[LABEL_SENTENCE_MAX];

	(void)state;
	other.cure.a2_per_s *= 1.3;
	other.cure.a1_per_s = 0.07 * other.cure.a2_per_s;
	label = of_the_family(&other);
	label.film_degc = 23.0;
	label.film_gel_s = label_film_gel_s(&other.cure, 23.0);
	label.family = casting_resin_fast;
	assert_int_equal(label_fit(&label, &fit, sentence), 0);
	assert_true(fit.c_learnt);
	assert_true(fit.ratio < LABEL_C_NEEDS_RATIO);
	assert_close(fit.c, 0.07, 2e-3);
	assert_close(fit.resin.cure.a2_per_s, other.cure.a2_per_s, 2e-3);
}

/* A small cup that hardly warms says nothing of c: it stays the family's. */
static void times_too_alike_leave_c(void **state)
{
	struct label label = of_the_family(&casting_resin_slow);
	struct label_fit fit;
	char sentence[LABEL_SENTENCE_MAX];

	(void)state;
	label.film_degc = 25.0;
	label.film_gel_s = label_film_gel_s(&casting_resin_slow.cure, 25.0);
	assert_int_equal(label_fit(&label, &fit, sentence), 0);
	assert_true(fit.ratio > LABEL_C_NEEDS_RATIO);
	assert_false(fit.c_learnt);
	assert_close(fit.c, 0.2, 1e-12);
}

static void a_labels_contradictions_are_said(void **state)
{
	struct label label = of_the_family(&casting_resin_fast);
	struct label_fit fit = {.c = 9.0};
	char sentence[LABEL_SENTENCE_MAX];

	(void)state;
	label.film_gel_s = 1200.0;
	label.film_degc = 25.0;
	assert_true(label_fit(&label, &fit, sentence) < 0);
	assert_string_equal(
	        sentence,
	        "a film that gels in 20 min at 25 C and a pot life of 40 min for 100 g at 25 C "
	        "contradict each other: no resin of this family does both; check the label");
	assert_within(fit.c, 9.0, 0.0);
	/* A hundred times longer in the film than in the cup fits no c either. */
	label.film_gel_s = 2390.0 * 100.0;
	assert_true(label_fit(&label, &fit, sentence) < 0);
	assert_non_null(strstr(sentence, "contradict"));
	label.film_gel_s = 0.0;
	label.pot_life_s = 5.0;
	assert_true(label_fit(&label, &fit, sentence) < 0);
	label.pot_life_s = 2400.0;
	label.pot_mass_g = (double)NAN;
	assert_true(label_fit(&label, &fit, sentence) < 0);
	label.pot_mass_g = 100.0;
	label.pot_degc = 250.0;
	assert_true(label_fit(&label, &fit, sentence) < 0);
	assert_string_equal(sentence, "a label's time at 250 C; expected -20 to 100 C");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(cups_match_the_reference),
	        cmocka_unit_test(warm_resin_gels_sooner),
	        cmocka_unit_test(the_working_life_is_when_the_cup_gels),
	        cmocka_unit_test(what_is_left_of_the_working_life_adds_up),
	        cmocka_unit_test(a_cup_that_cools_at_gel_may_heat_again),
	        cmocka_unit_test(a_cup_that_cannot_be_gets_no_answer),
	        cmocka_unit_test(a_films_gel_is_the_closed_form),
	        cmocka_unit_test(a_films_gel_is_what_its_clock_says),
	        cmocka_unit_test(a_family_is_found_again_from_its_own_pot_life),
	        cmocka_unit_test(a_film_gel_time_tells_c),
	        cmocka_unit_test(times_too_alike_leave_c),
	        cmocka_unit_test(a_labels_contradictions_are_said),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
