/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>

#include "daemon/casting/cubic.h"
#include "daemon/casting/lobatto.h"
#include "daemon/casting/root.h"
#include "daemon/casting/stepper.h"

/* One insulated node: T = T0 + rise a, stiffening as it heats. Steps of one length. */
static double conversion_after(size_t steps, double s_in_last, double *ret_within)
{
	double capacity = 1.0, none = 0.0, rise = 60.0, until_s = 4000.0;
	struct nodes nodes = {
	        1, 0, 0, &capacity, &none, &none, &none, &rise, &casting_resin_fast.cure, 0.0};
	double work[STEPPER_WORK(1, 0)];
	struct stepper st;
	struct cubic cubic;

	stepper_init(&st, &nodes, 1e9, 1e9, until_s / (double)steps, work);
	st.t_k[0] = 298.15;
	for (size_t i = 0; i < steps; i++) {
		st.next_step_s = until_s / (double)steps;
		assert_int_equal(stepper_step(&st, until_s), 1);
	}
	cubic = stepper_a(&st, 0);
	*ret_within = cubic_at(&cubic, s_in_last);
	assert_within(cubic_at(&cubic, 1.0), st.a[0], 1e-15);
	return st.a[0];
}

/* The coefficients were written from memory; a wrong digit in any shows as a lower
 * order. Twice the steps, a sixteenth of the error. */
static void the_method_is_of_fourth_order(void **state)
{
	double unused, exact = conversion_after(8192, 0.5, &unused), before = 0.0;

	(void)state;
	for (size_t steps = 8; steps <= 64; steps *= 2) {
		double error = fabs(conversion_after(steps, 0.5, &unused) - exact);

		if (before > 0.0)
			assert_within(log2(before / error), 4.0, 0.4);
		before = error;
	}
}

/* Within a step the cubic is of third order: its error falls at least eightfold. At a
 * quarter of the way, against a run that steps onto that moment. */
static void between_steps_the_cubic_is_of_third_order(void **state)
{
	double before = 0.0;

	(void)state;
	for (size_t steps = 16; steps <= 128; steps *= 2) {
		double capacity = 1.0, none = 0.0, rise = 60.0, h = 4000.0 / (double)steps;
		struct nodes nodes = {
		        1,  0, 0, &capacity, &none, &none, &none, &rise, &casting_resin_fast.cure,
		        0.0};
		double work[STEPPER_WORK(1, 0)], within, error;
		struct stepper fine;

		conversion_after(steps, 0.25, &within);
		stepper_init(&fine, &nodes, 1e-9, 1e-12, 0.01, work);
		fine.t_k[0] = 298.15;
		while (stepper_step(&fine, 4000.0 - 0.75 * h) > 0)
			;
		error = fabs(within - fine.a[0]);
		if (before > 0.0)
			assert_true(log2(before / error) > 2.7);
		before = error;
	}
}

/* Stiff: a node that forgets in a microsecond, and steps of hours. */
static void a_stiff_node_stays_quiet_at_any_step(void **state)
{
	double capacity = 1e-6, conductance = 1.0, none = 0.0, rise = 0.0;
	struct nodes nodes = {1,
	                      0,
	                      0,
	                      &capacity,
	                      &conductance,
	                      &conductance,
	                      &none,
	                      &rise,
	                      &casting_resin_fast.cure,
	                      300.0};
	double work[STEPPER_WORK(1, 0)];
	struct stepper st;

	(void)state;
	stepper_init(&st, &nodes, 1e-6, 1.0, 1.0, work);
	st.t_k[0] = 350.0;
	while (stepper_step(&st, 1e5) > 0)
		;
	assert_within(st.t_k[0], 300.0, 1e-6);
	assert_true(st.steps < 200);
}

/* A step in which the linear problem itself would explode is shortened even where the
 * asked tolerance would let anything pass: past that pole the answer has the wrong sign. */
