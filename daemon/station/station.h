/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_STATION_H
#define AMBO_STATION_STATION_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <systemd/sd-bus.h>
#include <systemd/sd-event.h>

#include "acquisition.h"
#include "action_text.h"
#include "batches.h"
#include "config.h"
#include "drivers/trace.h"
#include "elapsed.h"
#include "resting.h"
#include "scale_care.h"
#include "sensed.h"
#include "sensing.h"
#include "shown.h"
#include "timeline.h"

/* The daemon's one object: what the loop, the bus and the batches share. Everything
 * here belongs to the main thread.
 *
 *   acquisition -> ring -> input.c: timeline -> weigher -> batches -> store thread
 *                                                  |  ^               |
 *                                  bus: Reading <--+  +--- Press      +-> StepChanged
 */
#define STATION_CALLS_MAX 32u /* bus calls that wait for the store or the scale */

struct bus;        /* bus.h */
struct notify;     /* notify.h */
struct panel_wire; /* panel_wire.h */
struct pieces;     /* pieces.h */
struct worker;     /* worker.h */

struct station {
	const struct station_config *config;     /* that holds: &effective */
	const struct station_config *configured; /* as it was read */
	struct station_config effective;         /* with the calibration that holds */
	sd_event *event;
	struct bus *bus; /* NULL: none yet */
	struct notify *notify;
	struct panel_wire *panel; /* NULL: none */
	struct sensing *sensing;  /* NULL: no sensors */
	struct sensed sensed;
	struct resting resting;
	struct store_thread *records;
	struct pieces *pieces;
	sd_event_source *cup_timer; /* cup_clock.h */
	struct worker *worker;      /* for what takes long: a plan */
	struct inputs *inputs;
	FILE *recording; /* the trace that is recorded, NULL: none */

	struct scale *scale;
	struct acquisition *acquisition;
	sd_event_source *more; /* input is left to process */
	struct timeline timeline;
	struct trace_presses *presses;
	bool has_press, presses_failed;
	bool playing; /* a row of the presses file: it has its time already */
	int64_t press_us;
	char press[ACTION_TEXT_MAX];
	const char *presses_path; /* NULL: none */
	bool exit_at_end, ended;

	struct weigher *weigher;
	struct reading reading;
	bool has_reading;
	int64_t sequence; /* of readings, since the daemon began */
	uint64_t samples;
	double rate_hz; /* samples a second, smoothed */
	int64_t last_sample_us;

	struct scale_care care;
	bool entering; /* a system is being written */
	struct batches batches;
	int64_t followed_id; /* the batch that the newest sample or tick was for; 0: none */
	unsigned calls;      /* of STATION_CALLS_MAX */

	/* Open batches found at the start, taken up when the source's time is known. */
	struct store_open_batch *resume;
	struct elapsed resume_elapsed[BATCHES_MAX];
	int n_resume;
};

/* station.c. Opens store, scale and all the rest, says what goes wrong on stderr, once.
 * On 0 the caller owns *ret (station_free). -errno. */
int station_new(const struct station_config *config, bool exit_at_end, struct station **ret);
int station_run(struct station *station);   /* until a signal: 0; else -errno */
void station_free(struct station *station); /* NULL does nothing */
__attribute__((format(printf, 1, 2))) void station_log(const char *format, ...);

int64_t station_clock_us(void); /* CLOCK_MONOTONIC */
/* Station time now, for something that comes from outside. */
int64_t station_now_us(struct station *station);

/* input.c */
int input_init(struct station *station);
void input_done(struct station *station);
/* Works through what has come, a bounded share at a time; goes on by itself. */
void input_go_on(struct station *station);

/* Photos lie beside the store. ret: PATH_MAX. */
void station_photos_folder(const struct station *station, char *ret);

/* Why the scale does not weigh, or "": ended, failed: ..., silent, rail, ... */
void station_condition(const struct station *station, char *ret, size_t size);

/* actions.c: what a person can do; the presses file and the bus both come here.
 * 0, or -errno with one sentence in why (ACTION_WHY_MAX). */
#define ACTION_WHY_MAX WORDS_SENTENCE_MAX
int action_event(struct station *station, struct batch *batch, enum guide_event_kind kind,
                 const char *text, const char *log, char *why);
int action_zero(struct station *station, char *why);
/* A row of the presses file; the mistake, if any, in why. */
int action_from_text(struct station *station, const char *text, char *why);

/* begin.c: a batch begins; answered through done, also when it is refused. */
struct begin_request {
	char system_id[SYSTEM_ID_MAX];
	struct recipe_request recipe;
};
struct begin_answer {
	int result;        /* 0, or -errno with error and sentence */
	const char *error; /* last part of the bus error's name */
	int64_t id;
	char sentence[2 * WORDS_SENTENCE_MAX]; /* warning, or why not */
};
typedef void begin_done(void *context, const struct begin_answer *answer);
void begin_batch(struct station *station, const struct begin_request *request, begin_done *done,
                 void *context);
/* The calibration that a row of a presses file carries holds from now on. */
int begin_calibration(struct station *station, const struct action *action);
/* The last batch's system, mass and actual tint share. */
void begin_again(struct station *station, begin_done *done, void *context);
/* A batch in the state it was kept in; @action: the row that says so. */
void begin_kept(struct station *station, const struct action *action, const struct guide *state,
                begin_done *done, void *context);
void begin_divided(struct station *station, struct batch *parent, double mass_g, double tint_pct,
                   const char *tint_label, begin_done *done, void *context);

/* resume.c */
int resume_find(struct station *station, struct store *store);
void resume_go_on(struct station *station);

#endif
