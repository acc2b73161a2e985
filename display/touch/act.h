/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_ACT_H
#define AMBO_TOUCH_ACT_H

#include <stdint.h>

/* What one tap, or the foot, can do. */

enum act_kind {
	ACT_NONE,
	ACT_PRESS,       /* the batch's press: what the strip says */
	ACT_HOLD,        /* stop and keep */
	ACT_OTHER_PART,  /* that was the other part */
	ACT_DISCARD_ASK, /* shows the question, elsewhere on the glass */
	ACT_DISCARD,     /* the second touch */
	ACT_GO,          /* to the screen `value` */
	ACT_SYSTEM,      /* choose the system of row `value` */
	ACT_AMOUNT,      /* `value` tenths of a gram more or less */
	ACT_DIAL,        /* the amount at the place touched */
	ACT_BEGIN,       /* the batch as chosen */
	ACT_AGAIN,       /* the last batch once more */
	ACT_RECORD,      /* open the record of row `value`; -1 of the batch shown */
	ACT_MORE,        /* the next page of a list */
	ACT_ZERO,        /* the scale's zero */
	ACT_WEIGH,       /* one settled weight */
	ACT_THEME,       /* the next theme */
	ACT_HAND,        /* the other hand */
	ACT_TURN,        /* a quarter turn of the picture */
	ACT_LANGUAGE,    /* the next language */
	ACT_FIRST_DONE,  /* the first run is over */
	ACT_FINISH,      /* away from a finished batch */
	ACT_SOUND,       /* of the cues: `value` is an enum sound_act */
};

enum sound_act {
	SOUND_ACT_LEVEL,  /* the dial at the place touched */
	SOUND_ACT_LOUDER, /* a step up, and out of quiet mode */
	SOUND_ACT_QUIET,
	SOUND_ACT_SPEECH,
	SOUND_ACT_PERSON, /* the next one pours */
	SOUND_ACT_FORGET, /* what was learnt of this person */
	SOUND_ACT_HEARD,  /* yes, it was heard */
	SOUND_ACT_SILENT, /* no: quiet mode, and on */
};

struct act {
	enum act_kind kind;
	int32_t value;
};

#endif
