/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/casting/cup.h"
#include "daemon/casting/heat.h"
#include "tests/support/cvode_layer.h"
#include "tests/support/random.h"

/* Layers drawn at random, solved by us and by SUNDIALS CVODE. */

#define CASES      200 /* 1000 with AMBO_LONG=1 */
#define CASES_LONG 1000
#define UNTIL_S    4e6
#define RELATIVE   1e-8

static struct cvode_layer drawn(struct random *random)
{
	double a2 = exp(random_between(random, log(2e5), log(4e6)));
	double ambient = random_between(random, 12.0, 35.0);
	double gel_groups = floor(random_between(random, 4.0, 7.0));
	struct cvode_layer p = {
	        .a1 = a2 * exp(random_between(random, log(0.02), log(1.0))),
	        .e1 = 58600.0,
	        .a2 = a2,
	        .e2 = 58600.0,
	        .heat = random_between(random, 150e3, 450e3),
	        .stoichiometry = random_between(random, 0.0, 1.0) < 0.3
	                                 ? 1.0
	                                 : random_between(random, 0.8, 1.25),
	        .tg0_degc = random_between(random, -45.0, -10.0),
	        .tginf_degc = random_between(random, 60.0, 140.0),
	        .lambda = random_between(random, 0.3, 0.7),
	        .density = random_between(random, 950.0, 1300.0),
	        .cp = random_between(random, 1400.0, 2200.0),
	        .k = random_between(random, 0.14, 0.3),
	        .depth_m = exp(random_between(random, log(0.001), log(0.025))),
	        .ambient_degc = ambient,
	        .start_degc = random_between(random, 0.0, 1.0) < 0.4
	                              ? ambient
	                              : ambient + random_between(random, -8.0, 15.0),
	        .top_h = random_between(random, 5.0, 15.0),
	        .bottom_u = random_between(random, 0.3, 12.0),
	};

	/* Some with energies apart: A moves along, so that the rate at 25 C stays. */
	if (random_between(random, 0.0, 1.0) < 0.5) {
		double rt = 8.314462618 * 298.15;

		p.e1 = random_between(random, 50e3, 70e3);
		p.e2 = random_between(random, 45e3, 65e3);
		p.a1 *= exp((p.e1 - 58600.0) / rt);
		p.a2 *= exp((p.e2 - 58600.0) / rt);
	}
	p.gel = sqrt(p.stoichiometry / (gel_groups - 1.0));
	return p;
}

static struct heat_case ours(const struct cvode_layer *p)
{
	return (struct heat_case){
	        .resin = {{p->a1, p->e1, p->a2, p->e2, p->heat, p->stoichiometry, p->tg0_degc,
	                   p->tginf_degc, p->lambda, p->gel, 30.0},
	                  {p->density, p->cp, p->k}},
	        .depth_mm = 1000.0 * p->depth_m,
	        .top_w_per_m2k = p->top_h,
	        .bottom_w_per_m2k = p->bottom_u,
	        .ambient_degc = p->ambient_degc,
	        .start_degc = p->start_degc,
	};
}

struct worst {
	double kelvin, gel, conversion;
};

static void hold(double *worst, double actual, double expected, double scale)
{
	if (isnan(actual) && isnan(expected))
		return;
	assert_false(isnan(actual) || isnan(expected));
	*worst = fmax(*worst, fabs(actual - expected) / scale);
}

static void hold_layer(const struct heat_result *result, const struct heat_at *at,
                       const struct cvode_answer *theirs, struct worst *worst)
{
	hold(&worst->kelvin, result->peak_degc, theirs->peak_degc, 1.0);
	hold(&worst->kelvin, result->peak_middle_degc, theirs->peak_middle_degc, 1.0);
	hold(&worst->kelvin, result->peak_top_degc, theirs->peak_top_degc, 1.0);
	hold(&worst->kelvin, result->peak_bottom_degc, theirs->peak_bottom_degc, 1.0);
	hold(&worst->kelvin, at->middle_degc, theirs->at_middle_degc, 1.0);
	hold(&worst->conversion, at->middle_conversion, theirs->at_middle_a, 1.0);
	hold(&worst->gel, result->gel_middle_s, theirs->gel_middle_s, theirs->gel_middle_s);
	hold(&worst->gel, result->gel_top_s, theirs->gel_top_s, theirs->gel_top_s);
}

static bool long_run(void)
{
	const char *all = getenv("AMBO_LONG");

	return all && strcmp(all, "1") == 0;
}

/* Of the layers so far: how many could be compared, and why the others could not. */
struct tally {
	int compared, unresolved, stalled, refused, sharp, runaways, ungelled;
	struct worst calm, hot;
};

/* What the reference must have converged to before it judges: half of what is asserted, or less. */
static const struct cvode_within converged = {2.5e-4, 2.5e-6, 2.5e-6};

