/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_SHOWN_H
#define AMBO_STATION_SHOWN_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/mixing/guide.h"
#include "words/words.h"

/* What the bus shows of a batch, as words and numbers: made from a view, compared
 * with what was sent last. Pure. */

#define SHOWN_QUANTITIES_MAX 12u
struct shown_quantity {
	const char *name; /* of the bus, carries the unit */
	double value;
};

struct batch_shown {
	int64_t id;
	char system[SYSTEM_ID_MAX];
	char step[16], component[16], component_label[WORDS_LABEL_MAX];
	struct message message;
	char headline[WORDS_HEADLINE_MAX];
	char sentence[WORDS_SENTENCE_MAX], caution[WORDS_SENTENCE_MAX];
	char verdict[16], cue[16], press[16];
	bool provisional;
	struct shown_quantity quantity[SHOWN_QUANTITIES_MAX]; /* the known ones */
	uint32_t n_quantities;
};

/* No batch: id 0 and empty texts. */
void shown_none(struct batch_shown *ret);
void shown_make(int64_t id, const struct guide *committed, const struct guide_view *view,
                struct batch_shown *ret);

/* Which properties differ, or-ed; 0: none. Those of SHOWN_STEP are told at once. */
enum shown_part {
	SHOWN_ID = 1u << 0,
	SHOWN_SYSTEM = 1u << 1,
	SHOWN_STEP = 1u << 2,
	SHOWN_COMPONENT = 1u << 3, /* and its label */
	SHOWN_MESSAGE = 1u << 4,   /* and the headline */
	SHOWN_ARGUMENTS = 1u << 5,
	SHOWN_SENTENCE = 1u << 6,
	SHOWN_CAUTION = 1u << 7,
	SHOWN_VERDICT = 1u << 8,
	SHOWN_PROVISIONAL = 1u << 9,
	SHOWN_CUE = 1u << 10,
	SHOWN_PRESS = 1u << 11,
	SHOWN_QUANTITIES = 1u << 12,
};
uint32_t shown_differs(const struct batch_shown *old, const struct batch_shown *now);

#endif
