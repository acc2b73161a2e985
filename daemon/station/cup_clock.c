/* SPDX-License-Identifier: MIT */
#include "cup_clock.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "bus.h"
#include "daemon/casting/cup_life.h"
#include "pieces.h"
#include "pour_advice.h"
#include "sensed.h"
#include "station.h"

/* A source with a time of its own may stand still: then this often is looked again. */
#define AGAIN_S    1.0
#define NEARLY_ALL 0.95 /* of what is to be weighed */

const char *cup_event_name(enum cup_event event)
{
	static const char *const names[CUP_EVENTS] = {"pour-soon", "working-life-over"};

	return names[event];
}

bool cup_clock_runs(const struct batch *batch)
{
	struct guide_view view;

	if (!batch_open(batch))
		return false;
	guide_look(&batch->commit.committed, &view);
	return (view.has & VIEW_HAS_LIFE) != 0;
}

static int64_t event_us(const struct guide *guide, enum cup_event event)
{
	const int64_t whole_us = guide->life_end_us - guide->life_start_us;

	return event == CUP_LIFE_OVER
	               ? guide->life_end_us
	               : guide->life_start_us + (int64_t)(GUIDE_POUR_SOON_SHARE * (double)whole_us);
}

bool cup_clock_due_at(const struct guide *guide, enum cup_event event)
{
	return guide->t_us >= event_us(guide, event);
}

double cup_clock_in_s(const struct station *station, const struct batch *batch,
                      enum cup_event event)
{
	return (double)(event_us(&batch->commit.committed, event) -
	                batch_time_us(batch, station->timeline.now_us)) *
	       1e-6;
}

/* Parts and tint by the scale; a divided cup's by its parent's ratio. */
static void contents(const struct guide *guide, double *ret_a_g, double *ret_b_g,
                     double *ret_tint_g)
{
	const bool b_hardens = guide->recipe.system.hardener == PART_B;
	struct ratio ratio = {0};

	*ret_tint_g = 0.0;
	for (uint32_t i = 0; i < guide->n_dispenses; i++)
		if (guide->dispense[i].component == COMPONENT_TINT ||
		    guide->dispense[i].component == COMPONENT_FILLER)
			*ret_tint_g += guide->dispense[i].mass_g;
	(void)guide_ratio(guide, &ratio);
	*ret_a_g = b_hardens ? ratio.resin_g : ratio.hardener_g;
	*ret_b_g = b_hardens ? ratio.hardener_g : ratio.resin_g;
}

double cup_clock_mass_g(const struct batch *batch)
{
	const struct guide *guide = &batch->commit.committed;
	double a_g, b_g, tint_g;

	if (guide->divided)
		return guide_received_g(guide);
	contents(guide, &a_g, &b_g, &tint_g);
	return fmax(a_g + b_g + tint_g - guide->given_g, 0.0);
}

void cup_clock_sentence(const struct batch *batch, enum cup_event event, char *ret, size_t size)
{
	snprintf(
	        ret, size, "The cup of batch %lld: %s.", (long long)batch->id,
	        event == CUP_POUR_SOON
	                ? "most of its working life is used up; pour it or spread it thin"
	                : "its working life is over; once hot or smoking keep away and let air in");
}

double cup_clock_room_degc(const struct station *station, const char *piece)
{
	const struct live_piece *live = pieces_find(station->pieces, piece);
	const struct piece unknown = {.room_degc = (double)NAN};
	const double air_degc = sensed_air_degc(station);

	return !isnan(air_degc)
	               ? air_degc
	               : pieces_room_degc(station->pieces, live != NULL ? &live->piece : &unknown);
}

static void planned(const struct recipe *recipe, double *ret_a_g, double *ret_b_g)
{
	for (uint32_t i = 0; i < recipe->n_charges; i++) {
		if (recipe->charge[i].component == COMPONENT_A)
			*ret_a_g = recipe->charge[i].target_g;
		if (recipe->charge[i].component == COMPONENT_B)
			*ret_b_g = recipe->charge[i].target_g;
	}
}

/* What is in the cup may be more than was planned, and hotter: then the model's working
 * life is shorter than what began with the batch. Only ever shorter. A batch that is
 * replayed has this among its inputs. */