static void compare(const struct cvode_layer *p, const struct heat_result *result,
                    const struct heat_at *at, double until_s, struct tally *tally)
{
	struct cvode_answer theirs;
	int r = cvode_layer_converged(p, &converged, at->t_s, until_s, &theirs);
	bool hot;

	/* No answer to compare with: their steps shrink to nothing, or a front is thinner than
	 * the finest of their grids. */
	tally->stalled += r < 0;
	tally->unresolved += r == CVODE_LAYER_UNRESOLVED;
	if (r != 0)
		return;
	hot = theirs.peak_degc > HEAT_RUNAWAY_DEGC;
	tally->compared++;
	tally->runaways += hot;
	tally->ungelled += isnan(theirs.gel_middle_s);
	hold_layer(result, at, &theirs, hot ? &tally->hot : &tally->calm);
}

static void tell(const char *what, const struct tally *t)
{
	print_message("%s: %d compared, %d of them run away and %d never gel; not compared: %d "
	              "unresolved, %d on which they stall, %d too sharp, %d refused\n",
	              what, t->compared, t->runaways, t->ungelled, t->unresolved, t->stalled,
	              t->sharp, t->refused);
	print_message("calm: %.1e K, gel %.1e, conversion %.1e; run away: %.1e K, gel %.1e, "
	              "conversion %.1e\n",
	              t->calm.kelvin, t->calm.gel, t->calm.conversion, t->hot.kelvin, t->hot.gel,
	              t->hot.conversion);
}

static void hold_tally(const struct tally *t)
{
	const struct worst *all[] = {&t->calm, &t->hot};

	for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
		assert_true(all[i]->kelvin < 5e-4);
		assert_true(all[i]->gel < 1e-5);
		assert_true(all[i]->conversion < 1e-5);
	}
}

static void random_layers_come_out_as_cvodes_do(void **state)
{
	struct random random = {2024};
	struct tally tally = {0};
	int cases = long_run() ? CASES_LONG : CASES;

	(void)state;
	for (int i = 0; i < cases; i++) {
		struct cvode_layer p = drawn(&random);
		struct heat_case heat = ours(&p);
		struct heat_at at = {.t_s = random_between(&random, 600.0, 40000.0)};
		struct heat_wanted wanted = {.tolerance_k = 1e-5, .at = &at, .n_at = 1};
		struct heat_result result;

		assert_int_equal(heat_run(&heat, &wanted, &result), 0);
		compare(&p, &result, &at, UNTIL_S, &tally);
	}
	tell("layers", &tally);
	hold_tally(&tally);
	assert_true(tally.unresolved <= cases / 100 && tally.stalled == 0);
	assert_true(tally.runaways > cases / 20 && tally.runaways < cases / 2);
}

/* Wide apart: faces held or insulated, a tenth of a millimetre to two hundred, frost, warm
 * resin in a cold room, one path alone, no heat, a glass transition that hardly moves.
 * All but what starts from nothing: there their noise would light it. */
static struct cvode_layer far_apart(struct random *random)
{
	double rt = 8.314462618 * 298.15, k2 = exp(random_between(random, log(1e-7), log(1e-3)));
	double c = exp(random_between(random, log(1e-3), log(3.0)));
	bool one_energy = random_between(random, 0.0, 1.0) < 0.4;
	double e1 = random_between(random, 40e3, 80e3);
	double e2 = one_energy ? e1 : random_between(random, 40e3, 80e3);
	double ambient = random_between(random, -20.0, 50.0);
	double tg0 = random_between(random, -60.0, 10.0);
	struct cvode_layer p = {
	        .a1 = k2 * c * exp(e1 / rt),
	        .e1 = e1,
	        .a2 = random_between(random, 0.0, 1.0) < 0.1 ? 0.0 : k2 * exp(e2 / rt),
	        .e2 = e2,
	        .heat = random_between(random, 0.0, 1.0) < 0.1 ? 0.0
	                                                       : random_between(random, 0.0, 6e5),
	        .stoichiometry = random_between(random, 0.5, 1.5),
	        .tg0_degc = tg0,
	        .tginf_degc = tg0 + exp(random_between(random, log(2.0), log(200.0))),
	        .lambda = random_between(random, 0.0, 1.0) < 0.1
	                          ? 1.0
	                          : random_between(random, 0.02, 1.0),
	        .density = random_between(random, 900.0, 2000.0),
	        .cp = random_between(random, 1000.0, 2500.0),
	        .k = exp(random_between(random, log(0.1), log(1.0))),
	        .depth_m = exp(random_between(random, log(1e-4), log(0.2))),
	        .ambient_degc = ambient,
	        .start_degc = random_between(random, 0.0, 1.0) < 0.4
	                              ? ambient
	                              : ambient + random_between(random, -15.0, 40.0),
	        .top_h = random_between(random, 0.0, 1.0) < 0.15
	                         ? 0.0
	                         : exp(random_between(random, log(0.1), log(500.0))),
	        .bottom_u = random_between(random, 0.0, 1.0) < 0.15
	                            ? 0.0
	                            : exp(random_between(random, log(0.1), log(500.0))),
	};

