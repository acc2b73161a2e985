/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_MIX_REQUEST_H
#define AMBO_TERMINAL_MIX_REQUEST_H

#include "args.h"
#include "bus_client.h"

/* What is to be mixed, as the command line gives it and the bus takes it. Whether it
 * can be mixed is the station's to say. */
struct mix_request {
	double total_g, volume_ml, cup_limit_g, tint_pct, resin_degc; /* NAN: not given */
	const char *tint_label, *resin, *piece, *layer;               /* NULL: not given */
};

#define MIX_REQUEST_OPTIONS 9

void mix_request_init(struct mix_request *request, struct arg table[MIX_REQUEST_OPTIONS]);
bool mix_request_any(const struct mix_request *request); /* is anything given at all? */
/* Exactly one of total and volume: else says so, EXIT_USAGE. */
int mix_request_check(const struct mix_request *request);
/* Asks how warm the resin is, for a piece's layer: its clocks hang on it. */
void mix_request_ask(struct mix_request *request);
/* Begins the batch; its warning goes to standard error. */
int mix_request_begin(sd_bus *bus, const char *system, const struct mix_request *request,
                      int64_t *ret_id);

#endif
