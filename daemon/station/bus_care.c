/* SPDX-License-Identifier: MIT */
/* /org/ambo/scale: calibrating it, checking it, how it is. What changes the scale is the
 * keeper's alone. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus_inside.h"
#include "keeper.h"
#include "words/words_advice.h"

#define LIST_MAX 50

/* A call that waits for the store. */
struct care_job {
	struct bus_call *call;
	struct station *station;
	int64_t id;
	struct calibration_run run;
	double degc;
	struct store_calibration one, list[LIST_MAX];
	struct calibration_raw raw[CALIBRATION_RAW_MAX];
	struct store_check check;
	int n;
	int64_t result;
};

/* 0: go on; else the handler returns it: the call has been refused. */
static int keepers_only(struct bus *bus, sd_bus_message *message)
{
	if (bus_keepers_word(bus, message))
		return 0;
	bus_refuse(message, "NotKeeper",
	           "Only keepers may calibrate: members of the group " KEEPER_GROUP
	           ", and who holds the bench's foot switch for five seconds.");
	return 1;
}

bool bus_keepers_word(const struct bus *bus, sd_bus_message *message)
{
	return calibrating_approved(bus->station) ||
	       keeper_may(message, bus->station->config->system_bus) > 0;
}

static struct care_job *job_new(struct bus *bus, sd_bus_message *message)
{
	struct care_job *job = calloc(1, sizeof(*job));

	if (job == NULL) {
		bus_refuse(message, "Busy", "There is no memory left: close something.");
		return NULL;
	}
	job->station = bus->station;
	job->call = bus_call_keep(bus, message);
	if (job->call == NULL) {
		free(job);
		return NULL;
	}
	return job;
}

static void job_free(struct care_job *job)
{
	bus_call_drop(job->call);
	free(job);
}

static void submit(struct care_job *job, void (*run)(struct store *, void *), void (*done)(void *))
{
	if (bus_to_store(job->call, run, done, job))
		return;
	job->station->care.storing = false;
	job_free(job);
}

static bool failed(struct care_job *job)
{
	if (job->result >= 0)
		return false;
	if (job->result == -ENOENT)
		bus_refuse(job->call->message, "NotFound", "There is no calibration %lld.",
		           (long long)job->id);
	else
		bus_refuse(job->call->message, "StoreFailed", "It is not stored: %s; %s.",
		           store_reason((int)job->result), store_remedy((int)job->result));
	return true;
}

static int refused(sd_bus_message *message, int r, const char *why)
{
	return bus_refuse(message, bus_error_name(r), "%s", why);
}

static int take_degc(sd_bus_message *message, double *ret, char *why)
{
	const struct dict_key keys[] = {{"Celsius", ret, -40.0, 85.0, NULL, 0}};

	*ret = NAN;
	return dict_take(message, keys, 1, why);
}

int bus_approve(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[ACTION_WHY_MAX];
	int r;

	(void)error;
	/* Not by an approval that holds: it would never end. */
	if (keeper_may(message, bus->station->config->system_bus) <= 0)
		return bus_refuse(message, "NotKeeper",
		                  "Only keepers may approve: members of the group " KEEPER_GROUP
		                  ".");
	r = calibrating_approve(bus->station, why);
	return r < 0 ? refused(message, r, why) : sd_bus_reply_method_return(message, "");
}

int bus_start_calibration(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[ACTION_WHY_MAX] = "";
	double degc;
	int r;

	(void)error;
	if (keepers_only(bus, message) != 0)
		return 1;
	r = take_degc(message, &degc, why);
	if (r < 0)
		return why[0] != '\0' ? bus_refuse(message, "BadRequest", "%s", why) : r;
	r = calibrating_start(bus->station, degc, why);
	if (r < 0)
		return refused(message, r, why);
	bus_touch(bus);
	return sd_bus_reply_method_return(message, "");
}

