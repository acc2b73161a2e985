/* SPDX-License-Identifier: MIT */
#include "scale_care.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "elapsed.h"
#include "station.h"

#define SMALLEST_ROUNDS 4 /* the doubt grows with the batch: settled after a few */

static void begin_health(struct station *station)
{
	const struct weigher_config *weigher = &station->config->weigher;
	const struct health_setup setup = {
	        .interval_g = weigher->interval_g,
	        .count_g = weigher->calibration.g_per_count,
	        .expected_noise_g =
	                weigher->noise_g > 0.0 ? weigher->noise_g : CONFIG_NOISE_DEFAULT_G,
	        .expected_rate_hz = weigher->rate_hz,
	};

	health_init(&station->care.health, &setup);
}

bool scale_care_unreal(const struct station *station)
{
	const char *driver = station->config->driver->name;

	return strcmp(driver, "simulated") == 0 || strcmp(driver, "replay") == 0;
}

bool scale_care_calibrated(const struct station *station)
{
	return station->care.holds.id != 0 || scale_care_unreal(station) ||
	       strcmp(station->config->driver->name, "modbus") == 0;
}

int scale_care_apply(struct station *station, const struct store_calibration *calibration)
{
	const struct station_config *read = station->configured;
	struct weigher_config config = read->weigher;
	struct weighing_doubt doubt = read->doubt;
	struct weigher *weigher;
	int r;

	if (calibration != NULL) {
		config.calibration = calibration->calibration;
		doubt.residual_sd_g = calibration->calibration.residual_sd_g;
		doubt.repeatability_sd_g = fmax(doubt.repeatability_sd_g, calibration->repeat_sd_g);
	}
	r = calibration_check(&config.calibration, config.max_g);
	if (r < 0)
		return r;
	r = weigher_new(&config, &weigher);
	if (r < 0)
		return r;
	weigher_free(station->weigher);
	station->weigher = weigher;
	station->effective.weigher = config;
	station->effective.doubt = doubt;
	station->has_reading = false; /* what was read is not of this calibration */
	station->reading = (struct reading){0};
	station->care.holds =
	        calibration != NULL ? *calibration : (struct store_calibration){.degc = NAN};
	station->care.changes++;
	begin_health(station);
	return 0;
}

/* The stored one stands over the configuration's, if it is of this scale. */
static int take_stored(struct station *station, const struct store_calibration *stored)
{
	const char *driver = station->config->driver->name;
	int r;

	if (strcmp(stored->driver, driver) != 0) {
		station_log("calibration %lld is of the driver %s, not of %s: the configuration's "
		            "is used",
		            (long long)stored->id, stored->driver, driver);
		return 0;
	}
	r = scale_care_apply(station, stored);
	if (r == -EINVAL || r == -ERANGE) {
		station_log("calibration %lld cannot weigh up to max_g, %.10g g: the "
		            "configuration's is used; calibrate again",
		            (long long)stored->id, station->config->weigher.max_g);
		return 0;
	}
	if (r >= 0)
		station_log("calibration %lld holds, not the configuration's: %.6g counts/g",
		            (long long)stored->id, 1.0 / stored->calibration.g_per_count);
	return r;
}

int scale_care_load(struct station *station, struct store *store)
{
	struct scale_care *care = &station->care;
	struct store_calibration stored;
	int r;

	care->holds = (struct store_calibration){.degc = NAN};
	begin_health(station);
	r = store_active_calibration(store, &stored);
	if (r >= 0)
		r = take_stored(station, &stored);
	if (r < 0 && r != -ENOENT)
		return r;
	r = store_last_check(store, &care->check);
	if (r < 0 && r != -ENOENT)
		return r;
	care->has_check = r >= 0;
	scale_care_look(station);
	return 0;
}

void scale_care_done(struct station *station)
{
	weigher_free(station->care.raw);
	station->care.raw = NULL;
}

