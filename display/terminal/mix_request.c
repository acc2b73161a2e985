/* SPDX-License-Identifier: MIT */
#include "mix_request.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void mix_request_init(struct mix_request *r, struct arg table[MIX_REQUEST_OPTIONS])
{
	const struct arg options[MIX_REQUEST_OPTIONS] = {
	        {"--total", ARG_NUMBER, &r->total_g, "G", "grams of mixed resin", 1e-6, 1e6},
	        {"--volume", ARG_NUMBER, &r->volume_ml, "ML",
	         "millilitres instead, by the mixed density", 1e-6, 1e6},
	        {"--cup-limit", ARG_NUMBER, &r->cup_limit_g, "G", "what the cup may hold", 1e-6,
	         1e6},
	        {"--tint", ARG_NUMBER, &r->tint_pct, "PERCENT", "tint, of the mixed mass", 0, 100},
	        {"--tint-label", ARG_TEXT, &r->tint_label, "TEXT", "what the tint is called", 0, 0},
	        {"--degc", ARG_NUMBER, &r->resin_degc, "C", "temperature of the resin", -20, 100},
	        {"--resin", ARG_TEXT, &r->resin, "WORD", "instead of --degc: cool or room", 0, 0},
	        {"--piece", ARG_TEXT, &r->piece, "TEXT", "what it is for: a label", 0, 0},
	        {"--layer", ARG_TEXT, &r->layer, "TEXT", "which layer of it: a label", 0, 0},
	};

	*r = (struct mix_request){NAN, NAN, NAN, NAN, NAN, NULL, NULL, NULL, NULL};
	memcpy(table, options, sizeof options);
}

bool mix_request_any(const struct mix_request *r)
{
	return !isnan(r->total_g) || !isnan(r->volume_ml) || !isnan(r->cup_limit_g) ||
	       !isnan(r->tint_pct) || !isnan(r->resin_degc) || r->tint_label || r->resin ||
	       r->piece || r->layer;
}

int mix_request_check(const struct mix_request *r)
{
	if (isnan(r->total_g) == isnan(r->volume_ml)) {
		complain("say how much: either --total G or --volume ML");
		return EXIT_USAGE;
	}
	return EXIT_OK;
}

void mix_request_ask(struct mix_request *r)
{
	char answer[32] = "";
	double degc;

	printf("How warm is the resin? cool, room, or the degrees it was warmed to [room]: ");
	fflush(stdout);
	if (!fgets(answer, sizeof answer, stdin))
		return; /* nobody there: not known */
	answer[strcspn(answer, "\n")] = '\0';
	if (args_number(answer, &degc) == 0)
		r->resin_degc = degc;
	else
		r->resin = answer[0] == 'c' ? "cool" : "room";
}

static int append_number(sd_bus_message *call, const char *key, double value)
{
	return isnan(value) ? 0 : sd_bus_message_append(call, "{sv}", key, "d", value);
}

static int append_text(sd_bus_message *call, const char *key, const char *value)
{
	return value ? sd_bus_message_append(call, "{sv}", key, "s", value) : 0;
}

static int append_request(sd_bus_message *call, const char *system, const struct mix_request *r)
{
	int e = sd_bus_message_open_container(call, 'a', "{sv}");

	e = e < 0 ? e : append_text(call, "System", system);
	e = e < 0 ? e : append_number(call, "TotalGrams", r->total_g);
	e = e < 0 ? e : append_number(call, "VolumeMillilitres", r->volume_ml);
	e = e < 0 ? e : append_number(call, "CupLimitGrams", r->cup_limit_g);
	e = e < 0 ? e : append_number(call, "TintPercent", r->tint_pct);
	e = e < 0 ? e : append_text(call, "TintLabel", r->tint_label);
	e = e < 0 ? e : append_number(call, "ResinCelsius", r->resin_degc);
	e = e < 0 ? e : append_text(call, "Resin", r->resin);
	e = e < 0 ? e : append_text(call, "Piece", r->piece);
	e = e < 0 ? e : append_text(call, "Layer", r->layer);
	return e < 0 ? e : sd_bus_message_close_container(call);
}

int mix_request_begin(sd_bus *bus, const char *system, const struct mix_request *request,
                      int64_t *ret_id)
{
	sd_bus_message *call = NULL, *reply = NULL;
	const char *warning = "";
	int status, r;

	r = sd_bus_message_new_method_call(bus, &call, STATION_NAME, STATION_BATCH, "Begin");
	if (r >= 0)
		r = append_request(call, system, request);
	if (r < 0) {
		sd_bus_message_unref(call);
		return bus_client_failed("the request cannot be sent", r);
	}
	status = bus_client_send(bus, call, &reply);
	if (status == EXIT_OK && (r = sd_bus_message_read(reply, "xs", ret_id, &warning)) < 0)
		status = bus_client_failed("the station's answer cannot be read", r);
	if (status == EXIT_OK && *warning)
		complain("%s", warning);
	sd_bus_message_unref(reply);
	return status;
}