int bus_calibration_next(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[ACTION_WHY_MAX];
	double mass_g;
	int r;

	(void)error;
	if (keepers_only(bus, message) != 0)
		return 1;
	r = sd_bus_message_read(message, "d", &mass_g);
	if (r < 0)
		return r;
	r = calibrating_press(bus->station, mass_g, why);
	bus_touch(bus);
	return r < 0 ? refused(message, r, why) : sd_bus_reply_method_return(message, "");
}

int bus_cancel_calibration(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[ACTION_WHY_MAX];
	int r;

	(void)error;
	if (keepers_only(bus, message) != 0)
		return 1;
	r = calibrating_cancel(bus->station, why);
	bus_touch(bus);
	return r < 0 ? refused(message, r, why) : sd_bus_reply_method_return(message, "");
}

/* What was stored holds now. The zero begins at 0 with it: the store knows that too. */
static void holds_now(struct care_job *job)
{
	struct station *station = job->station;
	const int r = scale_care_apply(station, job->id != 0 ? &job->one : NULL);

	station->care.storing = false;
	if (r < 0) {
		bus_refuse(job->call->message, "Refused",
		           "This calibration cannot weigh up to %.10g g: the one before holds.",
		           station->config->weigher.max_g);
		return;
	}
	scale_care_look(station);
	sd_bus_reply_method_return(job->call->message, "x", job->id);
	bus_touch(station->bus);
}

static void accept_run(struct store *store, void *context)
{
	struct care_job *job = context;
	struct store_stamp stamp;

	store_stamp_now(&stamp);
	job->result = store_add_calibration(store, &job->run, job->station->config->driver->name,
	                                    job->degc, &stamp);
	if (job->result < 0)
		return;
	job->id = job->result;
	(void)store_set_number(store, "zero_g", 0.0);
	job->result = store_get_calibration(store, job->id, &job->one);
}

static void accept_done(void *context)
{
	struct care_job *job = context;
	struct scale_care *care = &job->station->care;
	char why[ACTION_WHY_MAX];

	if (failed(job)) {
		care->storing = false;
	} else {
		holds_now(job);
		(void)calibrating_cancel(job->station, why); /* it has done its work */
	}
	job_free(job);
}

int bus_accept_calibration(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct scale_care *care = &bus->station->care;
	char why[ACTION_WHY_MAX];
	struct care_job *job;
	int r;

	(void)error;
	if (keepers_only(bus, message) != 0)
		return 1;
	r = calibrating_may_change(bus->station, why);
	if (r < 0)
		return refused(message, r, why);
	if (!care->calibrating || care->run.step != CALIBRATION_DONE)
		return bus_refuse(message, "NotNow", "No calibration is ready to be accepted.");
	job = job_new(bus, message);
	if (job == NULL)
		return 1;
	job->run = care->run;
	job->degc = care->degc;
	care->storing = true;
	submit(job, accept_run, accept_done);
	return 1;
}

/* Judged before it is chosen: one that cannot hold must not be what the next start finds. */
static void use_run(struct store *store, void *context)
{
	struct care_job *job = context;
	const struct station *station = job->station;
	struct store_stamp stamp;

	if (job->id != 0) {
		job->result = store_get_calibration(store, job->id, &job->one);
		if (job->result < 0)
			return;
		if (strcmp(job->one.driver, station->config->driver->name) != 0 ||
		    calibration_check(&job->one.calibration, station->config->weigher.max_g) < 0) {
			job->n = -1;
			return;
		}
	}
	store_stamp_now(&stamp);
	job->result = store_use_calibration(store, job->id, &stamp);
	if (job->result >= 0)
		(void)store_set_number(store, "zero_g", 0.0);
}

static void use_done(void *context)
{
	struct care_job *job = context;

	if (failed(job)) {
		job->station->care.storing = false;
	} else if (job->n < 0) {
		job->station->care.storing = false;
		bus_refuse(job->call->message, "Refused",
		           "Calibration %lld is of another scale (driver %s): it cannot hold here.",
		           (long long)job->id, job->one.driver);
	} else {
		job->one.active = true;
		holds_now(job);
	}
	job_free(job);
}

