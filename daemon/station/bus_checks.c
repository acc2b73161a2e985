/* SPDX-License-Identifier: MIT */
/* Checks of /org/ambo/pieces: what is to be looked at now, for the layer that was poured
 * last and for the one that comes next. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus_inside.h"
#include "daemon/casting/checks.h"
#include "planning.h"
#include "worker.h"

struct checks_ask {
	struct bus_call *call;
	struct planning of;
	struct plan plan;
	char sentence[PLAN_SENTENCE_MAX];
	int64_t piece_id, last_layer; /* 0: nothing is poured */
	struct plan_layer last;       /* as it was poured */
	double last_age_s, last_at_s[LAYER_EVENTS];
	struct store_photo *photos;
	size_t n_photos;
	int result;
};

static void ask_free(struct checks_ask *ask)
{
	bus_call_drop(ask->call);
	free(ask->photos);
	free(ask);
}

static bool has_photo(const struct checks_ask *ask, int64_t layer)
{
	for (size_t i = 0; i < ask->n_photos; i++)
		if (ask->photos[i].layer == layer)
			return true;
	return false;
}

/* All that this layer covers first, by their weighings. */
static bool all_dry(const struct piece *piece, const struct plan_layer *layer)
{
	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const struct piece_inclusion *it = &piece->inclusions[i];
		const bool covered = it->rests_on_mm >= layer->from_mm - 1e-6 &&
		                     it->rests_on_mm < layer->from_mm + layer->depth_mm - 1e-6;

		if (covered && it->drying.verdict != DRYING_DRY &&
		    !(it->drying.verdict == DRYING_NOT_WEIGHED && it->dried) &&
		    it->heat_limit_degc <= PIECE_INCLUSION_STOP_DEGC)
			return false;
	}
	return true;
}

static int put_check(sd_bus_message *reply, const struct checks_ask *ask, int64_t layer,
                     const struct plan_layer *of, const struct layer_check *check, bool due)
{
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	dict_put_whole(reply, "Layer", layer);
	dict_put_text(reply, "Check", layer_check_name(check->check));
	dict_put_text(reply, "When", layer_check_when(check->when));
	dict_put_text(reply, "Sentence", check->sentence);
	dict_put_bool(reply, "Due", due);
	/* Only what the station knows itself; the rest is the person's word. */
	if (check->check == CHECK_LAYOUT)
		dict_put_bool(reply, "Done", has_photo(ask, layer));
	if (check->check == CHECK_DRY)
		dict_put_bool(reply, "Done", all_dry(&ask->of.piece, of));
	return dict_end(reply);
}

/* Of the last layer what is due now and no more; of the next what comes before its pour,
 * due once it may be poured. */
static int put_checks(sd_bus_message *reply, const struct checks_ask *ask)
{
	const bool open = ask->last_layer == 0 || ask->last_age_s >= ask->last_at_s[LAYER_OPENS];
	struct layer_check checks[LAYER_CHECKS_MAX];
	size_t n = 0;
	int r = 0;

	if (ask->last_layer > 0)
		n = layer_checks_of(&ask->of.piece, &ask->last, false, checks);
	for (size_t i = 0; r >= 0 && i < n; i++)
		if (layer_check_due(&checks[i], ask->last_age_s, ask->last_at_s))
			r = put_check(reply, ask, ask->last_layer, &ask->last, &checks[i], true);
	if (ask->result < 0)
		return r; /* there is no next one: the plan itself says why */
	n = layer_checks(&ask->of.piece, &ask->plan, 0, checks);
	for (size_t i = 0; r >= 0 && i < n; i++)
		if (checks[i].when == CHECK_BEFORE_WEIGHING || checks[i].when == CHECK_BEFORE_POUR)
			r = put_check(reply, ask, ask->last_layer + 1, &ask->plan.layers[0],
			              &checks[i], open);
	return r;
}

static void run(void *context)
{
	struct checks_ask *ask = context;

	ask->result = plan_make(&ask->of.request, &ask->plan, ask->sentence);
}

static void done(void *context)
{
	struct checks_ask *ask = context;
	sd_bus_message *reply = NULL;
	int r = bus_rows_begin(ask->call->message, &reply);

	if (r >= 0)
		r = put_checks(reply, ask);
	if (bus_rows_end(reply, r) < 0)
		bus_refuse(ask->call->message, "Busy", "The list cannot be sent.");
	ask_free(ask);
}

static void read_facts(struct store *store, void *context)
{
	struct checks_ask *ask = context;

	/* What cannot be read is not known to be done. */
	(void)planning_dryness(store, &ask->of.piece);
	(void)store_photos(store, ask->piece_id, &ask->photos, &ask->n_photos);
}

static void facts_read(void *context)
{
	struct checks_ask *ask = context;

	if (worker_submit(ask->call->bus->station->worker, run, done, ask) >= 0)
		return;
	bus_refuse(ask->call->message, "Busy", "A plan is being computed: wait a second.");
	ask_free(ask);
}

static void take_last(const struct bus *bus, const struct live_piece *live, struct checks_ask *ask)
{
	const struct live_layer *last;
	struct store_stamp now;

	(void)pieces_filled_mm(bus->station->pieces, live, &last);
	if (last == NULL)
		return;
	store_stamp_now(&now);
	ask->last_layer = last->layer;
	ask->last_age_s = pieces_age_s(last, &now);
	memcpy(ask->last_at_s, last->course.at_s, sizeof(ask->last_at_s));
	ask->last = (struct plan_layer){.from_mm = last->poured.from_mm,
	                                .depth_mm = last->poured.depth_mm,
	                                .top_coat = last->top_coat,
	                                .edge_tape = !isnan(last->course.at_s[LAYER_TAPE_OFF])};
}

int bus_checks(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	int r;
	const struct live_piece *live = bus_read_piece(bus, message, &r);
	struct checks_ask *ask;

	(void)error;
	if (live == NULL)
		return r;
	ask = calloc(1, sizeof(*ask));
	if (ask == NULL)
		return -ENOMEM;
	ask->call = bus_call_keep(bus, message);
	if (ask->call == NULL) {
		free(ask);
		return 1;
	}
	ask->piece_id = live->id;
	planning_take(bus->station, live, &ask->of);
	take_last(bus, live, ask);
	if (!bus_to_store(ask->call, read_facts, facts_read, ask))
		ask_free(ask);
	return 1;
}
