/* SPDX-License-Identifier: MIT */
#include "drying.h"

#include <errno.h>
#include <math.h>

double drying_at_g(const struct drying_fit *fit, double t_s)
{
	return fit->final_g + (fit->start_g - fit->final_g) * exp(-t_s / fit->tau_s);
}

/* For a given tau the best line in exp(-t / tau); returns the sum of squares. */
static double given_tau(const struct drying_point *points, size_t n, double tau_s,
                        struct drying_fit *fit)
{
	double mean_x = 0.0, mean_m = 0.0, xx = 0.0, xm = 0.0, squares = 0.0;

	for (size_t i = 0; i < n; i++) {
		mean_x += exp(-points[i].t_s / tau_s) / (double)n;
		mean_m += points[i].mass_g / (double)n;
	}
	for (size_t i = 0; i < n; i++) {
		double x = exp(-points[i].t_s / tau_s) - mean_x;

		xx += x * x;
		xm += x * (points[i].mass_g - mean_m);
	}
	fit->tau_s = tau_s;
	fit->final_g = mean_m - xm / xx * mean_x;
	fit->start_g = fit->final_g + xm / xx;
	for (size_t i = 0; i < n; i++) {
		double off = points[i].mass_g - drying_at_g(fit, points[i].t_s);

		squares += off * off;
	}
	return squares;
}

/* exp(-t / tau) at which the loss over the day before falls to the rule's share, and at
 * which what is left falls to DRYING_WITHIN of m_inf; the later of the two. */
static double dry_s(const struct drying_fit *fit)
{
	double drop = fit->start_g - fit->final_g, day = exp(DRYING_DAY_S / fit->tau_s);
	double by_rule = DRYING_RULE * fit->final_g / (drop * ((1.0 - DRYING_RULE) * day - 1.0));
	double by_rest = DRYING_WITHIN * fit->final_g / drop;
	double least = by_rest;

	if (by_rule > 0.0 && by_rule < least)
		least = by_rule;
	return fmax(-fit->tau_s * log(least), 0.0);
}

#define GRID   60
#define GOLDEN 0.61803398874989485

int drying_fit(const struct drying_point *points, size_t n, struct drying_fit *ret)
{
	double span_s, low, high, best = INFINITY, squares;
	struct drying_fit fit;
	int best_i = 0;

	if (n < 3)
		return -EINVAL;
	for (size_t i = 0; i < n; i++)
		if (!(points[i].mass_g > 0.0) || !isfinite(points[i].mass_g) ||
		    !isfinite(points[i].t_s) || (i > 0 && !(points[i].t_s > points[i - 1].t_s)))
			return -EINVAL;
	span_s = points[n - 1].t_s - points[0].t_s;
	/* Times from a tenth of the first gap to ten times the span can be told at all. */
	low = log(span_s / (double)n / 10.0);
	high = log(span_s * 10.0);
	for (int i = 0; i <= GRID; i++) {
		squares = given_tau(points, n, exp(low + (high - low) * i / GRID), &fit);
		if (squares < best) {
			best = squares;
			best_i = i;
		}
	}
	if (best_i == 0 || best_i == GRID)
		return -ENODATA;
	{
		double step = (high - low) / GRID, a = low + step * (best_i - 1),
		       b = a + 2.0 * step;

		for (int i = 0; i < 80; i++) {
			double c = b - GOLDEN * (b - a), d = a + GOLDEN * (b - a);

			if (given_tau(points, n, exp(c), &fit) < given_tau(points, n, exp(d), &fit))
				b = d;
			else
				a = c;
		}
		squares = given_tau(points, n, exp((a + b) / 2.0), &fit);
	}
	if (!(fit.start_g > fit.final_g) || !(fit.final_g > 0.0))
		return -ENODATA;
	fit.residual_g = n > 3 ? sqrt(squares / (double)(n - 3)) : 0.0;
	fit.dry_s = dry_s(&fit);
	*ret = fit;
	return 0;
}

int drying_constant(const struct drying_point *points, size_t n, double *ret_share)
{
	const struct drying_point *last;

	if (n < 2)
		return -ENODATA;
	last = &points[n - 1];
	for (size_t i = n - 1; i-- > 0;)
		if (last->t_s - points[i].t_s >= DRYING_DAY_S) {
			*ret_share = (points[i].mass_g - last->mass_g) / points[i].mass_g;
			return fabs(*ret_share) < DRYING_RULE;
		}
	return -ENODATA;
}

const char *drying_verdict_name(enum drying_verdict verdict)
{
	static const char *const names[] = {"not-weighed", "not-yet", "dry", "stale"};

	return names[verdict];
}

void drying_judge(const struct drying_point *points, size_t n, double now_s,
                  struct drying_state *ret)
{
	const struct drying_point *last = n > 0 ? &points[n - 1] : NULL;
	struct drying_state state = {.verdict = DRYING_NOT_WEIGHED,
	                             .loss_share = (double)NAN,
	                             .per_day_share = (double)NAN,
	                             .final_g = (double)NAN,
	                             .dry_in_s = (double)NAN};
	struct drying_fit fit;

	if (n > 0) {
		state.verdict = DRYING_NOT_YET;
		state.since_s = fmax(now_s - last->t_s, 0.0);
		if (drying_constant(points, n, &state.loss_share) == 1)
			state.verdict = state.since_s <= DRYING_KEEPS_S ? DRYING_DRY : DRYING_STALE;
	}
	if (n > 1)
		state.per_day_share = (last[-1].mass_g - last->mass_g) / last[-1].mass_g /
		                      ((last->t_s - last[-1].t_s) / DRYING_DAY_S);
	if (drying_fit(points, n, &fit) == 0) {
		state.final_g = fit.final_g;
		state.dry_in_s = fmax(fit.dry_s - now_s, 0.0);
	}
	*ret = state;
}
