/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_DRYING_H
#define AMBO_CASTING_DRYING_H

#include <stdbool.h>
#include <stddef.h>

/* Inclusions dried before they are embedded, weighed day by day:
 * m(t) = m_inf + (m0 - m_inf) exp(-t / tau), by least squares. */

struct drying_point {
	double t_s, mass_g;
};

struct drying_fit {
	double start_g; /* m0, at t = 0 */
	double final_g; /* m_inf */
	double tau_s;
	double residual_g; /* standard deviation with n - 3 degrees of freedom; 0 for n = 3 */
	double dry_s;      /* when it will have come within DRYING_WITHIN of m_inf, and a day's
	                      loss falls under the rule's; 0: from the start */
};

#define DRYING_DAY_S  86400.0
#define DRYING_RULE   0.01 /* a day's loss, of the mass: constant (practice) */
#define DRYING_WITHIN 0.01 /* of m_inf: slow things lose little a day long before (ours) */

/* n >= 3, ascending in time, masses > 0. 0; -EINVAL; -ENODATA where the points show no
 * decay to fit: straight, rising, or all but constant. */
int drying_fit(const struct drying_point *points, size_t n, struct drying_fit *ret);

/* Constant mass: the last weighing and the newest one at least a day older differ by
 * less than DRYING_RULE. 1 or 0; -ENODATA without such a pair. *ret_share: the loss. */
int drying_constant(const struct drying_point *points, size_t n, double *ret_share);

double drying_at_g(const struct drying_fit *fit, double t_s);

/* What the weighings of one thing say now. */
enum drying_verdict {
	DRYING_NOT_WEIGHED,
	DRYING_NOT_YET, /* or cannot be told yet */
	DRYING_DRY,     /* constant mass */
	DRYING_STALE,   /* it was, DRYING_KEEPS_S ago: it draws moisture from the air again */
};
const char *drying_verdict_name(enum drying_verdict verdict); /* "dry", for machines */

#define DRYING_KEEPS_S (7.0 * DRYING_DAY_S) /* in a closed box (design choice) */

struct drying_state {
	enum drying_verdict verdict;
	double loss_share;    /* over a day or more, drying_constant(); NaN: not known */
	double per_day_share; /* of the mass, between the last two weighings; NaN: one only */
	double final_g;       /* NaN: no decay to be seen */
	double dry_in_s;      /* NaN: as above; 0: by the curve it should be */
	double since_s;       /* the last weighing */
};

/* points as for drying_fit(), n may be 0; now_s on their clock. Cannot fail. */
void drying_judge(const struct drying_point *points, size_t n, double now_s,
                  struct drying_state *ret);

#endif
