/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_GUIDE_STATE_H
#define AMBO_MIXING_GUIDE_STATE_H

/* The guide's insides, public only so that a guide can be held by value. Nobody
 * outside mixing and records reads a member: guide_look(), guide_ratio() and the
 * other functions of guide.h tell. Whatever is added here must be in guide_text.c:
 * a test compares two guides after writing and reading. */

/* Where inside a step. */
enum guide_phase {
	PHASE_NONE,
	PHASE_PAN,      /* cup: the empty pan is being read */
	PHASE_PLACE,    /* cup: the cup is awaited, then watched for 5 s */
	PHASE_LIVE,     /* charge, top-up: dispensing */
	PHASE_BY_EYE,   /* charge: too small for this scale, a press says it is in */
	PHASE_RESTED,   /* charge: in the band; a press takes the next bottle */
	PHASE_TOO_MUCH, /* over: a press starts the top-up */
	PHASE_STUCK,    /* nothing fits, or cannot be told: accept it as such, or discard */
	PHASE_VERDICT,  /* all is in: lift the cup and stir */
	PHASE_SPILL,    /* stir: the pan does not read as before: accept, or discard */
	PHASE_STIRRING, /* stir, the pan read or not (pan_read) */
	PHASE_POURING,
	PHASE_EMPTIED, /* pour: the emptied cup has been weighed back */
	PHASE_COUNT
};

/* What a person answered although the scale could not confirm it: in the record. */
enum guide_accepted {
	ACCEPTED_NOT_RESIN = 1u << 0,   /* a gain without a slope was this component */
	ACCEPTED_LOSS = 1u << 1,        /* mass went missing */
	ACCEPTED_DIFFERENCE = 1u << 2,  /* after a fault or a restart, the difference was poured */
	ACCEPTED_CANNOT_TELL = 1u << 3, /* this scale could not judge the ratio */
	ACCEPTED_OUTSIDE = 1u << 4,     /* the ratio is outside */
	ACCEPTED_PAN = 1u << 5,         /* spill, or lighter pan */
	ACCEPTED_LIFE_OVER = 1u << 6,   /* the end of working life was acknowledged */
	ACCEPTED_BOTTLE = 1u << 7,      /* bottle and cup disagree */
	ACCEPTED_POURED_LATE = 1u << 8, /* poured after the end of working life */
};

/* An answer that waits for the pan to settle. */
enum guide_waiting { WAITING_NONE, WAITING_PRESS, WAITING_OTHER_PART };

/* What is wrong with a reading's pan, as last explained. */
struct guide_rest {
	bool known;
	double gross_g;         /* the last settled value that was explained */
	double flow_g;          /* integral of a pour's rate since */
	double fastest_g_per_s; /* of those rates */
	double peak_g;          /* highest since, for "does it still rise?" */
	int64_t progress_us;    /* when it last settled, or rose to a new peak */
	double trough_g;        /* lowest since */
	double still_g;         /* where it last stood still, if only provisionally */
};

struct guide {
	struct recipe recipe;
	enum guide_step step;
	enum guide_step resume_step; /* where held returns to */
	enum guide_phase phase;      /* inside step, or inside resume_step while held */
	uint32_t charge;
	enum component wanted;  /* dispensed now */
	struct message message; /* follows from all the rest (guide_say.c) */
	struct message held;    /* held: why */
	struct message
	        held_under;  /* the reason it was held for before a person or the store held it */
	struct message note; /* said for a while over the step's own message */
	int64_t note_until_us;
	enum verdict verdict;
	bool provisional;
	uint32_t accepted; /* enum guide_accepted, or-ed */
	enum guide_waiting waiting;

	struct weighing_point point[GUIDE_POINTS_MAX];
	int64_t point_us[GUIDE_POINTS_MAX]; /* newest sample in the point's average */
	uint32_t n_points;
	struct guide_dispense dispense[GUIDE_DISPENSES_MAX];
	uint32_t n_dispenses;

	struct reading reading; /* the newest */
	double u_g;             /* standard uncertainty of a settled reading, newest told */
	double period_us;       /* between samples, smoothed */
	int64_t t_us;           /* of the newest event */
	int64_t touched_us;     /* last press or gram: an hour later, abandoned */
	int64_t fault_since_us; /* readings without a mass since, -1 */
	struct guide_rest rest;

	double pan_g, cup_g; /* point 0; the cup's own mass (point 1 less point 0) */
	bool pan_known, cup_known;
	bool slope_known; /* cup: where the 5 s watch began */
	int64_t slope_us;
	double slope_gross_g, slope_sd_g;
	double drying_g_per_min; /* 0: not drying */

	uint8_t start_point;   /* where the present charge is weighed from */
	bool start_fresh;      /* ... a point of its own, not shared with the charge before */
	int32_t open;          /* its row in dispense[], -1 before it is recorded */
	int64_t first_gram_us; /* of the present charge, -1 none yet */
	enum identity identity;
	int64_t change_us; /* when this charge was begun by a press, check or code */
	enum component before_change;
	bool asks_still_flowing; /* a charge came before: its tail may still run */
	bool tip_back;           /* said, until the flow stops */
	double dilution_pct;     /* tint in the dilution being poured as tint; 0: pure */
	double unexplained_g;    /* sum of changes nobody could explain, signs kept */
	struct top_up top_up;    /* as planned at the last overshoot */

	int64_t life_start_us; /* first gram of the second reactive part, -1 */
	int64_t life_end_us;
	bool life_acknowledged;
	bool pour_soon_told;

	int64_t stir_start_us;
	bool lifted; /* off the pan since the verdict */
	bool pan_read;
	double free_pan_g; /* the empty pan as last read since the cup was lifted */
	double residue_g;  /* empty pan after less before */
	double residue_a_pct, residue_b_pct; /* deviation if all of it was A; B */
	bool residue_counts;                 /* outside its doubt */
	bool weighed_back;
	double stayed_g; /* in the emptied cup */
	double given_g;  /* taken out for divided batches */

	double bottle_g[2];      /* gross, as expected now; < 0 unknown */
	int32_t bottle_in_use;   /* enum part checked before pouring, -1 none */
	double bottle_before_g;  /* its gross then */
	int64_t bottle_since_us; /* rested on the pan since, -1 */

	bool divided; /* ratio and verdict come from the parent */
	double inherited_resin_g, inherited_hardener_g, inherited_u_ratio;
};

#endif
