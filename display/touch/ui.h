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
	SCREEN_FIRST, /* the first run, step by step */
	SCREEN_HOME,  /* the systems */
	SCREEN_AMOUNT,
	SCREEN_BATCH,
	SCREEN_DISCARD, /* the question */
	SCREEN_RECORDS,
	SCREEN_RECORD,
	SCREEN_SCALE,
	SCREEN_SETTINGS,
	SCREEN_SOUND,     /* the cues: level, quiet, speech, who pours */
	SCREEN_HEARD,     /* did you hear it? before the first charge */
	SCREEN_BENCH,     /* what is done at the bench but mixing */
	SCREEN_ENTER,     /* a system from its label, question by question */
	SCREEN_CALIBRATE, /* led through a calibration */
	SCREEN_LOAD,      /* the mass of a known load */
	SCREEN_CHECK,     /* the daily check */
	SCREEN_PIECES,
	SCREEN_PIECE,
	SCREEN_CLOCKS,
	SCREEN_LAYER_CHECKS, /* of the piece that is open */
	SCREEN_DRYING,       /* what it embeds, weighed day by day */
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
	ORDER_APPROVE,
	ORDER_CALIBRATE,
	ORDER_TAKE, /* mass_g: all that is on the pan; 0 a press */
	ORDER_ACCEPT,
	ORDER_GIVE_UP,
	ORDER_CHECK,    /* ui->check */
	ORDER_ENTER,    /* ui->entry */
	ORDER_PIECES,   /* their list */
	ORDER_PIECE,    /* ui->piece: layers and plan */
	ORDER_POUR,     /* a batch for the next layer of ui->piece */
	ORDER_CHECKS,   /* of ui->piece: what is to be looked at */
	ORDER_DRYING,   /* of ui->piece: how dry its inclusions are */
	ORDER_DRY,      /* weigh the one of row ui->drying */
	ORDER_PRACTICE, /* a batch of water: ui->system, ui->amount_g */
};
struct order {
	enum order_kind kind;
	int64_t id;
	double mass_g;
};

#define UI_NOTICE_MAX 1024u
#define UI_LEAST_G    10.0
#define UI_MOST_G     20000.0

/* As it was when the charge began: how the beam magnifies hangs on it. */
struct ui_charge {
	double id, target_g, low_g, high_g;
	char component[16], step[16];
};

/* In this order. */
enum first_step {
	FIRST_HAND,
	FIRST_SOUND,
	FIRST_LANGUAGE,
	FIRST_CALIBRATE,
	FIRST_SYSTEM,
	FIRST_WATER,
	FIRST_COUNT
};
#define FIRST_WATER_G 100.0

/* A system's label, as it is being entered. */
enum entry_field {
	ENTRY_BASIS,
	ENTRY_PARTS_A,
	ENTRY_PARTS_B,
	ENTRY_DENSITY_A, /* the next two by volume only */
	ENTRY_DENSITY_B,
	ENTRY_LIFE,
	ENTRY_LIFE_MASS,
	ENTRY_LIFE_DEGC,
	ENTRY_READ_BACK,
	ENTRY_COUNT
};
struct ui_entry {
	enum entry_field field;
	bool by_volume, hardener_a;
	double value[ENTRY_COUNT]; /* of the fields that are numbers, in the field's unit */
};

/* The daily check: zero, which weight, what came of it. */
enum check_step { CHECK_ZERO, CHECK_WEIGHT, CHECK_TOLD };
struct ui_check {
	enum check_step step;
	double weight_g;
	int weight_class; /* of ui_classes */
	char verdict[16];
	double error_g, limit_g;
};
extern const char *const ui_classes[]; /* of OIML R 111, NULL-ended */

/* What was ticked off, in a row for each of ui_layer_checks: for which layer. */
#define UI_LAYER_CHECKS 14
/* A layer in several batches, as it was planned before the first: until that gels the others
 * belong to it, whatever the plan made of them since. */
struct ui_batches {
	char piece[48];
	struct model_layer layer;
};

struct ui_ticks {
	char piece[48];
	double layer[UI_LAYER_CHECKS]; /* 0: not */
};
extern const char *const ui_layer_checks[UI_LAYER_CHECKS]; /* the station's names */

/* A dial: least to most along it, logarithmic, in whole steps. */
struct dial {
	double *value; /* NULL: this screen has none */
	double least, most, step;
	double by[3]; /* what the buttons add and take away, ascending */
	int decimals;
	const char *unit; /* as it is shown; not translated: "g", "min" */
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
	enum first_step first;
	struct ui_entry entry;
	struct ui_check check;
	double loads_seen;
	double load_g;     /* the known load that comes next */
	char digits[8];    /* as typed on the keypad */
	char piece[48];    /* open on the screen */
	struct ui_ticks ticks;
	struct ui_batches batches;
	int32_t drying;    /* row of the model: what is weighed next */
	double held;       /* share of the five seconds that the foot is down; NAN: it is up */
	struct act down;   /* what a finger is on */
	double down_share; /* of the longest touch that counts */
	bool asleep, wipe; /* wipe: the last touch was no finger's */
	bool ask_heard;    /* nobody has yet said that it was heard */
	enum sound sound;  /* what sounds, and whether the edge shows it now */
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
/* What dial the screen has now. */
struct dial ui_dial(struct ui *ui, const struct model *model);
double dial_value(const struct dial *dial, double at); /* 0..1 along it */
double dial_at(const struct dial *dial);

/* The entry as the system it will be, to be read back. */
void ui_entry_system(const struct ui *ui, struct model_system *ret);
/* What came of orders. */
void ui_entered(struct ui *ui, const char *system_id);
void ui_accepted(struct ui *ui);
void ui_checked(struct ui *ui, const char *verdict, double error_g, double limit_g);
/* A keeper's word is needed first, and has not been given. */
bool ui_needs_word(const struct model *model);
/* The layer of the open piece that is to be poured next; NULL: none. */
const struct model_layer *ui_next_layer(const struct ui *ui, const struct model *model);
/* Which batch of it that is, from 1. */
int ui_next_batch(const struct ui *ui, const struct model *model);
/* Seconds until the layer below may be poured on, or sanded where its bond has closed; at the
 * soonest where its age is not known. NAN: it is ready, or nobody knows. */
double ui_piece_early_s(const struct ui *ui, const struct model *model, bool *ret_age_known);

/* Which of ui_layer_checks; -1: one that is not known here. */
int ui_layer_check(const char *name);
/* By the station's own knowledge, or ticked off. */
bool ui_check_done(const struct ui *ui, const struct model_check *check);

bool ui_batch_open(const struct model *model); /* there is one that is not finished */
bool ui_live(const struct model *model);       /* a charge is live: only the strip is */

/* The dial: 0..1 along it to grams and back; logarithmic, rounded to what a hand
 * would ask for. */
double ui_dial_g(double at, double most_g);
double ui_dial_at(double mass_g, double most_g);
double ui_most_g(const struct model *model); /* the dial's end */

#endif
