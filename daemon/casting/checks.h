/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_CHECKS_H
#define AMBO_CASTING_CHECKS_H

#include "plan.h"

/* A layer's own check list: only what applies to it, in the order in which it is done. */

enum layer_check_id {
	CHECK_CLEAN,    /* the cavity, and its holes taped */
	CHECK_LEAK,     /* water, over dry paper */
	CHECK_LEVEL,    /* where it will stay */
	CHECK_LAYOUT,   /* the photo before the dry arrangement is lifted out */
	CHECK_CRYSTALS, /* a cold part */
	CHECK_BOTTLES,  /* wiped after a warm bath */
	CHECK_SAND,     /* before a late pour or a top coat */
	CHECK_TAPE_ON,
	CHECK_DRY, /* inclusions dry, and covered in the end */
	CHECK_BUBBLES,
	CHECK_COVER,
	CHECK_BUBBLES_AGAIN,
	CHECK_TAPE_OFF,
	CHECK_AIR, /* too moist, where a sensor tells */
};

enum layer_check_when {
	CHECK_BEFORE_WEIGHING,
	CHECK_BEFORE_POUR,
	CHECK_AFTER_POUR,
	CHECK_BEFORE_GEL,
	CHECK_WHILE_GELLED,
};

#define LAYER_CHECKS_MAX 14u

struct layer_check {
	enum layer_check_id check;
	enum layer_check_when when;
	char sentence[PLAN_SENTENCE_MAX];
};

/* For machines: "leak-test"; and when, for both: "before the pour". */
const char *layer_check_name(enum layer_check_id check);
const char *layer_check_when(enum layer_check_when when);

/* The list of layer (from 0). Returns how many; ret holds LAYER_CHECKS_MAX. */
size_t layer_checks(const struct piece *piece, const struct plan *plan, size_t layer,
                    struct layer_check *ret);
/* The same of one layer by itself; first: it is the piece's. */
size_t layer_checks_of(const struct piece *piece, const struct plan_layer *layer, bool first,
                       struct layer_check *ret);

/* Whether a check of a layer that was poured age_s ago is due now, by its clocks
 * (at_s: LAYER_EVENTS, layer_clocks.h): after the pour until it gets sticky, before the gel
 * from the first look on, the tape from its own event until the bond closes. */
bool layer_check_due(const struct layer_check *check, double age_s, const double *at_s);

#endif
