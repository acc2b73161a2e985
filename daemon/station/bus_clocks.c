/* SPDX-License-Identifier: MIT */
/* Clocks of /org/ambo/pieces: layers that cure, and cups that are open. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bus_inside.h"
#include "cup_clock.h"
#include "pieces.h"

static int put_clock(sd_bus_message *reply, const struct bus *bus, const struct live_layer *layer,
                     int event, const struct store_stamp *now)
{
	const struct pieces *pieces = bus->station->pieces;
	const int64_t at_us = pieces_event_boottime_us(layer, event);
	char sentence[256];
	int r;

	if (at_us == 0)
		return 0; /* never, or nobody has taught it */
	r = dict_begin(reply);
	if (r < 0)
		return r;
	pieces_sentence(pieces, layer, event, sentence, sizeof(sentence));
	dict_put_text(reply, "Piece", pieces_at(pieces, layer->piece)->piece.name);
	dict_put_whole(reply, "Layer", layer->layer);
	dict_put_text(reply, "Event", layer_event_name(event));
	dict_put_text(reply, "Sentence", sentence);
	dict_put_bool(reply, "Told", (layer->told >> event & 1u) != 0);
	dict_put_bool(reply, "AgeKnown", layer->age_known);
	/* As the wall clock goes now: it may have been set since. */
	dict_put_whole(reply, "AtRealtimeMicroseconds",
	               at_us - now->boottime_us + now->realtime_us);
	dict_put_whole(reply, "AtBoottimeMicroseconds", at_us);
	return dict_end(reply);
}

/* In the order in which they come. */
static int put_clocks(sd_bus_message *reply, const struct bus *bus, const struct live_layer *layer,
                      const struct store_stamp *now)
{
	bool put[LAYER_EVENTS] = {false};
	int r = 0;

	for (int i = 0; r >= 0 && i < LAYER_EVENTS; i++) {
		int next = -1;

		for (int event = 0; event < LAYER_EVENTS; event++)
			if (!put[event] && (next < 0 || isnan(layer->course.at_s[next]) ||
			                    layer->course.at_s[event] < layer->course.at_s[next]))
				next = event;
		put[next] = true;
		r = put_clock(reply, bus, layer, next, now);
	}
	return r;
}

/* The working life of what is in an open cup: an event each, as a layer's. */
static int put_cup_event(sd_bus_message *reply, const struct station *station,
                         const struct batch *batch, enum cup_event event,
                         const struct store_stamp *now)
{
	const struct recipe *recipe = &batch->commit.committed.recipe;
	const int64_t in_us = (int64_t)(cup_clock_in_s(station, batch, event) * 1e6);
	char sentence[256];
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	cup_clock_sentence(batch, event, sentence, sizeof(sentence));
	dict_put_whole(reply, "Batch", batch->id);
	if (recipe->piece[0] != '\0')
		dict_put_text(reply, "Piece", recipe->piece);
	if (atol(recipe->layer) > 0)
		dict_put_whole(reply, "Layer", atol(recipe->layer));
	dict_put_text(reply, "Event", cup_event_name(event));
	dict_put_text(reply, "Sentence", sentence);
	dict_put_double(reply, "MassGrams", cup_clock_mass_g(batch));
	if (recipe->resin_known)
		dict_put_double(reply, "ResinDegreesCelsius", recipe->resin_degc);
	dict_put_bool(reply, "Told", (batch->cup_told >> event & 1u) != 0);
	dict_put_bool(reply, "AgeKnown", true); /* else it was put to its end at the restart */
	dict_put_whole(reply, "AtRealtimeMicroseconds", now->realtime_us + in_us);
	dict_put_whole(reply, "AtBoottimeMicroseconds", now->boottime_us + in_us);
	return dict_end(reply);
}

static int put_cup(sd_bus_message *reply, const struct station *station, const struct batch *batch,
                   const struct store_stamp *now)
{
	int r = 0;

	for (int event = 0; r >= 0 && event < CUP_EVENTS; event++)
		r = put_cup_event(reply, station, batch, (enum cup_event)event, now);
	return r;
}

int bus_get_clocks(sd_bus *connection, const char *path, const char *interface,
                   const char *property, sd_bus_message *reply, void *context, sd_bus_error *error)
{
	const struct bus *bus = context;
	const struct live_layer *layers;
	const size_t n = pieces_layers(bus->station->pieces, &layers);
	struct store_stamp now; /* one for all: they are compared with each other */
	int r = sd_bus_message_open_container(reply, 'a', "a{sv}");

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	store_stamp_now(&now);
	for (size_t i = 0; r >= 0 && i < n; i++)
		r = put_clocks(reply, bus, &layers[i], &now);
	for (size_t i = 0; r >= 0 && i < BATCHES_MAX; i++)
		if (cup_clock_runs(&bus->station->batches.batch[i]))
			r = put_cup(reply, bus->station, &bus->station->batches.batch[i], &now);
	return r < 0 ? r : sd_bus_message_close_container(reply);
}
