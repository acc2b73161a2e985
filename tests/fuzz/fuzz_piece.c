/* SPDX-License-Identifier: MIT */
/* Any bytes as a piece's file: sentences that name the file and leave the piece as it
 * was, or a piece that can be planned or is refused in one sentence; and what a plan
 * holds adds up. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/station/piece_file.h"
#include "tests/support/piece_case.h"

#define TEXT_MAX 8192u

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* libconfig 1.5 forgets a string that a syntax error cuts short; that is not ours. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
	return "leak:libconfig";
}

static char text[TEXT_MAX];

static void demand(int holds, const char *what)
{
	if (holds)
		return;
	fprintf(stderr, "broken: %s, by:\n%s\n", what, text);
	abort();
}

static void hear(void *context, const char *sentence)
{
	size_t *heard = context;

	demand(strncmp(sentence, "fuzz:", 5) == 0, "a sentence names the file");
	demand(strchr(sentence, '\n') == NULL, "a sentence is one line");
	++*heard;
}

static void look_at_layer(const struct plan *plan, size_t i, const struct piece *piece)
{
	const struct plan_layer *layer = &plan->layers[i];
	double day_s = fmod(layer->pour_at_s, 86400.0);

	demand(layer->depth_mm > 0.0 && layer->depth_mm <= layer->label_depth_mm + 1e-9,
	       "no deeper than the label allows");
	demand(isfinite(layer->volume_ml) && layer->volume_ml > 0.0, "a layer has a volume");
	demand(isfinite(layer->total_g) && layer->a_g > 0.0 && layer->b_g > 0.0 &&
	               layer->tint_g >= 0.0,
	       "a layer has masses");
	demand(fabs(layer->a_g + layer->b_g + layer->tint_g - layer->total_g) <=
	               1e-9 * layer->total_g,
	       "the parts are the whole");
	demand(layer->batches >= 1 && layer->batch_g <= piece->cup_limit_g * (1.0 + 1e-9),
	       "a batch fits its cup");
	demand(layer->peak_band_degc.p95 <= layer->heat_limit_degc &&
	               layer->heat_limit_degc <= HEAT_RUNAWAY_DEGC,
	       "under its limit, and that under a runaway");
	demand(layer->peak_band_degc.p5 <= layer->peak_band_degc.p95, "a band is a band");
	demand(day_s >= piece->hours.opens_min * 60.0 - 1.0 &&
	               day_s + layer->session_s <= piece->hours.closes_min * 60.0 + 1.0,
	       "poured in their hours");
	demand(i == 0 || layer->pour_at_s >= plan->layers[i - 1].pour_at_s, "one after another");
}

static void look_at_plan(const struct plan *plan, const struct piece *piece)
{
	double inside_mm = 0.0, inside_ml = 0.0;
	struct inclusion in[PIECE_INCLUSIONS_MAX];
	size_t n = piece_displacing(piece, in);
	double filled = piece_filled_mm(piece), cavity_ml, expected_ml;

	for (size_t i = 0; i < plan->n_layers; i++) {
		look_at_layer(plan, i, piece);
		if (plan->layers[i].top_coat)
			continue;
		inside_mm += plan->layers[i].depth_mm;
		inside_ml += plan->layers[i].volume_ml;
	}
	cavity_ml = cavity_volume_ml(&piece->cavity, 0.0, filled);
	expected_ml = cavity_ml - cavity_displaced_ml(in, n, 0.0, filled);
	demand(fabs(inside_mm - filled) <= 1e-4, "the layers fill the coats");
	demand(fabs(inside_ml - expected_ml) <= 1e-6 * cavity_ml, "the volumes fill them too");
}

static void plan_it(struct piece *piece)
{
	static struct piece_case of;
	char sentence[PIECE_SENTENCE_MAX] = "";

	if (of.request.n_systems == 0)
		piece_case_make(&of);
	of.piece = *piece;
	of.request.samples = 1;
	piece_question(piece, sentence);
	demand(strchr(sentence, '\n') == NULL, "a question is one line");
	of.sentence[0] = '\0';
	if (plan_make(&of.request, &of.plan, of.sentence) == 0)
		look_at_plan(&of.plan, piece);
	else
		demand(of.sentence[0] != '\0' && strchr(of.sentence, '\n') == NULL,
		       "a refusal is one sentence");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct piece piece, before;
	size_t heard = 0;
	struct conf_report report = {.say = hear, .context = &heard};

	if (size >= sizeof(text))
		return 0;
	memcpy(text, data, size);
	text[size] = '\0';
	memset(&piece, 0x5a, sizeof(piece));
	memcpy(&before, &piece, sizeof(piece));
	if (piece_file_text("fuzz", text, &report, &piece) == 0) {
		demand(heard == 0, "what is read is not complained about");
		plan_it(&piece);
		return 0;
	}
	demand(heard > 0, "a refusal is told");
	demand(memcmp(&piece, &before, sizeof(piece)) == 0, "a refused file leaves nothing");
	return 0;
}
