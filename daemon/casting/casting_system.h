/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CASTING_SYSTEM_H
#define AMBO_CASTING_CASTING_SYSTEM_H

#include "daemon/mixing/system.h"
#include "label.h"
#include "layer_clocks.h"

/* What casting wants to know of a resin system beyond mixing it: from its label, and
 * from that the model. Both are values. */

/* The group `casting` of a system's file; 0: not on the label. */
struct casting_label {
	char family[8];          /* "fast", "slow"; "": the one whose own times lie nearer */
	double depth_max_mm;     /* the label's deepest single pour */
	double levelling_min_mm; /* thinner than this it does not level */
	double film_gel_s, film_degc;
	double recoat_opens_s, recoat_closes_s, recoat_degc;
	double holds_s, holds_degc; /* an inclusion stays where it is put */
	double full_cure_s, full_cure_degc;
	double peak_max_degc; /* the label's hottest; 0: CASTING_PEAK_MAX_DEGC */
	double cup_loss_g;    /* what stays in the cup; 0: CASTING_CUP_LOSS_G */
	double heat_j_per_kg; /* where the maker tells it; 0: the family's */
};

/* Past it cast resin tends to yellow, shrink and crack (practice). */
#define CASTING_PEAK_MAX_DEGC 60.0
/* A wiped paper cup keeps about this much (design choice; learnt by weighing back). */
#define CASTING_CUP_LOSS_G       5.0
#define CASTING_LEVELLING_MIN_MM 1.5 /* where the label says nothing (practice) */

struct casting_system {
	char id[SYSTEM_ID_MAX], name[SYSTEM_LABEL_MAX];
	struct casting_label label;
	struct label times; /* what the model was fitted to */
	struct label_fit fit;
	double ratio;            /* hardener over resin, by mass */
	enum part hardener;      /* which of the two it is */
	double a_share, b_share; /* by mass of the mix, as lettered */
	double density_g_per_ml; /* of the mix */
	bool density_known;      /* else the family's */
	double tint_max_pct, stir_s;
	double available_g[2];     /* < 0: unknown */
	struct layer_times course; /* of the label, in equivalent time at 25 C */
};

#define CASTING_SENTENCE_MAX 512u

/* Everything the label says is checked against the rest of it. 0; -EINVAL with the first
 * thing that cannot be meant in one sentence (CASTING_SENTENCE_MAX) and in *ret_key the
 * file's key (borrowed, static; "" for the whole). */
int casting_system_make(const struct resin_system *system, const struct casting_label *label,
                        struct casting_system *ret, char *ret_sentence, const char **ret_key);

/* A time of the label at another temperature: by the resin's own E2 (Arrhenius). */
double casting_system_at_degc(const struct casting_system *system, double s, double label_degc,
                              double degc);

#endif
