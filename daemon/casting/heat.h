/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_HEAT_H
#define AMBO_CASTING_HEAT_H

#include <stdbool.h>
#include <stddef.h>

#include "cure.h"

/* Heat through one freshly poured layer, with cured layers below that only conduct:
 *
 *   rho cp dT/dt = k d2T/dz2 + rho H da/dt
 *   bottom: k dT/dz = U (T - Ta)     top: -k dT/dz = h (T - Ta)
 *
 * In one dimension: a layer is much wider than deep. Spectral elements in depth
 * (lobatto.h), doubled in number until the profile is resolved; stepper.h in time. */

struct heat_case {
	struct casting_resin resin;
	double depth_mm;                        /* of the fresh layer, > 0 */
	double below_mm;                        /* cured layers under it; 0: none */
	struct material below;                  /* of those; unused where there are none */
	double top_w_per_m2k, bottom_w_per_m2k; /* >= 0; 0: insulated */
	double ambient_degc;                    /* above and below */
	double start_degc, start_conversion;    /* of the fresh layer */
	double below_degc;                      /* of the cured layers at the pour */
};

/* Air over a level surface: convection by McAdams or Churchill-Chu 4..8 W/m2K and
 * radiation 5..6. Under it: a silicone mould on a bench; foam; a raised metal tray. */
#define HEAT_TOP_W_PER_M2K          10.0
#define HEAT_BOTTOM_BENCH_W_PER_M2K 5.0
#define HEAT_BOTTOM_FOAM_W_PER_M2K  0.5
#define HEAT_BOTTOM_TRAY_W_PER_M2K  10.0

/* What else to tell, at times the caller chose. */
struct heat_at {
	double t_s; /* in: ascending */
	double middle_degc, top_degc, bottom_degc;
	double middle_conversion, top_conversion;
};

struct heat_wanted {
	double tolerance_k;     /* error a step; 0: HEAT_TOLERANCE_K */
	double until_s;         /* 0: HEAT_UNTIL_S; ends before when all is known */
	double stop_above_degc; /* a heat limit: passing it ends the run; 0: none */
	struct heat_at *at;     /* borrowed; NULL: none. Those after a stop stay untouched */
	size_t n_at;
	size_t work_max; /* nodes moved on, over all steps; 0: HEAT_WORK_MAX */
};

/* A few seconds. FAST 200 mm deep between faces held cold takes 6e6; what takes more burns
 * with a front of micrometres. */
#define HEAT_WORK_MAX 20000000u

/* Measured on four layers against a converged solution: errors a step of 3e-3, 1e-3 and
 * 1e-4 K leave the peaks wrong by 4e-4, 2e-4 and 5e-5 K, gel times by 2e-5, 6e-6, 5e-7. */
#define HEAT_TOLERANCE_K 1e-3
#define HEAT_UNTIL_S     (400.0 * 86400.0)

struct heat_result {
	double peak_degc, peak_s; /* hottest anywhere in the fresh layer */
	double peak_middle_degc, peak_top_degc, peak_bottom_degc;
	double gel_middle_s, gel_top_s; /* NaN: not by the end */
	double tack_free_top_s;         /* surface at HEAT_TACK_CONVERSION; NaN: not by the end */
	double end_s;
	bool stopped; /* passed stop_above_degc: peak_degc is the temperature then */
	/* What it cost. */
	size_t steps, refused, elements, nodes;
};

/* The surface no longer takes dust or fingerprints (design choice). */
#define HEAT_TACK_CONVERSION 0.75

/* Past this the numbers mean only one thing: do not pour. */
#define HEAT_RUNAWAY_DEGC 120.0

#define HEAT_DEPTH_MIN_MM 0.05
#define HEAT_DEPTH_MAX_MM 1000.0

/* Peaks count the start too. 0; -EINVAL for a case outside the ranges heat_check()
 * tells; -ENOMEM; -ERANGE where the arithmetic fails, or a front is too thin to follow
 * within work_max: never a number that is not resolved. Deterministic. */
int heat_run(const struct heat_case *heat, const struct heat_wanted *wanted,
             struct heat_result *ret);

/* 0, or -EINVAL with the first thing wrong said in a sentence. */
int heat_check(const struct heat_case *heat, char *ret_sentence, size_t size);

/* Semenov's critical depth for a layer of one temperature: with the fastest rate r at
 * ambient, L = (h + U) R Ta2 / (e rho H r E). Consumption lets the true cliff lie
 * deeper, so a search may begin here. INFINITY without reaction. */
double heat_semenov_depth_mm(const struct heat_case *heat);

#endif
