/* SPDX-License-Identifier: MIT */
#include "after_told.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus.h"
#include "cup_clock.h"
#include "pieces.h"
#include "pour_advice.h"
#include "station.h"

struct shelf_job {
	char system_id[SYSTEM_ID_MAX];
	struct {
		char lot[SYSTEM_LABEL_MAX]; /* "": nothing to keep */
		double gross_g;
	} bottle[2];
};

static void shelf_run(struct store *store, void *context)
{
	struct shelf_job *job = context;
	struct store_stamp stamp;

	store_stamp_now(&stamp);
	for (int part = PART_A; part <= PART_B; part++)
		if (job->bottle[part].lot[0] != '\0') /* lost, the bottle is only unknown again */
			(void)store_set_shelf(store, job->system_id, (enum part)part,
			                      job->bottle[part].lot, job->bottle[part].gross_g,
			                      &stamp);
}

static void keep_shelf(struct station *station, struct batch *batch)
{
	const struct guide *guide = &batch->commit.committed;
	const struct resin_system *system = &guide->recipe.system;
	struct shelf_job *job;
	bool any = false;

	if (batch->shelved || guide_on_pan(guide))
		return;
	job = calloc(1, sizeof(*job));
	if (job == NULL)
		return;
	memcpy(job->system_id, system->id, sizeof(job->system_id));
	for (int part = PART_A; part <= PART_B; part++) {
		const char *lot = system->part[part].lot;

		if (lot[0] == '\0' ||
		    guide_bottle_g(guide, (enum part)part, &job->bottle[part].gross_g) < 0)
			continue;
		memcpy(job->bottle[part].lot, lot, sizeof(job->bottle[part].lot));
		any = true;
	}
	batch->shelved = any && store_thread_submit(station->records, shelf_run, free, job) >= 0;
	if (!batch->shelved)
		free(job);
}

void after_told(void *context, struct batch *batch, const char *failure)
{
	struct station *station = context;
	const char *problem;

	if (failure != NULL)
		station_log("batch %lld: the step is not stored (%s); the batch is held",
		            (long long)batch->id, failure);
	if (station->inputs != NULL && (problem = inputs_problem(station->inputs)) != NULL)
		station_log("%s", problem);
	if (station->bus != NULL)
		bus_told(station->bus, batch, failure);
	if (failure != NULL)
		return;
	keep_shelf(station, batch);
	pieces_batch(station->pieces, batch);
	cup_clock_told(station, batch);
	pour_advice_look(station, batch);
}
