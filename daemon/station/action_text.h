/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_ACTION_TEXT_H
#define AMBO_STATION_ACTION_TEXT_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/mixing/recipe.h"

/* What a person did, as one line of text: the rows of a presses file, and what is
 * kept of a batch's inputs. Pure, both ways.
 *
 *   begin system=tidepool-clear total_g=330 tint_pct=2 tint_label=blue%20mica
 *   press | other-part | hold | discard | zero
 *   scan CODE
 *   divide mass_g=80 tint_pct=1
 *   life left_s=900            the resin was measured to be warmer
 *
 * begin takes total_g or volume_ml, cup_limit_g, tint_pct, tint_label, resin_degc,
 * piece, layer, zero_g (what the scale's zero takes off, where not 0), and cal_*: the
 * calibration, where it is not the configuration's. In texts a
 * byte that is no letter, digit or one of -._ is %XX. */
enum action_kind {
	ACTION_BEGIN,
	ACTION_PRESS,
	ACTION_OTHER_PART,
	ACTION_HOLD,
	ACTION_DISCARD,
	ACTION_SCAN,
	ACTION_DIVIDE,
	ACTION_ZERO,
	ACTION_LIFE,
};

#define ACTION_TEXT_MAX 1536u

/* As calibration.h has it, all as numbers of the text; g_per_count 0: none. */
struct action_calibration {
	double degree, zero_counts, g_per_count, g_per_count2, residual_sd_g, repeat_sd_g;
};

struct action {
	enum action_kind kind;
	char system_id[SYSTEM_ID_MAX];
	struct recipe_request recipe; /* begin; divide: tint_pct, tint_label */
	bool has_zero_g;
	double zero_g;
	bool has_calibration;
	struct action_calibration calibration;
	double mass_g;               /* divide */
	double left_s;               /* life */
	char code[SYSTEM_LABEL_MAX]; /* scan */
};

/* 0; -EINVAL with one sentence in why. */
int action_parse(const char *text, struct action *ret, char *why, size_t why_size);

/* snprintf-like length. Numbers keep every digit. */
size_t action_write(const struct action *action, char *buffer, size_t size);

#endif
