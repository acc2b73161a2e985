/* SPDX-License-Identifier: MIT */
/* The scale's state, found in the samples of the simulated bench by the same weighing
 * as in the daemon. */
#include "tests/support/assert_close.h"

#include <math.h>
#include <string.h>

#include "daemon/weighing/calibration.h"
#include "daemon/weighing/health.h"
#include "daemon/weighing/weigher.h"
#include "drivers/simulated.h"

static const struct calibration calibration = {
        .degree = 1, .zero_counts = 190000.0, .g_per_count = 1.0 / 429.5};

struct scene {
	struct bench *bench;
	struct weigher *weigher;
	struct health health;
	struct reading reading;
	struct health_view view;
	struct advice findings[HEALTH_FINDINGS_MAX];
	size_t n_findings;
	int64_t t_us;
};

static void begin_at(struct scene *scene, double rate_hz, double noise_g, double warm_up)
{
	const struct weigher_config config = {
	        .calibration = calibration, .max_g = 5000.0, .interval_g = 0.1};
	const struct health_setup setup = {.interval_g = 0.1,
	                                   .count_g = 1.0 / 429.5,
	                                   .expected_noise_g = 0.05,
	                                   .expected_rate_hz = 80.0};
	struct bench_config bench;

	memset(scene, 0, sizeof(*scene));
	bench_config_default(&bench);
	bench.rate_hz = rate_hz;
	bench.noise_g = noise_g;
	bench.warm_up_counts_per_s = warm_up;
	bench.creep_ratio = 0.0;
	assert_int_equal(bench_new(&bench, &scene->bench), 0);
	assert_int_equal(weigher_new(&config, &scene->weigher), 0);
	health_init(&scene->health, &setup);
}

static void begin(struct scene *scene)
{
	begin_at(scene, 80.0, 0.05, 0.0);
}

static void end(struct scene *scene)
{
	bench_free(scene->bench);
	weigher_free(scene->weigher);
}

static void run_s(struct scene *scene, double seconds)
{
	const int64_t until_us = bench_time_us(scene->bench) + (int64_t)(seconds * 1e6);
	struct scale_sample sample;

	while (bench_time_us(scene->bench) < until_us) {
		struct weigher_sample weighed;
		struct health_sample heard;

		if (bench_next(scene->bench, &sample) == 0) {
			weigher_tick(scene->weigher, bench_time_us(scene->bench), &scene->reading);
			continue;
		}
		weighed = (struct weigher_sample){.t_us = sample.t_us,
		                                  .counts = sample.counts,
		                                  .rail = (sample.flags & SCALE_RAIL) != 0};
		weigher_feed(scene->weigher, &weighed, &scene->reading);
		heard = (struct health_sample){
		        .t_us = sample.t_us,
		        .counts = sample.counts,
		        .mass_g = calibration_mass_g(&calibration, sample.counts),
		        .rail = weighed.rail,
		        .zero_g = weigher_zero_g(scene->weigher)};
		health_feed(&scene->health, &heard, &scene->reading);
		scene->t_us = sample.t_us;
	}
	health_look(&scene->health, &scene->view);
	scene->n_findings = health_findings(&scene->health.setup, &scene->view, scene->findings);
}

static const struct advice *found(const struct scene *scene, enum advice_id id)
{
	for (size_t i = 0; i < scene->n_findings; i++)
		if (scene->findings[i].id == id)
			return &scene->findings[i];
	return NULL;
}

static void a_good_scale_is_well(void **state)
{
	struct scene scene;

	(void)state;
	begin(&scene);
	run_s(&scene, 60.0);
	assert_int_equal(scene.n_findings, 1);
	assert_int_equal(scene.findings[0].id, ADVICE_WELL);
	assert_close(scene.view.rate_hz, 84.0, 0.002);
	assert_close(scene.view.noise_g, 0.05, 0.1);
	/* One read in 1000 is corrupt; 5000 samples: 5 of them, +-2.2. */
	assert_true(scene.view.corrupt_per_1000 > 0.0 && scene.view.corrupt_per_1000 < 2.5);
	assert_true(scene.view.warm);
	end(&scene);
}

