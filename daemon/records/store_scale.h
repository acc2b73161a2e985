/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_STORE_SCALE_H
#define AMBO_RECORDS_STORE_SCALE_H

#include "daemon/weighing/calibration_run.h"
#include "daemon/weighing/daily_check.h"
#include "store.h"

/* The scale's own history: every calibration that was accepted, with its readings;
 * which of them holds; every daily check. Nothing of it is ever changed. */

#define STORE_DRIVER_MAX 32u

struct store_calibration {
	int64_t id; /* 0: the configuration's, never stored */
	struct store_stamp stamp;
	char driver[STORE_DRIVER_MAX];
	double degc; /* NaN: not known */
	struct calibration calibration;
	double greatest_g, hysteresis_g, repeat_sd_g, off_centre_g, drift_g;
	int n_readings;
	bool active; /* it holds now */
};

/* A run in CALIBRATION_DONE, with all its readings; it holds from now on. Returns its
 * id, > 0. -EINVAL for a run that is not done. One transaction. */
int64_t store_add_calibration(struct store *store, const struct calibration_run *run,
                              const char *driver, double degc, const struct store_stamp *stamp);
/* That one holds from now on; 0: the configuration's. -ENOENT. */
int store_use_calibration(struct store *store, int64_t id, const struct store_stamp *stamp);
/* The one that holds; -ENOENT when it is the configuration's. */
int store_active_calibration(struct store *store, struct store_calibration *ret);
/* -ENOENT */
int store_get_calibration(struct store *store, int64_t id, struct store_calibration *ret);
/* Newest first, at most max; returns how many. */
int store_calibrations(struct store *store, struct store_calibration *ret, int max);
/* Its readings in the order they were taken, at most CALIBRATION_RAW_MAX; returns how
 * many, 0 for a calibration that is not there. */
int store_calibration_readings(struct store *store, int64_t id, struct calibration_raw *ret);

struct store_check {
	int64_t id;
	struct store_stamp stamp;
	char driver[STORE_DRIVER_MAX];
	int64_t calibration_id; /* that held; 0: the configuration's */
	double degc;            /* NaN: not known */
	struct daily_check check;
};

/* Returns its id, > 0; check->id is not read. */
int64_t store_add_check(struct store *store, const struct store_check *check);
/* The newest; -ENOENT. Of ret->check, accuracy is not kept. */
int store_last_check(struct store *store, struct store_check *ret);

#endif
