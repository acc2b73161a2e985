/* SPDX-License-Identifier: MIT */
#include "pour_advice.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "bus.h"
#include "cup_clock.h"
#include "planning.h"
#include "worker.h"

/* Less than this is a drip. */
#define KEEP_BACK_MIN_G 0.05

struct asking {
	struct station *station;
	int64_t batch_id;
	double of_g, mass_g, deviation_pct;
	struct planning planning;
	struct plan_advice advice;
	char sentence[PLAN_SENTENCE_MAX];
	int result;
};

void pour_advice_sentence(const struct plan_advice *advice, char *ret, size_t size)
{
	if (advice->keep_back_g < KEEP_BACK_MIN_G)
		snprintf(ret, size, "Pour all: %.1f mm, at most %.0f C.", advice->depth_mm,
		         advice->peak_p95_degc);
	else
		snprintf(ret, size,
		         "%sKeep back %.0f g: weigh the cup with it, then spread it thin on "
		         "something that does not burn; %.1f mm is the most (%s).",
		         advice->runaway ? "Runaway: do not pour it all. " : "",
		         ceil(advice->keep_back_g), advice->allowed_mm,
		         advice->rule == PLAN_RULE_COAT ? "the coat ends there"
		                                        : plan_rule_name(advice->rule));
}

static void run(void *context)
{
	struct asking *asking = context;

	asking->result = plan_advice(&asking->planning.request, asking->mass_g,
	                             asking->deviation_pct, &asking->advice, asking->sentence);
}

static void done(void *context)
{
	struct asking *asking = context;
	struct batch *batch = batches_find(&asking->station->batches, asking->batch_id);

	/* Nothing is said where the plan itself says why it cannot be. */
	if (batch != NULL && batch->advised_g == asking->of_g && asking->result == 0) {
		batch->keep_back_g = asking->advice.keep_back_g < KEEP_BACK_MIN_G
		                             ? 0.0
		                             : asking->advice.keep_back_g;
		pour_advice_sentence(&asking->advice, batch->advice, sizeof(batch->advice));
		if (asking->station->bus != NULL)
			bus_advice_changed(asking->station->bus);
	}
	free(asking);
}

/* More of a layer that is begun: judged with what lies there, from where that lies. */
static void add_to_layer(const struct station *station, const struct batch *batch,
                         const struct live_piece *live, struct asking *asking)
{
	const struct guide *guide = &batch->commit.committed;
	const struct live_layer *last;

	(void)pieces_filled_mm(station->pieces, live, &last);
	if (last == NULL || atol(guide->recipe.layer) != last->layer)
		return;
	asking->planning.request.poured_mm = last->poured.from_mm;
	asking->mass_g += last->poured.in_piece_g;
}

static bool wants(const struct station *station, const struct batch *batch,
                  const struct live_piece **ret)
{
	const struct guide *guide = &batch->commit.committed;
	struct guide_view view;

	if (!batch_open(batch))
		return false;
	guide_look(guide, &view);
	*ret = pieces_find(station->pieces, guide->recipe.piece);
	return (view.step == GUIDE_STIR || view.step == GUIDE_POUR) && *ret != NULL &&
	       !(*ret)->finished && batch->advised_g != cup_clock_mass_g(batch);
}

bool pour_advice_waits(const struct batch *batch)
{
	return batch_open(batch) && batch->advice_waits;
}

void pour_advice_look(struct station *station, struct batch *batch)
{
	const struct guide *guide = &batch->commit.committed;
	const struct live_piece *live;
	struct asking *asking;
	struct ratio ratio;

	batch->advice_waits = false;
	if (!wants(station, batch, &live) || guide_ratio(guide, &ratio) < 0)
		return;
	asking = calloc(1, sizeof(*asking));
	if (asking == NULL)
		return;
	asking->station = station;
	asking->batch_id = batch->id;
	asking->of_g = asking->mass_g = cup_clock_mass_g(batch);
	asking->deviation_pct = ratio.deviation_pct;
	planning_take(station, live, &asking->planning);
	add_to_layer(station, batch, live, asking);
	if (guide->recipe.resin_known)
		asking->planning.piece.resin_degc = guide->recipe.resin_degc;
	if (worker_submit(station->worker, run, done, asking) < 0) {
		batch->advice_waits = true;
		free(asking);
		return;
	}
	batch->advised_g = asking->of_g;
	batch->advice[0] = '\0';
	batch->keep_back_g = 0.0;
}
