/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_RECIPE_H
#define AMBO_MIXING_RECIPE_H

#include "message.h"
#include "system.h"

/* A request turned into what to dispense, in order, or into one clear refusal
 * before anything is poured. */

#define RECIPE_CHARGES_MAX 6u
#define RECIPE_TINT_DOUBT_PCT 10.0 /* a tint weighed worse than this is by eye (design choice) */
#define RECIPE_RESIN_MIN_DEGC (-10.0)
#define RECIPE_RESIN_MAX_DEGC 80.0

struct recipe_charge {
	enum component component;
	char label[SYSTEM_LABEL_MAX];
	double share_pct; /* tint, filler: of the mixed mass; else 0 */
	double target_g;  /* as planned; actual masses move the targets after it */
};

struct recipe_request {
	double total_g;    /* resin + hardener; 0 when volume_ml is given */
	double volume_ml;  /* by the mixed density; 0 when total_g is given */
	double cup_limit_g; /* what the cup may hold; 0: no limit given */
	double tint_pct;   /* of the mixed mass; 0: none */
	char tint_label[SYSTEM_LABEL_MAX];
	double resin_degc; /* temperature of the resin; NAN: not known */
	double life_max_s; /* working life by a better reckoning than the label's; 0: none */
	char piece[SYSTEM_LABEL_MAX], layer[SYSTEM_LABEL_MAX]; /* plain labels */
};

/* What the scale can do, from configuration. */
struct recipe_scale {
	double max_g, interval_g;
	double u_reading_g;       /* expected of one settled reading, > 0 */
	double default_tolerance_pct; /* where the label gives none */
	bool bottles_on_pan; /* bottles may be weighed beside the cup */
};

struct recipe {
	struct resin_system system;
	double total_g, tolerance_pct, ratio; /* ratio: hardener over resin by mass */
	double tint_pct;
	double cup_limit_g; /* 0 none */
	double max_g, interval_g;
	double stir_s;      /* the label's; else 3 min under 300 g, 5 above (common practice) */
	double working_life_s; /* of this mass at this temperature, never over the label's */
	double smallest_dose_g; /* of a top-up: twice its own expanded doubt, or one interval */
	double smallest_tint_g; /* of a tint weighed to RECIPE_TINT_DOUBT_PCT */
	double u_reading_g;
	double resin_degc; /* of the parts, told or measured, where resin_known */
	bool bottles_on_pan, resin_known;
	char piece[SYSTEM_LABEL_MAX], layer[SYSTEM_LABEL_MAX];
	struct recipe_charge charge[RECIPE_CHARGES_MAX];
	uint32_t n_charges;
};

/* The resin is dispensed first, tint into it, the hardener last; tint after the
 * hardener where the label says so.
 * @today: ISO 8601 date, or NULL where the clock is not to be trusted.
 * 0 with *ret set; -ERANGE or -EINVAL with *ret_why the refusal, *ret untouched.
 * Warnings that do not refuse (expired, stir-wont-fit) go to ret_warning (id NONE
 * when there is none). */
int recipe_make(const struct resin_system *system, const struct recipe_request *request,
                const struct recipe_scale *scale, const char *today, struct recipe *ret,
                struct message *ret_why, struct message *ret_warning);

/* Has a part's lot changed since the last batch? last_lot: by enum part, "" or NULL
 * unknown. True with *ret_warning (lot-changed: component, text the new lot). */
bool recipe_lot_changed(const struct resin_system *system, const char *const last_lot[2],
                        struct message *ret_warning);

#endif
