/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_CUES_H
#define AMBO_TOUCH_CUES_H

#include <stdbool.h>
#include <stdint.h>

/* From what the station says to what should be heard, seen at the screen's edge and felt
 * now. Pure: cues_next() makes the next state from the old one and an input; call it
 * with every reading, and every few milliseconds while nothing comes, and hand
 * cues->out to audio_play() each time.
 *
 * While a charge is live there is always a quiet pulse: silence is never a message. Its
 * tempo is one of two, far and near; from the larger of 20 % of the charge and 3 s of
 * flow on its pitch climbs with what is left. Tip-back ends the train and drops the
 * pitch. A beats once, B twice, all else three times, each with its own timbre. */

enum sound {
	SOUND_NONE,
	SOUND_PULSE,    /* a charge is live */
	SOUND_NEAR,     /* its end is near: left says how near */
	SOUND_TIP_BACK, /* the drop, again while it flows on */
	SOUND_WAIT,     /* tipped back, not at rest yet: a low, slow pulse */
	SOUND_IN_BAND,  /* two soft notes, once */
	SOUND_TOO_MUCH, /* low and rough */
	SOUND_HELD,
	SOUND_SILENT, /* the scale is, or the station */
	SOUND_HAZARD, /* repeats until the station's cue is another */
	SOUND_TEST,   /* did you hear it? */
	SOUND_COUNT
};
const char *sound_name(enum sound sound); /* "none", "pulse", "near", "tip-back" ... */

enum voice { VOICE_A, VOICE_B, VOICE_OTHER, VOICE_COUNT };

struct cues_out {
	enum sound sound;
	enum voice voice;
	int64_t since_us; /* when this sound began */
	double left;      /* 1 at the edge of the near zone and beyond .. 0 nothing */
	double level;     /* the dial, 0..1; 0: not to be heard (quiet mode) */
	bool lamp;        /* lit now */
	bool edge;        /* the screen's edge is lit now; never over 3 flashes/s */
	bool vibration;   /* the foot switch's, now; only in quiet mode */
};

/* The lead: physics, "what a person can see, hear and do". */
#define CUES_REACTION_S      0.23  /* simple reaction; what the station leads by */
#define CUES_HALF_TIP_BACK_S 0.125 /* of the flow that still comes while tipping back */
#define CUES_DRIP_G          0.05

struct cues_in {
	int64_t t_us;          /* now */
	int64_t reading_us;    /* of the newest reading, same clock: cues_reading_us() */
	bool link_up;          /* the station is there */
	const char *cue;       /* of the newest reading, else of the batch; as on the bus */
	const char *step;      /* the batch's; "" none */
	const char *component; /* "a", "b", "tint" ... */
	const char *state;     /* the reading's: "unsettled", "settled" ... */
	double target_g;       /* the charge's; NAN unknown, as the next two */
	double remaining_g;    /* below 0: over */
	double rate_g_per_s;
	double reaction_s;     /* reaction_of(); NAN: CUES_REACTION_S */
	double output_delay_s; /* audio_delay_s(); NAN: 0.02 */
	double level;          /* the dial, 0..1 */
	bool quiet;            /* quiet mode: lamp, edge and vibration say all of it */
};

struct cues {
	struct cues_out out;
	/* The charge this is about, and what was decided in it. */
	char component[16], step[16];
	bool tipped;           /* tip-back has sounded and it is not at rest yet */
	int64_t bus_tipped_us; /* since when the station says so; -1 not */
	int64_t reading_us;    /* of the newest reading seen */
	bool flows, flowed;    /* in the newest reading, in the one before */
	double mean_g_per_s;   /* the flow of the last fifth of a second */
	bool voice_led;        /* A or B: poured, so that its end can be foretold */
	double zone_g;         /* the near zone, as wide as it has been since at rest */
};

void cues_init(struct cues *ret);
/* ret may be old. */
void cues_next(const struct cues *old, const struct cues_in *in, struct cues *ret);

/* A charge is being poured by these: cue "pour", "near" or "tip-back". */
bool cues_live(const char *cue);

/* When a reading was taken: its own stamp where that is a quarter of a second old at
 * most, else (another clock, a replay) when it came. */
int64_t cues_reading_us(int64_t stamp_us, int64_t came_us);

/* The test tone, for "did you hear it?" on one press; plays once per since_us. */
void cues_test(int64_t t_us, double level, struct cues_out *ret);

#endif
