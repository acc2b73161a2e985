/* SPDX-License-Identifier: MIT */
#include "batches.h"

#include <errno.h>
#include <math.h>
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
	if (guide_on_pan(&batch->commit.committed) || guide_reads_pan(&batch->commit.committed))
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
		free_slot->resin_degc = (double)NAN;
		batches_touch(batches, free_slot);
	}
	return free_slot;
}

/* One step on its way to the store and back; a divided batch's with its parent's. */
struct step_job {
	struct batches *batches;
	struct batch *batch[2]; /* their slots stay taken while this is under way */
	size_t n;
	double taken_g; /* then taken off the parent in all */
	int64_t now_us;
	struct guide guide[2];
	struct store_step step[2];
	int result;
};

static void step_run(struct store *store, void *context)
{
	struct step_job *job = context;
	struct store_stamp stamp;

	store_stamp_now(&stamp);
	job->result = store_steps_at_once(store, job->step, job->n, &stamp);
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

static void submit_deferred(struct batches *batches, int64_t now_us)
{
	for (size_t i = 0; i < BATCHES_MAX; i++)
		if (batches->batch[i].deferred) {
			batches->batch[i].deferred = false;
			submit(batches, &batches->batch[i], now_us);
		}
}

static void step_done(void *context)
{
	struct step_job *job = context;

	if (job->result >= 0)
		job->batch[0]->taken_g = job->taken_g;
	for (size_t i = 0; i < job->n; i++)
		finish(job->batches, job->batch[i], job->result, job->now_us);
	submit_deferred(job->batches, job->now_us);
	free(job);
}

/* The open batch that must be lighter once this one's pending is stored, else NULL. */
static struct batch *lighter_parent(struct batches *batches, const struct batch *batch)
{
	struct batch *parent;

	if (batch->parent_id == 0 || guide_received_g(&batch->commit.pending) == batch->taken_g)
		return NULL;
	parent = batches_find(batches, batch->parent_id);
	return parent != NULL && batch_open(parent) ? parent : NULL;
}

static void job_add(struct step_job *job, struct batch *batch)
{
	const size_t i = job->n++;

	job->batch[i] = batch;
	job->guide[i] = batch->commit.pending;
	job->step[i] =
	        (struct store_step){batch->id, batch_time_us(batch, job->now_us), &job->guide[i]};
}

/* Sends what is pending to the store. */
static void submit(struct batches *batches, struct batch *batch, int64_t now_us)
{
	struct batch *parent = lighter_parent(batches, batch);
	struct step_job *job;
	int r = -ENOMEM;

	if (parent != NULL && parent->commit.waiting) {
		batch->deferred = true;
		return;
	}
	job = calloc(1, sizeof(*job));
	if (job != NULL) {
		job->batches = batches;
		job->now_us = now_us;
		job->taken_g = guide_received_g(&batch->commit.pending);
		job_add(job, batch);
		if (parent != NULL) {
			commit_take_off(&parent->commit, job->taken_g - batch->taken_g);
			job_add(job, parent);
		}
		r = store_thread_submit(batches->records, step_run, step_done, job);
	}
	if (r < 0) {
		free(job);
		finish(batches, batch, r, now_us);
		if (parent != NULL && parent->commit.waiting)
			finish(batches, parent, r, now_us);
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
