/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/casting/clocks.h"
#include "daemon/casting/cure.h"
#include "tests/support/json_number.h"

#define REFERENCE AMBO_TEST_DATA "/cure_reference.json"

static double reference(const char *path)
{
	return json_number_at(REFERENCE, path);
}

/* Closed form by partial fractions of the published rate law (Sourour and Kamal 1976) with
 * fd = 1 and B = 1, c = A1/A2:
 * k2 t = [ln((c+a)/c) - ln(1-a)]/(1+c)^2 + [a/(1-a)]/(1+c). */
static double closed_s(const struct cure *cure, double t_k, double a)
{
	double c = cure->a1_per_s / cure->a2_per_s;
	double k2 = cure->a2_per_s * exp(-cure->e2_j_per_mol / (8.314462618 * t_k));

	return ((log((c + a) / c) - log(1.0 - a)) / ((1.0 + c) * (1.0 + c)) +
	        a / (1.0 - a) / (1.0 + c)) /
	       k2;
}

static double integrated(const struct cure *cure, double t_s, double degc)
{
	struct clocks clocks;

	clocks_init(&clocks, 0.0, degc, 0.0);
	assert_int_equal(clocks_step(&clocks, cure, t_s, degc), 0);
	return clocks.conversion;
}

static void autocatalysis_at_one_temperature_follows_its_closed_form(void **state)
{
	static const char *const families[] = {"FAST", "SLOW"};
	static const char *const shares[] = {"0.1000", "0.3000", "0.4472",
	                                     "0.5774", "0.7500", "0.9000"};
	static const double exact[] = {0.1, 0.3, 0.447213595499958, 0.577350269189626, 0.75, 0.9};

	(void)state;
	for (int f = 0; f < 2; f++) {
		struct cure cure = f ? casting_resin_slow.cure : casting_resin_fast.cure;
		char path[80];

		cure.vitrification = 0.0;
		snprintf(path, sizeof path, "R0_isothermal/%s_25C/k2", families[f]);
		assert_close(cure.a2_per_s * exp(-cure.e2_j_per_mol / (8.314462618 * 298.15)),
		             reference(path), 1e-12);
		for (int i = 0; i < 6; i++) {
			double t_s;

			snprintf(path, sizeof path, "R0_isothermal/%s_25C/t_alpha_%s_s",
			         families[f], shares[i]);
			t_s = reference(path);
			assert_close(closed_s(&cure, 298.15, exact[i]), t_s, 1e-9);
			assert_within(integrated(&cure, t_s, 25.0), exact[i], 2e-7);
		}
	}
}

/* n-th order, kt = 0.72: n = 1 gives 1 - exp(-kt), n = 2 gives kt/(1+kt). The model's
 * own exponents reach both: all of B far above 1, and B = 1 with nothing autocatalysed.
 * (Its other exponents are fixed, so n = 1.5 and 3 are not reached.) */
static void without_autocatalysis_it_is_of_nth_order(void **state)
{
	struct cure cure = casting_resin_fast.cure;
	double kt = 0.72, t_s = 20000.0;
	double k = kt / t_s * exp(cure.e1_j_per_mol / (8.314462618 * 298.15));

	(void)state;
	cure.vitrification = 0.0;
	cure.a2_per_s = 0.0;
	cure.a1_per_s = k;
	assert_within(integrated(&cure, t_s, 25.0), reference("R0b_nth/n2"), 1e-7);
	assert_within(reference("R0b_nth/n2"), kt / (1.0 + kt), 1e-12);
	cure.stoichiometry = 1e9;
	cure.a1_per_s = k / 1e9;
	assert_within(integrated(&cure, t_s, 25.0), reference("R0b_nth/n1"), 1e-7);
	assert_within(reference("R0b_nth/n1"), 1.0 - exp(-kt), 1e-12);
}

