/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "args.h"
#include "live.h"
#include "mix_request.h"
#include "mix_screen.h"
#include "step_print.h"
#include "terminal.h"

/* ambo mix: led through a batch, on a terminal by keys and a screen redrawn in
 * place, elsewhere by a line a step. The batch is the station's: leaving is free. */

#define REDRAW_S 0.05
#define ABSENT_S 30.0 /* without a terminal: how long a station may be gone */
#define NOTE_S   4.0

/* The simulated hands, where a key stands for them. */
#define HAND_CUP_G   38.0
#define HAND_POUR    12.0 /* g/s */
#define HAND_SLOW    2.0
#define HAND_TIP_S   0.3
#define HAND_KNOCK_G 20.0
#define HAND_RESIDUE 2.0
#define HAND_PINCH_G 0.5

struct mix {
	struct live *live;
	int64_t id;
	bool screen; /* a terminal to draw on and to take keys from */
	bool bench;  /* simulated: keys act for the hands */
	bool pouring;
	bool drawn;
	bool discard_next; /* the first of two d was pressed */
	bool ended;        /* its last step was told */
	char advised[256]; /* as said */
	char note[256];
	double note_until_s;
	double drawn_s, gone_s;
};

static double now_s(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void note(struct mix *mix, const char *text)
{
	snprintf(mix->note, sizeof mix->note, "%s", text);
	mix->note_until_s = now_s() + NOTE_S;
}

/* Like bus_client_call(), but a refusal becomes a note on the screen. */
static void tell(struct mix *mix, sd_bus_message *call)
{
	sd_bus_error error = SD_BUS_ERROR_NULL;

	if (sd_bus_call(mix->live->bus, call, (uint64_t)(STATION_TIMEOUT_S * 1e6), &error, NULL) <
	    0)
		note(mix, error.message && *error.message ? error.message
		                                          : "the station did not answer");
	sd_bus_error_free(&error);
	sd_bus_message_unref(call);
}

static void batch(struct mix *mix, const char *method)
{
	sd_bus_message *call = NULL;

	if (sd_bus_message_new_method_call(mix->live->bus, &call, STATION_NAME, STATION_BATCH,
	                                   method) >= 0 &&
	    sd_bus_message_append(call, "x", (int64_t)0) >= 0)
		tell(mix, call);
}

static void hand(struct mix *mix, const char *verb, double amount)
{
	sd_bus_message *call = NULL;

	if (sd_bus_message_new_method_call(mix->live->bus, &call, STATION_NAME, STATION_BENCH,
	                                   "Act") >= 0 &&
	    sd_bus_message_append(call, "sd", verb, amount) >= 0)
		tell(mix, call);
}

static void pour(struct mix *mix)
{
	const char *component = dict_text(&mix->live->batch, "Component");
	double left_g = HAND_PINCH_G;
	char verb[24];

	if (mix->pouring) {
		hand(mix, "stop", HAND_TIP_S);
		mix->pouring = false;
	} else if (strcmp(component, "a") == 0 || strcmp(component, "b") == 0) {
		snprintf(verb, sizeof verb, "pour-%s", component);
		hand(mix, verb, HAND_POUR);
		mix->pouring = true;
	} else if (strcmp(component, "tint") == 0 || strcmp(component, "filler") == 0) {
		dict_number(&mix->live->batch, "Quantities.RemainingGrams", &left_g);
		hand(mix, component, fmax(fmin(left_g, HAND_PINCH_G), 0.01));
	}
}

static void bench_key(struct mix *mix, int key)
{
	switch (key) {
	case 'c':
		hand(mix, "cup", HAND_CUP_G);
		break;
	case 'p':
		pour(mix);
		break;
	case 's':
		hand(mix, "taper", HAND_SLOW);
		break;
	case 'l':
		hand(mix, "lift", 0.0);
		break;
	case 'r':
		hand(mix, "return", 0.0);
		break;
	case 'w':
		hand(mix, "wipe", 0.0);
		break;
	case 'k':
		hand(mix, "knock", HAND_KNOCK_G);
		break;
	case 'e':
		hand(mix, "empty", HAND_RESIDUE);
		break;
	}
}

static void press_key(struct mix *mix, int key)
{
	bool discard = mix->discard_next;

	mix->discard_next = false;
	if (key == '\n' || key == ' ') {
		batch(mix, "Press");
	} else if (key == 'h') {
		batch(mix, "Hold");
	} else if (key == 'o') {
		batch(mix, "OtherPart");
	} else if (key == 'd' && discard) {
		batch(mix, "Discard");
	} else if (key == 'd') {
		mix->discard_next = true;
		note(mix, "press d once more to discard the batch; any other key keeps it");
	} else if (mix->bench) {
		bench_key(mix, key);
	}
}

/* Whether all of it may go into the layer, while that matters. */
static const char *advice(const struct mix *mix)
{
	const char *step = dict_text(&mix->live->batch, "Step");

	return strcmp(step, "stir") == 0 || strcmp(step, "pour") == 0
	               ? dict_text(&mix->live->batch, "PourAdvice")
	               : "";
}

/* Without a screen it is said once, beside the rows. */
static void say_advice(struct mix *mix)
{
	if (mix->screen || strcmp(advice(mix), mix->advised) == 0)
		return;
	snprintf(mix->advised, sizeof mix->advised, "%s", advice(mix));
	if (*mix->advised)
		fprintf(stderr, "%s\n", mix->advised);
}

static void draw(struct mix *mix, bool now)
{
	struct mix_screen screen = {.columns = terminal_columns(),
	                            .utf8 = terminal_utf8(),
	                            .bench = mix->bench,
	                            .note = now_s() < mix->note_until_s ? mix->note : NULL};

	if (!screen.note && *advice(mix))
		screen.note = advice(mix);
	if (!mix->screen || (!now && now_s() - mix->drawn_s < REDRAW_S))
		return;
	if (mix->drawn)
		printf("\033[%dA\r", MIX_SCREEN_LINES);
	mix_screen_draw(stdout, &screen, mix->live);
	fflush(stdout);
	mix->drawn = true;
	mix->drawn_s = now_s();
}

static bool finished(const struct mix *mix)
{
	const char *step = dict_text(&mix->live->batch, "Step");

	return dict_whole(&mix->live->batch, "Id") == mix->id &&
	       (strcmp(step, "done") == 0 || strcmp(step, "discarded") == 0);
}

static bool ends(const struct live_step *step)
{
	return strcmp(step->step, "done") == 0 || strcmp(step->step, "discarded") == 0;
}

static int leave(struct mix *mix)
{
	if (mix->pouring)
		hand(mix, "stop", HAND_TIP_S);
	draw(mix, true);
	printf("%sThe batch goes on without this screen. Come back to it with: ambo mix\n",
	       mix->screen ? "" : "# ");
	return EXIT_INTERRUPTED;
}

static int go(struct mix *mix)
{
	struct live *live = mix->live;

	/* The properties may tell of the end before the signal of the last step does. */
	for (int late = 0; !finished(mix) || (!mix->screen && !mix->ended && late < 20);) {
		int events = live_wait(live, mix->screen ? STDIN_FILENO : -1, 200);
		int key;

		if (events < 0)
			return bus_client_failed("the bus is lost; the batch is the station's",
			                         events);
		if (events & LIVE_INTERRUPTED)
			return leave(mix);
		if (events & LIVE_GONE)
			mix->gone_s = now_s();
		if (live->gone && !mix->screen && now_s() - mix->gone_s > ABSENT_S) {
			complain("the station has gone; its open batch is kept in its store");
			return EXIT_NO_STATION;
		}
		late += finished(mix);
		if ((events & LIVE_STEP) && !mix->screen)
			step_print(&live->step, false);
		if ((events & LIVE_STEP) && live->step.id == mix->id)
			mix->ended = ends(&live->step);
		while (mix->screen && (key = terminal_key()) != 0) {
			if (key < 0)
				return leave(mix);
			press_key(mix, key);
		}
		say_advice(mix);
		draw(mix, (events & (LIVE_STEP | LIVE_GONE | LIVE_BACK)) != 0);
	}
	draw(mix, true);
	return step_print_record(live->bus, mix->id, mix->screen);
}

/* The batch to be led through: a new one, or the one that runs. */
static int choose(sd_bus *bus, const char *system, const struct mix_request *request,
                  struct mix *mix)
{
	const char *step;
	/* Followed first: the batch's own first step is not missed. */
	int status = live_open(bus, mix->live);

	if (status == EXIT_OK && system)
		status = mix_request_begin(bus, system, request, &mix->id);
	if (status == EXIT_OK && system)
		status = bus_client_properties(bus, STATION_BATCH, &mix->live->batch);
	if (status != EXIT_OK || system)
		return status;
	mix->id = dict_whole(&mix->live->batch, "Id");
	step = dict_text(&mix->live->batch, "Step");
	if (mix->id == 0 || finished(mix) || !*step) {
		complain("no batch is running: begin one with `ambo mix SYSTEM --total G`");
		return EXIT_FAILED;
	}
	return EXIT_OK;
}

int cmd_mix(const struct context *context, int argc, char **argv)
{
	struct mix_request request;
	struct arg table[MIX_REQUEST_OPTIONS];
	const struct args args = {
	        "mix [SYSTEM --total G | --volume ML [options]]",
	        "Leads through one batch; without SYSTEM, comes back to the one that runs.\n"
	        "Keys: Enter or space go on, h holds, o says that was the other part, d d "
	        "discards;\n"
	        "Ctrl-C leaves, and the batch goes on. On the simulated bench more keys act for "
	        "the\n"
	        "hands. Elsewhere than on a terminal: a CSV row a step, then the record.",
	        table, MIX_REQUEST_OPTIONS, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	struct mix mix = {0};
	struct dict *scale;
	sd_bus *bus = NULL;
	int status;

	mix_request_init(&request, table);
	status = args_parse(&args, argc, argv, operands);
	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0] && mix_request_any(&request)) {
		complain("mix: say which system; `ambo systems` lists them");
		return EXIT_USAGE;
	}
	if (operands[0] && (status = mix_request_check(&request)) != EXIT_OK)
		return status;
	mix.live = calloc(1, sizeof *mix.live);
	scale = calloc(1, sizeof *scale);
	if (!mix.live || !scale) {
		status = bus_client_failed("mix", -ENOMEM);
		goto out;
	}
	mix.screen = terminal_in() && terminal_out();
	status = bus_client_open(context, &bus);
	live_catch_interrupt();
	if (status == EXIT_OK)
		status = bus_client_properties(bus, STATION_SCALE, scale);
	/* A probe tells by itself. */
	if (status == EXIT_OK && mix.screen && operands[0] && request.piece && !request.resin &&
	    isnan(request.resin_degc) && !dict_find(scale, "Sensors.ResinCelsius"))
		mix_request_ask(&request);
	if (status == EXIT_OK)
		status = choose(bus, operands[0], &request, &mix);
	if (status == EXIT_OK) {
		mix.bench = strcmp(dict_text(scale, "Driver"), "simulated") == 0;
		if (mix.screen && terminal_raw() < 0)
			mix.screen = false;
		if (!mix.screen)
			step_print_header(false);
		draw(&mix, true);
		status = go(&mix);
		terminal_restore();
	}
out:
	sd_bus_flush_close_unref(bus);
	free(scale);
	free(mix.live);
	return status;
}
