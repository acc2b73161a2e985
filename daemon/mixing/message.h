/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_MESSAGE_H
#define AMBO_MIXING_MESSAGE_H

#include <stdbool.h>
#include <stdint.h>

#include "system.h"

/* What the guide has to say: an id and typed arguments, no prose. The words are
 * made elsewhere (words/), so a translation never touches the guide. */

enum component {
	COMPONENT_A,      /* part A, as lettered on the label */
	COMPONENT_B,      /* part B */
	COMPONENT_TINT,   /* pigment or dye */
	COMPONENT_FILLER, /* mica, powder, thickener */
	COMPONENT_MIXED,  /* mixed resin out of another cup: a divided batch */
};

const char *component_name(enum component component); /* "a", "b", "tint", "filler", "mixed" */

/* One row a message: id, machine name. Keep the order: records store the names. */
#define MESSAGE_TABLE(X) \
	X(NONE, "none") \
	/* ready, cup */ \
	X(READ_BACK, "read-back")             /* the system, read back from its entry */ \
	X(CLEAR_THE_PAN, "clear-the-pan")     /* mass_g is on it */ \
	X(PLACE_CUP, "place-cup")             /* empty, dry, cool, with its stirrer */ \
	X(CUP_DRYING, "cup-drying")           /* rate in mass_g per minute: wait, or wipe it */ \
	X(CUP_TOO_HEAVY, "cup-too-heavy")     /* no room for total under Max */ \
	X(WAIT_SETTLE, "wait-settle")         \
	/* charges */ \
	X(ADD, "add")                         /* component, mass_g remaining */ \
	X(TIP_BACK, "tip-back")               /* component */ \
	X(ADD_POWDER, "add-powder")           /* component, mass_g: sprinkle, wait, look */ \
	X(BY_EYE, "by-eye")                   /* component, mass_g too small to weigh here */ \
	X(DILUTION, "dilution")               /* component: mass_g of a dilution at pct */ \
	X(CHARGE_DONE, "charge-done")         /* component; next in other: put down, take up, press */ \
	X(NOT_YET, "not-yet")                 /* component, mass_g still missing */ \
	X(STILL_FLOWING, "still-flowing")     /* component: was that still this part? */ \
	X(TOO_MUCH, "too-much")               /* component, mass_g over; pct deviation */ \
	X(TOP_UP, "top-up")                   /* component, mass_g to add; other_mass_g new total */ \
	X(TOP_UP_WONT_FIT, "top-up-wont-fit") /* component, mass_g, other_mass_g missing room */ \
	X(RATIO_WITHIN, "ratio-within")       /* pct deviation, other_pct doubt: lift the cup, stir */ \
	X(CANNOT_TELL, "cannot-tell")         /* pct deviation, other_pct doubt */ \
	X(RATIO_OUTSIDE, "ratio-outside")     /* pct deviation: nothing more fits */ \
	X(RELABELLED, "relabelled")           /* component it now is, mass_g */ \
	/* held: what happened, and what to do */ \
	X(NOT_RESIN, "not-resin")             /* mass_g came without a pour's slope */ \
	X(CUP_LIFTED, "cup-lifted")           /* put it back */ \
	X(CUP_CHANGED, "cup-changed")         /* mass_g differs from before */ \
	X(BUMPED, "bumped")                   \
	X(HAND_ON_PAN, "hand-on-pan")         /* never settles: hand, cable, draught */ \
	X(LOST_MASS, "lost-mass")             /* mass_g gone: cable, edge, something taken out */ \
	X(BOTTLE_KNOWN, "bottle-known")       /* component: this bottle is it */ \
	X(BOTTLE_WRONG, "bottle-wrong")       /* component it is, unknown: of neither; other wanted */ \
	X(BOTTLE_UNKNOWN, "bottle-unknown")   /* mass_g beside the cup is no bottle we know */ \
	X(BOTTLE_DISAGREES, "bottle-disagrees") /* component: lost mass_g, the cup gained other_mass_g */ \
	X(SCALE_SILENT, "scale-silent")       \
	X(SCALE_RAIL, "scale-rail")           \
	X(OVERLOAD, "overload")               \
	X(HELD_BY_HAND, "held-by-hand")       \
	X(STORE_FAILED, "store-failed")       /* text: the reason */ \
	X(RESUME_CHECK, "resume-check")       /* after a restart: is this still the cup? mass_g differs */ \
	X(ABANDONED, "abandoned")             /* seconds without a touch */ \
	/* after the charges */ \
	X(LIFT_AND_STIR, "lift-and-stir")     /* seconds to stir */ \
	X(READING_PAN, "reading-pan")         /* keep the pan free for a moment */ \
	X(SPILL, "spill")                     /* mass_g on the pan: still good, or ask */ \
	X(SPILL_ASK, "spill-ask")             /* mass_g on the pan; pct, other_pct bounds */ \
	X(PAN_LIGHTER, "pan-lighter")         /* mass_g less than before: drift, or removed */ \
	X(STIR, "stir")                       /* seconds left */ \
	X(STIR_UNCONFIRMED, "stir-unconfirmed") /* the time is over: press when it is stirred */ \
	X(POUR, "pour")                       /* seconds of working life left */ \
	X(POUR_SOON, "pour-soon")             /* 60 % gone and on the pan: pour or spread it thin */ \
	X(LIFE_OVER, "life-over")             /* do not pour; hazard */ \
	X(WEIGH_BACK, "weigh-back")           /* emptied cup: mass_g stayed in it */ \
	X(DONE, "done")                       /* mass_g mixed, pct deviation */ \
	X(DISCARDED, "discarded")             \
	X(VERDICT_WITHDRAWN, "verdict-withdrawn") /* pct deviation now */ \
	/* refusals and warnings before anything is poured */ \
	X(TOTAL_TOO_SMALL, "total-too-small") /* mass_g asked, other_mass_g smallest, pct tolerance */ \
	X(OVER_MAX, "over-max")               /* mass_g asked, other_mass_g what the scale can hold */ \
	X(OVER_CUP, "over-cup")               /* mass_g asked, other_mass_g the cup's limit */ \
	X(STOCK_SHORT, "stock-short")         /* component, mass_g needed, other_mass_g there */ \
	X(EXPIRED, "expired")                 /* component, text: the date */ \
	X(LOT_CHANGED, "lot-changed")         /* component, text: the new lot */ \
	X(STIR_WONT_FIT, "stir-wont-fit")     /* seconds to stir, other_seconds of working life */ \
	X(TINT_TOO_MUCH, "tint-too-much")     /* pct asked, other_pct the limit */ \
	X(BAD_REQUEST, "bad-request")         /* text: which number, and what is expected */ \
	X(DIVIDED, "divided")                 /* mass_g goes into another cup */