	p.gel = sqrt(p.stoichiometry / 3.0);
	return p;
}

#define FAR_CASES      60 /* 600 with AMBO_LONG=1 */
#define FAR_CASES_LONG 600
/* What took more pieces of ours than this is not even tried: their grid is even. */
#define SHARP_ELEMENTS 64u

static void layers_far_apart_come_out_as_cvodes_do(void **state)
{
	struct random random = {4711};
	struct tally tally = {0};
	int cases = long_run() ? FAR_CASES_LONG : FAR_CASES;

	(void)state;
	for (int i = 0; i < cases; i++) {
		struct cvode_layer p = far_apart(&random);
		struct heat_case heat = ours(&p);
		struct heat_at at = {.t_s = exp(random_between(&random, log(10.0), log(1e6)))};
		struct heat_wanted wanted = {
		        .tolerance_k = 1e-5, .until_s = UNTIL_S, .at = &at, .n_at = 1};
		struct heat_result result;
		int r = heat_run(&heat, &wanted, &result);

		/* A front of micrometres is refused. */
		assert_true(r == 0 || r == -ERANGE);
		tally.refused += r < 0;
		tally.sharp += r == 0 && result.elements > SHARP_ELEMENTS;
		if (r == 0 && result.elements <= SHARP_ELEMENTS)
			compare(&p, &result, &at, UNTIL_S, &tally);
	}
	tell("layers far apart", &tally);
	hold_tally(&tally);
	assert_true(tally.refused <= cases / 30 && tally.sharp <= cases / 30);
	assert_true(tally.unresolved <= cases / 60 && tally.stalled <= cases / 60);
	assert_true(tally.ungelled < tally.compared / 2);
}

/* A cup is a layer without a profile: a square metre that weighs as much, insulated below,
 * of stuff that conducts without end. */
static void random_cups_come_out_as_cvodes_do(void **state)
{
	struct random random = {77};
	double kelvin = 0.0, gel = 0.0;

	(void)state;
	for (int i = 0; i < CASES / 2; i++) {
		struct cvode_layer p = drawn(&random);
		double mass_g = exp(random_between(&random, log(20.0), log(2000.0)));
		struct cup_case cup = {.resin = ours(&p).resin,
		                       .mass_g = mass_g,
		                       .ambient_degc = p.ambient_degc,
		                       .start_degc = p.start_degc};
		struct cvode_answer theirs;
		struct cup_result result;

		p.depth_m = mass_g / 1000.0 / p.density;
		p.top_h = 0.066 * pow(mass_g / 100.0, 2.0 / 3.0);
		p.bottom_u = 0.0;
		p.k = 1e6;
		assert_int_equal(cup_run(&cup, 0.0, &result), 0);
		assert_int_equal(cvode_layer_run(&p, 2, RELATIVE, 1.0, 4e7, &theirs), 0);
		hold(&kelvin, result.peak_degc, theirs.peak_degc, 1.0);
		hold(&gel, result.gel_s, theirs.gel_middle_s, theirs.gel_middle_s);
	}
	print_message("cups: %.1e K, gel %.1e\n", kelvin, gel);
	assert_true(kelvin < 1e-3);
	assert_true(gel < 1e-5);
}

/* A front that runs up into the surface. */
static void a_front_comes_out_as_cvodes_does(void **state)
{
	struct cvode_layer p = {4.8e5,  58600.0, 2.4e6, 58600.0, 430e3,
	                        1.0,    -30.0,   110.0, 0.45,    0.57735026918962576,
	                        1100.0, 1800.0,  0.18,  0.008,   25.0,
	                        25.0,   10.0,    5.0};
	struct heat_case heat = ours(&p);
	struct heat_at at = {.t_s = 3600.0};
	struct heat_wanted wanted = {.tolerance_k = 1e-5, .at = &at, .n_at = 1};
	struct tally tally = {0};
	struct heat_result result;

	(void)state;
	assert_int_equal(heat_run(&heat, &wanted, &result), 0);
	compare(&p, &result, &at, UNTIL_S, &tally);
	tell("a front", &tally);
	assert_int_equal(tally.runaways, 1);
	hold_tally(&tally);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(random_cups_come_out_as_cvodes_do),
	        cmocka_unit_test(a_front_comes_out_as_cvodes_does),
	        cmocka_unit_test(random_layers_come_out_as_cvodes_do),
	        cmocka_unit_test(layers_far_apart_come_out_as_cvodes_do),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
