/* SPDX-License-Identifier: MIT */
/* After a restart: the open batches go on, with the time that has passed. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "bus.h"
#include "cup_clock.h"
#include "keep.h"
#include "pour_advice.h"
#include "station.h"

/* By way of the newest stamp kept: within the old boot exactly, then over the gap. */
static void away(struct store *store, const struct store_stamp *then, struct elapsed *ret)
{
	struct store_stamp last, now;
	struct elapsed before, gap;

	store_stamp_now(&now);
	elapsed_between(then, &now, ret);
	if (ret->known || store_last_stamp(store, &last) < 0 ||
	    strcmp(last.boot_id, then->boot_id) != 0 || last.boottime_us < then->boottime_us)
		return;
	elapsed_between(then, &last, &before);
	elapsed_between(&last, &now, &gap);
	ret->us = before.us + gap.us;
	ret->known = before.known && gap.known;
}

int resume_find(struct station *station, struct store *store)
{
	int n;

	station->resume = calloc(BATCHES_MAX, sizeof(*station->resume));
	if (station->resume == NULL)
		return -ENOMEM;
	n = store_open_batches(store, station->resume, BATCHES_MAX);
	if (n < 0)
		return n;
	for (int i = 0; i < n; i++)
		away(store, &station->resume[i].stamp, &station->resume_elapsed[i]);
	station->n_resume = n;
	return 0;
}

static void take_up(struct station *station, const struct store_open_batch *open,
                    const struct elapsed *elapsed)
{
	struct guide_event resume = {.kind = GUIDE_RESUME};
	struct guide_event life = {.kind = GUIDE_LIFE, .seconds = 0.0};
	const int64_t now_us = station->timeline.now_us;
	struct batch *batch = batches_reserve(&station->batches);
	struct guide_view view;
	bool life_over;

	if (batch == NULL)
		return;
	batch->id = open->id;
	batch->parent_id = open->parent_id;
	batch->base_us = now_us - open->t_us - elapsed->us;
	commit_init(&batch->commit, &open->guide);
	guide_look(&open->guide, &view);
	batch->taken_g = guide_received_g(&open->guide); /* in the same transaction */
	station_log("batch %lld (%s) goes on at %s after %.0f s%s", (long long)batch->id,
	            open->guide.recipe.system.id, guide_step_name(view.step),
	            (double)elapsed->us / 1e6,
	            elapsed->known ? "" : " or longer: no clock tells how long the power was off");
	/* What it had told when it was stored is not told again. */
	for (int event = 0; cup_clock_runs(batch) && event < CUP_EVENTS; event++)
		if (cup_clock_due_at(&open->guide, (enum cup_event)event))
			batch->cup_told |= 1u << event;
	/* Not known how long: the safe end is that the working life is over. */
	life_over = !elapsed->known && (view.has & VIEW_HAS_LIFE) != 0;
	keep_resumed(station, batch, life_over);
	batches_feed(&station->batches, batch, &resume, now_us);
	if (life_over)
		batches_feed(&station->batches, batch, &life, now_us);
	if (station->bus != NULL)
		bus_told(station->bus, batch, NULL);
	cup_clock_told(station, batch);
	pour_advice_look(station, batch);
}

void resume_go_on(struct station *station)
{
	for (int i = 0; i < station->n_resume; i++)
		take_up(station, &station->resume[i], &station->resume_elapsed[i]);
	station->n_resume = 0;
	free(station->resume);
	station->resume = NULL;
}
