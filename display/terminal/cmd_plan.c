/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdlib.h>

#include "args.h"
#include "plan_draw.h"
#include "plan_load.h"
#include "plan_print.h"

/* ambo plan: a piece cut into layers, from its file alone. */

#define USAGE "plan PIECE.conf [--json] [--svg FILE] [--png FILE] [--room DEGC] ..."
#define ABOUT                                                                                      \
	"How much, in how many pours, how deep may each be, and when may it be touched again:\n"   \
	"the layers of a piece, from its file and the labels of its systems; no station needed.\n" \
	"The depth is never above the label's. The options ask what if."

int cmd_plan(const struct context *context, int argc, char **argv)
{
	struct plan_what_if what_if = {.room_degc = NAN,
	                               .resin_degc = NAN,
	                               .humidity_pct = NAN,
	                               .cup_limit_g = NAN,
	                               .samples = BAND_SAMPLES,
	                               .seed = 1};
	const char *svg = NULL, *png = NULL, *dir = NULL;
	bool json = false, as_written = false;
	const struct arg table[] = {
	        {"--json", ARG_FLAG, &json, NULL, "one object, for programs", 0, 0},
	        {"--svg", ARG_TEXT, &svg, "FILE", "draw it: section, temperatures, cure", 0, 0},
	        {"--png", ARG_TEXT, &png, "FILE", "the same as a picture", 0, 0},
	        {"--room", ARG_NUMBER, &what_if.room_degc, "DEGC", "the room's temperature", 0, 60},
	        {"--resin", ARG_NUMBER, &what_if.resin_degc, "DEGC", "the resin's before mixing", 0,
	         80},
	        {"--humidity", ARG_NUMBER, &what_if.humidity_pct, "PCT", "of the room's air", 1,
	         100},
	        {"--system", ARG_TEXT, &what_if.system, "ID", "instead of the piece's own", 0, 0},
	        {"--cup-limit", ARG_NUMBER, &what_if.cup_limit_g, "G", "what a cup may hold", 5,
	         1e5},
	        {"--batches", ARG_WHOLE, &what_if.batches, "N", "to a layer, at most", 1, 50},
	        {"--layers", ARG_WHOLE, &what_if.layers, "N", "for the deepest coat", 1, 30},
	        {"--samples", ARG_WHOLE, &what_if.samples, "N", "of what is not known (300)", 20,
	         BAND_SAMPLES_MAX},
	        {"--seed", ARG_WHOLE, &what_if.seed, "N", "of those samples (1)", 0, 1e9},
	        {"--config", ARG_TEXT, &dir, "DIR", "with systems.d (around the piece; /etc/ambo)",
	         0, 0},
	        {"--as-written", ARG_FLAG, &as_written, NULL, "the units are meant so", 0, 0},
	};
	const struct args args = {USAGE, ABOUT, table, sizeof table / sizeof *table, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	struct plan_case *of = NULL;
	int status = args_parse(&args, argc, argv, operands);

	(void)context;
	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0]) {
		complain("plan: expected the file of a piece; usage: ambo " USAGE);
		return EXIT_USAGE;
	}
	status = plan_load(operands[0], dir, as_written, &what_if, &of);
	if (status != EXIT_OK)
		return status;
	if (plan_compute(of) < 0) {
		if (json)
			plan_print_refused_json(of);
		complain("%s: %s: %s", operands[0], of->piece.name, of->sentence);
		status = EXIT_FAILED;
	} else {
		if (json)
			plan_print_json(of);
		else
			plan_print_person(of);
		if (svg)
			status = plan_draw(of, PLAN_DRAW_SVG, svg);
		if (png && status == EXIT_OK)
			status = plan_draw(of, PLAN_DRAW_PNG, png);
	}
	free(of);
	return status;
}
