/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_PLAN_H
#define AMBO_CASTING_PLAN_H

#include <stdbool.h>
#include <stdint.h>

#include "band.h"
#include "casting_system.h"
#include "layer_clocks.h"
#include "piece.h"

/* How much, in how many pours, how deep may each be, when may it be touched again: the
 * piece cut into layers. Pure: the same request gives the same plan.
 *
 * A layer is as deep as its coat, unless one of the rules cuts it; then the rest of the
 * coat is shared evenly, so that no thin layer is left over. */

#define PLAN_LAYERS_MAX   32u
#define PLAN_BATCHES_MAX  50u /* to a layer: more cups than anyone would mix */
#define PLAN_WARNINGS_MAX 24u
#define PLAN_SENTENCE_MAX 512u

enum plan_rule {
	PLAN_RULE_COAT,         /* nothing cut it: as deep as the person wants the coat */
	PLAN_RULE_HEAT,         /* the model's 5th percentile of the depth at the heat limit */
	PLAN_RULE_LABEL,        /* the label's deepest pour */
	PLAN_RULE_CUP,          /* what a cup takes, times the batches to a layer */
	PLAN_RULE_WORKING_LIFE, /* what can be stirred and poured in time out of one cup */
	PLAN_RULE_INCLUSION,    /* ends well below or above the top of an inclusion */
	PLAN_RULE_LEVELLING,    /* thinner it would not level: so more batches instead */
};

/* For machines: "coat", "heat", "label-depth", "cup-limit", "working-life",
 * "inclusion-height", "levelling-minimum". */
const char *plan_rule_name(enum plan_rule rule);
/* What would change it, for people. */
const char *plan_rule_change(enum plan_rule rule);

/* What else the rules stand on (design choices, but where a source is named). */
#define PLAN_COVER_MM     1.0    /* a surface keeps this far from an inclusion's top */
#define PLAN_WEIGH_S      300.0  /* to weigh one batch */
#define PLAN_WEIGH_LAST_S 120.0  /* of that, from the hardener's first gram */
#define PLAN_WATCH_S      1200.0 /* after a pour: bubbles out twice, then the cover */
#define PLAN_SAND_S       2700.0 /* sand, wipe off the dust, let the solvent go */
#define PLAN_LIFE_SHARE   0.6    /* of the working life, after which a cup must be empty */
#define PLAN_STIR_SHARE   0.25   /* of the working life */
#define PLAN_HEAT_MARGIN  0.99   /* of the depth found, for the search's own 0.5 % */

struct plan_layer {
	size_t coat;
	bool top_coat, edge_tape;
	char system[SYSTEM_ID_MAX];
	enum plan_rule rule;
	double from_mm, depth_mm; /* of a top coat: above the rim */
	double label_depth_mm;
	double model_depth_mm; /* 5th percentile at the heat limit; NaN: deeper than needed */
	double heat_limit_degc;
	char heat_limit_of[SYSTEM_LABEL_MAX]; /* an inclusion's name, "mould", "system" */

	double volume_ml;        /* in the piece, and what runs off a top coat's edge */
	double in_piece_g;       /* the same by weight */
	double loss_g;           /* in the cups */
	double a_g, b_g, tint_g; /* to weigh, in all batches together */
	double total_g;          /* a + b + tint */
	int batches;
	double batch_g;                  /* each; total_g / batches */
	double cup_gel_s, cup_peak_degc; /* of one batch left in its cup */

	double peak_degc; /* the fitted resin's */
	struct percentiles peak_band_degc;
	double runaway_share;
	struct layer_curve curve;
	double gel_middle_s, gel_top_s;
	/* Since the pour; NaN: unknown or never. */
	double sticky_s, holds_s;
	double opens_s, opens_p95_s;  /* the next pour */
	double closes_s, closes_p5_s; /* the chemical bond; NaN: no window at all */
	double handle_s, full_cure_s;

	/* The calendar: seconds since Monday 00:00 of the first week. */
	double pour_at_s; /* the session begins: sanding first, where due */
	double session_s; /* sanding, weighing, stirring, pouring */
	bool sand_first;
};

struct plan_stock {
	char system[SYSTEM_ID_MAX];
	double a_g, b_g, available_a_g, available_b_g; /* available < 0: unknown */
};

struct plan {
	struct plan_layer layers[PLAN_LAYERS_MAX];
	size_t n_layers;
	struct plan_stock stock[PIECE_COATS_MAX];
	size_t n_stock;
	double volume_ml, total_g;
	double first_pour_at_s, last_pour_at_s, done_at_s; /* NaN: does not cure through */
	double total_s;
	/* How much of the lowest inclusion is seen through what lies above it, lit from the
	 * viewer's side; NaN: a tint without a test chip, or nothing embedded. */
	double seen_low, seen_high;
	size_t seen_inclusion; /* of the piece's; unused where NaN */
	char warnings[PLAN_WARNINGS_MAX][PLAN_SENTENCE_MAX];
	size_t n_warnings;
	bool runaway; /* of a refusal: what was asked for runs away */
};

struct plan_request {
	const struct piece *piece;            /* complete */
	const struct casting_system *systems; /* all that its coats name, and maybe more */
	size_t n_systems;
	unsigned samples; /* 0: BAND_SAMPLES */
	uint64_t seed;
	int layers_wanted; /* of the deepest coat; 0: as few as the rules let */
	/* Go on from a piece that is begun: up to where it is filled, and when (calendar)
	 * its last layer opens, closes (NaN: never did) and may be sanded. 0: from the floor. */
	double poured_mm;
	double opens_at_s, closes_at_s, sand_at_s;
	double not_before_s; /* calendar; 0: the piece's own start */
};

/* 0; -EINVAL with why in one sentence (PLAN_SENTENCE_MAX), ret->runaway set: a system
 * without a pour depth or unknown, layers that no rule lets be, hours in which nothing
 * fits; -ENOMEM, -ERANGE with a sentence too. About 100 kB: not for the stack. */
int plan_make(const struct plan_request *request, struct plan *ret, char *ret_sentence);

/* plan_advice.c: what is mixed is more, or hotter, than planned: may it all go in? Pours on
 * request->poured_mm; the ratio's deviation heats. */
struct plan_advice {
	double depth_mm; /* if all of it goes in */
	double allowed_mm;
	enum plan_rule rule;  /* what allows no more; PLAN_RULE_COAT: all may go in */
	double keep_back_g;   /* spread it thin; 0: pour all */
	double peak_p95_degc; /* of what then goes in */
	double heat_limit_degc;
	bool runaway; /* poured whole it would run away */
};
int plan_advice(const struct plan_request *request, double mass_g, double deviation_pct,
                struct plan_advice *ret, char *ret_sentence);

/* plan_calendar.c: when each layer is poured. Fills pour_at_s, sand_first, session_s. */
int plan_calendar(const struct plan_request *request, struct plan *plan, char *ret_sentence);
/* Whether from..to lies within one day's hours. */
bool plan_in_hours(const struct piece_hours *hours, double from_s, double to_s);
/* "tue 18:30", and of a later week "tue 18:30 (week 2)". */
#define PLAN_TIME_MAX 32u
void plan_time_text(double at_s, char *ret);

/* plan_warn.c: air, inclusions, stock, cups. */
void plan_warn(const struct plan_request *request, struct plan *plan);

#endif
