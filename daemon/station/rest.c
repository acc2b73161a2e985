/* SPDX-License-Identifier: MIT */
#include "rest.h"

#include "station.h"

static int tell_idle(struct station *station, bool idle)
{
	return station->config->driver->act(station->scale, "idle", idle ? 1.0 : 0.0);
}

void rest_begin(struct station *station)
{
	const struct scale_driver *driver = station->config->driver;

	station->may_rest = !driver->own_time && driver->act != NULL && tell_idle(station, true) == 0;
	station->in_use = false;
}

void rest_look(struct station *station)
{
	const bool in_use =
	        batches_count_open(&station->batches) > 0 || station->care.calibrating;

	if (!station->may_rest || in_use == station->in_use)
		return;
	station->in_use = in_use;
	(void)tell_idle(station, !in_use); /* it has taken it before */
}

bool rest_now(const struct station *station)
{
	char message[SCALE_MESSAGE_MAX];

	return acquisition_state(station->acquisition, message, sizeof(message)) ==
	       ACQUISITION_RESTS;
}

void rest_touch(struct station *station)
{
	if (!station->may_rest || station->in_use)
		return;
	(void)tell_idle(station, false);
	(void)tell_idle(station, true); /* its time begins anew */
}
