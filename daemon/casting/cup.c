/* SPDX-License-Identifier: MIT */
#include "cup.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>

#include "stepper.h"

#define FIRST_STEP_S 1.0
#define STEPS_MAX    100000u

double cup_ua_w_per_k(double mass_g)
{
	return 0.066 * pow(mass_g / 100.0, 2.0 / 3.0);
}

/* Of the conversion it can reach: from there on it reacts ever more slowly. */
#define REACTED 0.5

/* After each step. Returns whether it has gelled, is cooling, and will not heat again. */
static bool watch(const struct stepper *st, const struct cure *cure, struct cup_result *result)
{
	struct cubic t = stepper_t_k(st, 0), a = stepper_a(st, 0);
	double s, hottest = cubic_max(&t, &s), gel = cure->gel_conversion;

	if (hottest - CURE_ZERO_DEGC_K > result->peak_degc) {
		result->peak_degc = hottest - CURE_ZERO_DEGC_K;
		result->peak_s = st->from_s + s * st->step_s;
	}
	if (isnan(result->gel_s) && a.y1 >= gel) {
		double passed = cubic_passes(&a, gel);

		result->gel_s = st->from_s + passed * st->step_s;
		result->gel_degc = cubic_at(&t, passed) - CURE_ZERO_DEGC_K;
	}
	return !isnan(result->gel_s) && s < 1.0 && a.y1 >= REACTED * fmin(1.0, cure->stoichiometry);
}

static int run(const struct cup_case *cup, double until_s, bool only_gel, struct cup_result *ret)
{
	const struct cure *cure = &cup->resin.cure;
	double cp = cup->resin.material.cp_j_per_kgk;
	double capacity = cup->mass_g / 1000.0 * cp, rise_k = cure->heat_j_per_kg / cp;
	double ua = cup->ua_w_per_k > 0.0 ? cup->ua_w_per_k : cup_ua_w_per_k(cup->mass_g);
	double none = 0.0, room_k = cup->ambient_degc + CURE_ZERO_DEGC_K;
	struct nodes nodes = {.n = 1,
	                      .capacity = &capacity,
	                      .conductance = &ua,
	                      .loss = &ua,
	                      .inflow = &none,
	                      .rise_k = &rise_k,
	                      .cure = cure,
	                      .outside_k = room_k};
	double work[STEPPER_WORK(1, 0)];
	struct stepper st;
	struct cup_result result = {
	        .gel_s = (double)NAN, .gel_degc = (double)NAN, .peak_degc = cup->start_degc};
	double tolerance_k = cup->tolerance_k > 0.0 ? cup->tolerance_k : CUP_TOLERANCE_K;
	int r = 1;

	if (!(cup->mass_g > 0.0 && cup->mass_g <= 1e6) || !(fabs(cup->ambient_degc) <= 250.0) ||
	    !(fabs(cup->start_degc) <= 250.0) ||
	    !(cup->start_conversion >= 0.0 && cup->start_conversion <= 1.0))
		return -EINVAL;
	stepper_init(&st, &nodes, tolerance_k, tolerance_k / fmax(rise_k, 50.0), FIRST_STEP_S,
	             work);
	st.t_k[0] = cup->start_degc + CURE_ZERO_DEGC_K;
	st.a[0] = cup->start_conversion;
	if (st.a[0] >= cure->gel_conversion) {
		result.gel_s = 0.0;
		result.gel_degc = cup->start_degc;
	}
	while (st.steps < STEPS_MAX) {
		r = stepper_step(&st, until_s > 0.0 ? until_s : CUP_UNTIL_S);
		if (r <= 0 || watch(&st, cure, &result) || (only_gel && !isnan(result.gel_s)))
			break;
	}
	if (r < 0 || st.steps >= STEPS_MAX)
		return -ERANGE;
	result.end_s = st.t_s;
	result.end_degc = st.t_k[0] - CURE_ZERO_DEGC_K;
	result.end_conversion = st.a[0];
	*ret = result;
	return 0;
}

int cup_run(const struct cup_case *cup, double until_s, struct cup_result *ret)
{
	return run(cup, until_s, false, ret);
}

double cup_gel_s(const struct cup_case *cup)
{
	struct cup_result result;

	return run(cup, 0.0, true, &result) < 0 ? (double)NAN : result.gel_s;
}