/* Seconds since the newest check, the longest that can be argued for. */
static double check_age_s(const struct scale_care *care)
{
	struct store_stamp now;
	struct elapsed elapsed;

	store_stamp_now(&now);
	elapsed_between(&care->check.stamp, &now, &elapsed);
	return elapsed.known ? (double)elapsed.us / 1e6 : INFINITY;
}

void scale_care_look(struct station *station)
{
	struct scale_care *care = &station->care;
	const double interval_s = station->config->check_interval_h * 3600.0;
	/* A check of another driver or calibration says nothing of this one. */
	const bool mine = care->has_check &&
	                  strcmp(care->check.driver, station->config->driver->name) == 0 &&
	                  care->check.calibration_id == care->holds.id;
	const struct daily_check *check = &care->check.check;
	double age_s;

	care->due = (struct advice){.id = ADVICE_NONE};
	if (mine && check->verdict != CHECK_PASSED) {
		care->due = (struct advice){.id = check->verdict == CHECK_FAILED
		                                          ? ADVICE_CHECK_FAILED
		                                          : ADVICE_CHECK_CANNOT_TELL,
		                            .value = check->error_g,
		                            .other = check->limit_g};
		return;
	}
	if (interval_s <= 0.0)
		return;
	age_s = mine ? check_age_s(care) : INFINITY;
	if (age_s > interval_s)
		care->due = (struct advice){.id = ADVICE_CHECK_OVERDUE,
		                            .value = isfinite(age_s) ? age_s : (double)NAN};
}

void scale_care_sample(struct station *station, const struct weigher_sample *sample)
{
	struct scale_care *care = &station->care;
	const struct health_sample heard = {
	        .t_us = sample->t_us,
	        .counts = sample->counts,
	        .mass_g = calibration_mass_g(&station->config->weigher.calibration, sample->counts),
	        .rail = sample->rail ||
	                (station->reading.state == READING_FAULT && !station->reading.silent),
	        .corrupt = sample->corrupt,
	        .zero_g = weigher_zero_g(station->weigher),
	};

	if (!care->health.zeroed)
		health_zeroed(&care->health, heard.zero_g, sample->t_us);
	health_feed(&care->health, &heard, &station->reading);
	if (care->calibrating)
		calibrating_sample(station, sample);
}

void scale_care_tick(struct station *station, int64_t now_us)
{
	station->care.health.reading = station->reading;
	if (station->care.calibrating)
		calibrating_tick(station, now_us);
}

void scale_care_zeroed(struct station *station)
{
	health_zeroed(&station->care.health, weigher_zero_g(station->weigher),
	              station->timeline.now_us);
}

static double smallest_of(const struct station *station, double noise_g, double ratio,
                          double tolerance_pct)
{
	struct recipe_scale scale;
	double total_g = 0.0;

	for (int i = 0; i < SMALLEST_ROUNDS && isfinite(total_g); i++) {
		station_config_scale(station->config, noise_g, total_g, &scale);
		total_g = ratio_smallest_total_g(ratio, tolerance_pct, scale.u_reading_g);
	}
	return total_g;
}

double scale_care_smallest_g(const struct station *station, double noise_g,
                             const struct resin_system **ret_system, double *ret_tolerance_pct)
{
	const struct station_config *config = station->config;
	double most_g = 0.0;

	*ret_system = NULL;
	*ret_tolerance_pct = config->default_tolerance_pct;
	for (size_t i = 0; i < config->n_systems; i++) {
		const struct resin_system *system = &config->systems[i];
		const double tolerance_pct = system->tolerance_pct > 0.0
		                                     ? system->tolerance_pct
		                                     : config->default_tolerance_pct;
		const double total_g =
		        smallest_of(station, noise_g, system_ratio(system), tolerance_pct);

		if (total_g <= most_g)
			continue;
		most_g = total_g;
		*ret_system = system;
		*ret_tolerance_pct = tolerance_pct;
	}
	/* Without a system: two to one, as many are. */
	return *ret_system != NULL ? most_g
	                           : smallest_of(station, noise_g, 0.5, *ret_tolerance_pct);
}
