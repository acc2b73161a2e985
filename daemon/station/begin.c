/* SPDX-License-Identifier: MIT */
/* How a batch begins: the shelf and the last lots are looked up, the recipe is made
 * or refused, the batch is stored; then it is told. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "action_text.h"
#include "bus.h"
#include "cup_clock.h"
#include "daemon/casting/cup_life.h"
#include "keep.h"
#include "pieces.h"
#include "station.h"
#include "words/words_advice.h"

struct begin_job {
	struct station *station;
	struct batch *batch; /* the slot it will have, marked beginning */
	int64_t parent_id, base_us;
	bool has_base; /* base_us is: the clock is another batch's, or was kept */
	bool played;   /* from a presses file: it has its time, and its working life */
	struct begin_request request;
	struct resin_system system;
	struct recipe_scale scale;
	double zero_g, sensed_degc;  /* of the resin, for a request that tells none */
	double room_degc;            /* NaN: not known */
	char today[SYSTEM_DATE_MAX]; /* "" where the clock is not to be trusted */
	struct guide guide;
	bool made; /* guide is: a divided batch */
	struct message warning, lot_warning, why;
	int result;
	const char *error;
	int64_t id;
	begin_done *done;
	void *context;
};

static void answer(begin_done *done, void *context, int result, const char *error,
                   const char *sentence)
{
	struct begin_answer answer = {.result = result, .error = error};

	snprintf(answer.sentence, sizeof(answer.sentence), "%s", sentence);
	done(context, &answer);
}

/* A slot on a free pan, or a refusal through done. */
static struct batch *reserve(struct station *station, begin_done *done, void *context)
{
	struct batch *pan = batches_pan(&station->batches), *batch;
	char why[160];

	if (station->care.calibrating || station->care.storing) {
		answer(done, context, -EBUSY, "PanTaken",
		       "A calibration has the pan: finish or cancel it first.");
		return NULL;
	}
	if (pan != NULL) {
		snprintf(why, sizeof(why), "Batch %lld has the pan: %s.", (long long)pan->id,
		         guide_reads_pan(&pan->commit.committed)
		                 ? "leave it empty for a moment, its verdict needs that"
		                 : "finish or discard it first");
		answer(done, context, -EBUSY, "PanTaken", why);
		return NULL;
	}
	batch = batches_reserve(&station->batches);
	if (batch == NULL) {
		snprintf(why, sizeof(why), "%u batches are open: finish or discard one first.",
		         BATCHES_MAX);
		answer(done, context, -EBUSY, "TooManyBatches", why);
		return NULL;
	}
	batch->beginning = true;
	return batch;
}

/* On the store thread: what the last batch of this system used. */
static void look_up(struct store *store, struct begin_job *job)
{
	char lots[2][SYSTEM_LABEL_MAX] = {"", ""};
	const char *const last[2] = {lots[0], lots[1]};

	for (int part = PART_A; part <= PART_B; part++) {
		struct system_part *of = &job->system.part[part];
		double gross_g;

		(void)store_last_lot(store, job->system.id, (enum part)part, lots[part]);
		if (of->lot[0] != '\0' &&
		    store_get_shelf(store, job->system.id, (enum part)part, of->lot, &gross_g) >= 0)
			of->bottle_gross_g = gross_g;
	}
	recipe_lot_changed(&job->system, last, &job->lot_warning);
}

static int find_system(struct begin_job *job)
{
	const struct resin_system *system =
	        station_config_system(job->station->config, job->request.system_id);

	if (system == NULL)
		return -ENOENT;
	job->system = *system;
	if (job->station->config->demo[system - job->station->config->systems] &&
	    !scale_care_unreal(job->station))
		return -EPERM;
	return 0;
}

static int make(struct begin_job *job, struct recipe *ret)
{
	return recipe_make(&job->system, &job->request.recipe, &job->scale,
	                   job->today[0] != '\0' ? job->today : NULL, ret, &job->why,
	                   &job->warning);
}

/* Whether the model has the cup gel before the label's working life is over: then that is
 * what the batch is asked with. The station's systems do not change while it runs. */
static bool shorter_life(struct begin_job *job, const struct recipe *recipe)
{
	const struct casting_system *system =
	        pieces_system(job->station->pieces, recipe->system.id);
	double mass_g[3] = {0.0, 0.0, 0.0}, life_s; /* A, B, the rest */

	if (system == NULL || job->played || job->request.recipe.life_max_s > 0.0)
		return false;
	for (uint32_t i = 0; i < recipe->n_charges; i++)
		mass_g[recipe->charge[i].component == COMPONENT_A   ? 0
		       : recipe->charge[i].component == COMPONENT_B ? 1
		                                                    : 2] +=
		        recipe->charge[i].target_g;
	life_s = cup_life_s(system, mass_g[0], mass_g[1], mass_g[2], job->request.recipe.resin_degc,
	                    job->room_degc);
	if (!(life_s < recipe->working_life_s - 1.0)) /* also for NaN */
		return false;
	job->request.recipe.life_max_s = life_s;
	return true;
}

