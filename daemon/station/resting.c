/* SPDX-License-Identifier: MIT */
#include "resting.h"

#include "bus.h"
#include "station.h"

/* An HX711 settles in 0.4 s, other converters in about 1 s. */
#define FIRST_SAMPLE_US INT64_C(3000000)

static bool needed(struct station *station)
{
	return station->resting.touched || batches_count_open(&station->batches) > 0 ||
	       batches_waiting(&station->batches) || station->n_resume > 0 ||
	       station->care.calibrating || station->recording != NULL ||
	       (station->bus != NULL && bus_is_watched(station->bus));
}

static void tell(struct station *station, bool idle)
{
	const struct scale_driver *driver = station->config->driver;

	if (driver->idle == NULL || idle == station->resting.told_idle)
		return;
	driver->idle(station->scale, idle);
	station->resting.told_idle = idle;
}

/* What was read before is of a pan that may have been cleared since, by a cell that
 * has gone cold: the next sample is the first. */
static void forget(struct station *station)
{
	weigher_clear(station->weigher);
	station->has_reading = false;
	station->reading = (struct reading){0};
	station->resting.awake_us = station_clock_us();
	station->resting.sampled = false;
	if (station->bus != NULL)
		bus_touch(station->bus);
}

bool resting_look(struct station *station)
{
	struct resting *resting = &station->resting;
	char message[SCALE_MESSAGE_MAX];
	const bool rests = acquisition_state(station->acquisition, message, sizeof(message)) ==
	                   ACQUISITION_RESTS;
	const unsigned n_rests = acquisition_rests(station->acquisition);

	if (resting->awake_us == 0)
		resting->awake_us = station_clock_us();
	if (station->has_reading)
		resting->sampled = true;
	tell(station, !needed(station));
	resting->touched = false;
	if (rests != resting->rests || n_rests != resting->n_rests)
		forget(station);
	resting->rests = rests;
	resting->n_rests = n_rests;
	return rests;
}

bool resting_overdue(const struct station *station)
{
	const struct resting *resting = &station->resting;

	return !station->config->driver->own_time && !resting->sampled && resting->awake_us != 0 &&
	       station_clock_us() - resting->awake_us > FIRST_SAMPLE_US;
}

void resting_touch(struct station *station)
{
	station->resting.touched = true;
	/* Now, not at the next tick: what is asked for may be a reading from before it. */
	(void)resting_look(station);
}