int bus_use_calibration(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[ACTION_WHY_MAX];
	struct care_job *job;
	int64_t id;
	int r;

	(void)error;
	if (keepers_only(bus, message) != 0)
		return 1;
	r = sd_bus_message_read(message, "x", &id);
	if (r < 0)
		return r;
	r = calibrating_may_change(bus->station, why);
	if (r < 0)
		return refused(message, r, why);
	if (bus->station->care.calibrating)
		return bus_refuse(message, "Busy",
		                  "A calibration is under way: finish or cancel it.");
	job = job_new(bus, message);
	if (job == NULL)
		return 1;
	job->id = id;
	bus->station->care.storing = true;
	submit(job, use_run, use_done);
	return 1;
}

static void list_run(struct store *store, void *context)
{
	struct care_job *job = context;

	job->result = job->n = store_calibrations(store, job->list, LIST_MAX);
}

static void put_calibration(sd_bus_message *reply, const struct store_calibration *row)
{
	dict_put_whole(reply, "Id", row->id);
	dict_put_bool(reply, "Active", row->active);
	dict_put_whole(reply, "RealtimeMicroseconds", row->stamp.realtime_us);
	dict_put_bool(reply, "Synchronised", row->stamp.synchronised);
	dict_put_text(reply, "Driver", row->driver);
	dict_put_double(reply, "Celsius", row->degc);
	dict_put_whole(reply, "Degree", row->calibration.degree);
	dict_put_double(reply, "CountsPerGram", 1.0 / row->calibration.g_per_count);
	dict_put_double(reply, "ZeroCounts", row->calibration.zero_counts);
	dict_put_double(reply, "ResidualGrams", row->calibration.residual_sd_g);
	dict_put_double(reply, "GreatestLoadGrams", row->greatest_g);
	dict_put_double(reply, "HysteresisGrams", row->hysteresis_g);
	dict_put_double(reply, "RepeatabilityGrams", row->repeat_sd_g);
	dict_put_double(reply, "OffCentreGrams", row->off_centre_g);
	dict_put_double(reply, "DriftGrams", row->drift_g);
	dict_put_whole(reply, "Readings", row->n_readings);
}

static void list_done(void *context)
{
	struct care_job *job = context;
	sd_bus_message *reply = NULL;

	if (!failed(job) && bus_rows_begin(job->call->message, &reply) >= 0) {
		for (int i = 0; i < job->n; i++) {
			dict_begin(reply);
			put_calibration(reply, &job->list[i]);
			dict_end(reply);
		}
		bus_rows_end(reply, 0);
	}
	job_free(job);
}

int bus_calibrations(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct care_job *job = job_new(context, message);

	(void)error;
	if (job != NULL)
		submit(job, list_run, list_done);
	return 1;
}

static void readings_run(struct store *store, void *context)
{
	struct care_job *job = context;

	job->result = store_get_calibration(store, job->id, &job->one);
	if (job->result >= 0)
		job->result = job->n = store_calibration_readings(store, job->id, job->raw);
}

static void readings_done(void *context)
{
	struct care_job *job = context;
	sd_bus_message *reply = NULL;

	if (!failed(job) && bus_rows_begin(job->call->message, &reply) >= 0) {
		for (int i = 0; i < job->n; i++) {
			const struct calibration_raw *raw = &job->raw[i];

			dict_begin(reply);
			dict_put_text(reply, "Kind", calibration_raw_name(raw->kind));
			dict_put_whole(reply, "TimeMicroseconds", raw->t_us);
			dict_put_double(reply, "MassGrams", raw->mass_g);
			dict_put_double(reply, "Counts", raw->counts);
			dict_put_double(reply, "DoubtCounts", raw->sd_counts);
			if (raw->kind == RAW_PLACE)
				dict_put_whole(reply, "Place", raw->place);
			dict_end(reply);
		}
		bus_rows_end(reply, 0);
	}
	job_free(job);
}

