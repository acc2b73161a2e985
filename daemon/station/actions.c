/* SPDX-License-Identifier: MIT */
/* What a person can do, from the bus or from a presses file. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "action_text.h"
#include "bus.h"
#include "keep.h"
#include "station.h"
#include "words/words.h"

/* The guide would pass over it: whoever presses is told so, and what it waits for. What
 * a presses file repeats was taken when it came; while a step is being stored, what an
 * event means is not known yet. */
static bool means_nothing(const struct batch *batch, enum guide_event_kind kind,
                          const struct guide_view *view, char *why)
{
	const struct guide *guide = &batch->commit.committed;
	const struct guide_event event = {.kind = kind, .t_us = guide->t_us};
	char sentence[WORDS_SENTENCE_MAX];
	struct guide tried;

	if (kind == GUIDE_PRESS && view->press == PRESS_NOTHING) {
		words_sentence(&view->message, &guide->recipe.system, sentence, sizeof(sentence));
		snprintf(why, ACTION_WHY_MAX, "A press does nothing now: %.450s", sentence);
		return true;
	}
	if (kind != GUIDE_OTHER_PART || view->step == GUIDE_HELD)
		return false;
	guide_next(guide, &event, &tried);
	if (guide_differs(guide, &tried) || tried.waiting != guide->waiting)
		return false;
	snprintf(why, ACTION_WHY_MAX, "Nothing was poured just now that could be the other part.");
	return true;
}

int action_event(struct station *station, struct batch *batch, enum guide_event_kind kind,
                 const char *text, const char *log, char *why)
{
	struct guide_event event = {.kind = kind};
	const int64_t now_us = station_now_us(station);
	struct batch *pan = batches_pan(&station->batches);
	struct guide_view view;
	int r;

	guide_look(&batch->commit.committed, &view);
	/* What a presses file repeats was taken when it came, perhaps while a step was being
	 * stored that then left it without a meaning. */
	if (station->playing && !batch_open(batch))
		return 0;
	if (!batch_open(batch)) {
		snprintf(why, ACTION_WHY_MAX,
		         "Batch %lld is finished: it does not change any more.",
		         (long long)batch->id);
		return -EALREADY;
	}
	if (kind == GUIDE_PRESS && view.step == GUIDE_READY && pan != NULL && pan != batch) {
		snprintf(why, ACTION_WHY_MAX, "Batch %lld still has the pan: finish it first.",
		         (long long)pan->id);
		return -EBUSY;
	}
	if (!batch->commit.waiting && !station->playing && means_nothing(batch, kind, &view, why))
		return -EAGAIN;
	snprintf(event.text, sizeof(event.text), "%s", text);
	batches_touch(&station->batches, batch);
	if (station->inputs != NULL)
		inputs_event(station->inputs, batch->id, now_us, log);
	r = batches_feed(&station->batches, batch, &event, now_us);
	if (r == -ENOBUFS) {
		snprintf(why, ACTION_WHY_MAX,
		         "The store is too slow: nothing more fits now; wait.");
		return -EBUSY;
	}
	if (station->bus != NULL)
		bus_touch(station->bus);
	return 0;
}

static void keep_zero(struct store *store, void *context)
{
	double *zero_g = context;

	(void)store_set_number(store, "zero_g",
	                       *zero_g); /* a wish: the next start may zero again */
}