static void growth_is_followed_and_not_jumped_over(void **state)
{
	struct cure cure = casting_resin_fast.cure;
	double capacity = 1.0, none = 0.0, rise = 0.0, per_k, per_a, before = 1e-3;
	struct nodes nodes = {1, 0, 0, &capacity, &none, &none, &none, &rise, &cure, 0.0};
	double work[STEPPER_WORK(1, 0)];
	struct stepper st;

	(void)state;
	cure.a1_per_s = 1.0;
	stepper_init(&st, &nodes, 1e9, 1e9, 1e6, work);
	st.t_k[0] = 298.15;
	st.a[0] = before;
	for (int i = 0; i < 3; i++) {
		cure_rate_slopes(&cure, st.t_k[0], st.a[0], &per_k, &per_a);
		assert_int_equal(stepper_step(&st, 1e6), 1);
		if (per_a > 0.0)
			assert_true(st.step_s * per_a < 3.0 + 1e-9);
		assert_true(st.a[0] > before);
		before = st.a[0];
	}
	assert_true(st.refused > 0);
}

/* The banded factorisation against what it must solve: a steady row of nodes of random
 * conductances takes the temperatures that balance. */
static void the_band_is_solved_exactly(void **state)
{
	enum { N = 12, BAND = 3 };
	double capacity[N], conductance[N * (BAND + 1)] = {0}, inflow[N] = {0}, rise[N] = {0};
	double loss[N] = {2.0}; /* one node holds on to the outside */
	double wanted[N];
	double work[STEPPER_WORK(N, BAND)];
	struct nodes nodes = {
	        N,    BAND, N, capacity, conductance, loss, inflow, rise, &casting_resin_fast.cure,
	        285.0};
	struct stepper st;

	(void)state;
	for (int i = 0; i < N; i++) {
		capacity[i] = 1.0 + 0.1 * i;
		wanted[i] = 290.0 + (i * 37) % 11;
		for (int d = 1; d <= BAND && d <= i; d++) {
			double k = 0.5 + ((i * 7 + d * 5) % 9) / 4.0;

			conductance[i * (BAND + 1) + BAND - d] = -k;
			conductance[i * (BAND + 1) + BAND] += k;
			conductance[(i - d) * (BAND + 1) + BAND] += k;
		}
	}
	conductance[BAND] += loss[0];
	inflow[0] = -loss[0] * nodes.outside_k;
	for (int i = 0; i < N; i++)
		for (int j = 0; j < N; j++) {
			int high = i > j ? i : j, low = i > j ? j : i;

			if (high - low <= BAND)
				inflow[i] += conductance[high * (BAND + 1) + BAND - high + low] *
				             wanted[j];
		}
	stepper_init(&st, &nodes, 1e-9, 1.0, 1e-3, work);
	for (int i = 0; i < N; i++)
		st.t_k[i] = 300.0;
	while (stepper_step(&st, 1e6) > 0)
		;
	for (int i = 0; i < N; i++)
		assert_within(st.t_k[i], wanted[i], 1e-8);
}

static void what_is_not_finite_ends_the_run(void **state)
{
	double capacity = 1.0, none = 0.0, rise = 1.0;
	struct nodes nodes = {
	        1, 0, 0, &capacity, &none, &none, &none, &rise, &casting_resin_fast.cure, 0.0};
	double work[STEPPER_WORK(1, 0)];
	struct stepper st;

	(void)state;
	stepper_init(&st, &nodes, 1e-6, 1e-6, 1.0, work);
	st.t_k[0] = (double)NAN;
	assert_int_equal(stepper_step(&st, 100.0), -ERANGE);
	assert_int_equal(stepper_step(&st, 0.0), 0);
}

/* Gauss-Lobatto's own promises: polynomials up to degree 2N - 1 integrate exactly, up to
 * N differentiate and interpolate exactly. Nodes and weights for N = 8 as in Abramowitz
 * and Stegun, table 25.6 (n = 9; from memory). */
