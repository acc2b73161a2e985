/* SPDX-License-Identifier: MIT */
/* Plans over the bus: computed on the worker, so that readings do not wait. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bus_inside.h"
#include "planning.h"
#include "pour_advice.h"
#include "worker.h"

struct bus_planning {
	struct bus_call *call;
	struct planning of;
	struct plan plan;
	struct plan_advice advice;
	double mass_g, deviation_pct; /* of a pour that is checked; 0: a plan */
	char sentence[PLAN_SENTENCE_MAX];
	int result;
};

static void run(void *context)
{
	struct bus_planning *planning = context;

	planning->result =
	        planning->mass_g > 0.0
	                ? plan_advice(&planning->of.request, planning->mass_g,
	                              planning->deviation_pct, &planning->advice,
	                              planning->sentence)
	                : plan_make(&planning->of.request, &planning->plan, planning->sentence);
}

static int put_layer(sd_bus_message *reply, const struct bus_planning *planning, size_t i)
{
	const struct plan_layer *layer = &planning->plan.layers[i];
	const double poured_s = layer->pour_at_s + layer->session_s;
	const int64_t epoch_us = planning->of.realtime_us - (int64_t)(planning->of.week_s * 1e6);
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	dict_put_whole(reply, "Layer", planning->of.layers_before + (int64_t)i + 1);
	dict_put_text(reply, "Coat", planning->of.piece.coats[layer->coat].name);
	dict_put_text(reply, "Tint", planning->of.piece.coats[layer->coat].tint);
	dict_put_text(reply, "System", layer->system);
	dict_put_text(reply, "Rule", plan_rule_name(layer->rule));
	dict_put_text(reply, "Change", plan_rule_change(layer->rule));
	dict_put_bool(reply, "TopCoat", layer->top_coat);
	dict_put_bool(reply, "SandFirst", layer->sand_first);
	dict_put_double(reply, "FromMillimetres", layer->from_mm);
	bus_put_widths(reply, &planning->of.piece.cavity, layer->from_mm, layer->depth_mm);
	dict_put_double(reply, "DepthMillimetres", layer->depth_mm);
	dict_put_double(reply, "VolumeMillilitres", layer->volume_ml);
	dict_put_double(reply, "TotalGrams", layer->total_g);
	dict_put_double(reply, "AGrams", layer->a_g);
	dict_put_double(reply, "BGrams", layer->b_g);
	dict_put_double(reply, "TintGrams", layer->tint_g);
	dict_put_whole(reply, "Batches", layer->batches);
	dict_put_double(reply, "PeakDegreesCelsius", layer->peak_degc);
	dict_put_double(reply, "PeakP95DegreesCelsius", layer->peak_band_degc.p95);
	dict_put_double(reply, "HeatLimitDegreesCelsius", layer->heat_limit_degc);
	dict_put_double(reply, "NextPourOpensSeconds", layer->opens_s);
	dict_put_double(reply, "BondClosesSeconds", layer->closes_s);
	dict_put_double(reply, "HandleSeconds", layer->handle_s);
	dict_put_double(reply, "FullCureSeconds", layer->full_cure_s);
	dict_put_whole(reply, "SessionRealtimeMicroseconds",
	               epoch_us + (int64_t)(layer->pour_at_s * 1e6));
	dict_put_whole(reply, "PouredRealtimeMicroseconds", epoch_us + (int64_t)(poured_s * 1e6));
	return dict_end(reply);
}

static int reply_plan(const struct bus_planning *planning)
{
	const struct plan *plan = &planning->plan;
	sd_bus_message *reply = NULL;
	int r = sd_bus_message_new_method_return(planning->call->message, &reply);

	if (r >= 0)
		r = sd_bus_message_open_container(reply, 'a', "a{sv}");
	for (size_t i = 0; r >= 0 && i < plan->n_layers; i++)
		r = put_layer(reply, planning, i);
	if (r >= 0)
		r = sd_bus_message_close_container(reply);
	if (r >= 0)
		r = sd_bus_message_open_container(reply, 'a', "s");
	for (size_t i = 0; r >= 0 && i < plan->n_warnings; i++)
		r = sd_bus_message_append(reply, "s", plan->warnings[i]);
	if (r >= 0)
		r = sd_bus_message_close_container(reply);
	if (r >= 0)
		r = sd_bus_send(NULL, reply, NULL);
	sd_bus_message_unref(reply);
	return r;
}

static int reply_advice(const struct bus_planning *planning)
{
	char sentence[POUR_ADVICE_MAX];

	pour_advice_sentence(&planning->advice, sentence, sizeof(sentence));
	return sd_bus_reply_method_return(planning->call->message, "ds",
	                                  planning->advice.keep_back_g, sentence);
}

