/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "args.h"
#include "cure_request.h"
#include "output.h"

/* ambo cure: heat and gel of one layer, or of resin in its cup, from numbers alone. */

static int compare_times(const void *a, const void *b)
{
	const struct heat_at *x = a, *y = b;

	return (x->t_s > y->t_s) - (x->t_s < y->t_s);
}

/* "2 h 36 min", "45 s"; "never" where it is not known to come. */
static void person_time(const char *what, double s)
{
	if (isnan(s))
		printf("%-16s not by the end\n", what);
	else if (s < 120.0)
		printf("%-16s %.0f s\n", what, s);
	else if (s < 48.0 * 3600.0)
		printf("%-16s %d h %02d min\n", what, (int)(s / 3600.0),
		       (int)(fmod(s, 3600.0) / 60.0));
	else
		printf("%-16s %.1f days\n", what, s / 86400.0);
}

static void runaway(double peak_degc)
{
	if (peak_degc > HEAT_RUNAWAY_DEGC)
		printf("runaway: do not pour\n");
}

static void at_json(struct json *json, const struct heat_at *at)
{
	json_open(json, NULL, '{');
	json_number(json, "t_s", at->t_s);
	json_number(json, "middle_degc", at->middle_degc);
	json_number(json, "middle_conversion", at->middle_conversion);
	json_close(json, '}');
}

/* The times in the order they were asked for. */
static void layer_json(const struct cure_request *request, const struct heat_result *result,
                       const struct heat_at *at)
{
	struct json json;

	json_init(&json, stdout, false);
	json_open(&json, NULL, '{');
	json_number(&json, "peak_degc", result->peak_degc);
	json_number(&json, "peak_middle_degc", result->peak_middle_degc);
	json_number(&json, "peak_top_degc", result->peak_top_degc);
	json_number(&json, "peak_bottom_degc", result->peak_bottom_degc);
	json_number(&json, "gel_middle_s", result->gel_middle_s);
	json_number(&json, "gel_top_s", result->gel_top_s);
	json_open(&json, "at", '[');
	for (size_t i = 0; i < request->n_times; i++) {
		const struct heat_at key = {.t_s = request->times_s[i]};

		at_json(&json, bsearch(&key, at, request->n_times, sizeof *at, compare_times));
	}
	json_close(&json, ']');
	json_close(&json, '}');
}

static int failed(int r)
{
	complain("cure: %s", r == -ENOMEM ? "no memory left"
	                                  : "these numbers leave the range of the arithmetic; "
	                                    "expected a resin that someone could pour");
	return EXIT_FAILED;
}

/* A front too thin to follow has burnt long before: that much can be told. */
static int layer_failed(const struct cure_request *request, int r)
{
	struct heat_wanted wanted = {.stop_above_degc = HEAT_RUNAWAY_DEGC};
	struct heat_result result;

	if (r == -ERANGE && heat_run(&request->layer, &wanted, &result) == 0 && result.stopped) {
		complain("cure: runaway: do not pour: past %.0f C after %.10g s, and from there on "
		         "it burns too fast to be followed",
		         HEAT_RUNAWAY_DEGC, round(result.end_s));
		return EXIT_FAILED;
	}
	return failed(r);
}

static int layer(const struct cure_request *request)
{
	struct heat_at at[CURE_TIMES_MAX] = {{0}};
	struct heat_wanted wanted = {.tolerance_k = request->tolerance_k,
	                             .until_s = request->until_s,
	                             .at = at,
	                             .n_at = request->n_times};
	struct heat_result result;
	int r;

	for (size_t i = 0; i < request->n_times; i++)
		at[i].t_s = request->times_s[i];
	qsort(at, request->n_times, sizeof *at, compare_times);
	r = heat_run(&request->layer, &wanted, &result);
	if (r < 0)
		return layer_failed(request, r);
	if (request->json) {
		layer_json(request, &result, at);
		return EXIT_OK;
	}
	runaway(result.peak_degc);
	printf("%-16s %.1f C\n", "peak", result.peak_degc);
	person_time("after", result.peak_s);
	printf("%-16s %.1f C middle, %.1f C top, %.1f C bottom\n", "peaks of",
	       result.peak_middle_degc, result.peak_top_degc, result.peak_bottom_degc);
	person_time("gel, middle", result.gel_middle_s);
	person_time("gel, surface", result.gel_top_s);
	person_time("tack-free", result.tack_free_top_s);
	for (size_t i = 0; i < request->n_times; i++)
		printf("at %.10g s: middle %.1f C, %.1f %% cured\n", at[i].t_s, at[i].middle_degc,
		       100.0 * at[i].middle_conversion);
	return EXIT_OK;
}

static int cup(const struct cure_request *request)
{
	struct cup_result result;
	struct json json;
	int r = cup_run(&request->in_cup, request->until_s, &result);

	if (r < 0)
		return failed(r);
	if (request->json) {
		json_init(&json, stdout, false);
		json_open(&json, NULL, '{');
		json_number(&json, "gel_s", result.gel_s);
		json_number(&json, "peak_degc", result.peak_degc);
		json_close(&json, '}');
		return EXIT_OK;
	}
	person_time("working life", result.gel_s);
	printf("%-16s %.1f C\n", "peak", result.peak_degc);
	if (result.peak_degc > HEAT_RUNAWAY_DEGC)
		printf("left in the cup it smokes and can ignite: pour it or spread it thin in "
		       "time\n");
	return EXIT_OK;
}

int cmd_cure(const struct context *context, int argc, char **argv)
{
	struct cure_request request;
	int status = cure_request_read(argc, argv, &request);

	(void)context;
	if (status != ARGS_GO_ON)
		return status;
	return request.cup ? cup(&request) : layer(&request);
}
