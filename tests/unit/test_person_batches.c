/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/mixing/guide.h"
#include "daemon/weighing/weigher.h"
#include "drivers/person.h"
#include "drivers/scale.h"
#include "drivers/simulated.h"
#include "tests/support/assert_close.h"
#include "tests/support/guide_script.h"

/* A simulated person at the simulated bench, guided by nothing but what a display
 * would show, in virtual time: bench, weigher, guide, person. The person never sees
 * the truth; the test does, at the end. */

#define SEEDS        200
#define MOST_S       3000.0
#define COUNTS_PER_G 429.5
#define ZERO_COUNTS  190000.0

struct run {
	struct bench *bench;
	struct weigher *weigher;
	struct person *person;
	struct guide guide;
	int64_t tick_us;
	bool topped_up, held, talk;
	double a_g, b_g; /* truth when the cup was lifted to stir */
};

static void must(int r)
{
	assert_true(r >= 0);
}

static void open_run(struct run *run, uint64_t seed, double rate_hz, double tint_pct)
{
	struct bench_config bench = {
	        .seed = seed,
	        .rate_hz = rate_hz,
	        .rate_error = 0.05,
	        .counts_per_g = COUNTS_PER_G,
	        .zero_counts = ZERO_COUNTS,
	        .noise_g = 0.05,
	        .corrupt_ratio = 0.001,
	        .max_g = 5000.0,
	};
	struct weigher_config weigher = {
	        .calibration = {.degree = 1,
	                        .zero_counts = ZERO_COUNTS,
	                        .g_per_count = 1.0 / COUNTS_PER_G},
	        .max_g = 5000.0,
	        .interval_g = 0.1,
	        .noise_g = 0.05,
	        .rate_hz = rate_hz,
	};
	struct person_config person = {
	        .seed = seed,
	        .reaction_s = 0.23,
	        .reaction_sd_s = 0.04,
	        .rate_g_per_s = 12.0,
	        .tapers = true,
	        .overshoot_chance = 0.25,
	        .cup_g = 22.0,
	};
	struct resin_system system = script_system();
	struct recipe_request request = script_request();
	struct recipe_scale scale = script_scale();
	struct message why, warning;
	struct recipe recipe;

	*run = (struct run){.talk = getenv("AMBO_TALK") != NULL};
	request.tint_pct = tint_pct;
	must(recipe_make(&system, &request, &scale, NULL, &recipe, &why, &warning));
	must(bench_new(&bench, &run->bench));
	must(weigher_new(&weigher, &run->weigher));
	must(person_new(&person, &run->person));
	guide_begin(&recipe, &run->guide);
}

static void close_run(struct run *run)
{
	bench_free(run->bench);
	weigher_free(run->weigher);
	person_free(run->person);
}

static void tell(struct run *run, const struct guide *old)
{
	if (run->talk && (old->step != run->guide.step || old->phase != run->guide.phase ||
	                  old->message.id != run->guide.message.id))
		printf("%8.2f %-9s %-18s %-10s %7.2f gross %8.2f verdict %s\n",
		       (double)run->guide.t_us * 1e-6, guide_step_name(run->guide.step),
		       message_name(run->guide.message.id), component_name(run->guide.wanted),
		       run->guide.message.mass_g, run->guide.reading.gross_g,
		       verdict_name(run->guide.verdict));
}

static void event(struct run *run, const struct guide_event *event)
{
	struct guide old = run->guide;

	guide_next(&old, event, &run->guide);
	tell(run, &old);
	run->topped_up |= run->guide.step == GUIDE_TOP_UP;
	run->held |= run->guide.step == GUIDE_HELD;
	if (old.step != GUIDE_STIR && run->guide.step == GUIDE_STIR) {
		struct bench_truth truth;

		bench_truth(run->bench, &truth);
		run->a_g = truth.a_g;
		run->b_g = truth.b_g;
	}
}

