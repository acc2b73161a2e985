/* SPDX-License-Identifier: MIT */
#include "cue_pour.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/weighing/weigher.h"
#include "drivers/person.h"
#include "drivers/simulated.h"
#include "tests/support/guide_script.h"

#define RATE_HZ      80.0
#define COUNTS_PER_G 429.5
#define ZERO_COUNTS  190000.0
#define LOOK_US      8000  /* the display's loop */
#define EAR_S        0.021 /* two buffers of 512 samples at 48 kHz */
#define EYE_US       50000 /* a number on a screen: bus, drawing, panel */
#define REST_US      4000000
#define MOST_US      120000000
#define PAST         16 /* sights kept for the eye's delay */

struct run {
	const struct cue_pour *pour;
	struct bench *bench;
	struct weigher *weigher;
	struct person *person;
	struct guide guide;
	struct cues cues;
	struct cues_in in;
	struct reaction_watch watch;
	struct reaction_key key;
	int64_t tick_us, look_us, heard_us; /* heard_us: since when tip-back is in the ear */
	double seen_g[PAST];
	int64_t seen_us[PAST];
	uint32_t n_seen;
	bool learnt;
};

static void must(int r)
{
	if (r < 0) {
		fprintf(stderr, "cue_pour: %s\n", strerror(-r));
		abort();
	}
}

static void begin_guide(struct guide *ret)
{
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct message why, warning;
	struct recipe recipe;

	request.total_g = 1.45 * CUE_POUR_TARGET_G; /* 100 : 45 */
	must(recipe_make(&system, &request, &scale, NULL, &recipe, &why, &warning));
	guide_begin(&recipe, ret);
}

static void open_run(struct run *run, const struct cue_pour *pour)
{
	struct bench_config bench;
	struct weigher_config weigher = {
	        .calibration = {.degree = 1,
	                        .zero_counts = ZERO_COUNTS,
	                        .g_per_count = 1.0 / COUNTS_PER_G},
	        .max_g = 5000.0,
	        .interval_g = 0.1,
	        .noise_g = 0.05,
	        .rate_hz = RATE_HZ,
	};
	struct person_config person = {
	        .seed = pour->seed,
	        .reaction_s = pour->reaction_s,
	        .reaction_sd_s = 0.04,
	        .rate_g_per_s = pour->rate_g_per_s,
	        .tapers = pour->tapers,
	        .cup_g = 22.0,
	};

	*run = (struct run){.pour = pour, .heard_us = -1};
	bench_config_default(&bench);
	bench.seed = pour->seed;
	must(bench_new(&bench, &run->bench));
	must(weigher_new(&weigher, &run->weigher));
	must(person_new(&person, &run->person));
	begin_guide(&run->guide);
	cues_init(&run->cues);
	reaction_watch_init(&run->watch);
	reaction_key("ana", "a", "tidepool-clear", &run->key);
}

static void event(struct run *run, const struct guide_event *event)
{
	struct guide old = run->guide;

	guide_next(&old, event, &run->guide);
}

/* The display's part: what it knows from the station, at time t_us. */
static void look(struct run *run, int64_t t_us)
{
	struct guide_view view;
	bool tipped;

	guide_look(&run->guide, &view);
	run->in.t_us = t_us;
	run->in.link_up = true;
	run->in.cue = cue_name(view.cue);
	run->in.step = guide_step_name(view.step);
	run->in.component = component_name(view.component);
	run->in.state = reading_state_name(run->guide.reading.state);
	run->in.target_g = view.has & VIEW_HAS_TARGET ? view.target_g : (double)NAN;
	run->in.remaining_g = view.has & VIEW_HAS_TARGET ? view.remaining_g : (double)NAN;
	run->in.rate_g_per_s = run->guide.reading.rate_g_per_s;
	run->in.reading_us = run->guide.reading.t_us;
	run->in.reaction_s = run->pour->reactions ? reaction_of(run->pour->reactions, &run->key)
	                                          : CUES_REACTION_S;
	run->in.output_delay_s = EAR_S;
	run->in.level = 0.7;
	cues_next(&run->cues, &run->in, &run->cues);
	tipped = run->cues.out.sound == SOUND_TIP_BACK || run->cues.out.sound == SOUND_WAIT;
	run->heard_us = !tipped ? -1
	                : run->cues.out.sound == SOUND_TIP_BACK && run->heard_us < 0
	                        ? run->cues.out.since_us + (int64_t)(EAR_S * 1e6)
	                        : run->heard_us;
}