int bus_calibration_readings(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct care_job *job;
	int64_t id;
	int r = sd_bus_message_read(message, "x", &id);

	(void)error;
	if (r < 0)
		return r;
	job = job_new(context, message);
	if (job == NULL)
		return 1;
	job->id = id;
	submit(job, readings_run, readings_done);
	return 1;
}

static void check_run(struct store *store, void *context)
{
	struct care_job *job = context;

	store_stamp_now(&job->check.stamp);
	job->result = store_add_check(store, &job->check);
}

static void check_done(void *context)
{
	struct care_job *job = context;
	const struct daily_check *check = &job->check.check;
	struct advice said = {.value = check->error_g, .other = check->limit_g};
	char sentence[WORDS_SENTENCE_MAX];

	if (!failed(job)) {
		job->check.id = job->result;
		job->station->care.check = job->check;
		job->station->care.has_check = true;
		scale_care_look(job->station);
		said.id = check->verdict == CHECK_PASSED   ? ADVICE_CHECK_PASSED
		          : check->verdict == CHECK_FAILED ? ADVICE_CHECK_FAILED
		                                           : ADVICE_CHECK_CANNOT_TELL;
		words_advice(&said, sentence, sizeof(sentence));
		sd_bus_reply_method_return(job->call->message, "sdds",
		                           check_verdict_name(check->verdict), check->error_g,
		                           check->limit_g, sentence);
		bus_touch(job->station->bus);
	}
	job_free(job);
}

int bus_check(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[ACTION_WHY_MAX];
	struct store_check check;
	struct care_job *job;
	const char *weight;
	double mass_g;
	int r;

	(void)error;
	r = sd_bus_message_read(message, "ds", &mass_g, &weight);
	if (r < 0)
		return r;
	r = calibrating_check(bus->station, mass_g, weight, &check, why);
	if (r < 0)
		return bus_refuse(message, r == -EAGAIN ? "NotSettled" : bus_error_name(r), "%s",
		                  why);
	job = job_new(bus, message);
	if (job == NULL)
		return 1;
	job->check = check;
	submit(job, check_run, check_done);
	return 1;
}

static void put_advice(sd_bus_message *reply, const struct advice *advice)
{
	char sentence[WORDS_SENTENCE_MAX];

	words_advice(advice, sentence, sizeof(sentence));
	dict_put_text(reply, "Id", advice_name(advice->id));
	dict_put_text(reply, "Sentence", sentence);
}

/* "KEY": aa{sv} of Id and Sentence. */
static void put_advices(sd_bus_message *reply, const char *key, const struct advice *advices,
                        size_t n)
{
	sd_bus_message_open_container(reply, 'e', "sv");
	sd_bus_message_append(reply, "s", key);
	sd_bus_message_open_container(reply, 'v', "aa{sv}");
	sd_bus_message_open_container(reply, 'a', "a{sv}");
	for (size_t i = 0; i < n; i++) {
		dict_begin(reply);
		put_advice(reply, &advices[i]);
		dict_end(reply);
	}
	sd_bus_message_close_container(reply);
	sd_bus_message_close_container(reply);
	sd_bus_message_close_container(reply);
}

static void put_result(sd_bus_message *reply, const struct calibration_result *result)
{
	static const char *const places[] = {"FrontGrams", "RightGrams", "BackGrams", "LeftGrams"};

	dict_put_whole(reply, "Degree", result->calibration.degree);
	dict_put_double(reply, "CountsPerGram", 1.0 / result->calibration.g_per_count);
	dict_put_double(reply, "ZeroCounts", result->calibration.zero_counts);
	dict_put_double(reply, "ResidualGrams", result->calibration.residual_sd_g);
	dict_put_double(reply, "GreatestResidualGrams", result->report.greatest_residual_g);
	dict_put_double(reply, "HysteresisGrams", result->report.hysteresis_g);
	dict_put_double(reply, "RepeatabilityGrams", result->repeat_sd_g);
	dict_put_double(reply, "RepeatSpreadGrams", result->repeat_spread_g);
	dict_put_double(reply, "DriftGrams", result->drift_g);
	dict_put_double(reply, "LimitGrams", result->limit_g);
	dict_put_double(reply, "SpanChangePercent", result->span_change_pct);
	for (size_t i = 0; i < CALIBRATION_PLACES; i++)
		dict_put_double(reply, places[i], result->off_centre_g[i]);
	put_advices(reply, "Notes", result->notes, result->n_notes);
}

