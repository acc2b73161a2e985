/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CURE_H
#define AMBO_CASTING_CURE_H

#include <stddef.h>

/* How fast a two-part resin cures: Sourour-Kamal's autocatalytic form with
 * stoichiometry (Sourour and Kamal, Thermochim. Acta 14 (1976) 41), slowed by
 * vitrification (Chern and Poehlein, Polym. Eng. Sci. 27 (1987) 788) where the glass
 * transition after DiBenedetto passes the temperature of cure; citations from memory.
 *
 *   da/dt = (k1 + k2 a)(1 - a)(B - a) fd        ki = Ai exp(-Ei / RT)
 *   fd    = 1 / (1 + exp(C (a - ac(T))))
 *   Tg(a) = Tg0 + (Tginf - Tg0) lam a / (1 - (1 - lam) a)
 *   ac(T) = th / (lam + (1 - lam) th),  th = (T + 15 K - Tg0) / (Tginf - Tg0) in 0..1.5
 *
 * a is the share of the epoxide that has reacted, B the equivalents of amine hydrogen
 * to one of epoxide. */

#define CURE_GAS_CONSTANT_J_PER_MOLK 8.314462618 /* CODATA 2018, exact */
#define CURE_ZERO_DEGC_K             273.15

struct cure {
	double a1_per_s, e1_j_per_mol; /* the uncatalysed path: >= 0; 0 never starts */
	double a2_per_s, e2_j_per_mol; /* the autocatalysed path: >= 0 */
	double heat_j_per_kg;          /* of the mix, from a = 0 to 1 */
	double stoichiometry;          /* B, > 0; 1 as the label wants it */
	double tg0_degc, tginf_degc;   /* glass transition of the mix uncured and cured */
	double lambda;                 /* DiBenedetto's, in 0..1 */
	double gel_conversion;         /* a at gel; cure_gel_conversion() */
	double vitrification;          /* C; 0 leaves fd out */
};

/* The cured and the liquid resin alike. */
struct material {
	double density_kg_per_m3, cp_j_per_kgk, k_w_per_mk;
};

struct casting_resin {
	struct cure cure;
	struct material material;
};

#define CURE_VITRIFICATION   30.0 /* C, Chern-Poehlein, as the families use it */
#define CURE_VITRIFICATION_K 15.0 /* cure goes on until Tg is this far above T */

/* Two families to fall back on. Our own, not published; the activation energy lies in
 * the published 55..60 kJ/mol of a primary amine with epoxide (Thermochim. Acta 447
 * (2006) 167). FAST is a thin coating system, SLOW a deep-pour one. */
extern const struct casting_resin casting_resin_fast, casting_resin_slow;

/* "fast" or "slow" in any case; NULL for another name. */
const struct casting_resin *casting_resin_find(const char *name);

/* da/dt at a temperature in kelvin, and its slopes. Bends back where an integrator's
 * error takes a past 1 or B, so that no step can run away there. */
double cure_rate_per_s(const struct cure *cure, double t_k, double a);
double cure_rate_slopes(const struct cure *cure, double t_k, double a, double *ret_per_k,
                        double *ret_per_a);

double cure_tg_degc(const struct cure *cure, double a);
/* The conversion at which Tg is tg_degc: the inverse. */
double cure_conversion_at_tg(const struct cure *cure, double tg_degc);

/* Flory-Stockmayer: a = sqrt(B / ((fe - 1)(fa - 1))), of an epoxide with fe groups and
 * an amine with fa hydrogens. */
double cure_gel_conversion(double stoichiometry, double epoxide_groups, double amine_hydrogens);

/* Parts of hardener to a hundred of resin, by weight: 100 AHEW / EEW. */
double cure_phr(double amine_hydrogen_weight, double epoxide_weight);

/* The stoichiometry of what was weighed: the label's own times (weighed ratio over
 * label's ratio). Excess hardener heats more, which is why the weighed one counts. */
double cure_weighed_stoichiometry(double label, double weighed_ratio, double label_ratio);

/* The resin with another stoichiometry: gel moves with its root, and the heat per mass
 * of mix with the share of resin in it.
 * @hardener_ratio: hardener over resin by mass at the label's stoichiometry; 0 where
 * unknown, then the dilution is left out. */
struct casting_resin casting_resin_weighed(const struct casting_resin *resin, double stoichiometry,
                                           double hardener_ratio);

/* 0, or -EINVAL with the first thing wrong said in a sentence of at most size bytes. */
int casting_resin_check(const struct casting_resin *resin, char *ret_sentence, size_t size);

#endif