static void done(void *context)
{
	struct bus_planning *planning = context;

	if (planning->result < 0)
		bus_refuse(planning->call->message, planning->plan.runaway ? "Runaway" : "NoPlan",
		           "%s.",
		           planning->sentence[0] != '\0' ? planning->sentence : "No memory left");
	else if (planning->mass_g > 0.0)
		(void)reply_advice(planning);
	else if (reply_plan(planning) < 0)
		bus_refuse(planning->call->message, "Busy", "The plan cannot be sent.");
	bus_call_drop(planning->call);
	free(planning);
}

static void give_up(struct bus_planning *planning, const char *why)
{
	bus_refuse(planning->call->message, "Busy", "%s", why);
	bus_call_drop(planning->call);
	free(planning);
}

static void compute(struct bus_planning *planning)
{
	if (worker_submit(planning->call->bus->station->worker, run, done, planning) < 0)
		give_up(planning, "Another plan is being computed: wait a second.");
}

static void read_dryness(struct store *store, void *context)
{
	struct bus_planning *planning = context;

	/* Not to be read is not to be known. */
	(void)planning_dryness(store, &planning->of.piece);
}

static void dryness_read(void *context)
{
	compute(context);
}

static int begin(struct bus *bus, sd_bus_message *message, struct bus_planning *planning)
{
	planning->call = bus_call_keep(bus, message);
	if (planning->call == NULL) {
		free(planning);
		return 1;
	}
	if (planning->mass_g > 0.0 || planning->of.piece.n_inclusions == 0)
		compute(planning);
	else if (store_thread_submit(bus->station->records, read_dryness, dryness_read, planning) <
	         0)
		give_up(planning, "The store is too slow now: wait, then try again.");
	return 1;
}

static int prepare(struct bus *bus, sd_bus_message *message, const char *name,
                   struct bus_planning **ret)
{
	struct bus_planning *planning;
	int r = 0;
	const struct live_piece *live = bus_find_piece(bus, message, name, &r);

	if (live == NULL)
		return r;
	planning = calloc(1, sizeof(*planning));
	if (planning == NULL)
		return -ENOMEM;
	planning_take(bus->station, live, &planning->of);
	*ret = planning;
	return 0;
}

int bus_plan(sd_bus_message *message, void *context, sd_bus_error *error)
{
	double room = (double)NAN, resin = (double)NAN, cup = (double)NAN, layers = 0.0;
	char system[SYSTEM_ID_MAX] = "", why[DICT_WHY_MAX] = "";
	const struct dict_key keys[] = {
	        {.key = "RoomDegreesCelsius", .number = &room, .low = 0.0, .high = 60.0},
	        {.key = "ResinDegreesCelsius", .number = &resin, .low = 0.0, .high = 80.0},
	        {.key = "CupLimitGrams", .number = &cup, .low = 5.0, .high = 1e5},
	        {.key = "Layers", .number = &layers, .low = 0.0, .high = 30.0},
	        {.key = "System", .text = system, .size = sizeof(system)},
	};
	struct bus *bus = context;
	struct bus_planning *planning = NULL;
	const char *name;
	int r = sd_bus_message_read(message, "s", &name);

	(void)error;
	if (r >= 0)
		r = dict_take(message, keys, sizeof(keys) / sizeof(keys[0]), why);
	if (why[0] != '\0')
		return bus_refuse(message, "BadRequest", "%s", why);
	if (r < 0)
		return r;
	r = prepare(bus, message, name, &planning);
	if (planning == NULL)
		return r;
	if (!isnan(room))
		planning->of.piece.room_degc = room;
	if (!isnan(resin))
		planning->of.piece.resin_degc = resin;
	if (!isnan(cup))
		planning->of.piece.cup_limit_g = cup;
	planning->of.request.layers_wanted = (int)layers;
	for (size_t i = 0; system[0] != '\0' && i < planning->of.piece.n_coats; i++)
		if (strcmp(planning->of.piece.coats[i].system, planning->of.piece.system) == 0)
			snprintf(planning->of.piece.coats[i].system, SYSTEM_ID_MAX, "%s", system);
	return begin(bus, message, planning);
}

int bus_pour_check(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct bus_planning *planning = NULL;
	double mass_g, deviation_pct;
	const char *name;
	int r = sd_bus_message_read(message, "sdd", &name, &mass_g, &deviation_pct);

	(void)error;
	if (r < 0)
		return r;
	if (!(mass_g > 0.0 && mass_g <= 1e6))
		return bus_refuse(message, "OutOfRange", "%g g; expected what is in the cup.",
		                  mass_g);
	r = prepare(bus, message, name, &planning);
	if (planning == NULL)
		return r;
	planning->mass_g = mass_g;
	planning->deviation_pct = deviation_pct;
	return begin(bus, message, planning);
}