enum message_id {
#define MESSAGE_ENUM(id, name) MESSAGE_##id,
	MESSAGE_TABLE(MESSAGE_ENUM)
#undef MESSAGE_ENUM
	MESSAGE_COUNT
};

enum message_has {
	MESSAGE_HAS_COMPONENT = 1u << 0,
	MESSAGE_HAS_OTHER = 1u << 1,
	MESSAGE_HAS_MASS_G = 1u << 2,
	MESSAGE_HAS_OTHER_MASS_G = 1u << 3,
	MESSAGE_HAS_PCT = 1u << 4,
	MESSAGE_HAS_OTHER_PCT = 1u << 5,
	MESSAGE_HAS_SECONDS = 1u << 6,
	MESSAGE_HAS_OTHER_SECONDS = 1u << 7,
	MESSAGE_HAS_TEXT = 1u << 8,
};

struct message {
	enum message_id id;
	uint32_t has; /* enum message_has, or-ed: an argument not named here is unknown */
	enum component component, other;
	double mass_g, other_mass_g;
	double pct, other_pct;
	double seconds, other_seconds;
	char text[SYSTEM_LABEL_MAX];
};

const char *message_name(enum message_id id); /* "none" for what is no id */
/* -1 when there is no such name. */
int message_from_name(const char *name);

#endif
