/* SPDX-License-Identifier: MIT */
#include "limits.h"

#include <errno.h>
#include <math.h>
#include <stddef.h>
#include <string.h>

/* OIML R 76-1:2006, Table 6: where the error steps to 1.0 and 1.5 e, and the last e. */
static const struct {
	double half_e, one_e, last_e;
} mpe_steps[] = {
        [ACCURACY_I] = {50000.0, 200000.0, (double)INFINITY},
        [ACCURACY_II] = {5000.0, 20000.0, 100000.0},
        [ACCURACY_III] = {500.0, 2000.0, 10000.0},
        [ACCURACY_IIII] = {50.0, 200.0, 1000.0},
};

/* OIML R 76-1:2006, Table 3. */
static const struct {
	enum accuracy_class accuracy;
	double e_min_g, e_max_g, n_min, n_max;
} class_rows[] = {
        {ACCURACY_I, 0.001, (double)INFINITY, 50000.0, (double)INFINITY},
        {ACCURACY_II, 0.001, 0.05, 100.0, 100000.0},
        {ACCURACY_II, 0.1, (double)INFINITY, 5000.0, 100000.0},
        {ACCURACY_III, 0.1, 2.0, 100.0, 10000.0},
        {ACCURACY_III, 5.0, (double)INFINITY, 500.0, 10000.0},
        {ACCURACY_IIII, 5.0, (double)INFINITY, 100.0, 1000.0},
};

#define WEIGHT_CLASSES ((size_t)WEIGHT_CLASS_COUNT)

/* OIML R 111-1:2004, Table 1. The last row, 10 kg, is from memory. */
static const struct {
	double nominal_g, mpe_mg[WEIGHT_CLASSES]; /* E1 E2 F1 F2 M1 M2 M3 */
} weight_rows[] = {
        {1.0, {0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0}},
        {2.0, {0.012, 0.04, 0.12, 0.4, 1.2, 4.0, 12.0}},
        {5.0, {0.016, 0.05, 0.16, 0.5, 1.6, 5.0, 16.0}},
        {10.0, {0.02, 0.06, 0.2, 0.6, 2.0, 6.0, 20.0}},
        {20.0, {0.025, 0.08, 0.25, 0.8, 2.5, 8.0, 25.0}},
        {50.0, {0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0}},
        {100.0, {0.05, 0.16, 0.5, 1.6, 5.0, 16.0, 50.0}},
        {200.0, {0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0}},
        {500.0, {0.25, 0.8, 2.5, 8.0, 25.0, 80.0, 250.0}},
        {1000.0, {0.5, 1.6, 5.0, 16.0, 50.0, 160.0, 500.0}},
        {2000.0, {1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0}},
        {5000.0, {2.5, 8.0, 25.0, 80.0, 250.0, 800.0, 2500.0}},
        {10000.0, {5.0, 16.0, 50.0, 160.0, 500.0, 1600.0, 5000.0}},
};

#define COUNT(table) (sizeof(table) / sizeof((table)[0]))

int limits_mpe_e(enum accuracy_class accuracy, double load_e, bool in_service, double *ret_mpe_e)
{
	double mpe_e;

	if ((size_t)accuracy >= COUNT(mpe_steps) || !isfinite(load_e) || load_e < 0.0)
		return -EINVAL;
	if (load_e > mpe_steps[accuracy].last_e)
		return -ERANGE;
	mpe_e = load_e <= mpe_steps[accuracy].half_e  ? 0.5
	        : load_e <= mpe_steps[accuracy].one_e ? 1.0
	                                              : 1.5;
	*ret_mpe_e = in_service ? 2.0 * mpe_e : mpe_e;
	return 0;
}

int limits_class_check(enum accuracy_class accuracy, double max_g, double e_g)
{
	double n;

	if ((size_t)accuracy >= COUNT(mpe_steps) || !isfinite(max_g) || !isfinite(e_g) ||
	    max_g <= 0.0 || e_g <= 0.0)
		return -EINVAL;
	/* 3000 g in steps of 0.1 g is 30000 intervals, whatever the binary quotient. */
	n = nearbyint(max_g / e_g);
	for (size_t i = 0; i < COUNT(class_rows); i++)
		if (class_rows[i].accuracy == accuracy && e_g >= class_rows[i].e_min_g &&
		    e_g <= class_rows[i].e_max_g && n >= class_rows[i].n_min &&
		    n <= class_rows[i].n_max)
			return 0;
	return -ERANGE;
}

enum accuracy_class limits_class_of(double max_g, double e_g)
{
	static const enum accuracy_class coarsest_first[] = {ACCURACY_IIII, ACCURACY_III,
	                                                     ACCURACY_II};

	for (size_t i = 0; i < COUNT(coarsest_first); i++)
		if (limits_class_check(coarsest_first[i], max_g, e_g) == 0)
			return coarsest_first[i];
	return ACCURACY_I;
}

static const char *const weight_names[WEIGHT_CLASSES] = {"E1", "E2", "F1", "F2", "M1", "M2", "M3"};

const char *weight_class_name(enum weight_class weight)
{
	return (size_t)weight < WEIGHT_CLASSES ? weight_names[weight] : "";
}

int weight_class_from_name(const char *name)
{
	for (size_t i = 0; i < WEIGHT_CLASSES; i++)
		if (strcmp(weight_names[i], name) == 0)
			return (int)i;
	return -1;
}

double limits_highest_shown_g(double max_g, double e_g)
{
	return max_g + 9.0 * e_g;
}

double limits_zero_error_g(double e_g)
{
	return 0.25 * e_g;
}

double limits_zero_range_g(double max_g)
{
	return 0.2 * max_g;
}

double limits_error_g(double indication_g, double added_g, double load_g, double e_g)
{
	return indication_g + 0.5 * e_g - added_g - load_g;
}

int limits_weight_mpe_mg(enum weight_class weight, double nominal_g, double *ret_mpe_mg)
{
	if ((size_t)weight >= WEIGHT_CLASSES)
		return -EINVAL;
	for (size_t i = 0; i < COUNT(weight_rows); i++)
		if (weight_rows[i].nominal_g == nominal_g) {
			*ret_mpe_mg = weight_rows[i].mpe_mg[weight];
			return 0;
		}
	return -ENOENT;
}
