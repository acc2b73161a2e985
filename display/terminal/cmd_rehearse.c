/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "args.h"
#include "drivers/person.h"
#include "live.h"
#include "mix_request.h"
#include "step_print.h"
#include "terminal.h"

/* ambo rehearse: a simulated person mixes at the simulated bench. The person is fed
 * by nothing but what the bus shows, and acts by nothing but the bus. */

#define STUCK_S 120.0 /* of true time without any step: something is wrong */

struct rehearsal {
	struct live *live;
	struct person *person;
	int64_t id;
	bool text;
};

static double now_s(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void copy(char *to, size_t size, const char *from)
{
	snprintf(to, size, "%s", from);
}

static void see(const struct live *live, struct person_sight *ret)
{
	*ret = (struct person_sight){.t_us = live->reading.t_us};
	copy(ret->step, sizeof ret->step, dict_text(&live->batch, "Step"));
	copy(ret->component, sizeof ret->component, dict_text(&live->batch, "Component"));
	copy(ret->message, sizeof ret->message, dict_text(&live->batch, "Message"));
	copy(ret->press, sizeof ret->press, dict_text(&live->batch, "PressMeans"));
	copy(ret->cue, sizeof ret->cue, live->reading.cue);
	ret->has_remaining =
	        dict_number(&live->reading.quantities, "RemainingGrams", &ret->remaining_g) ||
	        dict_number(&live->batch, "Quantities.RemainingGrams", &ret->remaining_g);
}

static int act(struct rehearsal *rehearsal, const struct person_action *action)
{
	sd_bus *bus = rehearsal->live->bus;

	switch (action->hand) {
	case HAND_NONE:
		return EXIT_OK;
	case HAND_PRESS:
		return bus_client_call(bus, STATION_BATCH, "Press", NULL, "x", rehearsal->id);
	case HAND_BENCH:
		return bus_client_call(bus, STATION_BENCH, "Act", NULL, "sd", action->verb,
		                       action->amount);
	}
	return EXIT_OK;
}

/* A refusal is said and lived with, as a person would. */
static int look(struct rehearsal *rehearsal)
{
	struct person_sight sight;
	struct person_action action;

	see(rehearsal->live, &sight);
	for (int i = 0; i < 16 && person_look(rehearsal->person, &sight, &action) > 0; i++)
		if (act(rehearsal, &action) == EXIT_NO_STATION)
			return EXIT_NO_STATION;
	return EXIT_OK;
}

static int go(struct rehearsal *rehearsal)
{
	struct live *live = rehearsal->live;
	double stepped_s = now_s();

	for (;;) {
		int events = live_wait(live, -1, 1000);

		if (events < 0)
			return bus_client_failed("the bus is lost", events);
		if (events & LIVE_INTERRUPTED)
			return EXIT_INTERRUPTED;
		if (live->gone) {
			complain("the station has gone");
			return EXIT_NO_STATION;
		}
		if ((events & LIVE_STEP) && live->step.id == rehearsal->id) {
			stepped_s = now_s();
			step_print(&live->step, rehearsal->text);
			if (strcmp(live->step.step, "done") == 0 ||
			    strcmp(live->step.step, "discarded") == 0)
				return EXIT_OK;
		}
		if ((events & LIVE_READING) && look(rehearsal) != EXIT_OK)
			return EXIT_NO_STATION;
		if (now_s() - stepped_s > STUCK_S) {
			complain("no step for %.0f s: the person and the station wait for each "
			         "other",
			         STUCK_S);
			return EXIT_FAILED;
		}
	}
}

static int rehearse(sd_bus *bus, const char *system, const struct mix_request *request,
                    struct rehearsal *rehearsal)
{
	struct dict *scale = calloc(1, sizeof *scale);
	int status;

	if (!scale)
		return bus_client_failed("rehearse", -ENOMEM);
	status = bus_client_properties(bus, STATION_SCALE, scale);
	if (status == EXIT_OK && strcmp(dict_text(scale, "Driver"), "simulated") != 0) {
		complain("rehearse: only at the simulated bench; this station's scale is %s",
		         dict_text(scale, "Driver"));
		status = EXIT_FAILED;
	}
	free(scale);
	/* Followed first: the batch's own first step is not missed. */
	if (status == EXIT_OK)
		status = live_open(bus, rehearsal->live);
	if (status == EXIT_OK)
		status = mix_request_begin(bus, system, request, &rehearsal->id);
	if (status == EXIT_OK)
		status = bus_client_properties(bus, STATION_BATCH, &rehearsal->live->batch);
	if (status == EXIT_OK) {
		step_print_header(rehearsal->text);
		status = go(rehearsal);
	}
	if (status == EXIT_OK)
		status = step_print_record(bus, rehearsal->id, rehearsal->text);
	return status;
}

int cmd_rehearse(const struct context *context, int argc, char **argv)
{
	struct person_config person = {.reaction_s = 0.23,
	                               .reaction_sd_s = 0.04,
	                               .rate_g_per_s = 12.0,
	                               .tapers = true,
	                               .overshoot_chance = 0.15,
	                               .cup_g = 38.0};
	struct mix_request request;
	struct arg table[MIX_REQUEST_OPTIONS + 3];
	int64_t seed = 7;
	struct rehearsal rehearsal = {.text = terminal_out()};
	const struct args args = {
	        "rehearse SYSTEM --total G | --volume ML [--seed N] [options]",
	        "A simulated person mixes one batch at the simulated bench, with reaction time and "
	        "an\n"
	        "occasional overshoot, seeing only what the station shows. Prints each step as it\n"
	        "happens and the committed record at the end; 0 only if that is within tolerance.",
	        table, MIX_REQUEST_OPTIONS + 3, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus *bus = NULL;
	int r, status;

	mix_request_init(&request, table);
	table[MIX_REQUEST_OPTIONS] =
	        (struct arg){"--seed", ARG_WHOLE, &seed, "N", "which person (7)", 0, 9e15};
	table[MIX_REQUEST_OPTIONS + 1] = (struct arg){"--overshoot",
	                                              ARG_NUMBER,
	                                              &person.overshoot_chance,
	                                              "P",
	                                              "chance of a clumsy stop, 0 to 1 (0.15)",
	                                              0,
	                                              1};
	table[MIX_REQUEST_OPTIONS + 2] =
	        (struct arg){"--text",
	                     ARG_FLAG,
	                     &rehearsal.text,
	                     NULL,
	                     "for people even where it is no terminal; else CSV there",
	                     0,
	                     0};
	status = args_parse(&args, argc, argv, operands);
	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0]) {
		complain("rehearse: say which system; `ambo systems` lists them");
		return EXIT_USAGE;
	}
	if ((status = mix_request_check(&request)) != EXIT_OK)
		return status;
	person.seed = (uint64_t)seed;
	rehearsal.live = calloc(1, sizeof *rehearsal.live);
	r = rehearsal.live ? person_new(&person, &rehearsal.person) : -ENOMEM;
	if (r < 0) {
		free(rehearsal.live);
		return bus_client_failed("rehearse", r);
	}
	status = bus_client_open(context, &bus);
	live_catch_interrupt();
	if (status == EXIT_OK)
		status = rehearse(bus, operands[0], &request, &rehearsal);
	sd_bus_flush_close_unref(bus);
	person_free(rehearsal.person);
	free(rehearsal.live);
	return status;
}
