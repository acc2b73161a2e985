/* SPDX-License-Identifier: MIT */
#include "cure.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>

#define FAMILY_MATERIAL                                                                            \
	{                                                                                          \
		1100.0, 1800.0, 0.18                                                               \
	}
/* Epoxide of two groups with an amine of four hydrogens: 1 / sqrt(3). */
#define FAMILY_GEL 0.57735026918962576

const struct casting_resin casting_resin_fast = {
        {4.8e5, 58600.0, 2.4e6, 58600.0, 430e3, 1.0, -30.0, 110.0, 0.45, FAMILY_GEL,
         CURE_VITRIFICATION},
        FAMILY_MATERIAL,
};
const struct casting_resin casting_resin_slow = {
        {1.0e5, 58600.0, 5.0e5, 58600.0, 360e3, 1.0, -30.0, 85.0, 0.45, FAMILY_GEL,
         CURE_VITRIFICATION},
        FAMILY_MATERIAL,
};

static int same_word(const char *a, const char *b)
{
	for (; *a && *b; a++, b++)
		if ((*a | 0x20) != *b)
			return 0;
	return *a == *b;
}

const struct casting_resin *casting_resin_find(const char *name)
{
	if (same_word(name, "fast"))
		return &casting_resin_fast;
	return same_word(name, "slow") ? &casting_resin_slow : NULL;
}

#define TH_MAX 1.5
/* Past this exponent fd is 1 to the last bit of a double. */
#define FD_IS_ONE (-37.0)

/* (T + 15 K - Tg0) / (Tginf - Tg0), clamped. */
static double vitrified_th(const struct cure *cure, double t_k)
{
	double th = (t_k - CURE_ZERO_DEGC_K + CURE_VITRIFICATION_K - cure->tg0_degc) /
	            (cure->tginf_degc - cure->tg0_degc);

	return th < 0.0 ? 0.0 : th > TH_MAX ? TH_MAX : th;
}

/* C (a - ac(T)) */
static double vitrified_exponent(const struct cure *cure, double t_k, double a)
{
	double th = vitrified_th(cure, t_k);

	double ac = th > 0.0 ? th / (cure->lambda + (1.0 - cure->lambda) * th) : 0.0;

	return cure->vitrification > 0.0 ? cure->vitrification * (a - ac) : -INFINITY;
}

/* fd and its slopes. */
static double vitrified(const struct cure *cure, double t_k, double a, double *ret_per_k,
                        double *ret_per_a)
{
	double x = vitrified_exponent(cure, t_k, a), fd, th, below;

	*ret_per_k = *ret_per_a = 0.0;
	if (x < FD_IS_ONE)
		return 1.0;
	fd = 1.0 / (1.0 + exp(x));
	*ret_per_a = -cure->vitrification * fd * (1.0 - fd);
	th = vitrified_th(cure, t_k);
	if (th <= 0.0 || th >= TH_MAX)
		return fd;
	below = 1.0 / (cure->lambda + (1.0 - cure->lambda) * th);
	*ret_per_k =
	        -*ret_per_a * cure->lambda * below * below / (cure->tginf_degc - cure->tg0_degc);
	return fd;
}

/* The two Arrhenius factors; one exponential where both paths share an energy. */
static void paths(const struct cure *cure, double per_rt, double *ret_k1, double *ret_k2)
{
	double arrhenius1 = exp(-cure->e1_j_per_mol * per_rt);
	double arrhenius2 = cure->e1_j_per_mol == cure->e2_j_per_mol
	                            ? arrhenius1
	                            : exp(-cure->e2_j_per_mol * per_rt);

	*ret_k1 = cure->a1_per_s * arrhenius1;
	*ret_k2 = cure->a2_per_s * arrhenius2;
}

double cure_rate_per_s(const struct cure *cure, double t_k, double a)
{
	double left = (1.0 - a) * (cure->stoichiometry - a), x, k1, k2;

	if (a > 1.0 && a > cure->stoichiometry)
		left = -left;
	paths(cure, 1.0 / (CURE_GAS_CONSTANT_J_PER_MOLK * t_k), &k1, &k2);
	x = vitrified_exponent(cure, t_k, a);
	return (k1 + k2 * a) * left / (x < FD_IS_ONE ? 1.0 : 1.0 + exp(x));
}

