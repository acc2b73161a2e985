/* SPDX-License-Identifier: MIT */
/* The clocks' events: each is stored, then told, once; the timer is set for the next. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus.h"
#include "elapsed.h"
#include "pieces_inside.h"

#define AGAIN_US 60000000 /* a store that failed is asked again after this */

/* What was due when the job began: a bit for each event of each layer. */
struct telling {
	struct pieces *pieces;
	size_t n;
	int result;
	struct {
		int64_t pour_id;
		uint32_t due;
	} layer[PIECES_LAYERS_MAX];
};

static const char *const words[LAYER_EVENTS] = {
        [CLOCK_HOLDS] = "an inclusion stays where it is put",
        [CLOCK_STICKY] = "it is getting sticky: nothing may be moved in it any more",
        [CLOCK_GEL] = "it has gelled: nothing may be poured into it any more",
        [CLOCK_BOND_CLOSES] = "the chemical bond has closed: from now on sand, wipe, pour",
        [CLOCK_HANDLE] = "it may be handled",
        [CLOCK_FULL_CURE] = "it is cured through",
        [LAYER_OPENS] = "the next pour may begin",
        [LAYER_TAPE_OFF] = "it is gelled and not yet hard: pull the edge tape off now",
};

void pieces_sentence(const struct pieces *pieces, const struct live_layer *layer, int event,
                     char *ret, size_t size)
{
	snprintf(ret, size, "%s, layer %lld: %s.", pieces->pieces[layer->piece].piece.name,
	         (long long)layer->layer, words[event]);
}

static uint32_t due(const struct live_layer *layer, const struct store_stamp *now)
{
	const double age_s = pieces_age_s(layer, now);
	uint32_t bits = 0;

	for (int event = 0; layer->known && event < LAYER_EVENTS; event++)
		if (layer->course.at_s[event] <= age_s)
			bits |= 1u << event;
	return bits & ~layer->told;
}

static void arm(struct pieces *pieces, const struct store_stamp *now, int64_t not_before_us)
{
	double soonest_s = INFINITY, wait_us;

	for (size_t i = 0; i < pieces->n_layers; i++) {
		const struct live_layer *layer = &pieces->layers[i];

		for (int event = 0; layer->known && event < LAYER_EVENTS; event++) {
			const double left = layer->course.at_s[event] - pieces_age_s(layer, now);

			if (!(layer->told >> event & 1u) && left < soonest_s) /* not for NaN */
				soonest_s = left;
		}
	}
	if (pieces->timer == NULL)
		return;
	if (isinf(soonest_s)) {
		sd_event_source_set_enabled(pieces->timer, SD_EVENT_OFF);
		return;
	}
	wait_us = fmax(soonest_s * 1e6 + 1.0, (double)not_before_us);
	sd_event_source_set_time(pieces->timer, (uint64_t)(now->boottime_us + (int64_t)wait_us));
	sd_event_source_set_enabled(pieces->timer, SD_EVENT_ONESHOT);
}

static void tell_run(struct store *store, void *context)
{
	struct telling *telling = context;

	for (size_t i = 0; i < telling->n && telling->result == 0; i++)
		telling->result =
		        store_pour_told(store, telling->layer[i].pour_id, telling->layer[i].due);
}

static void tell_one(struct pieces *pieces, struct live_layer *layer, uint32_t bits)
{
	char sentence[256];

	layer->told |= bits;
	pieces->pours[layer->first].told |= bits;
	for (int event = 0; event < LAYER_EVENTS; event++) {
		if (!(bits >> event & 1u) || pieces->station->bus == NULL)
			continue;
		pieces_sentence(pieces, layer, event, sentence, sizeof(sentence));
		bus_clock_event(pieces->station->bus, pieces->pieces[layer->piece].piece.name,
		                layer->layer, layer_event_name(event), sentence);
	}
}

static void tell_done(void *context)
{
	struct telling *telling = context;
	struct pieces *pieces = telling->pieces;
	struct store_stamp now;

	pieces->telling = false;
	if (telling->result < 0)
		station_log("the clocks' events are not stored (%s); trying again in a minute",
		            store_reason(telling->result));
	/* By the pour's id: layers may have been found anew meanwhile. */
	for (size_t t = 0; telling->result == 0 && t < telling->n; t++)
		for (size_t i = 0; i < pieces->n_layers; i++)
			if (pieces->pours[pieces->layers[i].first].id == telling->layer[t].pour_id)
				tell_one(pieces, &pieces->layers[i], telling->layer[t].due);
	store_stamp_now(&now);
	arm(pieces, &now, telling->result < 0 ? AGAIN_US : 0);
	if (telling->result == 0 && pieces->station->bus != NULL)
		bus_pieces_changed(pieces->station->bus);
	free(telling);
}

void pieces_tell(struct pieces *pieces)
{
	struct telling *telling;
	struct store_stamp now;

	if (pieces->telling)
		return; /* what is due then is seen when it is done: the timer is set anew */
	store_stamp_now(&now);
	telling = calloc(1, sizeof(*telling));
	if (telling == NULL) {
		arm(pieces, &now, AGAIN_US);
		return;
	}
	telling->pieces = pieces;
	for (size_t i = 0; i < pieces->n_layers; i++) {
		const uint32_t bits = due(&pieces->layers[i], &now);

		if (bits == 0)
			continue;
		telling->layer[telling->n].pour_id = pieces->pours[pieces->layers[i].first].id;
		telling->layer[telling->n++].due = bits;
	}
	if (telling->n > 0 &&
	    store_thread_submit(pieces->station->records, tell_run, tell_done, telling) >= 0) {
		pieces->telling = true;
		return;
	}
	arm(pieces, &now, telling->n > 0 ? AGAIN_US : 0);
	free(telling);
}
