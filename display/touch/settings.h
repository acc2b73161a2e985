/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_SETTINGS_H
#define AMBO_TOUCH_SETTINGS_H

#include <stdbool.h>

#include "layout.h"
#include "palette.h"

enum units { UNITS_METRIC, UNITS_US };

/* What the person has set, kept in a file of their own (libconfig). */
struct settings {
	enum theme theme;
	enum hand hand;
	int turn_deg;      /* 0, 90, 180, 270: the picture, clockwise */
	char language[16]; /* "en", "de" ...: a folder of the catalogue */
	double blank_min;  /* minutes without a touch and a batch; 0 never */
	bool first_run_done;
	int brightness_pct; /* 40..100 */
	enum units units;   /* of depths and temperatures; masses are grams, as on the record */
	bool less_motion;   /* steady instead of flashing, and calmer numbers */
	double sound_level; /* the dial, 0..1 */
	bool quiet;         /* what is heard goes to lamp, edge and vibration */
	bool speech;        /* sentences are spoken */
	int person;         /* who pours, 1..SETTINGS_PERSONS: reactions are learnt for each */
};

#define SETTINGS_SENTENCE_MAX 320
#define SETTINGS_PERSONS      6
#define SETTINGS_DIMMEST_PCT  40

void settings_default(struct settings *ret);

/* A file that is missing leaves the defaults: 0. What is wrong in it is left at its
 * default and said, one sentence for the first: -EINVAL, or -errno. */
int settings_read(const char *path, struct settings *ret, char *ret_sentence);
/* Written beside and renamed: never half a file. -errno. */
int settings_write(const char *path, const struct settings *settings);
/* The same for any text: what has been learnt is kept beside what has been set. */
int settings_keep(const char *path, const char *text);

#endif
