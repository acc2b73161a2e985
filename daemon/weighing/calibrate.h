/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_CALIBRATE_H
#define AMBO_WEIGHING_CALIBRATE_H

#include <stdbool.h>
#include <stddef.h>

#include "calibration.h"
#include "fit.h"

/* From known loads to a calibration, and what the loads say against it. */

enum load_direction {
	LOAD_FALLING = -1, /* reached by taking load off (or by pulling where others push) */
	LOAD_RISING = 1,
};

struct calibration_load {
	double mass_g; /* of the check weights on the pan */
	double counts; /* mean code */
	enum load_direction direction;
};

struct calibration_report {
	struct fit straight; /* codes over grams, degree 1: lack_f tells why it was refused */
	struct fit chosen;   /* codes over grams, the degree that was taken */
	size_t n_rising, n_falling;
	double greatest_residual_g; /* of the rising loads from the calibration */
	double hysteresis_g;        /* the most a falling load reads wrong; 0 without any */
};

/* Sets the directions from the order in which the loads were taken: a load above the
 * one before is rising, below it falling, and a repeat keeps the direction it was
 * reached in. The first goes with the next that differs. */
void calibrate_directions(struct calibration_load *loads, size_t n);

/* Fits the rising loads, since a pour only ever rises; the falling ones are read
 * through that calibration and reported, never fitted through. A straight line unless
 * repeated loads refuse it, then degree 2; without repeats a straight line that
 * ret_report->straight.judged = false calls unjudged.
 * -EINVAL: a value that is not finite, or too many loads; -ENODATA: too few rising
 * loads; -EDOM: the code falls as the load rises (signal wires swapped); -ERANGE: the
 * data bend more than degree 2 follows. ret_report is set on 0, -EDOM and -ERANGE,
 * ret_calibration on 0 only. */
int calibrate(const struct calibration_load *loads, size_t n, struct calibration *ret_calibration,
              struct calibration_report *ret_report);

/* The same with repeats taken as no surer than step_counts / sqrt(12) (> 0): what the
 * scale is read in. calibrate() takes one count, the converter's own. */
int calibrate_in_steps(const struct calibration_load *loads, size_t n, double step_counts,
                       struct calibration *ret_calibration, struct calibration_report *ret_report);

#endif