static void noise_is_held_against_what_was_expected(void **state)
{
	struct scene scene;

	(void)state;
	begin_at(&scene, 80.0, 0.2, 0.0);
	run_s(&scene, 60.0);
	assert_non_null(found(&scene, ADVICE_NOISY));
	assert_close(found(&scene, ADVICE_NOISY)->value, 0.2, 0.1);
	assert_within(found(&scene, ADVICE_NOISY)->other, 0.05, 0.0);
	end(&scene);
}

static void a_rate_pin_the_wrong_way_is_named(void **state)
{
	struct scene scene;

	(void)state;
	begin_at(&scene, 10.0, 0.05, 0.0);
	run_s(&scene, 60.0);
	assert_non_null(found(&scene, ADVICE_WRONG_RATE));
	assert_close(found(&scene, ADVICE_WRONG_RATE)->value, 10.5, 0.002);
	assert_within(found(&scene, ADVICE_WRONG_RATE)->other, 80.0, 0.0);
	end(&scene);
}

static void a_loose_clock_is_counted(void **state)
{
	struct scene scene;

	(void)state;
	begin(&scene);
	assert_int_equal(bench_act(scene.bench, "loose-clock", 0.04), 0);
	run_s(&scene, 120.0);
	assert_non_null(found(&scene, ADVICE_LOOSE_CLOCK));
	/* About 9000 samples, 360 of them corrupt +-19. */
	assert_within(scene.view.corrupt_per_1000, 40.0, 8.0);
	end(&scene);
}

static void corrupt_reads_of_the_driver_and_lone_spikes_are_counted(void **state)
{
	struct scene scene;
	struct health_sample sample = {.counts = 190000};
	struct reading reading = {.state = READING_UNSETTLED};

	(void)state;
	begin(&scene);
	for (int i = 0; i < 1000; i++) {
		const int32_t code = 190000 + i * 7 % 11 + (i % 100 == 50 ? 200000 : 0);

		sample.t_us = 12500 * (int64_t)i;
		sample.counts = code;
		sample.mass_g = calibration_mass_g(&calibration, code);
		sample.corrupt = i % 100 == 75;
		health_feed(&scene.health, &sample, &reading);
	}
	health_look(&scene.health, &scene.view);
	assert_within(scene.view.corrupt_per_1000, 20.0, 1e-9);
	end(&scene);
}

static void a_gap_alone_is_no_corrupt_read(void **state)
{
	struct scene scene;
	struct health_sample sample = {.counts = 190000, .mass_g = 0.0};
	struct reading reading = {.state = READING_UNSETTLED};

	(void)state;
	begin(&scene);
	for (int i = 0; i < 1000; i++) {
		sample.t_us += i % 50 == 0 ? 50000 : 12500;
		health_feed(&scene.health, &sample, &reading);
	}
	health_look(&scene.health, &scene.view);
	assert_within(scene.view.corrupt_per_1000, 0.0, 0.0);
	end(&scene);
}

static void hum_is_found_and_its_frequency_named(void **state)
{
	static const struct {
		const char *verb;
		double hz, passes; /* (sin(pi f/84) / (10 sin(pi f/840)))^4: the bench's filter */
	} mains[] = {{"hum-50", 50.0, 0.06980}, {"hum-60", 60.0, 0.01524}};

	(void)state;
	for (int i = 0; i < 2; i++) {
		/* What gets through is 0.15 g, with a noise of 0.05 g. */
		const double before_g = 0.15 / mains[i].passes;
		struct scene scene;

		begin(&scene);
		assert_int_equal(bench_act(scene.bench, mains[i].verb, before_g), 0);
		run_s(&scene, 60.0);
		assert_non_null(found(&scene, ADVICE_HUM));
		assert_within(found(&scene, ADVICE_HUM)->value, mains[i].hz, 0.0);
		assert_close(found(&scene, ADVICE_HUM)->other, 0.15, 0.15);
		end(&scene);
	}
}