int action_zero(struct station *station, char *why)
{
	double *zero_g;
	int r;

	if (batches_pan(&station->batches) != NULL || batches_count_open(&station->batches) > 0) {
		snprintf(why, ACTION_WHY_MAX,
		         "A batch is open: its masses hang on the zero; finish it first.");
		return -EBUSY;
	}
	r = weigher_zero(station->weigher);
	if (r == -EAGAIN)
		snprintf(why, ACTION_WHY_MAX, "The pan is not settled: wait until it is.");
	else if (r == -ERANGE)
		snprintf(why, ACTION_WHY_MAX,
		         "There is too much on the pan for a zero (over 20 %% of %.10g g): clear "
		         "it.",
		         station->config->weigher.max_g);
	else if (r < 0)
		snprintf(why, ACTION_WHY_MAX, "The scale cannot be zeroed now (%s).", strerror(-r));
	if (r < 0)
		return r;
	station->has_reading = false; /* what was read is not of this zero */
	scale_care_zeroed(station);
	zero_g = malloc(sizeof(*zero_g));
	if (zero_g != NULL) {
		*zero_g = weigher_zero_g(station->weigher);
		if (store_thread_submit(station->records, keep_zero, free, zero_g) < 0)
			free(zero_g);
	}
	return 0;
}

/* A presses file has nobody to answer to: refusals go to the log. */
static void begun_from_text(void *context, const struct begin_answer *answer)
{
	struct station *station = context;

	if (answer->result >= 0)
		return;
	station_log("presses: no batch begins: %s", answer->sentence);
	station->presses_failed = true;
}

int action_from_text(struct station *station, const char *text, char *why)
{
	static const enum guide_event_kind kinds[] = {
	        [ACTION_PRESS] = GUIDE_PRESS,    [ACTION_OTHER_PART] = GUIDE_OTHER_PART,
	        [ACTION_HOLD] = GUIDE_HOLD,      [ACTION_DISCARD] = GUIDE_DISCARD,
	        [ACTION_SCAN] = GUIDE_SCAN,      [ACTION_RESUME] = GUIDE_RESUME,
	        [ACTION_LIFE_OVER] = GUIDE_LIFE, /* none left */
	};
	struct batch *batch = batches_shown(&station->batches);
	struct begin_request request = {.recipe = {.resin_degc = NAN}};
	struct action action;
	struct guide state;
	int r;

	r = action_parse(text, &action, why, ACTION_WHY_MAX);
	if (r < 0)
		return r;
	switch (action.kind) {
	case ACTION_BEGIN:
		if (action.has_calibration) {
			r = begin_calibration(station, &action);
			if (r < 0) {
				snprintf(why, ACTION_WHY_MAX,
				         "The calibration of this line cannot weigh here.");
				return r;
			}
		}
		if (action.has_zero_g)
			weigher_set_zero_g(station->weigher, action.zero_g);
		if (action.state[0] != '\0') {
			r = keep_read_state(station, action.state, &state, why);
			if (r >= 0)
				begin_kept(station, &action, &state, begun_from_text, station);
			return r;
		}
		memcpy(request.system_id, action.system_id, sizeof(request.system_id));
		request.recipe = action.recipe;
		begin_batch(station, &request, begun_from_text, station);
		return 0;
	case ACTION_ZERO:
		return action_zero(station, why);
	case ACTION_PAN_LENT:
		weigher_clear(station->weigher);
		return 0;
	case ACTION_TAKE_OFF:
	case ACTION_LIFE_OVER:
	case ACTION_RESUME:
	case ACTION_DIVIDE:
	case ACTION_PRESS:
	case ACTION_OTHER_PART:
	case ACTION_HOLD:
	case ACTION_DISCARD:
	case ACTION_SCAN:
	case ACTION_LIFE:
		break;
	}
	if (batch == NULL) {
		snprintf(why, ACTION_WHY_MAX, "There is no batch.");
		return -ENOENT;
	}
	if (action.kind == ACTION_TAKE_OFF)
		return batches_take_off(&station->batches, batch, action.mass_g,
		                        station->timeline.now_us);
	if (action.kind == ACTION_DIVIDE) {
		begin_divided(station, batch, action.mass_g, action.recipe.tint_pct,
		              action.recipe.tint_label, begun_from_text, station);
		return 0;
	}
	if (action.kind == ACTION_LIFE) {
		sensed_life(station, batch, action.left_s);
		return 0;
	}
	return action_event(station, batch, kinds[action.kind], action.code, text, why);
}
