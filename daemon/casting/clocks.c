/* SPDX-License-Identifier: MIT */
#include "clocks.h"

#include <errno.h>
#include <math.h>

#include "stepper.h"

#define TOLERANCE_A  1e-7
#define TOLERANCE_K  1.0 /* the temperature is given, not computed */
#define FIRST_STEP_S 1.0
#define STEPS_MAX    100000u

const char *clock_event_name(enum clock_event event)
{
	switch (event) {
	case CLOCK_HOLDS:
		return "holds";
	case CLOCK_STICKY:
		return "sticky";
	case CLOCK_GEL:
		return "gel";
	case CLOCK_BOND_CLOSES:
		return "bond-closes";
	case CLOCK_HANDLE:
		return "handle";
	case CLOCK_FULL_CURE:
		return "full-cure";
	case CLOCK_EVENTS:
		break;
	}
	return "";
}

void clocks_init(struct clocks *clocks, double t_s, double degc, double conversion)
{
	*clocks = (struct clocks){.t_s = t_s, .degc = degc, .conversion = conversion};
	for (int i = 0; i < CLOCK_EVENTS; i++)
		clocks->at_s[i] = (double)NAN;
}

/* How far past each event, by its own measure: the event comes where it turns positive. */
static double past(const struct clocks *clocks, const struct cure *cure, enum clock_event event,
                   double t_k, double a)
{
	double tg_over_k = cure_tg_degc(cure, a) + CURE_ZERO_DEGC_K - t_k;

	switch (event) {
	case CLOCK_HOLDS:
		break;
	case CLOCK_STICKY:
		return a - CLOCKS_STICKY_SHARE * cure->gel_conversion;
	case CLOCK_GEL:
		return a - cure->gel_conversion;
	case CLOCK_BOND_CLOSES:
		return tg_over_k - CLOCKS_BOND_K;
	case CLOCK_HANDLE:
		return a - CLOCKS_HANDLE;
	case CLOCK_FULL_CURE:
		if (isnan(clocks->at_s[CLOCK_HANDLE]))
			return -1.0;
		return fmin(tg_over_k - CURE_VITRIFICATION_K,
		            1.0 - cure_rate_per_s(cure, t_k, a) * 86400.0 / CLOCKS_FULL_PER_DAY);
	case CLOCK_EVENTS:
		break;
	}
	return -1.0;
}

/* Where within the step the event came: bisection, once an event. */
static void find(struct clocks *clocks, const struct cure *cure, const struct stepper *st,
                 enum clock_event event)
{
	struct cubic t = stepper_t_k(st, 0), a = stepper_a(st, 0);
	double low = 0.0, high = 1.0;

	if (!isnan(clocks->at_s[event]) || past(clocks, cure, event, t.y1, a.y1) < 0.0)
		return;
	if (past(clocks, cure, event, t.y0, a.y0) >= 0.0)
		high = 0.0;
	for (int i = 0; i < 53 && high > 0.0; i++) {
		double middle = 0.5 * (low + high);

		if (past(clocks, cure, event, cubic_at(&t, middle), cubic_at(&a, middle)) < 0.0)
			low = middle;
		else
			high = middle;
	}
	clocks->at_s[event] = clocks->t_s + st->from_s + high * st->step_s;
	/* What comes after another cannot have come before it. */
	if (event == CLOCK_FULL_CURE)
		clocks->at_s[event] = fmax(clocks->at_s[event], clocks->at_s[CLOCK_HANDLE]);
}

/* Seconds at the reference temperature that this one second is worth. */
static double worth(const struct cure *cure, double degc)
{
	return exp(cure->e2_j_per_mol / CURE_GAS_CONSTANT_J_PER_MOLK *
	           (1.0 / (CLOCKS_REFERENCE_DEGC + CURE_ZERO_DEGC_K) -
	            1.0 / (degc + CURE_ZERO_DEGC_K)));
}

#define SLICE_K    2.0
#define SLICES_MAX 200

/* Simpson's rule over slices of at most 2 K, in which the worth is all but a parabola. */
static void equivalent(struct clocks *clocks, const struct cure *cure, double t_s, double degc)
{
	double span_s = t_s - clocks->t_s, span_k = degc - clocks->degc;
	int n = 1 + (int)fmin(fabs(span_k) / SLICE_K, SLICES_MAX - 1);
	double slice_s = span_s / n, slice_k = span_k / n;

	for (int i = 0; i < n; i++) {
		double from = clocks->degc + slice_k * i;
		double from_w = worth(cure, from), to_w = worth(cure, from + slice_k);
		double more =
		        slice_s / 6.0 * (from_w + 4.0 * worth(cure, from + slice_k / 2.0) + to_w);
		double missing = clocks->holds_equivalent_s - clocks->equivalent_s;

		if (clocks->holds_equivalent_s > 0.0 && isnan(clocks->at_s[CLOCK_HOLDS]) &&
		    more >= missing)
			clocks->at_s[CLOCK_HOLDS] =
			        clocks->t_s + slice_s * (i + fmax(missing, 0.0) / more);
		clocks->equivalent_s += more;
	}
}

int clocks_step(struct clocks *clocks, const struct cure *cure, double t_s, double degc)
{
	struct clocks next = *clocks;
	double span_s = t_s - clocks->t_s;
	double capacity = 1.0, none = 0.0,
	       inflow = span_s > 0.0 ? (degc - clocks->degc) / span_s : 0.0;
	struct nodes nodes = {.n = 1,
	                      .capacity = &capacity,
	                      .conductance = &none,
	                      .loss = &none,
	                      .inflow = &inflow,
	                      .rise_k = &none,
	                      .cure = cure};
	double work[STEPPER_WORK(1, 0)];
	struct stepper st;
	int r = 1;

	if (!(span_s >= 0.0) || !isfinite(t_s) || !(degc >= -60.0 && degc <= 250.0))
		return -EINVAL;
	if (span_s > 0.0) {
		equivalent(&next, cure, t_s, degc);
		stepper_init(&st, &nodes, TOLERANCE_K, TOLERANCE_A,
		             fmax(FIRST_STEP_S, span_s / 4.0), work);
		st.t_k[0] = clocks->degc + CURE_ZERO_DEGC_K;
		st.a[0] = clocks->conversion;
		for (size_t steps = 0; r > 0 && steps < STEPS_MAX; steps++) {
			r = stepper_step(&st, span_s);
			for (int e = CLOCK_STICKY; r > 0 && e < CLOCK_EVENTS; e++)
				find(&next, cure, &st, (enum clock_event)e);
		}
		if (r != 0)
			return -ERANGE;
		next.conversion = st.a[0];
	}
	next.t_s = t_s;
	next.degc = degc;
	*clocks = next;
	return 0;
}

int clocks_ahead(const struct clocks *clocks, const struct cure *cure, double degc, double until_s,
                 struct clocks *ret)
{
	struct clocks next = *clocks;
	int r;

	next.degc = degc;
	r = clocks_step(&next, cure, until_s, degc);
	if (r == 0)
		*ret = next;
	return r;
}

double clocks_teach_holds(struct clocks *clocks)
{
	clocks->holds_equivalent_s = clocks->equivalent_s;
	if (isnan(clocks->at_s[CLOCK_HOLDS]))
		clocks->at_s[CLOCK_HOLDS] = clocks->t_s;
	return clocks->equivalent_s;
}
