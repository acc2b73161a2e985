/* SPDX-License-Identifier: MIT */
/* Plans over the bus: computed on the worker, so that readings do not wait. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "bus_inside.h"
#include "pieces.h"
#include "worker.h"

struct planning {
	struct bus_call *call;
	struct piece piece;
	struct casting_system systems[CONFIG_SYSTEMS_MAX];
	struct plan_request request;
	struct plan plan;
	struct plan_advice advice;
	double mass_g, deviation_pct; /* of a pour that is checked; 0: a plan */
	int64_t layers_before;
	double week_s;       /* the calendar's now */
	int64_t realtime_us; /* ... on the wall clock */
	char sentence[PLAN_SENTENCE_MAX];
	int result;
};

/* Seconds since Monday 00:00, by this machine's local time. */
static double now_of_week_s(void)
{
	const time_t now = time(NULL);
	struct tm local;

	localtime_r(&now, &local);
	return ((local.tm_wday + 6) % 7) * 86400.0 + local.tm_hour * 3600.0 + local.tm_min * 60.0 +
	       local.tm_sec;
}

static void run(void *context)
{
	struct planning *planning = context;

	planning->result =
	        planning->mass_g > 0.0
	                ? plan_advice(&planning->request, planning->mass_g, planning->deviation_pct,
	                              &planning->advice, planning->sentence)
	                : plan_make(&planning->request, &planning->plan, planning->sentence);
}

static int put_layer(sd_bus_message *reply, const struct planning *planning, size_t i)
{
	const struct plan_layer *layer = &planning->plan.layers[i];
	const double poured_s = layer->pour_at_s + layer->session_s;
	const int64_t epoch_us = planning->realtime_us - (int64_t)(planning->week_s * 1e6);
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	dict_put_whole(reply, "Layer", planning->layers_before + (int64_t)i + 1);
	dict_put_text(reply, "Coat", planning->piece.coats[layer->coat].name);
	dict_put_text(reply, "Tint", planning->piece.coats[layer->coat].tint);
	dict_put_text(reply, "System", layer->system);
	dict_put_text(reply, "Rule", plan_rule_name(layer->rule));
	dict_put_text(reply, "Change", plan_rule_change(layer->rule));
	dict_put_bool(reply, "TopCoat", layer->top_coat);
	dict_put_bool(reply, "SandFirst", layer->sand_first);
	dict_put_double(reply, "FromMillimetres", layer->from_mm);
	bus_put_widths(reply, &planning->piece.cavity, layer->from_mm, layer->depth_mm);
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

static int reply_plan(const struct planning *planning)
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

static int reply_advice(const struct planning *planning)
{
	const struct plan_advice *advice = &planning->advice;
	char sentence[256];

	if (advice->keep_back_g < 0.05)
		snprintf(sentence, sizeof(sentence), "Pour all: %.1f mm, at most %.0f C.",
		         advice->depth_mm, advice->peak_p95_degc);
	else
		snprintf(sentence, sizeof(sentence),
		         "%sKeep back %.0f g, spread it thin on something that does not burn: "
		         "%.1f mm is the most (%s).",
		         advice->runaway ? "Runaway: do not pour it all. " : "",
		         ceil(advice->keep_back_g), advice->allowed_mm,
		         advice->rule == PLAN_RULE_COAT ? "the coat ends there"
		                                        : plan_rule_name(advice->rule));
	return sd_bus_reply_method_return(planning->call->message, "ds", advice->keep_back_g,
	                                  sentence);
}

static void done(void *context)
{
	struct planning *planning = context;

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

/* Where the piece stands: what is poured, and when its last layer may be poured on. */
static void go_on_from(const struct pieces *pieces, const struct live_piece *live,
                       struct planning *planning)
{
	const struct live_layer *last;
	struct plan_request *request = &planning->request;
	double ago_s;

	planning->piece.room_degc = pieces_room_degc(pieces, &live->piece);
	request->piece = &planning->piece;
	request->systems = planning->systems;
	request->seed = 1;
	request->poured_mm = pieces_filled_mm(pieces, live, &last);
	request->not_before_s = planning->week_s;
	if (last == NULL)
		return;
	planning->layers_before = last->layer;
	ago_s = last->age_s + (double)(planning->realtime_us - last->computed.realtime_us) * 1e-6;
	request->opens_at_s = planning->week_s + last->course.at_s[LAYER_OPENS] - ago_s;
	request->closes_at_s = planning->week_s + last->course.at_s[CLOCK_BOND_CLOSES] - ago_s;
	request->sand_at_s = planning->week_s + last->course.at_s[CLOCK_HANDLE] - ago_s;
}

static void take_systems(const struct pieces *pieces, struct planning *planning)
{
	const struct casting_system *systems;

	planning->request.n_systems = pieces_systems(pieces, &systems);
	for (size_t i = 0; i < planning->request.n_systems; i++) {
		planning->systems[i] = systems[i];
		planning->systems[i].course.holds_s = pieces_holds_s(pieces, systems[i].id);
		planning->systems[i].label.cup_loss_g = pieces_usual_loss_g(pieces, &systems[i]);
	}
}

static int begin(struct bus *bus, sd_bus_message *message, struct planning *planning)
{
	planning->call = bus_call_keep(bus, message);
	if (planning->call == NULL) {
		free(planning);
		return 1;
	}
	if (worker_submit(bus->station->worker, run, done, planning) < 0) {
		bus_refuse(message, "Busy", "Another plan is being computed: wait a second.");
		bus_call_drop(planning->call);
		free(planning);
	}
	return 1;
}

static int prepare(struct bus *bus, sd_bus_message *message, const char *name,
                   struct planning **ret)
{
	const struct live_piece *live = pieces_find(bus->station->pieces, name);
	struct planning *planning;

	if (live == NULL)
		return bus_refuse(message, "NotFound", "There is no piece \"%.60s\" here.", name);
	planning = calloc(1, sizeof(*planning));
	if (planning == NULL)
		return -ENOMEM;
	planning->piece = live->piece;
	planning->week_s = now_of_week_s();
	planning->realtime_us = (int64_t)time(NULL) * 1000000;
	go_on_from(bus->station->pieces, live, planning);
	take_systems(bus->station->pieces, planning);
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
	struct planning *planning = NULL;
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
		planning->piece.room_degc = room;
	if (!isnan(resin))
		planning->piece.resin_degc = resin;
	if (!isnan(cup))
		planning->piece.cup_limit_g = cup;
	planning->request.layers_wanted = (int)layers;
	for (size_t i = 0; system[0] != '\0' && i < planning->piece.n_coats; i++)
		if (strcmp(planning->piece.coats[i].system, planning->piece.system) == 0)
			snprintf(planning->piece.coats[i].system, SYSTEM_ID_MAX, "%s", system);
	return begin(bus, message, planning);
}

int bus_pour_check(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct planning *planning = NULL;
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
