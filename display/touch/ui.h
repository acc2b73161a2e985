/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_UI_H
#define AMBO_TOUCH_UI_H

#include "beam.h"
#include "cues.h"
#include "model.h"
#include "settings.h"

/* Which screen is shown and what has been chosen on it: a value, changed by acts and
 * by what the station says. Pure: what the station is to do comes out as an order. */

enum screen {
	SCREEN_FIRST, /* first run: hand, then language */
	SCREEN_HOME,  /* the systems */
	SCREEN_AMOUNT,
	SCREEN_BATCH,
	SCREEN_DISCARD, /* the question */
	SCREEN_RECORDS,
	SCREEN_RECORD,
	SCREEN_SCALE,
	SCREEN_SETTINGS,
	SCREEN_SOUND, /* the cues: level, quiet, speech, who pours */
	SCREEN_HEARD, /* did you hear it? before the first charge */
	SCREEN_COUNT
};
const char *screen_name(enum screen screen);
int screen_from_name(const char *name); /* -1: none */

enum order_kind {
	ORDER_NONE,
	ORDER_PRESS,
	ORDER_HOLD,
	ORDER_OTHER_PART,
	ORDER_DISCARD,
	ORDER_BEGIN, /* ui->system, ui->amount_g */
	ORDER_AGAIN,
	ORDER_LIST,   /* the records */
	ORDER_RECORD, /* id */
	ORDER_ZERO,
	ORDER_WEIGH,
	ORDER_SETTINGS, /* they changed: keep them */
	ORDER_FORGET,   /* the reactions learnt of who pours */
};
struct order {
	enum order_kind kind;
	int64_t id;
};

#define UI_NOTICE_MAX 320u
#define UI_LEAST_G    10.0
#define UI_MOST_G     20000.0

/* As it was when the charge began: how the beam magnifies hangs on it. */
struct ui_charge {
	double id, target_g, low_g, high_g;
	char component[16], step[16];
};

struct ui {
	struct settings settings;
	enum screen screen;
	int page;        /* of a list */
	char system[32]; /* chosen */
	double amount_g; /* chosen */
	double away_id;  /* the finished batch that was left, or the open one that was left */
	double shown_g;  /* the remaining mass as shown; NAN none */
	struct ui_charge charge;
	bool asleep, wipe;                 /* wipe: the last touch was no finger's */
	bool ask_heard;                    /* nobody has yet said that it was heard */
	enum sound sound;                  /* what sounds, and whether the edge shows it now */
	bool lit;
	char notice[UI_NOTICE_MAX];        /* what was refused, one sentence */
	double weighed_g, weighed_doubt_g; /* the last weighing asked for */
	const char *const *languages;      /* codes, NULL-ended: what is installed */
};

void ui_init(struct ui *ui, const struct settings *settings);

/* After anything new from the station. */
void ui_follow(struct ui *ui, const struct model *model);

/* One tap. at: 0..1, where on the target it was, along the reading. */
struct order ui_act(struct ui *ui, const struct model *model, struct act act, double at);
/* The foot switch, space or F-key: what the strip of the present screen does. */
struct order ui_foot(struct ui *ui, const struct model *model);
/* What that is. */
struct act ui_main_act(const struct ui *ui, const struct model *model);

/* What the cues say now; returns true when there is another picture. */
bool ui_cue(struct ui *ui, const struct cues_out *out);
/* Is the test tone to be heard? */
bool ui_tests_sound(const struct ui *ui);

bool ui_batch_open(const struct model *model); /* there is one that is not finished */
bool ui_live(const struct model *model);       /* a charge is live: only the strip is */

/* The dial: 0..1 along it to grams and back; logarithmic, rounded to what a hand
 * would ask for. */
double ui_dial_g(double at, double most_g);
double ui_dial_at(double mass_g, double most_g);
double ui_most_g(const struct model *model); /* the dial's end */

#endif
