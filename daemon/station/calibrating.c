/* SPDX-License-Identifier: MIT */
/* A calibration under way: the run of daemon/weighing, fed by the station. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "bus.h"
#include "scale_care.h"
#include "station.h"
#include "words/words_advice.h"

int calibrating_may_change(const struct station *station, char *why)
{
	if (station->care.storing) {
		snprintf(why, ACTION_WHY_MAX, "A calibration is being stored just now: wait.");
		return -EBUSY;
	}
	if (batches_count_open(&station->batches) > 0 || batches_waiting(&station->batches) ||
	    station->n_resume > 0) {
		snprintf(why, ACTION_WHY_MAX,
		         "A batch is open: its masses hang on the calibration; finish it first.");
		return -EBUSY;
	}
	return 0;
}

int64_t calibrating_approved_left_us(const struct station *station)
{
	const int64_t left_us = station->care.approved_us - station_clock_us();

	return station->care.approved_us > 0 && left_us > 0 ? left_us : 0;
}

bool calibrating_approved(const struct station *station)
{
	return calibrating_approved_left_us(station) > 0 ||
	       (station->care.calibrating && station->care.approved_run);
}

int calibrating_approve(struct station *station, char *why)
{
	const int r = calibrating_may_change(station, why);

	if (r < 0)
		return r;
	station->care.approved_us = station_clock_us() + CALIBRATING_APPROVED_US;
	station->care.changes++;
	if (station->bus != NULL)
		bus_touch(station->bus);
	return 0;
}

int calibrating_start(struct station *station, double degc, char *why)
{
	struct scale_care *care = &station->care;
	/* What was configured is what is expected: also after a calibration. */
	struct weigher_config config = station->configured->weigher;
	const struct calibration_setup setup = {
	        .max_g = config.max_g,
	        .interval_g = config.interval_g,
	        .expected_counts_per_g = 1.0 / config.calibration.g_per_count,
	        .expected_rate_hz = config.rate_hz,
	};
	int r = calibrating_may_change(station, why);

	if (r < 0)
		return r;
	if (care->calibrating) {
		snprintf(why, ACTION_WHY_MAX, "A calibration is under way: finish or cancel it.");
		return -EBUSY;
	}
	config.calibration =
	        (struct calibration){.degree = 1, .g_per_count = 1.0 / setup.expected_counts_per_g};
	config.calibration.zero_counts = station->configured->weigher.calibration.zero_counts;
	config.zero_tracking = false;
	config.noise_g = 0.0; /* learnt: at twice the gain it is another */
	r = calibration_run_begin(&setup, &care->run);
	if (r >= 0)
		r = weigher_new(&config, &care->raw);
	if (r < 0) {
		snprintf(why, ACTION_WHY_MAX, "A calibration cannot begin now (%s).", strerror(-r));
		return r;
	}
	care->approved_run = calibrating_approved(station);
	care->calibrating = true;
	care->degc = isnan(degc) ? sensed_air_degc(station) : degc;
	care->changes++;
	return 0;
}

static void end(struct scale_care *care)
{
	weigher_free(care->raw);
	care->raw = NULL;
	care->calibrating = false;
	care->changes++;
}

int calibrating_cancel(struct station *station, char *why)
{
	struct scale_care *care = &station->care;

	if (!care->calibrating || care->storing) {
		snprintf(why, ACTION_WHY_MAX, "No calibration is under way.");
		return -EAGAIN;
	}
	end(care);
	return 0;
}

int calibrating_press(struct station *station, double mass_g, char *why)
{
	struct scale_care *care = &station->care;
	const struct calibration_event event = {.kind = CALIBRATION_PRESS, .mass_g = mass_g};
	int r;

	if (!care->calibrating || care->storing) {
		snprintf(why, ACTION_WHY_MAX, "No calibration is under way: start one.");
		return -EAGAIN;
	}
	r = calibration_run_next(&care->run, &event, &care->run);
	care->changes++;
	if (r < 0)
		words_advice(&care->run.say, why, ACTION_WHY_MAX);
	return r < 0 ? r : 0;
}

