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
	ACT_FINISH,      /* away from a finished batch */
	ACT_NEXT,        /* on: of the first run, of an entry, of the daily check */
	ACT_BACK,        /* one question back */
	ACT_LATER,       /* not now: the first run goes on without */
	ACT_CHOOSE,      /* the answer `value` */
	ACT_APPROVE,     /* a keeper's word: held for five seconds, by the foot */
	ACT_CALIBRATE,   /* begin one */
	ACT_TAKE,        /* the pan as it is asked for; 1: going up is over */
	ACT_ACCEPT,      /* the calibration holds */
	ACT_GIVE_UP,     /* the calibration ends */
	ACT_DIGIT,       /* 0..9, KEY_POINT, KEY_RUBOUT */
	ACT_CHECK,       /* the weight is on: judge */
	ACT_PIECE,       /* open the piece of row `value` */
	ACT_POUR,        /* the piece's next layer */
	ACT_BRIGHTER,    /* the screen, a step; round again */
	ACT_UNITS,
	ACT_MOTION,
	ACT_SOUND, /* of the cues: `value` is an enum sound_act */
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

#define KEY_POINT  10
#define KEY_RUBOUT 11

struct act {
	enum act_kind kind;
	int32_t value;
};

#endif
