/* SPDX-License-Identifier: MIT */
#include "batches.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool batch_open(const struct batch *batch)
{
	return batch->used && !batch->beginning && !guide_finished(&batch->commit.committed);
}

int64_t batch_time_us(const struct batch *batch, int64_t now_us)
{
	return now_us > batch->base_us ? now_us - batch->base_us : 0;
}

/* A batch that waits to start wants the pan next, so it counts. */
static bool wants_pan(const struct batch *batch)
{
	struct guide_view view;

	if (!batch_open(batch))
		return false;
	if (guide_on_pan(&batch->commit.committed))
		return true;
	guide_look(&batch->commit.committed, &view);
	return view.step == GUIDE_READY;
}

struct batch *batches_pan(struct batches *batches)
{
	for (size_t i = 0; i < BATCHES_MAX; i++)
		if (batches->batch[i].beginning || wants_pan(&batches->batch[i]))
			return &batches->batch[i];
	return NULL;
}

struct batch *batches_shown(struct batches *batches)
{
	struct batch *newest = batches_pan(batches);

	if (newest != NULL && !newest->beginning)
		return newest;
	newest = NULL;
	for (size_t i = 0; i < BATCHES_MAX; i++) {
		struct batch *batch = &batches->batch[i];

		if (batch->used && !batch->beginning &&
		    (newest == NULL || batch->touched > newest->touched))
			newest = batch;
	}
	return newest;
}

struct batch *batches_find(struct batches *batches, int64_t id)
{
	if (id == 0)
		return batches_shown(batches);
	for (size_t i = 0; i < BATCHES_MAX; i++)
		if (batches->batch[i].used && !batches->batch[i].beginning &&
		    batches->batch[i].id == id)
			return &batches->batch[i];
	return NULL;
}

bool batches_waiting(const struct batches *batches)
{
	for (size_t i = 0; i < BATCHES_MAX; i++)
		if (batches->batch[i].used &&
		    (batches->batch[i].beginning || batches->batch[i].commit.waiting))
			return true;
	return false;
}

size_t batches_count_open(const struct batches *batches)
{
	size_t n = 0;

	for (size_t i = 0; i < BATCHES_MAX; i++)
		n += batch_open(&batches->batch[i]);
	return n;
}

void batches_touch(struct batches *batches, struct batch *batch)
{
	batch->touched = ++batches->touches;
}

struct batch *batches_reserve(struct batches *batches)
{
	struct batch *free_slot = NULL;

	for (size_t i = 0; i < BATCHES_MAX; i++) {
		struct batch *batch = &batches->batch[i];

		if (!batch->used) {
			free_slot = batch;
			break;
		}
		/* A job of its own may still come back to it. */
		if (batch_open(batch) || batch->beginning || batch->commit.waiting ||
		    batch->curve_under_way)
			continue;
		if (free_slot == NULL || batch->touched < free_slot->touched)
			free_slot = batch;
	}
	if (free_slot != NULL) {
		memset(free_slot, 0, sizeof(*free_slot));
		free_slot->used = true;
		batches_touch(batches, free_slot);
	}
	return free_slot;
}

/* One step on its way to the store and back. */
struct step_job {
	struct batches *batches;
	struct batch *batch; /* its slot stays taken while this is under way */
	int64_t id, t_us, now_us;
	struct guide guide;
	struct store_stamp stamp;
	int result;
};

static void step_run(struct store *store, void *context)
{
	struct step_job *job = context;

	store_stamp_now(&job->stamp);
	job->result = store_step(store, job->id, job->t_us, &job->guide, &job->stamp);
}

static void submit(struct batches *batches, struct batch *batch, int64_t now_us);

static void finish(struct batches *batches, struct batch *batch, int result, int64_t now_us)
{
	const int more = commit_done(&batch->commit, result, store_reason(result),
	                             batch_time_us(batch, now_us));
	char failure[128];

	snprintf(failure, sizeof(failure), "%s", result < 0 ? store_reason(result) : "");
	batches->told(batches->context, batch, result < 0 ? failure : NULL);
	if (batches->inputs != NULL)
		inputs_flush(batches->inputs);
	if (!batch_open(batch)) {
		batches_curve_flush(batches, batch);
		if (batches->inputs != NULL)
			inputs_end(batches->inputs, batch->id);
	}
	if (more == 1)
		submit(batches, batch, now_us);
}

static void step_done(void *context)
{
	struct step_job *job = context;

	finish(job->batches, job->batch, job->result, job->now_us);
	free(job);
}

/* Sends what is pending to the store. */
static void submit(struct batches *batches, struct batch *batch, int64_t now_us)
{
	struct step_job *job = malloc(sizeof(*job));
	int r = -ENOMEM;

	if (job != NULL) {
		*job = (struct step_job){.batches = batches,
		                         .batch = batch,
		                         .id = batch->id,
		                         .t_us = batch_time_us(batch, now_us),
		                         .now_us = now_us};
		job->guide = batch->commit.pending;
		r = store_thread_submit(batches->records, step_run, step_done, job);
	}
	if (r < 0) {
		free(job);
		finish(batches, batch, r, now_us);
	}
}

int batches_feed(struct batches *batches, struct batch *batch, struct guide_event *event,
                 int64_t now_us)
{
	int r;

	if (batch->beginning)
		return -ENOBUFS;
	event->t_us = batch_time_us(batch, now_us);
	r = commit_feed(&batch->commit, event);
	if (r == 1)
		submit(batches, batch, now_us);
	return r;
}

void batches_replace(struct batches *batches, struct batch *batch, const struct guide *guide,
                     int64_t now_us)
{
	batch->commit.pending = *guide;
	batch->commit.live = batch->commit.committed;
	batch->commit.waiting = true;
	submit(batches, batch, now_us);
}

struct curve_job {
	struct batches *batches;
	struct batch *batch;
	int64_t id;
	size_t n;
	struct store_curve_point points[BATCHES_CURVE_BLOCK];
};

static void curve_run(struct store *store, void *context)
{
	struct curve_job *job = context;

	/* The curve is for looking: a block lost to a full disk must not stop a batch,
	 * and the next step will say that the disk is full. */
	(void)store_curve(store, job->id, job->points, job->n);
}

static void curve_done(void *context)
{
	struct curve_job *job = context;

	job->batch->curve_under_way = false;
	if (!batch_open(job->batch)) /* what came while this was under way */
		batches_curve_flush(job->batches, job->batch);
	free(job);
}

void batches_curve_flush(struct batches *batches, struct batch *batch)
{
	struct curve_job *job;

	if (batch->n_curve == 0 || batch->curve_under_way)
		return;
	job = malloc(sizeof(*job));
	if (job == NULL)
		return;
	job->batches = batches;
	job->batch = batch;
	job->id = batch->id;
	job->n = batch->n_curve;
	memcpy(job->points, batch->curve, batch->n_curve * sizeof(batch->curve[0]));
	if (store_thread_submit(batches->records, curve_run, curve_done, job) < 0) {
		free(job);
		return;
	}
	batch->curve_under_way = true;
	batch->n_curve = 0;
}

void batches_curve(struct batches *batches, struct batch *batch, double gross_g, int64_t now_us)
{
	if (batch->n_curve < BATCHES_CURVE_BLOCK) /* else the store is behind: a gap */
		batch->curve[batch->n_curve++] = (struct store_curve_point){
		        .t_us = batch_time_us(batch, now_us), .gross_g = gross_g};
	if (batch->n_curve >= BATCHES_CURVE_BLOCK)
		batches_curve_flush(batches, batch);
}