static void read_pan(struct run *run, const struct scale_sample *sample)
{
	struct guide_event reading = {
	        .kind = GUIDE_READING, .t_us = sample->t_us, .u_reading_g = 0.05};
	struct reaction_stop stop;

	weigher_feed(run->weigher,
	             &(struct weigher_sample){.t_us = sample->t_us,
	                                      .counts = sample->counts,
	                                      .rail = (sample->flags & SCALE_RAIL) != 0,
	                                      .corrupt = (sample->flags & SCALE_VOID) != 0},
	             &reading.reading);
	event(run, &reading);
	look(run, sample->t_us);
	if (reaction_watch_next(&run->watch, &run->in, &run->cues.out, run->guide.reading.gross_g,
	                        &stop) == 1 &&
	    run->pour->reactions)
		run->learnt |= reaction_learn(run->pour->reactions, &run->key, &stop) == 1;
}

/* The number as the eye has it: some hundredths of a second old. */
static double seen_g(struct run *run, int64_t t_us, double remaining_g)
{
	double seen = remaining_g;

	run->seen_g[run->n_seen % PAST] = remaining_g;
	run->seen_us[run->n_seen++ % PAST] = t_us;
	for (uint32_t i = run->n_seen > PAST ? run->n_seen - PAST : 0; i < run->n_seen; i++)
		if (run->seen_us[i % PAST] <= t_us - EYE_US)
			seen = run->seen_g[i % PAST];
	return seen;
}

static void fill_sight(struct run *run, int64_t t_us, struct person_sight *ret)
{
	const char *cue = run->in.cue ? run->in.cue : "none";
	struct guide_view view;

	guide_look(&run->guide, &view);
	*ret = (struct person_sight){.t_us = t_us};
	snprintf(ret->step, sizeof ret->step, "%s", guide_step_name(view.step));
	snprintf(ret->component, sizeof ret->component, "%s", component_name(view.component));
	snprintf(ret->message, sizeof ret->message, "%s", message_name(view.message.id));
	snprintf(ret->press, sizeof ret->press, "%s", press_meaning_name(view.press));
	ret->has_remaining = (view.has & VIEW_HAS_TARGET) != 0;
	ret->remaining_g = seen_g(run, t_us, view.remaining_g);
	/* Who hears the drop need not watch the number; who has no cue has only that. */
	if (cues_live(cue))
		cue = run->pour->cued && run->heard_us >= 0 && run->heard_us <= t_us ? "tip-back"
		                                                                     : "pour";
	snprintf(ret->cue, sizeof ret->cue, "%s", cue);
}

static void hands(struct run *run, int64_t t_us)
{
	struct person_action action;
	struct person_sight sight;

	fill_sight(run, t_us, &sight);
	while (person_look(run->person, &sight, &action) > 0) {
		if (action.hand == HAND_PRESS)
			event(run, &(struct guide_event){.kind = GUIDE_PRESS, .t_us = t_us});
		else if (action.hand == HAND_BENCH)
			bench_act(run->bench, action.verb,
			          strcmp(action.verb, "stop") == 0 ? run->pour->tip_back_s
			                                           : action.amount);
	}
}

/* Up to the next conversion: the display looks on in between. */
static void step(struct run *run)
{
	int64_t next_us = bench_next_us(run->bench);
	struct scale_sample sample;

	for (; run->look_us + LOOK_US < next_us; run->look_us += LOOK_US)
		if (run->in.cue)
			look(run, run->look_us + LOOK_US);
	if (bench_next(run->bench, &sample) > 0)
		read_pan(run, &sample);
	if (next_us - run->tick_us >= 100000) {
		run->tick_us = next_us;
		event(run, &(struct guide_event){.kind = GUIDE_TICK, .t_us = next_us});
	}
	hands(run, next_us);
}

double cue_pour(const struct cue_pour *pour, bool *ret_learnt)
{
	int64_t flowed_us = -1, t_us = 0;
	struct bench_truth truth;
	struct run run;

	open_run(&run, pour);
	while (t_us < MOST_US && (flowed_us < 0 || t_us - flowed_us < REST_US)) {
		step(&run);
		t_us = bench_time_us(run.bench);
		bench_truth(run.bench, &truth);
		if (truth.flow_g_per_s > 0.0)
			flowed_us = t_us;
	}
	bench_free(run.bench);
	weigher_free(run.weigher);
	person_free(run.person);
	*ret_learnt = run.learnt;
	return flowed_us < 0 ? (double)NAN : truth.a_g - CUE_POUR_TARGET_G;
}

double cue_pour_reaction_s(const struct reactions *reactions)
{
	struct reaction_key key;

	reaction_key("ana", "a", "tidepool-clear", &key);
	return reaction_of(reactions, &key);
}