static void bound(struct station *station, struct batch *batch)
{
	const struct guide *guide = &batch->commit.committed;
	const struct casting_system *system =
	        pieces_system(station->pieces, guide->recipe.system.id);
	const double resin_degc =
	        guide->recipe.resin_known ? guide->recipe.resin_degc : (double)NAN;
	double a_g, b_g, tint_g, left_s;

	if (system == NULL || guide->divided || station->presses != NULL)
		return;
	contents(guide, &a_g, &b_g, &tint_g);
	/* While the hardener still runs in, as it is planned: a few grams of it say nothing. */
	if (a_g + b_g < NEARLY_ALL * guide->recipe.total_g)
		planned(&guide->recipe, &a_g, &b_g);
	if (a_g + b_g + tint_g == batch->life_of_g)
		return;
	batch->life_of_g = a_g + b_g + tint_g;
	left_s = cup_life_s(system, a_g, b_g, tint_g, resin_degc,
	                    cup_clock_room_degc(station, guide->recipe.piece)) -
	         (double)(batch_time_us(batch, station->timeline.now_us) - guide->life_start_us) *
	                 1e-6;
	/* Not for NaN. */
	if (left_s < cup_clock_in_s(station, batch, CUP_LIFE_OVER) - SENSED_LIFE_STEP_S)
		sensed_life(station, batch, fmax(left_s, 0.0));
}

static void tell_due(struct station *station, struct batch *batch)
{
	const struct recipe *recipe = &batch->commit.committed.recipe;
	char sentence[256];

	for (int event = 0; event < CUP_EVENTS; event++) {
		if ((batch->cup_told >> event & 1u) != 0 ||
		    cup_clock_in_s(station, batch, (enum cup_event)event) > 0.0)
			continue;
		batch->cup_told |= 1u << event;
		cup_clock_sentence(batch, (enum cup_event)event, sentence, sizeof(sentence));
		if (station->bus != NULL)
			bus_clock_event(station->bus, recipe->piece, atol(recipe->layer),
			                cup_event_name((enum cup_event)event), sentence);
	}
}

static void arm(struct station *station)
{
	double soonest_s = INFINITY;
	uint64_t now_us;

	for (size_t i = 0; i < BATCHES_MAX; i++) {
		const struct batch *batch = &station->batches.batch[i];

		if (cup_clock_runs(batch) && pour_advice_waits(batch))
			soonest_s = AGAIN_S;
		for (int event = 0; cup_clock_runs(batch) && event < CUP_EVENTS; event++)
			if ((batch->cup_told >> event & 1u) == 0)
				soonest_s = fmin(soonest_s, cup_clock_in_s(station, batch,
				                                           (enum cup_event)event));
	}
	if (station->cup_timer == NULL)
		return;
	if (isinf(soonest_s)) {
		sd_event_source_set_enabled(station->cup_timer, SD_EVENT_OFF);
		return;
	}
	sd_event_now(station->event, CLOCK_BOOTTIME, &now_us);
	sd_event_source_set_time(station->cup_timer,
	                         now_us + (uint64_t)(fmax(soonest_s, AGAIN_S) * 1e6));
	sd_event_source_set_enabled(station->cup_timer, SD_EVENT_ONESHOT);
}

static int on_timer(sd_event_source *source, uint64_t due_us, void *context)
{
	struct station *station = context;

	(void)source;
	(void)due_us;
	for (size_t i = 0; i < BATCHES_MAX; i++)
		if (cup_clock_runs(&station->batches.batch[i])) {
			tell_due(station, &station->batches.batch[i]);
			if (pour_advice_waits(&station->batches.batch[i]))
				pour_advice_look(station, &station->batches.batch[i]);
		}
	arm(station);
	return 0;
}

void cup_clock_told(struct station *station, struct batch *batch)
{
	const bool runs = cup_clock_runs(batch);
	int64_t end_us = 0;

	if (runs) {
		bound(station, batch);
		tell_due(station, batch);
		end_us = batch->commit.committed.life_end_us;
	}
	if (end_us != batch->cup_end_us && station->bus != NULL)
		bus_pieces_changed(station->bus);
	batch->cup_end_us = end_us;
	arm(station);
}

int cup_clock_start(struct station *station)
{
	int r = sd_event_add_time(station->event, &station->cup_timer, CLOCK_BOOTTIME, 0, 1000,
	                          on_timer, station);

	if (r < 0)
		return r;
	sd_event_source_set_exit_on_failure(station->cup_timer, true);
	return sd_event_source_set_enabled(station->cup_timer, SD_EVENT_OFF);
}

void cup_clock_done(struct station *station)
{
	station->cup_timer = sd_event_source_disable_unref(station->cup_timer);
}