static void vitrification_slows_it_as_the_reference_solver_says(void **state)
{
	static const char *const families[] = {"FAST", "SLOW"};
	static const int hours[] = {6, 12, 24, 48, 72, 168};

	(void)state;
	for (int f = 0; f < 2; f++) {
		const struct cure *cure = f ? &casting_resin_slow.cure : &casting_resin_fast.cure;
		char path[80];

		for (int i = 0; i < 6; i++) {
			snprintf(path, sizeof path, "R0c_iso25C_with_vitrification/%s/%dh",
			         families[f], hours[i]);
			assert_within(integrated(cure, 3600.0 * hours[i], 25.0), reference(path),
			              1e-7);
		}
		snprintf(path, sizeof path, "R0c_iso25C_with_vitrification/%s/Tg_C_168h",
		         families[f]);
		assert_within(cure_tg_degc(cure, integrated(cure, 168.0 * 3600.0, 25.0)),
		              reference(path), 1e-3);
		snprintf(path, sizeof path, "R0c_iso25C_with_vitrification/%s/alpha_c_25C",
		         families[f]);
		/* ac is where Tg stands 15 K over the temperature of cure. */
		assert_within(cure_conversion_at_tg(cure, 40.0), reference(path), 1e-12);
	}
}

static void its_slopes_are_those_of_the_rate(void **state)
{
	(void)state;
	for (int i = 0; i < 400; i++) {
		struct cure cure = casting_resin_fast.cure;
		double a = 0.02 + 0.96 * (i % 20) / 19.0, t_k = 260.0 + 10.0 * (i / 20);
		double per_k, per_a, d = 1e-6, rate;

		cure.stoichiometry = i % 3 == 0 ? 1.0 : i % 3 == 1 ? 0.8 : 1.3;
		cure.e1_j_per_mol = i % 2 ? 58600.0 : 70000.0;
		rate = cure_rate_slopes(&cure, t_k, a, &per_k, &per_a);
		assert_close(rate, cure_rate_per_s(&cure, t_k, a), 1e-14);
		assert_within(
		        per_a,
		        (cure_rate_per_s(&cure, t_k, a + d) - cure_rate_per_s(&cure, t_k, a - d)) /
		                (2.0 * d),
		        1e-4 * fabs(per_a) + 1e-6 * fabs(rate));
		d = 1e-3;
		if (i / 20 != 18) /* there the clamp of th at 1.5 passes: 438 K */
			assert_within(per_k,
			              (cure_rate_per_s(&cure, t_k + d, a) -
			               cure_rate_per_s(&cure, t_k - d, a)) /
			                      (2.0 * d),
			              1e-5 * fabs(per_k) + 1e-12 * fabs(rate));
	}
}

static void past_its_end_the_rate_bends_back(void **state)
{
	struct cure cure = casting_resin_fast.cure;

	(void)state;
	assert_true(cure_rate_per_s(&cure, 450.0, 1.0 + 1e-6) < 0.0);
	cure.stoichiometry = 0.7;
	assert_true(cure_rate_per_s(&cure, 450.0, 0.7 + 1e-6) < 0.0);
	assert_true(cure_rate_per_s(&cure, 450.0, 1.0 + 1e-6) < 0.0);
	cure.stoichiometry = 1.4;
	assert_true(cure_rate_per_s(&cure, 450.0, 1.4 + 1e-6) < 0.0);
}

/* Flory, J. Am. Chem. Soc. 63 (1941) 3083, and Stockmayer, J. Chem. Phys. 11 (1943) 45
 * (citations from memory): fe = 2 with fa = 4, 5, 6. */
