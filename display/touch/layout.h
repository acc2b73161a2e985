/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_LAYOUT_H
#define AMBO_TOUCH_LAYOUT_H

#include <stdbool.h>

#include "scene.h"

/* Where things stand, in millimetres and by proportion: the same for every glass.
 *
 *   ┌ corner: state of the bench, clocks of open batches ┐
 *   │ body                                               │
 *   └ strip: what a press does, at the bottom edge       ┘
 *
 * Sizes by physics: a letter of H mm is seen from D mm under 21600 H / (6.283 D) arc
 * minutes (NUREG-0700 1.3.1-4); targets for gloves from 20 mm with 3 mm between
 * (Appl. Ergon. 44:297). */

#define LAYOUT_SHORT_MM  86.0 /* the smallest glass: 154 x 86 mm, either way round */
#define LAYOUT_LONG_MM   154.0
#define LAYOUT_SLACK_MM  0.6 /* sizes are told in whole millimetres */
#define LAYOUT_MARGIN_MM 2.4
#define LAYOUT_GAP_MM    3.0
#define LAYOUT_TARGET_MM 20.0

#define LAYOUT_FAR_MM 2000.0 /* headline and number are read from here */
#define LAYOUT_ARM_MM 600.0  /* everything else from here */

enum hand { HAND_RIGHT, HAND_LEFT }; /* the hand that pours */

struct glass {
	int width_px, height_px; /* as the person sees it: turned */
	double px_per_mm;
};

struct layout {
	struct box page, corner, body, strip;
	bool portrait;
	enum hand hand;
	double headline_cap_mm, number_cap_mm, text_cap_mm, text_least_mm, small_cap_mm;
};

/* Letter height in mm for a visual angle at a distance. */
double layout_letter_mm(double arc_minutes, double distance_mm);
double layout_arc_minutes(double letter_mm, double distance_mm);

/* 0; -ERANGE with a sentence for a glass that is too small to be used with gloves. */
int layout_check(double width_mm, double height_mm, char *ret_sentence, size_t size);

void layout_make(double width_mm, double height_mm, enum hand hand, struct layout *ret);

/* n equal cells side by side (rows: above each other) with the gap between. */
struct box layout_column(struct box box, int i, int n);
struct box layout_row(struct box box, int i, int n);

/* Cuts mm off one side, with the gap between: what is cut is returned. */
struct box layout_cut_top(struct box *box, double mm, double gap_mm);
struct box layout_cut_bottom(struct box *box, double mm, double gap_mm);
/* From the side away from the pouring hand, or from its side. */
struct box layout_cut_away(struct box *box, double mm, double gap_mm, enum hand hand);
struct box layout_cut_near(struct box *box, double mm, double gap_mm, enum hand hand);

#endif
