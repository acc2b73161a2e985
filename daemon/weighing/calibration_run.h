/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_CALIBRATION_RUN_H
#define AMBO_WEIGHING_CALIBRATION_RUN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "advice.h"
#include "calibrate.h"
#include "calibration.h"

/* A guided calibration, as a value: readings in counts and presses come in, the next
 * state comes out. No clock, no I/O.
 *
 *   ZERO --press--> RISING --press 0--> FALLING --pan empty--> REPEAT --10x--> PLACES --4x--> DONE
 *     |               | press MASS: one       | press: the load    (on, off: they take
 *     |               +----- more on it       + before is left      themselves)
 *     +-- a wiring fault, a bend, drift: REFUSED, from any
 *
 * The loads go up by known masses and down by the same; then the greatest load is put
 * on and taken off ten times (OIML R 76-1, A.4.10, from memory) and stands once at each
 * of four places (A.4.7, from memory). */

#define CALIBRATION_LOADS_MAX  8u  /* going up */
#define CALIBRATION_REPEATS    10u /* OIML R 76-1, A.4.10, from memory */
#define CALIBRATION_PLACES     4u
#define CALIBRATION_RAW_MAX    64u
#define CALIBRATION_NOTES_MAX  6u
#define CALIBRATION_LOAD_SHARE 0.1 /* of Max: no load is smaller (common practice, no source) */

enum calibration_step {
	CALIBRATION_ZERO,
	CALIBRATION_RISING,
	CALIBRATION_FALLING,
	CALIBRATION_REPEAT,
	CALIBRATION_PLACES_STEP,
	CALIBRATION_DONE,
	CALIBRATION_REFUSED,
};
const char *calibration_step_name(enum calibration_step step); /* "zero" ... "refused" */

enum calibration_place { PLACE_FRONT, PLACE_RIGHT, PLACE_BACK, PLACE_LEFT };

/* What is known of the scale beforehand. */
struct calibration_setup {
	double max_g, interval_g;     /* > 0 */
	double expected_counts_per_g; /* > 0: as configured */
	double expected_rate_hz;      /* 0: not known */
};

/* The pan, in counts, after one sample. */
struct calibration_reading {
	int64_t t_us;
	bool settled;
	bool rail;              /* the converter is at its end */
	bool warm;              /* the zero has stopped drifting */
	double counts;          /* mean while settled */
	double sd_counts;       /* of that mean */
	int64_t still_since_us; /* since when it averages */
	double rate_hz;         /* as found; 0: not yet */
	double corrupt_per_1000;
	double hum_hz, hum_counts; /* 0: none */
};

enum calibration_event_kind { CALIBRATION_READING, CALIBRATION_PRESS };

struct calibration_event {
	enum calibration_event_kind kind;
	struct calibration_reading reading; /* CALIBRATION_READING */
	double mass_g; /* CALIBRATION_PRESS in RISING: all that is on the pan; 0: no more */
};

enum calibration_raw_kind { RAW_ZERO, RAW_RISING, RAW_FALLING, RAW_REPEAT, RAW_PLACE };
const char *calibration_raw_name(enum calibration_raw_kind kind);

/* One settled reading that was taken, as it was. */
struct calibration_raw {
	enum calibration_raw_kind kind;
	int64_t t_us;
	double mass_g; /* on the pan, as entered */
	double counts, sd_counts;
	int place; /* RAW_PLACE */
};

struct calibration_result {
	struct calibration calibration;
	struct calibration_report report;
	double greatest_g;                       /* load */
	double limit_g;                          /* R 76-1 on first verification, for that load */
	double repeat_sd_g;                      /* of the repeats, each from the zero before it */
	double repeat_spread_g;                  /* greatest less least */
	double off_centre_g[CALIBRATION_PLACES]; /* against the mean of the repeats */
	double drift_g;                          /* of the zero, from the first to the last */
	double span_change_pct;                  /* counts a gram against what was expected */
	struct advice notes[CALIBRATION_NOTES_MAX];
	size_t n_notes;
};

struct calibration_run {
	struct calibration_setup setup;
	enum calibration_step step;
	struct advice say; /* what to do now; REFUSED: why */
	struct calibration_reading now;
	int64_t rail_since_us; /* with now.rail */
	double loads_g[CALIBRATION_LOADS_MAX];
	size_t n_loads, n_left; /* going down: those still on the pan */
	size_t n_repeats, n_places;
	bool on;             /* REPEAT, PLACES: taken with the load, to come off */
	double zero_counts;  /* the last zero taken */
	double first_counts; /* the first */
	struct calibration_raw raw[CALIBRATION_RAW_MAX];
	size_t n_raw;
	struct calibration_result result; /* DONE */
};

/* -EINVAL for a setup that is no scale's. */
int calibration_run_begin(const struct calibration_setup *setup, struct calibration_run *ret);

/* ret may be old. 1: the step or what is said changed; 0: nothing to tell; for a press
 * that does not do -EAGAIN (wait) or -EINVAL (the mass), *ret says why and is otherwise
 * as it was. In DONE and REFUSED nothing moves: a press is -EALREADY. */
int calibration_run_next(const struct calibration_run *old, const struct calibration_event *event,
                         struct calibration_run *ret);

#endif