static struct calibration_reading reading_of(const struct station *station,
                                             const struct reading *reading, int64_t t_us)
{
	const struct calibration *nominal = &station->configured->weigher.calibration;
	struct health_view health;

	health_look(&station->care.health, &health);
	return (struct calibration_reading){
	        .t_us = t_us,
	        .settled = reading->known && reading->state == READING_SETTLED,
	        .rail = reading->state == READING_FAULT && !reading->silent,
	        .warm = reading->warm,
	        .counts = nominal->zero_counts + reading->gross_g / nominal->g_per_count,
	        .sd_counts = reading->sd_g / nominal->g_per_count,
	        .still_since_us = reading->still_since_us,
	        .rate_hz = health.rate_hz,
	        .corrupt_per_1000 = health.corrupt_per_1000,
	        .hum_hz = health.hum_hz,
	        .hum_counts = health.hum_g / station->config->weigher.calibration.g_per_count,
	};
}

static void feed(struct station *station, const struct reading *reading, int64_t t_us)
{
	struct scale_care *care = &station->care;
	const struct calibration_event event = {.kind = CALIBRATION_READING,
	                                        .reading = reading_of(station, reading, t_us)};
	const bool was_settled = care->run.now.settled;

	if (calibration_run_next(&care->run, &event, &care->run) != 0 ||
	    was_settled != care->run.now.settled)
		care->changes++;
}

void calibrating_sample(struct station *station, const struct weigher_sample *sample)
{
	struct reading reading;

	weigher_feed(station->care.raw, sample, &reading);
	feed(station, &reading, sample->t_us);
}

void calibrating_tick(struct station *station, int64_t now_us)
{
	struct reading reading;

	if (weigher_tick(station->care.raw, now_us, &reading))
		feed(station, &reading, now_us);
}

static int not_judged(int r, double nominal_g, double indicated_g, const struct daily_check *check,
                      char *why)
{
	struct advice advice = {.id = ADVICE_WEIGHT_UNKNOWN, .value = nominal_g};

	if (r == -ERANGE)
		advice = (struct advice){.id = ADVICE_WEIGHT_TOO_COARSE,
		                         .value = check->tolerance_g,
		                         .other = check->limit_g / 3.0};
	else if (r == -EDOM)
		advice = (struct advice){.id = daily_check_suspect(nominal_g, indicated_g),
		                         .value = indicated_g,
		                         .other = nominal_g};
	words_advice(&advice, why, ACTION_WHY_MAX);
	return r == -EDOM ? -EAGAIN : -EINVAL;
}

int calibrating_check(struct station *station, double nominal_g, const char *weight_class,
                      struct store_check *ret, char *why)
{
	const struct weigher_config *weigher = &station->config->weigher;
	const int weight = weight_class_from_name(weight_class);
	const struct reading *reading = &station->reading;
	int r;

	if (weight < 0) {
		snprintf(why, ACTION_WHY_MAX,
		         "\"%.20s\" is no class of weights; expected E1, E2, F1, F2, M1, M2 or M3.",
		         weight_class);
		return -EINVAL;
	}
	if (station->care.calibrating || batches_pan(&station->batches) != NULL) {
		snprintf(why, ACTION_WHY_MAX, "%s has the pan: finish it first.",
		         station->care.calibrating ? "A calibration" : "A batch");
		return -EBUSY;
	}
	if (!station->has_reading || reading->state != READING_SETTLED || reading->overload ||
	    station->ended) {
		snprintf(why, ACTION_WHY_MAX, "The pan is not settled: wait until it is.");
		return -EAGAIN;
	}
	*ret = (struct store_check){.calibration_id = station->care.holds.id,
	                            .degc = sensed_air_degc(station)};
	snprintf(ret->driver, sizeof(ret->driver), "%s", station->config->driver->name);
	r = daily_check_judge(weigher->max_g, weigher->interval_g, nominal_g,
	                      (enum weight_class)weight, reading->gross_g, &ret->check);
	return r < 0 ? not_judged(r, nominal_g, reading->gross_g, &ret->check, why) : 0;
}
