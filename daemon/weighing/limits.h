/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_LIMITS_H
#define AMBO_WEIGHING_LIMITS_H

#include <stdbool.h>

/* What a scale and a check weight are held to: OIML R 76-1:2006 and R 111-1:2004.
 * An Ambo station is not a legally approved instrument; it uses the same yardstick.
 * Tables as published; the numbers of clauses in section 4 and annex A from memory. */

enum accuracy_class { ACCURACY_I, ACCURACY_II, ACCURACY_III, ACCURACY_IIII };

/* Maximum permissible error at a load, both in verification intervals e: 0.5, 1.0 or
 * 1.5 e (Table 6, 3.5.1), in service twice that (3.5.2). -EINVAL for a load below 0 or
 * not finite or an unknown class; -ERANGE past the last interval the class may have. */
int limits_mpe_e(enum accuracy_class accuracy, double load_e, bool in_service, double *ret_mpe_e);

/* Whether a scale of this Max and e may belong to the class (Table 3): 0, or -ERANGE
 * for an e or a number of intervals Max/e outside the class, -EINVAL. */
int limits_class_check(enum accuracy_class accuracy, double max_g, double e_g);

/* The coarsest class that a scale of this Max and e may belong to; class I where none
 * takes it. For values above 0. */
enum accuracy_class limits_class_of(double max_g, double e_g);

/* Max + 9 e: no mass is shown above it (4.2.3). */
double limits_highest_shown_g(double max_g, double e_g);

/* How far zero may be off after setting, 0.25 e (4.5.2); how far initial zero setting
 * may reach, 20 % of Max in all (4.5.1). */
double limits_zero_error_g(double e_g);
double limits_zero_range_g(double max_g);

/* The error without the rounding of the indication: small weights dL are put on until
 * the indication I jumps up one e; P = I + 0.5 e - dL, E = P - L (A.4.4.3). */
double limits_error_g(double indication_g, double added_g, double load_g, double e_g);

enum weight_class {
	WEIGHT_E1,
	WEIGHT_E2,
	WEIGHT_F1,
	WEIGHT_F2,
	WEIGHT_M1,
	WEIGHT_M2,
	WEIGHT_M3,
	WEIGHT_CLASS_COUNT,
};

const char *weight_class_name(enum weight_class weight); /* "E1" ... "M3" */
/* -1 when there is no such name. */
int weight_class_from_name(const char *name);

/* Maximum permissible error of a check weight, mg either side (R 111-1 Table 1). The
 * nominal is one of 1, 2, 5, ... 10 000 g: -ENOENT for any other; -EINVAL for an
 * unknown class. */
int limits_weight_mpe_mg(enum weight_class weight, double nominal_g, double *ret_mpe_mg);

#endif
