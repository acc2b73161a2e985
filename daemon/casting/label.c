/* SPDX-License-Identifier: MIT */
#include "label.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>

#include "cup.h"
#include "root.h"

#define NEVER_S 1e12

/* Gauss-Legendre's eight points on -1..1, the positive half (Abramowitz and Stegun 25.4.30;
 * from memory, their promise is tested by the film's closed form). */
static const double gauss_x[] = {0.1834346424956498, 0.5255324099163290, 0.7966664774136267,
                                 0.9602898564975363};
static const double gauss_w[] = {0.3626837833783620, 0.3137066458778873, 0.2223810344533745,
                                 0.1012285362903763};
#define GAUSS_HALF 4
#define PANELS     10

/* The most that k1 / k2 counts as where the time is cut up; any would do for what is
 * integrated. */
#define C_MOST 1e3

/* At one temperature the time is an integral, of da / rate. In v = ln((c + a) / (1 - a)),
 * c = k1 / k2, what makes it long at both ends is straight, and a few points do. */
double label_film_gel_s(const struct cure *cure, double degc)
{
	const double t_k = degc + CURE_ZERO_DEGC_K, rt = CURE_GAS_CONSTANT_J_PER_MOLK * t_k;
	const double k1 = cure->a1_per_s * exp(-cure->e1_j_per_mol / rt);
	const double k2 = cure->a2_per_s * exp(-cure->e2_j_per_mol / rt);
	const double gel = cure->gel_conversion, c = k1 < C_MOST * k2 ? k1 / k2 : C_MOST;
	double from, width, sum_s = 0.0;

	if (!(gel < fmin(1.0, cure->stoichiometry)) || !(cure_rate_per_s(cure, t_k, 0.0) > 0.0))
		return (double)NAN;
	from = log(c);
	width = (log((c + gel) / (1.0 - gel)) - from) / (2.0 * PANELS);
	for (int i = 0; i < PANELS * 2 * GAUSS_HALF; i++) {
		const int point = i % GAUSS_HALF, side = i / GAUSS_HALF % 2 ? 1 : -1,
		          panel = i / (2 * GAUSS_HALF);
		const double ev = exp(from + width * (2 * panel + 1 + side * gauss_x[point]));
		const double a = (ev - c) / (1.0 + ev);

		sum_s += width * gauss_w[point] * (c + a) * (1.0 - a) / (1.0 + c) /
		         cure_rate_per_s(cure, t_k, a);
	}
	return sum_s < CUP_UNTIL_S ? sum_s : (double)NAN;
}

/* The time comes out right to 1e-5, a label's to a tenth at best. */
#define CUP_FIT_K 3e-3

static double pot_life_s(const struct label *label, const struct casting_resin *resin)
{
	struct cup_case cup = {.resin = *resin,
	                       .mass_g = label->pot_mass_g,
	                       .ambient_degc = label->pot_degc,
	                       .start_degc = label->pot_degc,
	                       .tolerance_k = CUP_FIT_K};
	double gel_s = cup_gel_s(&cup);

	return isnan(gel_s) ? NEVER_S : gel_s;
}

struct search {
	const struct label *label;
	struct casting_resin resin;
	double c;
};

static double gel_too_late(double ln_a2, void *context)
{
	struct search *search = context;

	search->resin.cure.a2_per_s = exp(ln_a2);
	search->resin.cure.a1_per_s = search->c * exp(ln_a2);
	return log(pot_life_s(search->label, &search->resin) / search->label->pot_life_s);
}

#define LN_TOLERANCE 1e-5 /* of A2 and c */

/* A2 from the pot life, c given. In logarithms the time falls all but straight with A2,
 * a little faster than one for one where the cup warms: from the family's own time the
 * root is a stride away. */
static int fit_a2(struct search *search)
{
	double at = log(search->label->family.cure.a2_per_s), late = gel_too_late(at, search);

	for (int i = 0; i < 16; i++) {
		double next = at + 1.05 * late + copysign(1e-3, late);
		double next_late = gel_too_late(next, search), ln_a2;

		if ((next_late > 0.0) != (late > 0.0)) {
			if (root_between(gel_too_late, search, at, late, next, next_late,
			                 LN_TOLERANCE, &ln_a2) < 0)
				return -EDOM;
			gel_too_late(ln_a2, search);
			return 0;
		}
		at = next;
		late = next_late;
	}
	return -EDOM;
}