double cure_rate_slopes(const struct cure *cure, double t_k, double a, double *ret_per_k,
                        double *ret_per_a)
{
	double per_rt = 1.0 / (CURE_GAS_CONSTANT_J_PER_MOLK * t_k);
	double left = (1.0 - a) * (cure->stoichiometry - a);
	double left_per_a = 2.0 * a - 1.0 - cure->stoichiometry;
	double fd, fd_per_k, fd_per_a, k1, k2, k;

	if (a > 1.0 && a > cure->stoichiometry) {
		left = -left;
		left_per_a = -left_per_a;
	}
	paths(cure, per_rt, &k1, &k2);
	k = k1 + k2 * a;
	fd = vitrified(cure, t_k, a, &fd_per_k, &fd_per_a);
	*ret_per_k = left *
	             ((k1 * cure->e1_j_per_mol + k2 * a * cure->e2_j_per_mol) * per_rt / t_k * fd +
	              k * fd_per_k);
	*ret_per_a = (k2 * left + k * left_per_a) * fd + k * left * fd_per_a;
	return k * left * fd;
}

double cure_tg_degc(const struct cure *cure, double a)
{
	return cure->tg0_degc + (cure->tginf_degc - cure->tg0_degc) * cure->lambda * a /
	                                (1.0 - (1.0 - cure->lambda) * a);
}

double cure_conversion_at_tg(const struct cure *cure, double tg_degc)
{
	double th = (tg_degc - cure->tg0_degc) / (cure->tginf_degc - cure->tg0_degc);

	return th / (cure->lambda + (1.0 - cure->lambda) * th);
}

double cure_gel_conversion(double stoichiometry, double epoxide_groups, double amine_hydrogens)
{
	return sqrt(stoichiometry / ((epoxide_groups - 1.0) * (amine_hydrogens - 1.0)));
}

double cure_phr(double amine_hydrogen_weight, double epoxide_weight)
{
	return 100.0 * amine_hydrogen_weight / epoxide_weight;
}

double cure_weighed_stoichiometry(double label, double weighed_ratio, double label_ratio)
{
	return label * weighed_ratio / label_ratio;
}

struct casting_resin casting_resin_weighed(const struct casting_resin *resin, double stoichiometry,
                                           double hardener_ratio)
{
	struct casting_resin out = *resin;
	double share = stoichiometry / resin->cure.stoichiometry;

	out.cure.stoichiometry = stoichiometry;
	out.cure.gel_conversion = resin->cure.gel_conversion * sqrt(share);
	out.cure.heat_j_per_kg *= (1.0 + hardener_ratio) / (1.0 + hardener_ratio * share);
	return out;
}

struct limit {
	const char *what;
	double value, low, high;
};

int casting_resin_check(const struct casting_resin *resin, char *ret_sentence, size_t size)
{
	const struct cure *cure = &resin->cure;
	/* Wider than any resin known, narrow enough for the arithmetic (design choice). */
	const struct limit limits[] = {
	        {"A1 (1/s)", cure->a1_per_s, 0.0, 1e60},
	        {"A2 (1/s)", cure->a2_per_s, 0.0, 1e60},
	        {"E1 (J/mol)", cure->e1_j_per_mol, 0.0, 300e3},
	        {"E2 (J/mol)", cure->e2_j_per_mol, 0.0, 300e3},
	        {"heat of reaction (J/kg)", cure->heat_j_per_kg, 0.0, 2e6},
	        {"stoichiometry", cure->stoichiometry, 0.05, 20.0},
	        {"Tg0 (C)", cure->tg0_degc, -150.0, 150.0},
	        {"Tg of the cured resin (C)", cure->tginf_degc, cure->tg0_degc + 0.01, 400.0},
	        {"lambda", cure->lambda, 0.0, 1.0},
	        {"conversion at gel", cure->gel_conversion, 0.001, 10.0},
	        {"C of vitrification", cure->vitrification, 0.0, 1000.0},
	        {"density (kg/m3)", resin->material.density_kg_per_m3, 100.0, 10000.0},
	        {"heat capacity (J/kgK)", resin->material.cp_j_per_kgk, 100.0, 10000.0},
	        {"thermal conductivity (W/mK)", resin->material.k_w_per_mk, 0.001, 500.0},
	};

	for (size_t i = 0; i < sizeof limits / sizeof *limits; i++)
		if (!(limits[i].value >= limits[i].low && limits[i].value <= limits[i].high)) {
			snprintf(ret_sentence, size, "%s is %.6g; expected %.6g to %.6g",
			         limits[i].what, limits[i].value, limits[i].low, limits[i].high);
			return -EINVAL;
		}
	return 0;
}
