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
 *   take-off mass_g=80 | pan-lent | resume | life-over
 *   life left_s=900            the resin was measured to be warmer
 *
 * begin takes total_g or volume_ml, cup_limit_g, tint_pct, tint_label, resin_degc,
 * life_max_s (the working life, where the model has it shorter than the label),
 * piece, layer, zero_g (what the scale's zero takes off, where not 0), and cal_*: the
 * calibration, where it is not the configuration's. With state, the name of a file
 * beside the presses file, the batch is the guide's state in there and nothing else is
 * asked; base_us is then its time 0, where that is not now.
 * take-off is what a divided batch weighed out of this one's cup; pan-lent: another
 * batch had the pan until the next sample; resume: the station had restarted;
 * life-over: for an unknown time. In texts a byte that is no letter, digit or one of
 * -._ is %XX. */
enum action_kind {
	ACTION_BEGIN,
	ACTION_PRESS,
	ACTION_OTHER_PART,
	ACTION_HOLD,
	ACTION_DISCARD,
	ACTION_SCAN,
	ACTION_DIVIDE,
	ACTION_ZERO,
	ACTION_TAKE_OFF,
	ACTION_PAN_LENT,
	ACTION_RESUME,
	ACTION_LIFE_OVER,
	ACTION_LIFE,
};

#define ACTION_TEXT_MAX 1536u
#define ACTION_FILE_MAX 64u

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
	char state[ACTION_FILE_MAX]; /* begin: a file's plain name, "" for none */
	bool has_base_us;
	double base_us;              /* whole; a double holds 285 years of them */
	double mass_g;               /* divide, take-off */
	double left_s;               /* life */
	char code[SYSTEM_LABEL_MAX]; /* scan */
};

/* 0; -EINVAL with one sentence in why. */
int action_parse(const char *text, struct action *ret, char *why, size_t why_size);

/* snprintf-like length. Numbers keep every digit. */
size_t action_write(const struct action *action, char *buffer, size_t size);

#endif
