/* SPDX-License-Identifier: MIT */
#include "ratio.h"

#include <errno.h>
#include <math.h>

/* The guard band is twice the standard uncertainty: at most 2.3 % of the batches
 * right at a limit are accepted (JCGM 106:2012, guarded
 * acceptance with w = U). */
#define GUARD_FACTOR 2.0

static int is_part(enum part part)
{
	return part == PART_A || part == PART_B;
}

static int arguments_ok(const struct weighing_point *points, size_t n_points,
                        const struct weighed_part *parts, size_t n_parts)
{
	if (points == NULL || n_points == 0 || (parts == NULL && n_parts > 0))
		return 0;
	for (size_t i = 0; i < n_points; i++)
		if (!isfinite(points[i].gross_g) || !isfinite(points[i].u_g) || points[i].u_g < 0.0)
			return 0;
	for (size_t k = 0; k < n_parts; k++)
		if (!is_part(parts[k].part) || parts[k].before >= n_points ||
		    parts[k].after >= n_points)
			return 0;
	return 1;
}

int ratio_of(const struct weighing_point *points, size_t n_points, const struct weighed_part *parts,
             size_t n_parts, enum part hardener, double target_ratio, struct ratio *ret)
{
	double resin_g = 0.0, hardener_g = 0.0, ratio, variance = 0.0;

	if (!arguments_ok(points, n_points, parts, n_parts) || !is_part(hardener) ||
	    !isfinite(target_ratio) || target_ratio <= 0.0)
		return -EINVAL;
	for (size_t k = 0; k < n_parts; k++) {
		double mass_g = points[parts[k].after].gross_g - points[parts[k].before].gross_g;

		*(parts[k].part == hardener ? &hardener_g : &resin_g) += mass_g;
	}
	if (!(resin_g > 0.0))
		return -EDOM;
	ratio = hardener_g / resin_g;
	for (size_t i = 0; i < n_points; i++) {
		double slope = 0.0; /* of m_hardener - R m_resin with this reading */

		for (size_t k = 0; k < n_parts; k++) {
			double sign = (parts[k].after == i) - (parts[k].before == i);

			slope += parts[k].part == hardener ? sign : -ratio * sign;
		}
		slope *= points[i].u_g / resin_g;
		variance += slope * slope;
	}
	if (!isfinite(ratio) || !isfinite(variance))
		return -EDOM; /* so little resin that the quotient overflows */
	*ret = (struct ratio){
	        .resin_g = resin_g,
	        .hardener_g = hardener_g,
	        .ratio = ratio,
	        .u_ratio = sqrt(variance),
	        .deviation_pct = 100.0 * (ratio / target_ratio - 1.0),
	        .u_deviation_pct = 100.0 * sqrt(variance) / target_ratio,
	};
	return 0;
}

const char *verdict_name(enum verdict verdict)
{
	switch (verdict) {
	case VERDICT_NONE:
		return "none";
	case VERDICT_WITHIN:
		return "within";
	case VERDICT_OUTSIDE:
		return "outside";
	case VERDICT_CANNOT_TELL:
		return "cannot-tell";
	}
	return "none";
}

double conformity_probability(double lower, double upper, double y, double u)
{
	double a, b;

	if (isnan(lower) || isnan(upper) || !isfinite(y) || !isfinite(u) || u < 0.0 ||
	    lower > upper)
		return 0.0;
	if (u == 0.0)
		return lower <= y && y <= upper ? 1.0 : 0.0;
	a = (lower - y) / u * sqrt(0.5);
	b = (upper - y) / u * sqrt(0.5);
	/* Always the difference of two tails on the far side: no cancelling near 1. */
	if (a > 0.0)
		return 0.5 * (erfc(a) - erfc(b));
	if (b < 0.0)
		return 0.5 * (erfc(-b) - erfc(-a));
	return 1.0 - 0.5 * erfc(-a) - 0.5 * erfc(b);
}

struct ratio_verdict ratio_judge(const struct ratio *ratio, double tolerance_pct)
{
	struct ratio_verdict verdict = {.verdict = VERDICT_NONE};
	double y = ratio->deviation_pct, u = ratio->u_deviation_pct;

	if (!isfinite(y) || !isfinite(u) || u < 0.0 || !isfinite(tolerance_pct) ||
	    tolerance_pct <= 0.0 || !(ratio->resin_g > 0.0) || !(ratio->hardener_g > 0.0))
		return verdict;
	verdict.guard_pct = GUARD_FACTOR * u;
	verdict.probability = conformity_probability(-tolerance_pct, tolerance_pct, y, u);
	if (fabs(y) > tolerance_pct)
		verdict.verdict = VERDICT_OUTSIDE;
	else if (fabs(y) <= tolerance_pct - verdict.guard_pct)
		verdict.verdict = VERDICT_WITHIN;
	else
		verdict.verdict = VERDICT_CANNOT_TELL;
	return verdict;
}