static void see(struct run *run, int64_t t_us)
{
	struct guide_view view;
	struct person_sight sight = {.t_us = t_us};
	struct person_action action;

	guide_look(&run->guide, &view);
	snprintf(sight.step, sizeof(sight.step), "%s", guide_step_name(view.step));
	snprintf(sight.component, sizeof(sight.component), "%s", component_name(view.component));
	snprintf(sight.message, sizeof(sight.message), "%s", message_name(view.message.id));
	snprintf(sight.cue, sizeof(sight.cue), "%s", cue_name(view.cue));
	snprintf(sight.press, sizeof(sight.press), "%s", press_meaning_name(view.press));
	sight.has_remaining = (view.has & VIEW_HAS_TARGET) != 0;
	sight.remaining_g = view.remaining_g;
	while (person_look(run->person, &sight, &action) > 0) {
		if (run->talk)
			printf("%8.2f     hand: %s %g\n", (double)t_us * 1e-6,
			       action.hand == HAND_PRESS ? "press" : action.verb, action.amount);
		if (action.hand == HAND_PRESS)
			event(run, &(struct guide_event){.kind = GUIDE_PRESS, .t_us = t_us});
		else if (action.hand == HAND_BENCH)
			bench_act(run->bench, action.verb, action.amount);
	}
}

static void one_period(struct run *run, bool with_person)
{
	struct scale_sample sample;
	struct guide_event reading = {.kind = GUIDE_READING, .u_reading_g = 0.05};
	bool came = bench_next(run->bench, &sample) > 0;
	int64_t t_us = bench_time_us(run->bench);

	reading.t_us = t_us;
	if (came) {
		weigher_feed(run->weigher,
		             &(struct weigher_sample){
		                     .t_us = sample.t_us,
		                     .counts = sample.counts,
		                     .rail = (sample.flags & SCALE_RAIL) != 0,
		                     .corrupt = (sample.flags & SCALE_VOID) != 0,
		             },
		             &reading.reading);
		event(run, &reading);
	} else if (weigher_tick(run->weigher, t_us, &reading.reading) == 1) {
		event(run, &reading);
	}
	if (t_us - run->tick_us >= 100000) {
		run->tick_us = t_us;
		event(run, &(struct guide_event){.kind = GUIDE_TICK, .t_us = t_us});
	}
	if (with_person)
		see(run, t_us);
}

static void run_batch(struct run *run)
{
	while (!guide_finished(&run->guide)) {
		one_period(run, true);
		if ((double)run->guide.t_us * 1e-6 > MOST_S)
			fail_msg("no end: %s %s", guide_step_name(run->guide.step),
			         message_name(run->guide.message.id));
	}
}

/* One seed's batch must end well by the guide and by the truth. */
static void check_end(const struct run *run, uint64_t seed)
{
	double truth_pct, tolerance_pct = run->guide.recipe.tolerance_pct;
	struct ratio ratio;

	must(guide_ratio(&run->guide, &ratio));
	truth_pct = 100.0 * (run->b_g / run->a_g / run->guide.recipe.ratio - 1.0);
	if (run->guide.step != GUIDE_DONE || run->guide.verdict != VERDICT_WITHIN ||
	    run->guide.provisional || !(fabs(truth_pct) <= tolerance_pct))
		fail_msg("seed %llu: %s, %s%s, weighed %+.3f %%, true %+.3f %%",
		         (unsigned long long)seed, guide_step_name(run->guide.step),
		         verdict_name(run->guide.verdict),
		         run->guide.provisional ? " provisional" : "", ratio.deviation_pct,
		         truth_pct);
}

static void all_seeds(double rate_hz, double tint_pct, int seeds)
{
	int topped_up = 0, held = 0;
	double worst_g = 0.0;

	for (uint64_t seed = 1; seed <= (uint64_t)seeds; seed++) {
		struct run run;

		open_run(&run, seed, rate_hz, tint_pct);
		run_batch(&run);
		check_end(&run, seed);
		topped_up += run.topped_up;
		held += run.held;
		worst_g = fmax(worst_g, fabs(run.guide.unexplained_g));
		close_run(&run);
	}
	print_message("%d seeds at %g/s: %d topped up, %d held on the way\n", seeds, rate_hz,
	              topped_up, held);
	assert_true(topped_up > 0); /* overshoots happened and were set right */
	assert_true(topped_up < seeds);
}

