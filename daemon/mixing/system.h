/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_SYSTEM_H
#define AMBO_MIXING_SYSTEM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A two-part resin system, as its label tells it. A value: copied freely. */

#define SYSTEM_ID_MAX       32u /* bytes with NUL: [a-z0-9-], the file's name for it */
#define SYSTEM_LABEL_MAX    48u /* bytes with NUL, UTF-8 */
#define SYSTEM_NOTES_MAX    512u
#define SYSTEM_DATE_MAX     11u /* "2027-05-31" */
#define SYSTEM_SENTENCE_MAX 512u

enum part { PART_A, PART_B }; /* as lettered on the label; which one hardens is told apart */
enum basis { BASIS_NONE, BASIS_WEIGHT, BASIS_VOLUME }; /* no default: NONE is a mistake */

struct system_part {
	char label[SYSTEM_LABEL_MAX]; /* the label's own word: "resin", "hardener" */
	double parts;                 /* as printed: 100 : 45, by `basis` */
	double density_g_per_ml;      /* 0.5..3; 0: unknown (needed for BASIS_VOLUME) */
	char lot[SYSTEM_LABEL_MAX];   /* "" unknown */
	char expiry[SYSTEM_DATE_MAX]; /* "" unknown */
	double available_g;           /* < 0: unknown */
	double bottle_gross_g;        /* bottle with contents, last weighed; < 0: unknown */
	char code[SYSTEM_LABEL_MAX];  /* what a code reader reads on the bottle; "" none */
};

struct resin_system {
	char id[SYSTEM_ID_MAX];
	char name[SYSTEM_LABEL_MAX];
	struct system_part part[2]; /* indexed by enum part */
	enum part hardener;
	enum basis basis;
	double tolerance_pct;       /* of hardener over resin, either side; 0: not on the label */
	double working_life_s;      /* as on the label, > 0 */
	double working_life_mass_g; /* ... for this mass */
	double working_life_degc;   /* ... at this temperature */
	double stir_s;              /* 0: not on the label */
	double tint_max_pct;      /* of mixed mass; 0: not on the label (then 5, common practice) */
	bool tint_after_hardener; /* the label says so; else tint goes into the first part */
	char notes[SYSTEM_NOTES_MAX];
};

/* What a system may say; wider than any label known (design choice). */
#define SYSTEM_TOLERANCE_MIN_PCT    0.1
#define SYSTEM_TOLERANCE_MAX_PCT    20.0
#define SYSTEM_RATIO_MIN            0.01 /* hardener over resin, by mass */
#define SYSTEM_RATIO_MAX            100.0
#define SYSTEM_DENSITY_MIN_G_PER_ML 0.5
#define SYSTEM_DENSITY_MAX_G_PER_ML 3.0

/* Hardener over resin by mass; for BASIS_VOLUME, R_mass = (V_B/V_A) rho_B/rho_A.
 * 0 where the basis, a density it needs, or a number of parts is missing. */
double system_ratio(const struct resin_system *system);
/* Mixed density, 1/rho = sum(w_i/rho_i); 0 where a density is unknown. */
double system_mixed_density_g_per_ml(const struct resin_system *system);

/* Calls report once for each thing wrong (key as in the file, a sentence with the
 * numbers and what is expected). Returns how many. A tolerance_pct, stir_s or
 * tint_max_pct of 0 passes as "not on the label": a reader that meets a written 0
 * refuses it itself (system_tolerance_ok()). The sentence is the caller's only
 * during the call. */
int system_check(const struct resin_system *system,
                 void (*report)(void *context, const char *key, const char *sentence),
                 void *context);

/* Whether a tolerance that is really written on a label can be meant: finite and
 * SYSTEM_TOLERANCE_MIN_PCT..SYSTEM_TOLERANCE_MAX_PCT. */
bool system_tolerance_ok(double tolerance_pct);

/* How the entry is read back: "for 100 g of resin, 45 g of hardener, as on the
 * label?" (millilitres for BASIS_VOLUME). Writes at most SYSTEM_SENTENCE_MAX. */
void system_read_back(const struct resin_system *system, char *ret_sentence);

/* "YYYY-MM-DD", a day that exists in the Gregorian calendar. */
bool system_date_ok(const char *date);

/* ISO 8601 dates: > 0 when the part's expiry lies before today ("YYYY-MM-DD"); 0 on
 * the day itself, earlier, or with no expiry known; -EINVAL for what is no date. */
int system_part_expired(const struct system_part *part, const char *today);

#endif