double ratio_smallest_total_g(double target_ratio, double tolerance_pct, double u_g)
{
	double r = target_ratio, resin_g;

	if (!isfinite(r) || r <= 0.0 || !isfinite(tolerance_pct) || tolerance_pct <= 0.0 ||
	    !isfinite(u_g) || u_g < 0.0)
		return (double)INFINITY;
	resin_g = 2.0 * GUARD_FACTOR * u_g * sqrt(2.0 * (1.0 + r + r * r)) /
	          (r * tolerance_pct / 100.0);
	return resin_g * (1.0 + r);
}

/* The doses of the part that is short, by the ratio they lead to. */
struct doses {
	double least_g, aim_g, most_g; /* guarded edge, target, the other guarded edge */
};

static struct doses doses_for(const struct ratio *ratio, int add_resin, double target_ratio,
                              double guarded_pct)
{
	double low = target_ratio * (1.0 - guarded_pct / 100.0);
	double high = target_ratio * (1.0 + guarded_pct / 100.0);
	double resin_g = ratio->resin_g, hardener_g = ratio->hardener_g;

	if (add_resin)
		return (struct doses){
		        .least_g = fmax(0.0, hardener_g / high - resin_g),
		        .aim_g = hardener_g / target_ratio - resin_g,
		        .most_g = low > 0.0 ? hardener_g / low - resin_g : (double)INFINITY,
		};
	return (struct doses){
	        .least_g = fmax(0.0, resin_g * low - hardener_g),
	        .aim_g = resin_g * target_ratio - hardener_g,
	        .most_g = resin_g * high - hardener_g,
	};
}

static int limits_ok(const struct top_up_limits *limits)
{
	return isfinite(limits->room_g) && isfinite(limits->available_g[PART_A]) &&
	       isfinite(limits->available_g[PART_B]) && isfinite(limits->smallest_dose_g) &&
	       limits->smallest_dose_g >= 0.0 && isfinite(limits->tolerance_pct) &&
	       limits->tolerance_pct > 0.0 && isfinite(limits->u_deviation_pct) &&
	       limits->u_deviation_pct >= 0.0;
}

int ratio_top_up(const struct ratio *ratio, enum part hardener, double target_ratio,
                 const struct top_up_limits *limits, struct top_up *ret)
{
	double room_g, stock_g, least_g, guarded_pct;
	struct top_up top_up = {0};
	struct doses doses;
	int add_resin;

	if (!is_part(hardener) || !isfinite(target_ratio) || target_ratio <= 0.0 ||
	    !limits_ok(limits) || !isfinite(ratio->resin_g) || !isfinite(ratio->hardener_g))
		return -EINVAL;
	if (ratio->resin_g <= 0.0)
		return -EDOM;
	add_resin = ratio->hardener_g > ratio->resin_g * target_ratio;
	guarded_pct = limits->tolerance_pct - GUARD_FACTOR * limits->u_deviation_pct;
	doses = doses_for(ratio, add_resin, target_ratio, fmax(0.0, guarded_pct));
	if (!(doses.aim_g > 0.0))
		return -EDOM;

	top_up.part = add_resin ? (hardener == PART_A ? PART_B : PART_A) : hardener;
	room_g = limits->room_g < 0.0 ? (double)INFINITY : limits->room_g;
	stock_g = limits->available_g[top_up.part] < 0.0 ? (double)INFINITY
	                                                 : limits->available_g[top_up.part];
	least_g = fmax(doses.least_g, limits->smallest_dose_g);
	top_up.mass_g = least_g;
	if (guarded_pct <= 0.0) {
		top_up.reason = TOP_UP_CANNOT_BE_TOLD;
		top_up.mass_g = doses.aim_g;
	} else if (least_g > doses.most_g) {
		top_up.reason = TOP_UP_DOSE_TOO_SMALL;
	} else if (least_g > fmin(room_g, stock_g)) {
		top_up.reason = room_g <= stock_g ? TOP_UP_NO_ROOM : TOP_UP_NO_STOCK;
		top_up.short_of_g = least_g - fmin(room_g, stock_g);
	} else {
		top_up.fits = 1;
		top_up.mass_g = fmax(least_g, fmin(doses.aim_g, fmin(room_g, stock_g)));
	}
	top_up.total_g = ratio->resin_g + ratio->hardener_g + top_up.mass_g;
	if (top_up.fits && top_up.mass_g == doses.aim_g)
		top_up.aim_ratio = target_ratio;
	else if (add_resin)
		top_up.aim_ratio = ratio->hardener_g / (ratio->resin_g + top_up.mass_g);
	else
		top_up.aim_ratio = (ratio->hardener_g + top_up.mass_g) / ratio->resin_g;
	*ret = top_up;
	return 0;
}