static void begin_run(struct store *store, void *context)
{
	struct begin_job *job = context;
	struct store_stamp stamp;
	struct recipe recipe;

	if (!job->made) {
		if (isnan(job->request.recipe.resin_degc))
			job->request.recipe.resin_degc = job->sensed_degc;
		/* The configuration does not change while the daemon runs. */
		job->result = find_system(job);
		if (job->result < 0) {
			job->error = job->result == -EPERM ? "DemoSystem" : "UnknownSystem";
			return;
		}
		look_up(store, job);
		job->result = make(job, &recipe);
		if (job->result == 0 && shorter_life(job, &recipe))
			job->result = make(job, &recipe);
		if (job->result < 0) {
			job->error = "Refused";
			return;
		}
		guide_begin(&recipe, &job->guide);
	}
	store_stamp_now(&stamp);
	job->id = store_begin(store, &job->guide, job->parent_id, &stamp);
	if (job->id < 0) {
		job->result = (int)job->id;
		job->error = "StoreFailed";
		return;
	}
	(void)store_set_number(store, "zero_g", job->zero_g);
}

int begin_calibration(struct station *station, const struct action *action)
{
	const struct action_calibration *from = &action->calibration;
	const struct store_calibration calibration = {
	        .degc = NAN,
	        .calibration = {.degree = from->degree == 2.0 ? 2 : 1,
	                        .zero_counts = from->zero_counts,
	                        .g_per_count = from->g_per_count,
	                        .g_per_count2 = from->g_per_count2,
	                        .residual_sd_g = from->residual_sd_g},
	        .repeat_sd_g = from->repeat_sd_g,
	};

	return scale_care_apply(station, &calibration);
}

/* One more sentence of the answer. */
static void say_too(char *ret, const char *sentence)
{
	const size_t used = strlen(ret), size = sizeof(((struct begin_answer *)0)->sentence);

	if (*sentence != '\0')
		snprintf(ret + used, size - used, "%s%s", used > 0 ? " " : "", sentence);
}

static void sentence_of(const struct begin_job *job, const struct message *message, char *ret)
{
	char sentence[WORDS_SENTENCE_MAX];

	if (message->id == MESSAGE_NONE)
		return;
	words_sentence(message, &job->system, sentence, sizeof(sentence));
	say_too(ret, sentence);
}

/* A scale that was not checked, or failed: the batch goes on, but says so. */
static void care_sentence(const struct station *station, char *ret)
{
	char sentence[WORDS_SENTENCE_MAX];

	words_advice(&station->care.due, sentence, sizeof(sentence));
	say_too(ret, sentence);
}

/* For a layer whose time has not come. */
static void early_sentence(const struct begin_job *job, char *ret)
{
	char wait[WORDS_NUMBER_MAX], sentence[WORDS_SENTENCE_MAX];
	bool age_known;
	const double early_s =
	        job->made || job->played
	                ? (double)NAN
	                : pieces_early_s(job->station->pieces, job->request.recipe.piece,
	                                 job->request.recipe.layer, &age_known);

	if (isnan(early_s))
		return;
	words_duration(ceil(early_s / 60.0) * 60.0, wait);
	snprintf(sentence, sizeof(sentence),
	         age_known ? "The layer below is ready in %s: wait with the pour."
	                   : "The layer below is ready in %s at the soonest: wait with the pour.",
	         wait);
	say_too(ret, sentence);
}

static void begin_failed(struct begin_job *job)
{
	char sentence[sizeof(((struct begin_answer *)0)->sentence)] = "";

	if (strcmp(job->error, "Refused") == 0)
		sentence_of(job, &job->why, sentence);
	else if (strcmp(job->error, "DemoSystem") == 0)
		snprintf(sentence, sizeof(sentence),
		         "%s is invented, for the demo: enter the system that stands on your "
		         "bottles' label.",
		         job->system.name);
	else if (strcmp(job->error, "UnknownSystem") == 0)
		snprintf(sentence, sizeof(sentence),
		         "There is no resin system \"%s\": ask for the list of systems.",
		         job->request.system_id);
	else
		snprintf(sentence, sizeof(sentence), "The batch cannot be stored: %s; %s.",
		         store_reason(job->result), store_remedy(job->result));
	memset(job->batch, 0, sizeof(*job->batch));
	answer(job->done, job->context, job->result, job->error, sentence);
}

/* From here on samples, ticks and presses reach the batch: this is its time 0, and the
 * weigher has a clean slate, so that its inputs are all it depends on. */
static void start(struct begin_job *job)
{
	struct station *station = job->station;
	struct batch *batch = job->batch;

	if (!job->played)
		(void)station_now_us(station);
	batch->base_us = job->has_base ? job->base_us : station->timeline.now_us;
	batch->id = job->id;
	batch->parent_id = job->parent_id;
	commit_init(&batch->commit, &job->guide);
	batch->beginning = false;
	weigher_clear(station->weigher);
	keep_begun(station, batch, job->made ? NULL : &job->request);
}

