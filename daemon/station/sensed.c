/* SPDX-License-Identifier: MIT */
/* What the sensors' values are for: the working life of what is mixed, the room's log by
 * which layers cure, the bus. */
#include "sensed.h"

#include <math.h>

#include "bus.h"
#include "daemon/mixing/working_life.h"
#include "keep.h"
#include "pieces.h"
#include "station.h"

/* The room's log: a row when it has changed by so much, at most one in so long, and one
 * an hour however steady it is. The store reads the newest 4096 back: over two weeks. */
#define ROOM_STEP_K   0.5
#define ROOM_LEAST_US (300 * INT64_C(1000000))
#define ROOM_MOST_US  (3600 * INT64_C(1000000))

void sensed_life(struct station *station, struct batch *batch, double left_s)
{
	struct guide_event event = {.kind = GUIDE_LIFE, .seconds = left_s};
	const int64_t now_us = station_now_us(station);

	keep_row(station, batch->id, &(struct action){.kind = ACTION_LIFE, .left_s = left_s});
	(void)batches_feed(&station->batches, batch, &event,
	                   now_us); /* the next look tries again */
}

/* Only ever shorter: a probe that hangs in the air after it was in the resin must not
 * lengthen anything. */
static void bound_life(struct station *station, struct batch *batch, double degc)
{
	const struct guide *guide = &batch->commit.committed;
	struct guide_view view;
	int64_t elapsed_us;
	double left_s;

	guide_look(guide, &view);
	if (!batch_open(batch) || (view.has & VIEW_HAS_LIFE) == 0)
		return;
	elapsed_us = batch_time_us(batch, station_now_us(station)) - guide->life_start_us;
	left_s = working_life_left_s(&guide->recipe.system, guide->recipe.total_g,
	                             guide->recipe.working_life_s, (double)elapsed_us * 1e-6, degc);
	if (left_s < view.working_life_left_s - SENSED_LIFE_STEP_S)
		sensed_life(station, batch, left_s);
}

static void log_room(struct station *station, double degc)
{
	struct sensed *sensed = &station->sensed;
	struct store_stamp now;
	char why[PIECES_WHY_MAX];
	int64_t since_us;

	store_stamp_now(&now);
	since_us = now.boottime_us - sensed->room_us;
	if (sensed->has_room && since_us < ROOM_MOST_US &&
	    (since_us < ROOM_LEAST_US || fabs(degc - sensed->room_degc) < ROOM_STEP_K))
		return;
	if (pieces_room(station->pieces, degc, NULL, NULL, why) < 0)
		return; /* no room to live in, or a busy store: the next look tries again */
	sensed->has_room = true;
	sensed->room_us = now.boottime_us;
	sensed->room_degc = degc;
}

void sensed_look(void *context, bool news)
{
	struct station *station = context;
	double degc;

	if (sensing_value(station->sensing, SENSING_AIR_DEGC, &degc))
		log_room(station, degc);
	if (sensing_value(station->sensing, SENSING_RESIN_DEGC, &degc))
		for (size_t i = 0; i < BATCHES_MAX; i++)
			if (station->batches.batch[i].used && !station->batches.batch[i].beginning)
				bound_life(station, &station->batches.batch[i], degc);
	if (!news)
		return;
	station->sensed.changes++;
	if (station->bus != NULL)
		bus_touch(station->bus);
}

double sensed_resin_degc(const struct station *station)
{
	const double degc = sensing_or_nan(station->sensing, SENSING_RESIN_DEGC);

	/* A replay's temperatures are among its inputs. */
	return !station->playing && degc >= RECIPE_RESIN_MIN_DEGC && degc <= RECIPE_RESIN_MAX_DEGC
	               ? degc
	               : (double)NAN;
}

double sensed_air_degc(const struct station *station)
{
	return sensing_or_nan(station->sensing, SENSING_AIR_DEGC);
}
