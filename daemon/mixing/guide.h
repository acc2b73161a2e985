/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_GUIDE_H
#define AMBO_MIXING_GUIDE_H

#include "daemon/weighing/reading.h"
#include "message.h"
#include "ratio.h"
#include "recipe.h"

/* The batch's state machine: readings, presses and ticks in; step, message,
 * target, verdict and cue out. A value without pointers: guide_next() makes the
 * next from the old one, so a batch can be stored, resumed and replayed.
 *
 *   ready -press-> cup -cup steady 5 s-> charge 1 -press, check, code-> charge 2 ... n
 *
 *   charge n, at rest:  short of it ----> charge n, more of it
 *                       within ---------> (a later charge, or) lift the cup -> stir
 *                       too much -press-> top-up -at rest-> judged again, as often as needed
 *                       nothing fits, cannot be told -press (recorded)-> lift the cup
 *
 *   stir -press, or the cup's return-> pour -press, or the emptied cup-> done
 *
 *   held (and back) and discarded are reachable from any but done. Held goes back by
 *   itself where what happened undoes itself: the thing taken off, the cup put back,
 *   the scale there again with the same mass; else a press answers, and the answer
 *   is in the record (enum guide_accepted).
 *
 * A charge is one component to dispense, in the recipe's order. The wanted bottle
 * never changes on a settled mass alone: by a press, a bottle check or a scanned
 * code. "Was that still A?" (still-flowing): a press says yes, it goes to A;
 * GUIDE_OTHER_PART says no, it was the next one. An answer given while the pan moves
 * waits until it is still. Times are int64 us since the batch began.
 *
 * guide.c dispatches; each step has its file, and guide_go() alone changes the step. */

enum guide_step {
	GUIDE_READY,  /* the system is read back, the cautions shown; press */
	GUIDE_CUP,    /* empty pan read, then the cup: dry, steady, weighed afresh */
	GUIDE_CHARGE, /* dispensing view.charge */
	GUIDE_TOP_UP, /* setting an overshoot right */
	GUIDE_STIR,   /* off the pan; the empty pan is read; stir time runs */
	GUIDE_POUR,   /* pour it; the emptied cup may be weighed back */
	GUIDE_DONE,
	GUIDE_HELD, /* something must be cleared up; guide remembers where to return */
	GUIDE_DISCARDED,
};
const char *guide_step_name(enum guide_step step); /* "ready", "cup", "charge", "top-up", ... */

enum guide_event_kind {
	GUIDE_READING,    /* .reading */
	GUIDE_TICK,       /* every 100 ms of station time, also through gaps */
	GUIDE_PRESS,      /* touch, foot switch, key: "yes, on with it" */
	GUIDE_OTHER_PART, /* "that was the other part": relabel what was just dispensed */
	GUIDE_HOLD,       /* stop and keep; a press goes on */
	GUIDE_DISCARD,
	GUIDE_SCAN,   /* .text: a code read from a bottle */
	GUIDE_LIFE,   /* .seconds: working life left, when something better than the label knows */
	GUIDE_RESUME, /* the station restarted: check that the cup still agrees */
	GUIDE_STORE_FAILED, /* .text: hold, with the reason */
};

struct guide_event {
	enum guide_event_kind kind;
	int64_t t_us;
	struct reading reading;
	double u_reading_g; /* GUIDE_READING: standard uncertainty of a settled gross_g */
	double seconds;
	char text[SYSTEM_LABEL_MAX];
};

/* What a press would do now; names for screens: "start", "next", "accept", ... */
enum press_meaning {
	PRESS_NOTHING,
	PRESS_START,    /* ready: begin with the cup */
	PRESS_NEXT,     /* this component is in; the next bottle is in hand */
	PRESS_TOP_UP,   /* show and start the correction */
	PRESS_IS_RESIN, /* what came without a slope was this component after all */
	PRESS_GO_ON,    /* leave held */
	PRESS_STIR,     /* charges are done: start stirring */
	PRESS_STIRRED,
	PRESS_POURED,
	PRESS_ACCEPT, /* accept a doubt; it is recorded as such, never as within */
};
const char *press_meaning_name(enum press_meaning meaning);

/* What the person should hear and see at the edge of the eye. */
enum cue {
	CUE_NONE,
	CUE_POUR,     /* live: the quiet pulse */
	CUE_NEAR,     /* within the larger of 20 % of the charge and 3 s of flow */
	CUE_TIP_BACK, /* predicted final has reached the aim */
	CUE_IN_BAND,  /* settled, in the band */
	CUE_TOO_MUCH,
	CUE_HELD,
	CUE_SILENT, /* the scale is */
	CUE_HAZARD, /* working life over: repeats until acknowledged */
};
const char *cue_name(enum cue cue);