static void gel_lies_where_flory_and_stockmayer_put_it(void **state)
{
	(void)state;
	assert_within(cure_gel_conversion(1.0, 2.0, 4.0), 0.577350, 5e-7);
	assert_within(cure_gel_conversion(1.0, 2.0, 5.0), 0.5, 1e-15);
	assert_within(cure_gel_conversion(1.0, 2.0, 6.0), 0.447214, 5e-7);
	assert_within(casting_resin_fast.cure.gel_conversion, cure_gel_conversion(1.0, 2.0, 4.0),
	              1e-15);
	/* Macosko and Miller (from memory): p_a p_e (fe-1)(fa-1) = 1 with p_a = p_e / B. */
	{
		double e = cure_gel_conversion(1.2, 2.0, 4.0), amine = e / 1.2;

		assert_within(e * amine * 3.0, 1.0, 1e-14);
	}
}

/* Handbook form phr = 100 AHEW/EEW: diethylenetriamine 103/5 = 20.6 with EEW 190 (a
 * liquid bisphenol-A resin, from memory) and 200; triethylenetetramine 146.2/6. */
static void phr_follows_the_handbook(void **state)
{
	(void)state;
	assert_within(cure_phr(103.0 / 5.0, 200.0), 10.3, 1e-12);
	assert_within(cure_phr(103.0 / 5.0, 190.0), 10.8, 0.05);
	assert_within(cure_phr(146.2 / 6.0, 190.0), 12.8, 0.05);
	assert_within(cure_weighed_stoichiometry(1.0, 0.47, 0.45), 0.47 / 0.45, 1e-15);
}

/* A kilogram of resin brings the same heat however much hardener it is diluted with. */
static void excess_hardener_dilutes_the_heat_and_moves_the_gel(void **state)
{
	struct casting_resin more = casting_resin_weighed(&casting_resin_fast, 1.1, 0.5);

	(void)state;
	assert_close(more.cure.heat_j_per_kg * (1.0 + 0.55), 430e3 * 1.5, 1e-14);
	assert_close(more.cure.gel_conversion, cure_gel_conversion(1.1, 2.0, 4.0), 1e-14);
	assert_close(more.cure.stoichiometry, 1.1, 0.0);
	/* More hardener, more speed. */
	assert_true(cure_rate_per_s(&more.cure, 298.15, 0.3) >
	            cure_rate_per_s(&casting_resin_fast.cure, 298.15, 0.3));
}

static void a_resin_nobody_could_pour_gets_a_sentence(void **state)
{
	struct casting_resin resin = casting_resin_fast;
	char sentence[160];

	(void)state;
	assert_int_equal(casting_resin_check(&resin, sentence, sizeof sentence), 0);
	resin.cure.lambda = -0.1;
	assert_true(casting_resin_check(&resin, sentence, sizeof sentence) < 0);
	assert_string_equal(sentence, "lambda is -0.1; expected 0 to 1");
	resin = casting_resin_fast;
	resin.cure.tginf_degc = -40.0;
	assert_true(casting_resin_check(&resin, sentence, sizeof sentence) < 0);
	resin = casting_resin_fast;
	resin.cure.a1_per_s = (double)NAN;
	assert_true(casting_resin_check(&resin, sentence, sizeof sentence) < 0);
	assert_ptr_equal(casting_resin_find("FAST"), &casting_resin_fast);
	assert_ptr_equal(casting_resin_find("slow"), &casting_resin_slow);
	assert_null(casting_resin_find("slower"));
	assert_null(casting_resin_find(""));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(autocatalysis_at_one_temperature_follows_its_closed_form),
	        cmocka_unit_test(without_autocatalysis_it_is_of_nth_order),
	        cmocka_unit_test(vitrification_slows_it_as_the_reference_solver_says),
	        cmocka_unit_test(its_slopes_are_those_of_the_rate),
	        cmocka_unit_test(past_its_end_the_rate_bends_back),
	        cmocka_unit_test(gel_lies_where_flory_and_stockmayer_put_it),
	        cmocka_unit_test(phr_follows_the_handbook),
	        cmocka_unit_test(excess_hardener_dilutes_the_heat_and_moves_the_gel),
	        cmocka_unit_test(a_resin_nobody_could_pour_gets_a_sentence),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