static void lobattos_element_keeps_its_promises(void **state)
{
	static const double x[] = {0.0, 0.3631174638, 0.6771862795, 0.8997579954, 1.0};
	static const double w[] = {0.3715192744, 0.3464285110, 0.2745387125, 0.1654953616,
	                           0.0277777778};
	struct lobatto l;

	(void)state;
	lobatto_init(&l);
	for (int i = 0; i < 5; i++) {
		assert_within(l.x[4 + i], x[i], 1e-10);
		assert_within(l.x[4 - i], -x[i], 1e-10);
		assert_within(l.weight[4 + i], w[i], 1e-10);
	}
	for (int degree = 0; degree <= 15; degree++) {
		double sum = 0.0;

		for (int i = 0; i < LOBATTO_NODES; i++)
			sum += l.weight[i] * pow(l.x[i], degree);
		assert_within(sum, degree % 2 ? 0.0 : 2.0 / (degree + 1.0), 1e-14);
	}
	for (int degree = 0; degree <= LOBATTO_ORDER; degree++) {
		double values[LOBATTO_NODES], tail = 0.0;

		for (int i = 0; i < LOBATTO_NODES; i++)
			values[i] = pow(l.x[i], degree);
		assert_within(lobatto_at(&l, values, 0.123), pow(0.123, degree), 1e-14);
		assert_within(lobatto_at(&l, values, l.x[3]), values[3], 0.0);
		for (int q = 0; q < LOBATTO_NODES; q++) {
			double slope = 0.0;

			for (int i = 0; i < LOBATTO_NODES; i++)
				slope += l.slope[q][i] * values[i];
			assert_within(slope, degree ? degree * pow(l.x[q], degree - 1) : 0.0,
			              1e-12);
		}
		for (int i = 0; i < LOBATTO_NODES; i++)
			tail += l.tail[1][i] * values[i];
		/* The leading coefficient of P_8 is 6435/128. */
		assert_within(tail, degree == 8 ? 128.0 / 6435.0 : 0.0, 1e-14);
	}
}

static double cosine_less_x(double x, void *context)
{
	++*(int *)context;
	return cos(x) - x;
}

static double steep(double x, void *context)
{
	++*(int *)context;
	return tanh(50.0 * (x - 0.9)) + 1e-3 * x;
}

static void roots_are_found_in_few_looks(void **state)
{
	int looks = 0;
	double x = -1.0;

	(void)state;
	assert_int_equal(root_find(cosine_less_x, &looks, 0.0, 2.0, 1e-12, &x), 0);
	assert_within(x, 0.73908513321516064, 1e-12); /* Dottie's number */
	assert_true(looks < 14);
	looks = 0;
	assert_int_equal(root_find(steep, &looks, 0.0, 1.0, 1e-9, &x), 0);
	assert_true(fabs(steep(x, &looks)) < 1e-6);
	assert_true(looks < 40);
	x = -1.0;
	assert_int_equal(root_find(cosine_less_x, &looks, 1.0, 2.0, 1e-9, &x), -EDOM);
	assert_within(x, -1.0, 0.0);
}

static void a_cubics_summit_and_crossing(void **state)
{
	/* y = s (1 - s)(c + s d): with c = 4, d = 0 the summit is 1 at one half. */
	struct cubic hill = {0.0, 0.0, 4.0, 0.0}, line = {1.0, 3.0, 0.0, 0.0};
	struct cubic bent = {2.0, 1.0, 1.5, -4.0};
	double s, best = -1e9, at = 0.0;

	(void)state;
	assert_within(cubic_max(&hill, &s), 1.0, 1e-15);
	assert_within(s, 0.5, 1e-15);
	assert_within(cubic_max(&line, &s), 3.0, 0.0);
	assert_within(s, 1.0, 0.0);
	assert_within(cubic_passes(&line, 1.5), 0.25, 1e-15);
	for (int i = 0; i <= 100000; i++)
		if (cubic_at(&bent, i / 1e5) > best) {
			best = cubic_at(&bent, i / 1e5);
			at = i / 1e5;
		}
	assert_within(cubic_max(&bent, &s), best, 1e-9);
	assert_within(s, at, 2e-5);
	assert_within(cubic_at(&bent, cubic_passes(&bent, 1.2)), 1.2, 1e-14);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_method_is_of_fourth_order),
	        cmocka_unit_test(between_steps_the_cubic_is_of_third_order),
	        cmocka_unit_test(a_stiff_node_stays_quiet_at_any_step),
	        cmocka_unit_test(growth_is_followed_and_not_jumped_over),
	        cmocka_unit_test(the_band_is_solved_exactly),
	        cmocka_unit_test(what_is_not_finite_ends_the_run),
	        cmocka_unit_test(lobattos_element_keeps_its_promises),
	        cmocka_unit_test(roots_are_found_in_few_looks),
	        cmocka_unit_test(a_cubics_summit_and_crossing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
