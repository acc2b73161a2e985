/* SPDX-License-Identifier: MIT */
#include "keep.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "read_text.h"

#define KEPT_FILE_MAX 262144u

static void keep_file(struct station *station, int64_t id, const char *path, const char *name)
{
	char *text;

	if (read_text(path, KEPT_FILE_MAX, &text) < 0)
		return;
	inputs_keep(station->inputs, id, name, text, strlen(text));
	free(text);
}

static void keep_state(struct station *station, const struct batch *batch, const char *name)
{
	const struct guide *guide = &batch->commit.committed;
	const size_t length = guide_write(guide, NULL, 0);
	char *text = malloc(length + 1);

	if (text == NULL)
		return; /* a replay will say that the file is missing */
	guide_write(guide, text, length + 1);
	inputs_keep(station->inputs, batch->id, name, text, length);
	free(text);
}

/* The one that holds, where it is not the configuration's. */
static void note_calibration(const struct station *station, struct action *action)
{
	const struct calibration *calibration = &station->config->weigher.calibration;

	if (station->care.holds.id == 0)
		return;
	action->calibration = (struct action_calibration){
	        .degree = calibration->degree,
	        .zero_counts = calibration->zero_counts,
	        .g_per_count = calibration->g_per_count,
	        .g_per_count2 = calibration->g_per_count2,
	        .residual_sd_g = calibration->residual_sd_g,
	        .repeat_sd_g = station->config->doubt.repeatability_sd_g,
	};
}

void keep_row(struct station *station, int64_t id, const struct action *action)
{
	char line[ACTION_TEXT_MAX];

	if (station->inputs == NULL)
		return;
	action_write(action, line, sizeof(line));
	inputs_event(station->inputs, id, station->timeline.now_us, line);
}

/* Opens the files and writes the row that the replay begins with. */
static void keep_begin(struct station *station, const struct batch *batch, struct action *action)
{
	const int part = inputs_begin(station->inputs, batch->id);

	action->kind = ACTION_BEGIN;
	snprintf(action->state, sizeof(action->state), part == 0 ? "state.txt" : "state-%d.txt",
	         part);
	keep_state(station, batch, action->state);
	action->zero_g = weigher_zero_g(station->weigher);
	action->has_base_us = batch->base_us != station->timeline.now_us;
	action->base_us = action->has_base_us ? (double)batch->base_us : 0.0;
	note_calibration(station, action);
	keep_row(station, batch->id, action);
}

void keep_begun(struct station *station, const struct batch *batch,
                const struct begin_request *request)
{
	struct action action = {.recipe = {.resin_degc = NAN}};
	char path[PATH_MAX];

	if (station->inputs == NULL)
		return;
	if (request != NULL) {
		memcpy(action.system_id, request->system_id, sizeof(action.system_id));
		action.recipe = request->recipe;
	}
	keep_begin(station, batch, &action);
	snprintf(path, sizeof(path), "%.2000s/ambo.conf", station->config->dir);
	keep_file(station, batch->id, path, "ambo.conf");
	config_system_path(station->config, batch->commit.committed.recipe.system.id, path);
	keep_file(station, batch->id, path, "system.conf");
}

void keep_resumed(struct station *station, const struct batch *batch, bool or_longer)
{
	struct action action = {.recipe = {.resin_degc = NAN}};

	if (station->inputs == NULL)
		return;
	keep_begin(station, batch, &action);
	keep_row(station, batch->id, &(struct action){.kind = ACTION_RESUME});
	if (or_longer)
		keep_row(station, batch->id, &(struct action){.kind = ACTION_LIFE_OVER});
}

void keep_follow_pan(struct station *station, const struct batch *batch)
{
	const int64_t id = batch != NULL ? batch->id : 0;

	if (id == station->followed_id)
		return;
	/* For one that is finished this does nothing: its files are closed. */
	if (station->followed_id != 0)
		keep_row(station, station->followed_id, &(struct action){.kind = ACTION_PAN_LENT});
	if (id != 0)
		weigher_clear(station->weigher);
	station->followed_id = id;
}

void keep_lighter(void *context, const struct batch *parent, double mass_g)
{
	struct station *station = context;

	if (station->inputs == NULL)
		return;
	/* After all that reached the parent at this time. */
	timeline_stamp(&station->timeline, INT64_MIN);
	keep_row(station, parent->id, &(struct action){.kind = ACTION_TAKE_OFF, .mass_g = mass_g});
}

int keep_read_state(const struct station *station, const char *name, struct guide *ret, char *why)
{
	const char *presses = station->presses_path;
	const char *slash = presses != NULL ? strrchr(presses, '/') : NULL;
	char path[PATH_MAX], *text;
	int r, line = 0;

	snprintf(path, sizeof(path), "%.*s%s", slash != NULL ? (int)(slash - presses + 1) : 0,
	         slash != NULL ? presses : "", name);
	r = read_text(path, KEPT_FILE_MAX, &text);
	if (r < 0) {
		snprintf(why, ACTION_WHY_MAX, "%.300s: the state cannot be read (%s)", path,
		         strerror(-r));
		return r;
	}
	r = guide_read(text, ret, &line);
	free(text);
	if (r < 0)
		snprintf(why, ACTION_WHY_MAX, "%.300s:%d: this is no state of a batch", path, line);
	return r;
}
