/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_PIECE_H
#define AMBO_CASTING_PIECE_H

#include <stdbool.h>
#include <stddef.h>

#include "cavity.h"
#include "daemon/mixing/system.h"
#include "drying.h"

/* A piece as the person describes it: the hollow, what it stands on, what is embedded,
 * which coats go in, and when there is time for it. A value; what follows from it is
 * plan.h's business. */

#define PIECE_COATS_MAX      8u
#define PIECE_INCLUSIONS_MAX 32u
#define PIECE_SENTENCE_MAX   512u

/* One coat: of one system and tint, poured in as many layers as it takes. In the file's
 * order, the lowest first. */
struct piece_coat {
	char name[SYSTEM_LABEL_MAX];
	char system[SYSTEM_ID_MAX]; /* as piece_complete() leaves it, never "" */
	double depth_mm;            /* 0: what the other coats leave of the cavity; one at most */
	char tint[SYSTEM_LABEL_MAX];
	double tint_pct;                    /* of resin + hardener */
	double tint_eps_low, tint_eps_high; /* optical.h, from a test chip; NaN: not known */
	/* A top coat lies over the rim and not in the cavity, and runs off its edge. */
	bool top_coat;
	bool edge_tape;
	double run_off_pct;       /* of what covers, over the edge and lost */
	double coverage_g_per_m2; /* of the label; 0: not given, depth_mm decides */
};

struct piece_inclusion {
	char name[SYSTEM_LABEL_MAX];
	char rests_on[SYSTEM_LABEL_MAX]; /* a coat's name: on its top; "": on the floor */
	double height_mm;
	double volume_ml; /* of all of its kind together */
	double heat_limit_degc;
	bool may_stand_out; /* of the last layer: meant so */
	bool dried;         /* the person says that it is */
	struct drying_state drying; /* by its weighings, where the station knows of any */
	int count;
	double across_mm;   /* for the drawing: 0: as high as wide */
	double rests_on_mm; /* out of piece_complete() */
};

/* When the person is there. Days count from Monday. */
struct piece_hours {
	int opens_min, closes_min; /* of the day, 0..1440, opens before closes */
	unsigned days;             /* bit 0: Monday; 0 is a mistake */
	int start_day;             /* 0: Monday */
	int start_min;             /* of that day: the earliest first pour */
};
#define PIECE_EVERY_DAY 0x7fu

struct piece {
	char name[SYSTEM_LABEL_MAX];
	char system[SYSTEM_ID_MAX];
	struct cavity cavity;
	double bottom_w_per_m2k; /* heat.h: what the mould stands on */
	double mould_limit_degc; /* INFINITY: none given */
	struct piece_coat coats[PIECE_COATS_MAX];
	size_t n_coats;
	struct piece_inclusion inclusions[PIECE_INCLUSIONS_MAX];
	size_t n_inclusions;
	double room_degc;
	double resin_degc;   /* before mixing; NaN: the room's */
	double humidity_pct; /* NaN: no sensor */
	double cup_limit_g;  /* mixed mass a cup takes; INFINITY: none given */
	double cup_loss_g;   /* what stays in a cup; NaN: the system's own */
	int batches_max;     /* to a layer, unless levelling demands more */
	double pour_g_per_s;
	struct piece_hours hours;
};

/* Within this the usual caution for flowers holds: roses dried best at 40 C and were
 * damaged at 50 (published drying trials); 60 is where Ambo stops. */
#define PIECE_INCLUSION_PREFER_DEGC 40.0
#define PIECE_INCLUSION_LIMIT_DEGC  50.0
#define PIECE_INCLUSION_STOP_DEGC   60.0

/* The defaults: 23 C, a silicone mould on a bench, every day from 8 to 22, one batch to
 * a layer, 5 g/s (design choices). */
void piece_defaults(struct piece *ret);

/* Fills in what follows from the rest: each coat's system and the depth left to it,
 * where the inclusions stand. 0; -EINVAL with the first thing wrong in one sentence with
 * its numbers (PIECE_SENTENCE_MAX) and in *ret_key the file's key it is about (borrowed,
 * static): a cavity that cannot be, a coat deeper than the cavity, an inclusion that does
 * not fit, hours that are none. Then *piece is as it was. */
int piece_complete(struct piece *piece, char *ret_sentence, const char **ret_key);

/* 1 with a question where the numbers look like another unit, else 0. Of a piece that
 * is complete. */
int piece_question(const struct piece *piece, char *ret_sentence);

/* Depth of all coats within the cavity. */
double piece_filled_mm(const struct piece *piece);
/* The heights of a coat's floor and top; of a top coat above the cavity's rim. */
double piece_coat_from_mm(const struct piece *piece, size_t coat);

/* The inclusions' part of cavity.h. Returns how many were written; ret holds
 * PIECE_INCLUSIONS_MAX. */
size_t piece_displacing(const struct piece *piece, struct inclusion *ret);

#endif