static void no_hum_is_found_where_there_is_none(void **state)
{
	struct scene scene;

	(void)state;
	begin(&scene);
	for (int i = 0; i < 40; i++) {
		/* Knocks, a pour, a lift: none of them is the mains. */
		if (i == 5)
			assert_int_equal(bench_act(scene.bench, "cup", 50.0), 0);
		if (i == 10)
			assert_int_equal(bench_act(scene.bench, "pour-a", 12.0), 0);
		if (i == 20)
			assert_int_equal(bench_act(scene.bench, "stop", 0.3), 0);
		if (i > 22 && i < 30)
			assert_int_equal(bench_act(scene.bench, "knock", 5.0), 0);
		if (i == 35)
			assert_int_equal(bench_act(scene.bench, "lift", 0.0), 0);
		run_s(&scene, 1.0);
		assert_null(found(&scene, ADVICE_HUM));
	}
	end(&scene);
}

static void an_open_bridge_is_named(void **state)
{
	struct scene scene;

	(void)state;
	begin(&scene);
	assert_int_equal(bench_act(scene.bench, "open-bridge", 1.0), 0);
	run_s(&scene, 20.0);
	assert_non_null(found(&scene, ADVICE_OPEN_BRIDGE));
	assert_null(found(&scene, ADVICE_WELL));
	end(&scene);
}

static void silence_is_named(void **state)
{
	struct scene scene;

	(void)state;
	begin(&scene);
	run_s(&scene, 30.0);
	assert_int_equal(bench_act(scene.bench, "unplug", 0.0), 0);
	run_s(&scene, 2.0);
	scene.health.reading = scene.reading;
	health_look(&scene.health, &scene.view);
	scene.n_findings = health_findings(&scene.health.setup, &scene.view, scene.findings);
	assert_non_null(found(&scene, ADVICE_SILENT));
	end(&scene);
}

static void a_pan_below_its_zero_is_named(void **state)
{
	struct scene scene;

	(void)state;
	begin(&scene);
	run_s(&scene, 20.0);
	assert_int_equal(bench_act(scene.bench, "swapped-pair", 1.0), 0);
	assert_int_equal(bench_act(scene.bench, "object", 500.0), 0);
	run_s(&scene, 5.0);
	assert_non_null(found(&scene, ADVICE_UNDERLOAD));
	assert_within(found(&scene, ADVICE_UNDERLOAD)->value, 500.0, 1.0);
	end(&scene);
}

static void drift_counts_from_the_last_zero(void **state)
{
	struct scene scene;

	(void)state;
	begin_at(&scene, 80.0, 0.05, 4.295); /* 0.01 g/s for 200 s */
	run_s(&scene, 30.0);
	assert_int_equal(weigher_zero(scene.weigher), 0);
	health_zeroed(&scene.health, weigher_zero_g(scene.weigher), scene.t_us);
	assert_false(scene.view.has & HEALTH_HAS_DRIFT);
	run_s(&scene, 90.0);
	assert_true(scene.view.has & HEALTH_HAS_DRIFT);
	assert_within(scene.view.drift_g, 0.9, 0.15);
	assert_within(scene.view.drift_s, 90.0, 5.0);
	assert_non_null(found(&scene, ADVICE_ZERO_DRIFT));
	assert_non_null(found(&scene, ADVICE_WARMING));
	end(&scene);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_good_scale_is_well),
	        cmocka_unit_test(noise_is_held_against_what_was_expected),
	        cmocka_unit_test(a_rate_pin_the_wrong_way_is_named),
	        cmocka_unit_test(a_loose_clock_is_counted),
	        cmocka_unit_test(corrupt_reads_of_the_driver_and_lone_spikes_are_counted),
	        cmocka_unit_test(a_gap_alone_is_no_corrupt_read),
	        cmocka_unit_test(hum_is_found_and_its_frequency_named),
	        cmocka_unit_test(no_hum_is_found_where_there_is_none),
	        cmocka_unit_test(an_open_bridge_is_named),
	        cmocka_unit_test(silence_is_named),
	        cmocka_unit_test(a_pan_below_its_zero_is_named),
	        cmocka_unit_test(drift_counts_from_the_last_zero),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