int bus_get_calibration(sd_bus *connection, const char *path, const char *interface,
                        const char *property, sd_bus_message *reply, void *context,
                        sd_bus_error *error)
{
	const struct bus *bus = context;
	const struct station *station = bus->station;
	const struct scale_care *care = &station->care;
	const struct calibration_run *run = &care->run;
	char sentence[WORDS_SENTENCE_MAX];
	int r = dict_begin(reply);

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	if (r < 0)
		return r;
	dict_put_whole(reply, "ActiveId", care->holds.id);
	dict_put_bool(reply, "Calibrated", scale_care_calibrated(station));
	if (calibrating_approved_left_us(station) > 0)
		dict_put_double(reply, "ApprovedSeconds",
		                (double)calibrating_approved_left_us(station) * 1e-6);
	dict_put_bool(reply, "UnderWay", care->calibrating);
	if (care->calibrating) {
		words_advice(&run->say, sentence, sizeof(sentence));
		dict_put_text(reply, "Step", calibration_step_name(run->step));
		dict_put_text(reply, "Message", advice_name(run->say.id));
		dict_put_text(reply, "Sentence", sentence);
		dict_put_double(reply, "Value", run->say.value);
		dict_put_double(reply, "Other", run->say.other);
		dict_put_whole(reply, "Count", run->say.count);
		dict_put_whole(reply, "Of", run->say.of);
		dict_put_whole(reply, "Taken", (int64_t)run->n_raw);
		dict_put_whole(reply, "Loads", (int64_t)run->n_loads);
		dict_put_bool(reply, "Settled", run->now.settled);
		dict_put_bool(reply, "Warm", run->now.warm);
		dict_put_double(reply, "Counts", run->now.counts);
		if (run->step == CALIBRATION_DONE)
			put_result(reply, &run->result);
	}
	return dict_end(reply);
}

static void put_check(sd_bus_message *reply, const struct scale_care *care)
{
	if (!care->has_check)
		return;
	dict_put_text(reply, "CheckVerdict", check_verdict_name(care->check.check.verdict));
	dict_put_double(reply, "CheckErrorGrams", care->check.check.error_g);
	dict_put_double(reply, "CheckLimitGrams", care->check.check.limit_g);
	dict_put_whole(reply, "CheckRealtimeMicroseconds", care->check.stamp.realtime_us);
}

static void put_smallest(sd_bus_message *reply, const struct station *station, double noise_g)
{
	const struct resin_system *system;
	double tolerance_pct;
	const double total_g = scale_care_smallest_g(station, noise_g, &system, &tolerance_pct);

	dict_put_double(reply, "SmallestBatchGrams", total_g);
	dict_put_double(reply, "SmallestBatchTolerancePercent", tolerance_pct);
	if (system != NULL)
		dict_put_text(reply, "SmallestBatchSystem", system->id);
}

/* What the driver has seen on its wires. */
static void put_counters(sd_bus_message *reply, const struct station *station)
{
	struct scale_count counts[SCALE_COUNTS_MAX];
	const size_t n =
	        station->acquisition != NULL ? acquisition_counts(station->acquisition, counts) : 0;

	sd_bus_message_open_container(reply, 'e', "sv");
	sd_bus_message_append(reply, "s", "Counters");
	sd_bus_message_open_container(reply, 'v', "a{sv}");
	dict_begin(reply);
	for (size_t i = 0; i < n; i++)
		dict_put_whole(reply, counts[i].name, (int64_t)counts[i].n);
	dict_end(reply);
	sd_bus_message_close_container(reply);
	sd_bus_message_close_container(reply);
}

/* A load cell is made to hold its span over this; beyond, it wants to be looked at (common
 * practice, no source). */
