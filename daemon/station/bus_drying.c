/* SPDX-License-Identifier: MIT */
/* Inclusions weighed while they dry: Dry, Drying and Inclusions of /org/ambo/pieces. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus_inside.h"
#include "planning.h"

#define DRYING_NAME_MAX (2u * SYSTEM_LABEL_MAX) /* PIECE/INCLUSION */

/* Drying weighings live in the store alone: nothing runs on them. */
struct drying {
	char name[DRYING_NAME_MAX]; /* under which it is weighed */
	struct store_drying *rows;
	size_t n;
};

struct drying_ask {
	struct bus_call *call;
	double mass_g; /* 0: only look */
	struct store_stamp now;
	struct drying of;
	int result;
};

static void drying_run(struct store *store, void *context)
{
	struct drying_ask *ask = context;

	store_stamp_now(&ask->now);
	if (ask->mass_g > 0.0)
		ask->result = store_drying_add(store, ask->of.name, ask->mass_g, &ask->now);
	if (ask->result == 0)
		ask->result = store_drying(store, ask->of.name, &ask->of.rows, &ask->of.n);
}

/* What the weighings say: constant or not, and when they will be. */
static int put_drying(sd_bus_message *reply, const struct drying *of, const struct store_stamp *now)
{
	struct drying_point *points;
	struct drying_state is;
	int r = planning_points(of->rows, of->n, now, &points, &is);

	if (r < 0)
		return r;
	free(points);
	r = dict_begin(reply);
	dict_put_text(reply, "Name", of->name);
	dict_put_whole(reply, "Weighings", (int64_t)of->n);
	dict_put_text(reply, "Verdict", drying_verdict_name(is.verdict));
	dict_put_bool(reply, "Dry", is.verdict == DRYING_DRY);
	if (of->n > 0) {
		dict_put_double(reply, "LastGrams", of->rows[of->n - 1].mass_g);
		dict_put_double(reply, "SinceSeconds", is.since_s);
	}
	dict_put_double(reply, "LossPercent", 100.0 * is.loss_share);
	dict_put_double(reply, "LossPercentPerDay", 100.0 * is.per_day_share);
	dict_put_double(reply, "FinalGrams", is.final_g);
	dict_put_double(reply, "DryInSeconds", is.dry_in_s);
	return r < 0 ? r : dict_end(reply);
}

static void drying_done(void *context)
{
	struct drying_ask *ask = context;
	sd_bus_message *reply = NULL;
	int r = ask->result;

	if (r < 0) {
		bus_refuse(ask->call->message, "StoreFailed", "It could not be stored (%s).",
		           store_reason(r));
	} else {
		r = sd_bus_message_new_method_return(ask->call->message, &reply);
		if (r >= 0)
			r = put_drying(reply, &ask->of, &ask->now);
		if (r >= 0)
			r = sd_bus_send(NULL, reply, NULL);
		if (r < 0)
			bus_refuse(ask->call->message, "Busy", "The answer cannot be sent.");
		sd_bus_message_unref(reply);
	}
	bus_call_drop(ask->call);
	free(ask->of.rows);
	free(ask);
}

int bus_drying(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct drying_ask *ask;
	double mass_g = 0.0;
	const char *name;
	const bool weighed = sd_bus_message_has_signature(message, "sd") > 0;
	int r = sd_bus_message_read(message, "s", &name);

	(void)error;
	if (r >= 0 && weighed)
		r = sd_bus_message_read(message, "d", &mass_g);
	if (r < 0)
		return r;
	if (name[0] == '\0' || strlen(name) >= DRYING_NAME_MAX ||
	    (weighed && !(mass_g > 0.0 && mass_g <= 1e6)))
		return bus_refuse(
		        message, "BadRequest",
		        "\"%.60s\" with %g g; expected a name of at most %u bytes and its "
		        "mass.",
		        name, mass_g, DRYING_NAME_MAX - 1);
	ask = calloc(1, sizeof(*ask));
	if (ask == NULL)
		return -ENOMEM;
	snprintf(ask->of.name, sizeof(ask->of.name), "%s", name);
	ask->mass_g = mass_g;
	ask->call = bus_call_keep(bus, message);
	if (ask->call == NULL) {
		free(ask);
		return 1;
	}
	if (!bus_to_store(ask->call, drying_run, drying_done, ask)) {
		bus_call_drop(ask->call);
		free(ask);
	}
	return 1;
}

/* All that a piece embeds, each under the name that plans and checks look at first. */
struct inclusions_ask {
	struct bus_call *call;
	struct store_stamp now;
	struct drying of[PIECE_INCLUSIONS_MAX];
	char piece[SYSTEM_LABEL_MAX], name[PIECE_INCLUSIONS_MAX][SYSTEM_LABEL_MAX];
	size_t n;
	int result;
};

static void inclusions_free(struct inclusions_ask *ask)
{
	for (size_t i = 0; i < ask->n; i++)
		free(ask->of[i].rows);
	bus_call_drop(ask->call);
	free(ask);
}

/* By PIECE/NAME; by its bare name where it is weighed under that and not under the other. */
static void inclusions_run(struct store *store, void *context)
{
	struct inclusions_ask *ask = context;

	store_stamp_now(&ask->now);
	for (size_t i = 0; ask->result == 0 && i < ask->n; i++) {
		struct drying *of = &ask->of[i];

		snprintf(of->name, sizeof(of->name), "%s/%s", ask->piece, ask->name[i]);
		ask->result = store_drying(store, of->name, &of->rows, &of->n);
		if (ask->result < 0 || of->n > 0)
			continue;
		free(of->rows);
		of->rows = NULL;
		ask->result = store_drying(store, ask->name[i], &of->rows, &of->n);
		if (of->n > 0)
			snprintf(of->name, sizeof(of->name), "%s", ask->name[i]);
	}
}

static void inclusions_done(void *context)
{
	struct inclusions_ask *ask = context;
	sd_bus_message *reply = NULL;
	int r = ask->result;

	if (r >= 0)
		r = bus_rows_begin(ask->call->message, &reply);
	for (size_t i = 0; r >= 0 && i < ask->n; i++)
		r = put_drying(reply, &ask->of[i], &ask->now);
	r = bus_rows_end(reply, r);
	if (r < 0)
		bus_refuse(ask->call->message, "StoreFailed", "The weighings cannot be read (%s).",
		           store_reason(r));
	inclusions_free(ask);
}

int bus_inclusions(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	int r;
	const struct live_piece *live = bus_read_piece(bus, message, &r);
	struct inclusions_ask *ask;

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
	memcpy(ask->piece, live->piece.name, sizeof(ask->piece));
	for (; ask->n < live->piece.n_inclusions; ask->n++)
		memcpy(ask->name[ask->n], live->piece.inclusions[ask->n].name,
		       sizeof(ask->name[0]));
	if (!bus_to_store(ask->call, inclusions_run, inclusions_done, ask))
		inclusions_free(ask);
	return 1;
}
