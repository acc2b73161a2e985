/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_RATIO_H
#define AMBO_MIXING_RATIO_H

#include <stddef.h>
#include <stdint.h>

#include "system.h"

/* The ratio of what was weighed, its uncertainty, and what may be said of it. */

/* One settled reading of the pan that a mass was computed from. */
struct weighing_point {
	double gross_g;
	double u_g; /* standard uncertainty of this reading against the others */
};

/* A mass as the difference of two points; a point shared by two masses
 * correlates them, which is how the covariance follows the readings really used. */
struct weighed_part {
	enum part part;
	uint8_t before, after; /* indices of points */
};

struct ratio {
	double resin_g, hardener_g;
	double ratio;         /* hardener / resin */
	double u_ratio;       /* standard uncertainty, GUM first order, with covariance */
	double deviation_pct; /* 100 (ratio/target - 1): positive, too much hardener */
	double u_deviation_pct;
};

/* -EINVAL: an index out of range, no points, a value that is not finite, a negative
 * u_g, a target that is not above 0; -EDOM: no resin yet (ratio without meaning).
 * Source: JCGM 100:2008, 5.2: u(R)^2 = sum over points of (dR/dg_i u_i)^2, with
 * dR/dg_i = (dm_hardener/dg_i - R dm_resin/dg_i) / m_resin. The points are taken
 * as independent; what two masses share they share through a common point. */
int ratio_of(const struct weighing_point *points, size_t n_points, const struct weighed_part *parts,
             size_t n_parts, enum part hardener, double target_ratio, struct ratio *ret);

enum verdict {
	VERDICT_NONE,        /* nothing to judge yet */
	VERDICT_WITHIN,      /* inside the guarded band */
	VERDICT_OUTSIDE,     /* its estimate lies outside the tolerance */
	VERDICT_CANNOT_TELL, /* between: this scale cannot tell */
};

struct ratio_verdict {
	enum verdict verdict;
	double probability; /* of conformity, JCGM 106:2012 7.4 */
	double guard_pct;   /* w = 2 u, taken off each side */
};

const char *verdict_name(enum verdict verdict); /* "none", "within", "outside", "cannot-tell" */

/* tolerance_pct > 0, either side of the target. Unrounded values rule: within when
 * |deviation| <= tolerance - 2 u, outside when |deviation| > tolerance (JCGM
 * 106:2012, guarded acceptance). VERDICT_NONE, probability and guard 0, when
 * a part is still missing or a value is not finite. */
struct ratio_verdict ratio_judge(const struct ratio *ratio, double tolerance_pct);

/* Phi((upper-y)/u) - Phi((lower-y)/u); either limit may be infinite. u = 0 gives 1
 * or 0; a value that is not finite, u < 0 or crossed limits give 0: nothing is
 * claimed. Source: JCGM 106:2012, 7.2..7.4. */
double conformity_probability(double lower, double upper, double y, double u);

/* Smallest total (resin + hardener, g) for which half of the tolerance band is
 * left after guarding, one reading shared between both parts, u_g a reading:
 * m_resin = 4 u sqrt(2 (1 + R + R^2)) / (R T). INFINITY for bad input: no batch. */
double ratio_smallest_total_g(double target_ratio, double tolerance_pct, double u_g);

enum top_up_reason {
	TOP_UP_FITS,
	TOP_UP_NO_ROOM,        /* the cup or Max is too near: short_of_g */
	TOP_UP_NO_STOCK,       /* too little of the part is left: short_of_g */
	TOP_UP_DOSE_TOO_SMALL, /* the least dose this scale can weigh goes past the band */
	TOP_UP_CANNOT_BE_TOLD, /* the guarded band is empty: this scale could not judge it */
};

/* What to add to set an overshoot right. part: which; mass_g > 0. Where it does not
 * fit, mass_g is the least dose that would have done. */
struct top_up {
	enum part part;
	double mass_g;
	double total_g;    /* resin + hardener afterwards */
	double aim_ratio;  /* the system's own where it fits, else the nearest guarded one */
	int fits;          /* 0: no dose inside cup, Max, stock and guard band: say so */
	double short_of_g; /* fits 0: how much room or stock is missing for the least dose */
	enum top_up_reason reason; /* TOP_UP_FITS exactly when fits is 1 */
};

struct top_up_limits {
	double room_g;          /* the least of cup limit, Max less what is on the pan; < 0 unknown:
	                         * a cup already past its limit has room 0 */
	double available_g[2];  /* by enum part; < 0 unknown */
	double smallest_dose_g; /* never ask for less: this scale could not weigh it */
	double tolerance_pct, u_deviation_pct;
};

/* No top-up needed when the verdict is within: the caller asks first. Even when it
 * falls on a dose under smallest_dose_g, the least dose is offered if it stays
 * inside the guarded band, else fits is 0. Short of room or stock, all that is left
 * is used if that reaches the guarded band: of the ratios that fit, the nearest to
 * the target. -EINVAL as for ratio_of(); -EDOM: no resin, or nothing to set right. */
int ratio_top_up(const struct ratio *ratio, enum part hardener, double target_ratio,
                 const struct top_up_limits *limits, struct top_up *ret);

#endif
