/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_SCALE_CARE_H
#define AMBO_STATION_SCALE_CARE_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/records/store_scale.h"
#include "daemon/weighing/health.h"
#include "daemon/weighing/weigher.h"

/* What keeps the scale one that may be trusted: the calibration that holds, a run under
 * way, the daily check, its health. Main thread only. */
struct station;

struct scale_care {
	struct store_calibration holds; /* id 0: the configuration's */
	bool has_check;
	struct store_check check; /* the newest */
	struct advice due;        /* overdue or failed; ADVICE_NONE: neither */
	struct health health;

	int64_t approved_us; /* CLOCK_MONOTONIC: until then anybody may calibrate; 0 not */
	bool approved_run;   /* the one under way began so, and may be finished so */

	bool calibrating;
	bool storing; /* an accept or a going back is under way: nothing else may */
	struct calibration_run run;
	struct weigher *raw; /* weighs by the configuration: its settled grams are counts */
	double degc;         /* as told at the start; NaN: not known */
	uint64_t changes;    /* of what the bus shows of a calibration */
};

/* scale_care.c */

/* Before the loop: takes the calibration that holds and the newest check from the
 * store. -errno of the store. */
int scale_care_load(struct station *station, struct store *store);
void scale_care_done(struct station *station);
/* That calibration holds from now on: a new weigher, with its zero at 0 and no tare.
 * -EINVAL, -ERANGE as calibration_check(). id 0 with NULL: the configuration's. */
int scale_care_apply(struct station *station, const struct store_calibration *calibration);
/* After each sample, with station->reading made of it; after a silence without one. */
void scale_care_sample(struct station *station, const struct weigher_sample *sample);
void scale_care_tick(struct station *station, int64_t now_us);
void scale_care_zeroed(struct station *station);
/* Looks whether the daily check is due; once a minute, and after what changes it. */
void scale_care_look(struct station *station);
/* The smallest batch that half of the tolerance band is left for, over all systems; the
 * system that asks for most in *ret_system (NULL where there is none). */
double scale_care_smallest_g(const struct station *station, double noise_g,
                             const struct resin_system **ret_system, double *ret_tolerance_pct);

/* Whether masses may be believed: a calibration of this station's own holds, or the
 * driver weighs for itself (Modbus), or nothing real is weighed (simulated, replay). */
bool scale_care_calibrated(const struct station *station);
/* Whether nothing real is weighed. */
bool scale_care_unreal(const struct station *station);

/* calibrating.c: 0, or -errno with one sentence in why (ACTION_WHY_MAX). */
#define CALIBRATING_APPROVED_US INT64_C(900000000)
/* A keeper stands at the bench: for CALIBRATING_APPROVED_US anybody may begin a
 * calibration or enter a system. Not while a batch is open. */
int calibrating_approve(struct station *station, char *why);
bool calibrating_approved(const struct station *station);
/* Approved until now + the rest; 0 not. */
int64_t calibrating_approved_left_us(const struct station *station);
int calibrating_start(struct station *station, double degc, char *why);
int calibrating_press(struct station *station, double mass_g, char *why);
int calibrating_cancel(struct station *station, char *why);
void calibrating_sample(struct station *station, const struct weigher_sample *sample);
void calibrating_tick(struct station *station, int64_t now_us);
/* Whether another calibration may hold now. */
int calibrating_may_change(const struct station *station, char *why);
/* One known weight on the pan. 0 with *ret set, not yet stored. */
int calibrating_check(struct station *station, double nominal_g, const char *weight_class,
                      struct store_check *ret, char *why);

#endif