/* A film stays at one temperature, so its gel time goes exactly as 1 / A2. */
static double cup_too_late_for_c(double ln_c, void *context)
{
	struct search *search = context;
	const struct cure *family = &search->label->family.cure;
	struct cure *cure = &search->resin.cure;

	search->c = exp(ln_c);
	cure->a2_per_s = family->a2_per_s;
	cure->a1_per_s = search->c * family->a2_per_s;
	cure->a2_per_s *=
	        label_film_gel_s(cure, search->label->film_degc) / search->label->film_gel_s;
	cure->a1_per_s = search->c * cure->a2_per_s;
	return log(pot_life_s(search->label, &search->resin) / search->label->pot_life_s);
}

/* c from both times: first near the family's, then in all there is. */
static int fit_c(struct search *search)
{
	double least = log(LABEL_C_MIN), most = log(LABEL_C_MAX), ln_c;
	double middle = fmin(fmax(log(search->c), least), most);

	if (root_find(cup_too_late_for_c, search, fmax(middle - 1.0, least),
	              fmin(middle + 1.0, most), LN_TOLERANCE, &ln_c) < 0 &&
	    root_find(cup_too_late_for_c, search, least, most, LN_TOLERANCE, &ln_c) < 0)
		return -EDOM;
	cup_too_late_for_c(ln_c, search);
	return 0;
}

static int check(const struct label *label, char *ret_sentence)
{
	bool film = label->film_gel_s > 0.0;

	if (!(label->pot_life_s >= LABEL_POT_LIFE_MIN_S &&
	      label->pot_life_s <= LABEL_POT_LIFE_MAX_S))
		snprintf(ret_sentence, LABEL_SENTENCE_MAX,
		         "a pot life of %.6g min; expected 0.33 min to 14 days",
		         label->pot_life_s / 60.0);
	else if (!(label->pot_mass_g >= 1.0 && label->pot_mass_g <= 1e5))
		snprintf(ret_sentence, LABEL_SENTENCE_MAX,
		         "a pot life of %.6g g; expected the mass it holds for, 1 g to 100 kg",
		         label->pot_mass_g);
	else if (!(label->pot_degc >= -20.0 && label->pot_degc <= 100.0) ||
	         (film && !(label->film_degc >= -20.0 && label->film_degc <= 100.0)))
		snprintf(ret_sentence, LABEL_SENTENCE_MAX,
		         "a label's time at %.6g C; expected -20 to 100 C",
		         label->pot_degc >= -20.0 && label->pot_degc <= 100.0 ? label->film_degc
		                                                              : label->pot_degc);
	else
		return 0;
	return -EINVAL;
}

static int contradictory(const struct label *label, char *ret_sentence)
{
	snprintf(ret_sentence, LABEL_SENTENCE_MAX,
	         "a film that gels in %.0f min at %g C and a pot life of %.0f min for %g g at %g C "
	         "contradict each other: no resin of this family does both; check the label",
	         label->film_gel_s / 60.0, label->film_degc, label->pot_life_s / 60.0,
	         label->pot_mass_g, label->pot_degc);
	return -EINVAL;
}

int label_fit(const struct label *label, struct label_fit *ret, char *ret_sentence)
{
	struct search search = {.label = label, .resin = label->family};
	struct label_fit fit = {.ratio = (double)NAN};
	double cold_film;
	int r = check(label, ret_sentence);

	if (r == 0)
		r = casting_resin_check(&label->family, ret_sentence, LABEL_SENTENCE_MAX);
	if (r < 0)
		return r;
	search.c = label->family.cure.a1_per_s / label->family.cure.a2_per_s;
	if (label->film_gel_s > 0.0) {
		/* The film's time at the cup's temperature, where the label gives another. */
		cold_film = label->film_gel_s *
		            label_film_gel_s(&label->family.cure, label->pot_degc) /
		            label_film_gel_s(&label->family.cure, label->film_degc);
		fit.ratio = label->pot_life_s / cold_film;
		if (fit.ratio > 1.05)
			return contradictory(label, ret_sentence);
	}
	if (fit.ratio < LABEL_C_NEEDS_RATIO) {
		if (fit_c(&search) < 0)
			return contradictory(label, ret_sentence);
		fit.c_learnt = true;
	} else if (fit_a2(&search) < 0) {
		snprintf(ret_sentence, LABEL_SENTENCE_MAX,
		         "a pot life of %.0f min for %g g at %g C fits no resin of this family; "
		         "check the label",
		         label->pot_life_s / 60.0, label->pot_mass_g, label->pot_degc);
		return -EINVAL;
	}
	fit.c = search.c;
	fit.resin = search.resin;
	*ret = fit;
	return 0;
}