static void two_hundred_batches_by_a_simulated_person_end_within_tolerance(void **state)
{
	(void)state;
	all_seeds(80.0, 0.0, SEEDS);
}

static void batches_with_tint_at_ten_samples_a_second_end_within_tolerance(void **state)
{
	(void)state;
	all_seeds(10.0, 2.0, 40);
}

/* --- the rules about what is no resin, through the real weigher --- */

static void wait_s(struct run *run, double seconds)
{
	int64_t end_us = bench_time_us(run->bench) + (int64_t)(seconds * 1e6);

	while (bench_time_us(run->bench) < end_us)
		one_period(run, false);
}

static void act(struct run *run, const char *verb, double amount, double seconds)
{
	must(bench_act(run->bench, verb, amount));
	wait_s(run, seconds);
}

static void press(struct run *run)
{
	event(run, &(struct guide_event){.kind = GUIDE_PRESS, .t_us = bench_time_us(run->bench)});
}

static void expect(const struct run *run, enum message_id id)
{
	if (run->guide.message.id != id)
		fail_msg("at %.2f s: %s, expected %s", (double)run->guide.t_us * 1e-6,
		         message_name(run->guide.message.id), message_name(id));
}

static void things_are_told_from_resin(double rate_hz)
{
	struct guide_view view;
	struct run run;

	open_run(&run, 5, rate_hz, 0.0);
	wait_s(&run, 2.0);
	press(&run);
	wait_s(&run, 3.0);
	act(&run, "cup", 22.0, 10.0);
	expect(&run, MESSAGE_ADD);
	act(&run, "pour-a", 12.0, 10.0);
	act(&run, "stop", 0.25, 6.0);
	expect(&run, MESSAGE_ADD); /* about 122 of 227.6 g */
	act(&run, "knock", 20.0, 5.0);
	expect(&run, MESSAGE_ADD);
	act(&run, "object", 6.0, 5.0);
	expect(&run, MESSAGE_NOT_RESIN);
	act(&run, "object", -6.0, 5.0);
	expect(&run, MESSAGE_ADD);
	act(&run, "object", 300.0, 5.0);
	expect(&run, MESSAGE_NOT_RESIN);
	act(&run, "object", -300.0, 5.0);
	expect(&run, MESSAGE_ADD);
	act(&run, "lift", 0.0, 5.0);
	expect(&run, MESSAGE_CUP_LIFTED);
	act(&run, "return", 0.0, 5.0);
	expect(&run, MESSAGE_ADD);
	act(&run, "press-pan", 120.0, 60.0);
	assert_int_equal(run.guide.step, GUIDE_HELD);
	act(&run, "press-pan", 0.0, 5.0);
	expect(&run, MESSAGE_ADD);
	act(&run, "unplug", 0.0, 5.0);
	expect(&run, MESSAGE_SCALE_SILENT);
	act(&run, "plug", 0.0, 5.0);
	expect(&run, MESSAGE_ADD);
	/* A thin stream is a pour as well. */
	act(&run, "pour-a", 0.8, 20.0);
	act(&run, "stop", 0.25, 6.0);
	expect(&run, MESSAGE_ADD);
	act(&run, "pour-a", 12.0, 7.3);
	act(&run, "stop", 0.25, 6.0);
	expect(&run, MESSAGE_CHARGE_DONE);
	guide_look(&run.guide, &view);
	assert_int_equal(run.guide.accepted, 0);
	{
		struct bench_truth truth;

		bench_truth(run.bench, &truth);
		assert_within(view.dispensed_g, truth.a_g, 0.15);
	}
	close_run(&run);
}

static void things_are_told_from_resin_at_eighty_samples_a_second(void **state)
{
	(void)state;
	things_are_told_from_resin(80.0);
}

static void things_are_told_from_resin_at_ten_samples_a_second(void **state)
{
	(void)state;
	things_are_told_from_resin(10.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(two_hundred_batches_by_a_simulated_person_end_within_tolerance),
	        cmocka_unit_test(batches_with_tint_at_ten_samples_a_second_end_within_tolerance),
	        cmocka_unit_test(things_are_told_from_resin_at_eighty_samples_a_second),
	        cmocka_unit_test(things_are_told_from_resin_at_ten_samples_a_second),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