enum identity { IDENTITY_BY_HAND, IDENTITY_BOTTLE, IDENTITY_CODE };
const char *identity_name(enum identity identity);

#define GUIDE_DISPENSES_MAX 24u
#define GUIDE_POUR_SOON_SHARE 0.60 /* of the working life used up (practice) */
#define GUIDE_POINTS_MAX    64u

/* One component's mass as recorded: between two points of the pan. */
struct guide_dispense {
	enum component component;
	enum identity identity;
	uint8_t before, after; /* indices of points */
	bool by_eye;           /* not weighed: mass_g is the wish */
	bool top_up;
	double mass_g;
	int64_t start_us, end_us; /* first gram, last settled */
};

struct guide; /* below: public only so that it can be a value */

/* What a client may show, derived from the guide and its newest reading. */
enum guide_view_has {
	VIEW_HAS_TARGET = 1u << 0, /* target_g, remaining_g, band_*_g */
	VIEW_HAS_DISPENSED = 1u << 1,
	VIEW_HAS_PREDICTED = 1u << 2,
	VIEW_HAS_DEVIATION = 1u << 3, /* deviation_pct, u_deviation_pct */
	VIEW_HAS_LIFE = 1u << 4,
	VIEW_HAS_STIR = 1u << 5,
};

struct guide_view {
	enum guide_step step;
	uint32_t charge;          /* index into the recipe */
	enum component component; /* wanted now */
	struct message message;
	uint32_t has;                 /* enum guide_view_has: the rest is unknown */
	double target_g, remaining_g; /* remaining_g < 0: over */
	double band_low_g, band_high_g;
	double dispensed_g, predicted_g;
	double deviation_pct, u_deviation_pct;
	enum verdict verdict;
	bool provisional; /* the pan under the cup has not been read yet */
	enum cue cue;
	enum press_meaning press;
	double working_life_left_s, stir_left_s;
};

#include "guide_state.h"

/* A new batch at t_us 0. */
void guide_begin(const struct recipe *recipe, struct guide *ret);

/* Part of what is in the parent's cup goes into another, perhaps with its own
 * tint: inherits ratio, verdict, lots and clock. The parent's own mass falls when
 * the part is weighed. -EINVAL outside stir and pour, -ERANGE for a mass over what
 * the parent holds. t_us in the parent's time; the child keeps the same origin. */
int guide_divide(const struct guide *parent, double mass_g, double tint_pct, const char *tint_label,
                 int64_t t_us, struct guide *ret_child);

/* Cannot fail; *ret may be the same object as old. */
void guide_next(const struct guide *old, const struct guide_event *event, struct guide *ret);

void guide_look(const struct guide *guide, struct guide_view *ret);

/* Nonzero when what must be committed before the person is told of it (step, phase,
 * charge, message id, verdict, answers, a recorded mass) differs between the two. The
 * message's arguments, which change with every reading, do not count. */
int guide_differs(const struct guide *old, const struct guide *next);

/* Does this batch own the pan (cup..top-up, or held on the way), or is it off it? */
bool guide_on_pan(const struct guide *guide);
/* Off the pan, but the empty pan has still to be read for its verdict. */
bool guide_reads_pan(const struct guide *guide);
bool guide_finished(const struct guide *guide); /* done or discarded */

/* Totals and the ratio of what was weighed; -EDOM before there is any. A divided
 * batch answers with its parent's. */
int guide_ratio(const struct guide *guide, struct ratio *ret);

/* What a part's bottle should weigh now, after what was poured from it or as last
 * rested on the pan: for the shelf. -ENODATA where it is not known. */
int guide_bottle_g(const struct guide *guide, enum part part, double *ret_gross_g);

/* What a divided batch has recorded out of its parent's cup so far; 0 for others. */
double guide_received_g(const struct guide *child);
/* The parent's cup is lighter by what a divided batch has weighed out of it, heavier
 * by what that record is later put right by (mass_g < 0). Within what there was: two
 * weighings of one mass differ by their doubt. -EINVAL, *parent untouched, for a mass
 * that is not finite. */
int guide_take_off(struct guide *parent, double mass_g);

/* The whole state as text, one "key value" a line, and back. Stored with every
 * step; a reader of a newer program reads older texts. snprintf-like length;
 * -EINVAL with *ret_line the offending line. */
size_t guide_write(const struct guide *guide, char *buffer, size_t size);
int guide_read(const char *text, struct guide *ret, int *ret_line);

#endif