static void begin_finished(void *context)
{
	struct begin_job *job = context;
	struct station *station = job->station;
	struct begin_answer begun = {.id = job->id};

	if (job->result < 0) {
		begin_failed(job);
	} else {
		start(job);
		early_sentence(job, begun.sentence);
		sentence_of(job, &job->warning, begun.sentence);
		sentence_of(job, &job->lot_warning, begun.sentence);
		scale_care_look(station);
		care_sentence(station, begun.sentence);
		if (station->bus != NULL)
			bus_told(station->bus, job->batch, NULL);
		cup_clock_told(station, job->batch);
		job->done(job->context, &begun);
	}
	free(job);
	input_go_on(station);
}

static void submit(struct begin_job *job)
{
	struct station *station = job->station;
	int r = store_thread_submit(station->records, begin_run, begin_finished, job);

	if (r >= 0)
		return;
	memset(job->batch, 0, sizeof(*job->batch));
	answer(job->done, job->context, r, "Busy",
	       "The store is too slow now: wait, then try again.");
	free(job);
}

static void today(char *ret)
{
	struct store_stamp stamp;
	struct tm date;
	time_t now;

	ret[0] = '\0';
	store_stamp_now(&stamp);
	now = (time_t)(stamp.realtime_us / 1000000);
	if (stamp.realtime_us > 0 && localtime_r(&now, &date) != NULL)
		strftime(ret, SYSTEM_DATE_MAX, "%Y-%m-%d", &date);
}

static struct begin_job *job_new(struct station *station, begin_done *done, void *context)
{
	struct batch *batch = reserve(station, done, context);
	struct begin_job *job;

	if (batch == NULL)
		return NULL;
	job = calloc(1, sizeof(*job));
	if (job == NULL) {
		memset(batch, 0, sizeof(*batch));
		answer(done, context, -ENOMEM, "Busy", "There is no memory left: close something.");
		return NULL;
	}
	job->station = station;
	job->batch = batch;
	job->played = station->playing;
	job->zero_g = weigher_zero_g(station->weigher);
	job->done = done;
	job->context = context;
	return job;
}

void begin_batch(struct station *station, const struct begin_request *request, begin_done *done,
                 void *context)
{
	const struct advice guess = {.id = ADVICE_NOT_CALIBRATED};
	char why[PIECES_WHY_MAX];
	struct begin_job *job;

	if (!scale_care_calibrated(station)) {
		words_advice(&guess, why, sizeof(why));
		answer(done, context, -EPERM, "NotCalibrated", why);
		return;
	}
	/* Before anything is weighed for a layer that it cannot become. */
	if (pieces_may_pour(station->pieces, request->recipe.piece, request->recipe.layer,
	                    request->system_id, why) < 0) {
		answer(done, context, -EINVAL, "Refused", why);
		return;
	}
	job = job_new(station, done, context);
	if (job == NULL)
		return;
	job->request = *request;
	station_config_scale(station->config, station->config->weigher.noise_g,
	                     job->request.recipe.total_g, &job->scale);
	job->sensed_degc = sensed_resin_degc(station);
	job->room_degc = cup_clock_room_degc(station, job->request.recipe.piece);
	today(job->today);
	submit(job);
}

/* @base_us: its time 0, NULL for now. */
static void begin_made(struct station *station, const struct guide *guide, int64_t parent_id,
                       const int64_t *base_us, begin_done *done, void *context)
{
	struct begin_job *job = job_new(station, done, context);

	if (job == NULL)
		return;
	job->guide = *guide;
	job->system = guide->recipe.system;
	job->made = true;
	job->parent_id = parent_id;
	job->has_base = base_us != NULL;
	job->base_us = base_us != NULL ? *base_us : 0;
	submit(job);
}

void begin_kept(struct station *station, const struct action *action, const struct guide *state,
                begin_done *done, void *context)
{
	const int64_t base_us = (int64_t)action->base_us;

	begin_made(station, state, 0, action->has_base_us ? &base_us : NULL, done, context);
}

void begin_divided(struct station *station, struct batch *parent, double mass_g, double tint_pct,
                   const char *tint_label, begin_done *done, void *context)
{
	const struct guide *guide = &parent->commit.committed;
	const int64_t base_us = parent->base_us, parent_id = parent->id;
	char why[160];
	struct guide child;
	int r;

	r = parent->commit.waiting
	            ? -EBUSY
	            : guide_divide(guide, mass_g, tint_pct, tint_label,
	                           batch_time_us(parent, station->timeline.now_us), &child);
	if (r < 0) {
		snprintf(why, sizeof(why),
		         r == -EINVAL ? "Only a batch that is stirred or poured can be divided, by "
		                        "a mass above 0."
		         : r == -EBUSY ? "The batch is being stored just now: try again."
		                       : "There is not that much in the cup.");
		answer(done, context, r, r == -EBUSY ? "Busy" : "Refused", why);
		return;
	}
	begin_made(station, &child, parent_id, &base_us, done,
	           context); /* one clock: the resin's */
}