#define TEMPERATURE_STEP_K 10.0

static struct advice warmth_of(const struct station *station)
{
	const double now_degc = sensed_air_degc(station), then_degc = station->care.holds.degc;

	/* NaN, not known, is no difference. */
	if (station->care.holds.id == 0 || !(fabs(now_degc - then_degc) > TEMPERATURE_STEP_K))
		return (struct advice){.id = ADVICE_NONE};
	return (struct advice){
	        .id = ADVICE_TEMPERATURE_CHANGED, .value = now_degc, .other = then_degc};
}

static size_t add_finding(struct advice *findings, size_t n, const struct advice *more)
{
	if (more->id == ADVICE_NONE)
		return n;
	if (findings[0].id == ADVICE_WELL)
		n = 0;
	findings[n] = *more;
	return n + 1;
}

int bus_get_health(sd_bus *connection, const char *path, const char *interface,
                   const char *property, sd_bus_message *reply, void *context, sd_bus_error *error)
{
	const struct bus *bus = context;
	const struct station *station = bus->station;
	const struct scale_care *care = &station->care;
	const struct advice guess = {.id = ADVICE_NOT_CALIBRATED};
	struct advice findings[HEALTH_FINDINGS_MAX + 3];
	const struct advice warmth = warmth_of(station);
	struct store_stamp stamp;
	struct health_view view;
	size_t n;
	int r = dict_begin(reply);

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	if (r < 0)
		return r;
	health_look(&care->health, &view);
	dict_put_double(reply, "ExpectedNoiseGrams", view.expected_noise_g);
	if ((view.has & HEALTH_HAS_NOISE) != 0)
		dict_put_double(reply, "NoiseGrams", view.noise_g);
	if ((view.has & HEALTH_HAS_DRIFT) != 0) {
		dict_put_double(reply, "ZeroDriftGrams", view.drift_g);
		dict_put_double(reply, "ZeroDriftSeconds", view.drift_s);
	}
	if ((view.has & HEALTH_HAS_CORRUPT) != 0)
		dict_put_double(reply, "CorruptPerThousand", view.corrupt_per_1000);
	if ((view.has & HEALTH_HAS_RATE) != 0)
		dict_put_double(reply, "SamplesPerSecond", view.rate_hz);
	if (view.hum_hz > 0.0) {
		dict_put_double(reply, "HumHertz", view.hum_hz);
		dict_put_double(reply, "HumGrams", view.hum_g);
	}
	dict_put_double(reply, "Celsius", sensed_air_degc(station));
	dict_put_double(reply, "HumidityPercent",
	                sensing_or_nan(station->sensing, SENSING_AIR_PCT));
	dict_put_double(reply, "ResinCelsius",
	                sensing_or_nan(station->sensing, SENSING_RESIN_DEGC));
	if (care->holds.id != 0)
		dict_put_double(reply, "CalibrationCelsius", care->holds.degc);
	dict_put_bool(reply, "Warm", view.warm);
	store_stamp_now(&stamp);
	dict_put_bool(reply, "ClockSynchronised", stamp.synchronised);
	dict_put_whole(reply, "CalibrationId", care->holds.id);
	if (care->holds.id != 0)
		dict_put_whole(reply, "CalibrationRealtimeMicroseconds",
		               care->holds.stamp.realtime_us);
	put_check(reply, care);
	/* What is measured, where it is worse than what was hoped for. */
	put_smallest(reply, station,
	             (view.has & HEALTH_HAS_NOISE) != 0
	                     ? fmax(view.noise_g, station->config->weigher.noise_g)
	                     : station->config->weigher.noise_g);
	put_counters(reply, station);
	n = health_findings(&care->health.setup, &view, findings);
	if (!scale_care_calibrated(station))
		n = add_finding(findings, n, &guess);
	n = add_finding(findings, n, &care->due);
	n = add_finding(findings, n, &warmth);
	put_advices(reply, "Findings", findings, n);
	return dict_end(reply);
}
