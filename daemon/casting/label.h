/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_LABEL_H
#define AMBO_CASTING_LABEL_H

#include <stdbool.h>

#include "cure.h"

/* From the few times on a label to the model. A family fixes activation energy, heat,
 * glass transition and c = A1/A2; the pot life of a mass gives A2. Where a thin film's
 * gel time is known and differs enough, it gives c. */

struct label {
	struct casting_resin family;
	double pot_life_s, pot_mass_g, pot_degc; /* resin and room alike */
	double film_gel_s, film_degc;            /* 0: not on the label */
};

/* Below this the cup's own heat shortens its time enough to tell c. */
#define LABEL_C_NEEDS_RATIO 0.6

#define LABEL_POT_LIFE_MIN_S 20.0
#define LABEL_POT_LIFE_MAX_S (14.0 * 86400.0)
#define LABEL_C_MIN          0.001
#define LABEL_C_MAX          5.0
#define LABEL_SENTENCE_MAX   256u

struct label_fit {
	struct casting_resin resin;
	double c;      /* A1 / A2 */
	bool c_learnt; /* from the film's time; else the family's */
	double ratio;  /* pot life over film gel time; NaN without one */
};

/* 0; -EINVAL with a sentence for what cannot be meant: values out of range, a film that
 * gels before the cup, times that no c can bring together. */
int label_fit(const struct label *label, struct label_fit *ret, char *ret_sentence);

/* Gel of a thin film, which stays at the room's temperature; NaN where it never gels. */
double label_film_gel_s(const struct cure *cure, double degc);

#endif
