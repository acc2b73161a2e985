/* SPDX-License-Identifier: MIT */
/* A whole calibration against a made cell whose every fault is known. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "daemon/weighing/calibration_run.h"

/* A cell as it truly is; the run knows the setup only. */
struct cell {
	double zero_counts, counts_per_g;
	double square, cube;   /* of (load / 5000 g)^2, ^3, in g */
	double hysteresis_g;   /* more when the load came down, in the middle */
	double corner_g[4];    /* more, at each place */
	double drift_counts;   /* a second */
	double scatter_counts; /* up and down in turn, each time a load is put on */
	double rate_hz, corrupt_per_1000, hum_hz;
	bool cold, open;
};

static const struct calibration_setup setup = {.max_g = 5000.0,
                                               .interval_g = 0.1,
                                               .expected_counts_per_g = 429.5,
                                               .expected_rate_hz = 80.0};
static const struct cell good = {
        .zero_counts = 190000.0, .counts_per_g = 431.25, .scatter_counts = 4.0, .rate_hz = 84.0};

struct bench {
	struct calibration_run run;
	struct cell cell;
	int64_t t_us;
	double load_g, loadings;
	int place; /* -1: the middle */
	bool falling;
};

static void begin(struct bench *bench, const struct cell *cell)
{
	*bench = (struct bench){.cell = *cell, .place = -1};
	assert_int_equal(calibration_run_begin(&setup, &bench->run), 0);
}

static double counts_of(const struct bench *bench)
{
	const struct cell *cell = &bench->cell;
	const double x = bench->load_g / 5000.0;
	double g = bench->load_g + cell->square * x * x + cell->cube * x * x * x;

	if (bench->falling)
		g += 4.0 * cell->hysteresis_g * x * (1.0 - x);
	if (bench->place >= 0 && bench->load_g > 0.0)
		g += cell->corner_g[bench->place];
	if (bench->load_g > 0.0)
		g += fmod(bench->loadings, 2.0) * cell->scatter_counts / cell->counts_per_g;
	return cell->zero_counts + g * cell->counts_per_g +
	       cell->drift_counts * (double)bench->t_us * 1e-6;
}

/* Time goes on: unsettled, then settled for seconds. */
static int wait_s(struct bench *bench, double seconds)
{
	struct calibration_event event = {.kind = CALIBRATION_READING};
	const int64_t still_us = bench->t_us + 500000;
	int changed = 0;

	for (int i = 0; i < (int)(seconds * 10.0); i++) {
		bench->t_us += 100000;
		event.reading = (struct calibration_reading){
		        .t_us = bench->t_us,
		        .settled = bench->t_us > still_us && !bench->cell.open,
		        .rail = bench->cell.open,
		        .warm = !bench->cell.cold,
		        .counts = counts_of(bench),
		        .sd_counts = 2.0,
		        .still_since_us = still_us,
		        .rate_hz = bench->cell.rate_hz,
		        .corrupt_per_1000 = bench->cell.corrupt_per_1000,
		        .hum_hz = bench->cell.hum_hz,
		        .hum_counts = bench->cell.hum_hz > 0.0 ? 43.0 : 0.0,
		};
		changed |= calibration_run_next(&bench->run, &event, &bench->run);
	}
	return changed;
}

static void load(struct bench *bench, double mass_g, bool falling)
{
	if (mass_g > bench->load_g)
		bench->loadings += 1.0;
	bench->load_g = mass_g;
	bench->falling = falling;
	wait_s(bench, 4.0);
}

static int press(struct bench *bench, double mass_g)
{
	const struct calibration_event event = {.kind = CALIBRATION_PRESS, .mass_g = mass_g};

	return calibration_run_next(&bench->run, &event, &bench->run);
}

static void take_zero(struct bench *bench)
{
	wait_s(bench, 4.0);
	assert_int_equal(press(bench, 0.0), 1);
	assert_int_equal(bench->run.step, CALIBRATION_RISING);
}

/* Up and down, the repeats, the places; stops where it is refused. */
static void go_through(struct bench *bench, const double *loads_g, int n)
{
	take_zero(bench);
	for (int i = 0; i < n; i++) {
		load(bench, loads_g[i], false);
		press(bench, loads_g[i]);
		if (bench->run.step == CALIBRATION_REFUSED)
			return;
		assert_int_equal(bench->run.n_loads, i + 1);
	}
	assert_int_equal(press(bench, 0.0), 1);
	for (int i = n - 1; i >= 0; i--) {
		assert_int_equal(bench->run.step, CALIBRATION_FALLING);
		assert_within(bench->run.say.value, i > 0 ? loads_g[i - 1] : 0.0, 0.0);
		load(bench, i > 0 ? loads_g[i - 1] : 0.0, i > 0);
		assert_int_equal(press(bench, 0.0), 1);
	}
	for (int i = 0; i < 10; i++) {
		assert_int_equal(bench->run.step, CALIBRATION_REPEAT);
		assert_int_equal(bench->run.say.id, ADVICE_REPEAT_ON);
		assert_int_equal(bench->run.say.count, i + 1);
		load(bench, loads_g[n - 1], false);
		assert_int_equal(bench->run.say.id, ADVICE_REPEAT_OFF);
		load(bench, 0.0, false);
	}
	for (int i = 0; i < 4; i++) {
		assert_int_equal(bench->run.step, CALIBRATION_PLACES_STEP);
		assert_int_equal(bench->run.say.id, ADVICE_PLACE_ON);
		assert_int_equal(bench->run.say.count, i);
		bench->place = i;
		load(bench, loads_g[n - 1], false);
		assert_int_equal(bench->run.say.id, ADVICE_PLACE_OFF);
		load(bench, 0.0, false);
	}
	bench->place = -1;
}

static const double three_loads[] = {1000.0, 2500.0, 5000.0};

static void run_of(struct bench *bench, const struct cell *cell)
{
	begin(bench, cell);
	go_through(bench, three_loads, 3);
}

static bool noted(const struct calibration_run *run, enum advice_id id)
{
	for (size_t i = 0; i < run->result.n_notes; i++)
		if (run->result.notes[i].id == id)
			return true;
	return false;
}

static void a_good_cell_gets_its_counts_per_gram(void **state)
{
	const struct calibration *calibration;
	struct bench bench;

	(void)state;
	run_of(&bench, &good);
	assert_int_equal(bench.run.step, CALIBRATION_DONE);
	assert_int_equal(bench.run.say.id, ADVICE_READY);
	calibration = &bench.run.result.calibration;
	assert_int_equal(calibration->degree, 1);
	assert_close(1.0 / calibration->g_per_count, 431.25, 1e-5);
	assert_within(calibration->zero_counts, 190000.0, 5.0);
	assert_within(calibration_mass_g(calibration, 190000.0 + 431.25 * 3000.0), 3000.0, 0.02);
	assert_close(bench.run.result.span_change_pct, 100.0 * (431.25 / 429.5 - 1.0), 1e-2);
	assert_int_equal(bench.run.result.n_notes, 0);
	/* 1 zero, 3 up, 3 down, 10 and 4 times on and off. */
	assert_int_equal(bench.run.n_raw, 1 + 3 + 3 + 2 * 14);
}

static void what_a_cell_does_wrong_is_measured(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.hysteresis_g = 0.8;
	cell.corner_g[PLACE_BACK] = -0.9;
	cell.corner_g[PLACE_LEFT] = 0.3;
	cell.scatter_counts = 0.0;
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_DONE);
	/* 4 h x (1-x) is h at half of Max, where one of the loads stands. */
	assert_within(bench.run.result.report.hysteresis_g, 0.8, 0.01);
	assert_within(bench.run.result.off_centre_g[PLACE_FRONT], 0.0, 0.001);
	assert_within(bench.run.result.off_centre_g[PLACE_BACK], -0.9, 0.001);
	assert_within(bench.run.result.off_centre_g[PLACE_LEFT], 0.3, 0.001);
	assert_within(bench.run.result.repeat_sd_g, 0.0, 1e-6);
	/* 5000 g in 0.1 g is class II (R 76-1 Table 3), 50000 e: 1.5 e (Table 6). */
	assert_within(bench.run.result.limit_g, 0.15, 1e-12);
	assert_true(noted(&bench.run, ADVICE_HYSTERESIS));
	assert_true(noted(&bench.run, ADVICE_OFF_CENTRE));
	assert_false(noted(&bench.run, ADVICE_SCATTER));
}

static void repeats_that_scatter_are_noted(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.scatter_counts = 431.25; /* 1 g, every second time */
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_DONE);
	/* Five of ten 1 g higher: sd sqrt(10/9)/2. */
	assert_within(bench.run.result.repeat_sd_g, sqrt(10.0 / 9.0) / 2.0, 0.01);
	assert_within(bench.run.result.repeat_spread_g, 1.0, 0.01);
	assert_true(noted(&bench.run, ADVICE_SCATTER));
}

static void a_gentle_bend_is_followed_by_a_square(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.square = -4.0;
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_DONE);
	assert_int_equal(bench.run.result.calibration.degree, 2);
	assert_true(bench.run.result.report.straight.refused);
	bench.load_g = 2500.0;
	bench.loadings = 0.0;
	bench.cell.drift_counts = 0.0;
	assert_within(calibration_mass_g(&bench.run.result.calibration, counts_of(&bench)), 2500.0,
	              0.05);
}

static void a_bend_beyond_a_square_is_refused(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.cube = 60.0;
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_REFUSED);
	assert_int_equal(bench.run.say.id, ADVICE_BEND);
	assert_true(bench.run.say.value > 0.1);
	assert_int_equal(press(&bench, 0.0), -EALREADY);
}

static void a_load_under_a_tenth_of_max_is_refused(void **state)
{
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	take_zero(&bench);
	load(&bench, 499.0, false);
	assert_int_equal(press(&bench, 499.0), -EINVAL);
	assert_int_equal(bench.run.say.id, ADVICE_LOAD_TOO_SMALL);
	assert_within(bench.run.say.other, 500.0, 1e-9);
	assert_int_equal(bench.run.n_loads, 0);
	load(&bench, 500.0, false);
	assert_int_equal(press(&bench, 500.0), 1);
	assert_int_equal(press(&bench, 400.0), -EINVAL);
}

static void masses_that_make_no_sense_are_refused(void **state)
{
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	take_zero(&bench);
	assert_int_equal(press(&bench, 0.0), -EINVAL);
	assert_int_equal(bench.run.say.id, ADVICE_LOAD_MISSING);
	load(&bench, 2000.0, false);
	assert_int_equal(press(&bench, 5000.5), -EINVAL);
	assert_int_equal(bench.run.say.id, ADVICE_LOAD_OVER_MAX);
	assert_int_equal(press(&bench, (double)NAN), -EINVAL);
	assert_int_equal(press(&bench, -2000.0), -EINVAL);
	assert_int_equal(press(&bench, 2000.0), 1);
	assert_int_equal(press(&bench, 2000.0), -EINVAL);
	assert_int_equal(bench.run.say.id, ADVICE_LOAD_NOT_MORE);
	assert_int_equal(bench.run.step, CALIBRATION_RISING);
	for (int i = 1; i < 8; i++) {
		load(&bench, 2000.0 + 100.0 * i, false);
		assert_int_equal(press(&bench, 2000.0 + 100.0 * i), 1);
	}
	load(&bench, 3000.0, false);
	assert_int_equal(press(&bench, 3000.0), -EINVAL);
	assert_int_equal(bench.run.say.id, ADVICE_LOADS_ENOUGH);
}

static void a_cold_cell_is_told_to_wait(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.cold = true;
	begin(&bench, &cell);
	wait_s(&bench, 30.0);
	assert_int_equal(press(&bench, 0.0), -EAGAIN);
	assert_int_equal(bench.run.say.id, ADVICE_WARMING);
	assert_int_equal(bench.run.step, CALIBRATION_ZERO);
	bench.cell.cold = false;
	wait_s(&bench, 1.0);
	assert_int_equal(bench.run.say.id, ADVICE_CLEAR);
}

static void a_zero_that_drifts_away_meanwhile_is_refused(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.drift_counts = 1.0; /* about 150 s: 0.35 g, 3.5 intervals */
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_REFUSED);
	assert_int_equal(bench.run.say.id, ADVICE_DRIFTED);
	assert_within(bench.run.say.value, 0.34, 0.05);
	assert_within(bench.run.say.other, 0.2, 1e-12);
}

static void a_slower_drift_is_taken_out_of_the_repeats(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.drift_counts = 0.4;
	cell.scatter_counts = 0.0;
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_DONE);
	assert_true(bench.run.result.drift_g > 0.1);
	assert_true(bench.run.result.repeat_spread_g < 0.005);
	/* By the last repeat the zero has moved by some 40 counts of two million. */
	assert_close(1.0 / bench.run.result.calibration.g_per_count, 431.25, 4e-6);
}

static void a_hurried_press_is_told_to_wait(void **state)
{
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	wait_s(&bench, 1.0);
	assert_int_equal(press(&bench, 0.0), -EAGAIN);
	assert_int_equal(bench.run.say.id, ADVICE_SETTLING);
	take_zero(&bench);
	bench.load_g = 1000.0;
	wait_s(&bench, 2.0); /* settled for 1.5 s: it averages too little yet */
	assert_int_equal(press(&bench, 1000.0), -EAGAIN);
	assert_int_equal(bench.run.n_loads, 0);
}

static void a_swapped_signal_pair_is_named(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.counts_per_g = -431.25;
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_REFUSED);
	assert_int_equal(bench.run.say.id, ADVICE_SWAPPED_PAIR);
}

static void an_open_bridge_is_named(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.open = true;
	begin(&bench, &cell);
	assert_int_equal(wait_s(&bench, 0.5), 0); /* a moment at the rail may be a spike */
	assert_int_equal(bench.run.step, CALIBRATION_ZERO);
	assert_int_equal(wait_s(&bench, 1.5), 1);
	assert_int_equal(bench.run.step, CALIBRATION_REFUSED);
	assert_int_equal(bench.run.say.id, ADVICE_OPEN_BRIDGE);
}

static void the_rail_under_a_load_is_too_much_load(void **state)
{
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	take_zero(&bench);
	bench.cell.open = true;
	wait_s(&bench, 2.0);
	assert_int_equal(bench.run.step, CALIBRATION_RISING);
	assert_int_equal(bench.run.say.id, ADVICE_OVERLOADED);
	assert_int_equal(press(&bench, 4000.0), -EAGAIN);
	bench.cell.open = false;
	wait_s(&bench, 1.0);
	assert_int_equal(bench.run.say.id, ADVICE_PUT_LOAD);
}

static void a_wrong_gain_is_named(void **state)
{
	static const double factors[] = {0.25, 0.5, 2.0, 4.0};

	(void)state;
	for (int i = 0; i < 4; i++) {
		struct cell cell = good;
		struct bench bench;

		cell.counts_per_g = 429.5 * factors[i] * 1.05;
		run_of(&bench, &cell);
		assert_int_equal(bench.run.step, CALIBRATION_REFUSED);
		assert_int_equal(bench.run.say.id, ADVICE_WRONG_GAIN);
		assert_within(bench.run.say.value, factors[i], 0.0);
	}
}

static void another_cell_is_no_wrong_gain(void **state)
{
	struct cell cell = good;
	struct bench bench;

	(void)state;
	cell.counts_per_g = 429.5 * 1.4;
	run_of(&bench, &cell);
	assert_int_equal(bench.run.step, CALIBRATION_DONE);
	assert_true(noted(&bench.run, ADVICE_SPAN_CHANGED));
}

static void a_load_that_is_not_felt_is_asked_for_again(void **state)
{
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	take_zero(&bench);
	wait_s(&bench, 4.0);
	assert_int_equal(press(&bench, 1000.0), -EAGAIN);
	assert_int_equal(bench.run.say.id, ADVICE_LOAD_NOT_FELT);
}

static void a_second_load_entered_too_early_is_no_wrong_gain(void **state)
{
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	take_zero(&bench);
	load(&bench, 1000.0, false);
	assert_int_equal(press(&bench, 1000.0), 1);
	assert_int_equal(press(&bench, 2000.0), -EAGAIN);
	assert_int_equal(bench.run.say.id, ADVICE_LOAD_NOT_FELT);
	load(&bench, 2000.0, false);
	assert_int_equal(press(&bench, 2000.0), 1);
	assert_int_equal(bench.run.n_loads, 2);
}

static void what_was_not_taken_down_is_asked_for_again(void **state)
{
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	take_zero(&bench);
	load(&bench, 1000.0, false);
	assert_int_equal(press(&bench, 1000.0), 1);
	load(&bench, 5000.0, false);
	assert_int_equal(press(&bench, 5000.0), 1);
	assert_int_equal(press(&bench, 0.0), 1);
	assert_int_equal(press(&bench, 0.0), -EAGAIN);
	assert_int_equal(bench.run.say.id, ADVICE_LOAD_NOT_BACK);
	assert_within(bench.run.say.value, 5000.0, 0.1);
	assert_within(bench.run.say.other, 1000.0, 0.0);
}

static void faults_that_show_without_a_load_are_named(void **state)
{
	static const struct {
		double rate_hz, corrupt, hum_hz;
		enum advice_id id;
	} faults[] = {
	        {10.5, 0.0, 0.0, ADVICE_WRONG_RATE}, {84.0, 21.0, 0.0, ADVICE_LOOSE_CLOCK},
	        {84.0, 1.0, 50.0, ADVICE_HUM},       {84.0, 1.0, 60.0, ADVICE_HUM},
	        {84.0, 19.0, 0.0, ADVICE_NONE},      {60.0, 0.0, 0.0, ADVICE_NONE},
	};

	(void)state;
	for (size_t i = 0; i < sizeof(faults) / sizeof(faults[0]); i++) {
		struct cell cell = good;
		struct bench bench;

		cell.rate_hz = faults[i].rate_hz;
		cell.corrupt_per_1000 = faults[i].corrupt;
		cell.hum_hz = faults[i].hum_hz;
		begin(&bench, &cell);
		wait_s(&bench, 4.0);
		assert_int_equal(press(&bench, 0.0), 1);
		if (faults[i].id == ADVICE_NONE) {
			assert_int_equal(bench.run.step, CALIBRATION_RISING);
			continue;
		}
		assert_int_equal(bench.run.step, CALIBRATION_REFUSED);
		assert_int_equal(bench.run.say.id, faults[i].id);
	}
}

static void one_load_is_enough_but_shows_no_bend(void **state)
{
	static const double one[] = {2000.0};
	struct bench bench;

	(void)state;
	begin(&bench, &good);
	go_through(&bench, one, 1);
	assert_int_equal(bench.run.step, CALIBRATION_DONE);
	assert_true(noted(&bench.run, ADVICE_BEND_UNJUDGED));
	assert_close(1.0 / bench.run.result.calibration.g_per_count, 431.25, 1e-5);
}

static void a_setup_of_no_scale_is_refused(void **state)
{
	struct calibration_setup bad = setup;
	struct calibration_run run;

	(void)state;
	bad.max_g = 0.0;
	assert_int_equal(calibration_run_begin(&bad, &run), -EINVAL);
	bad = setup;
	bad.interval_g = (double)NAN;
	assert_int_equal(calibration_run_begin(&bad, &run), -EINVAL);
	bad = setup;
	bad.expected_counts_per_g = -1.0;
	assert_int_equal(calibration_run_begin(&bad, &run), -EINVAL);
}

static void every_advice_has_a_name_of_its_own(void **state)
{
	(void)state;
	for (int i = 0; i < ADVICE_COUNT; i++)
		for (int k = 0; k < i; k++)
			assert_string_not_equal(advice_name((enum advice_id)i),
			                        advice_name((enum advice_id)k));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_good_cell_gets_its_counts_per_gram),
	        cmocka_unit_test(what_a_cell_does_wrong_is_measured),
	        cmocka_unit_test(repeats_that_scatter_are_noted),
	        cmocka_unit_test(a_gentle_bend_is_followed_by_a_square),
	        cmocka_unit_test(a_bend_beyond_a_square_is_refused),
	        cmocka_unit_test(a_load_under_a_tenth_of_max_is_refused),
	        cmocka_unit_test(masses_that_make_no_sense_are_refused),
	        cmocka_unit_test(a_cold_cell_is_told_to_wait),
	        cmocka_unit_test(a_zero_that_drifts_away_meanwhile_is_refused),
	        cmocka_unit_test(a_slower_drift_is_taken_out_of_the_repeats),
	        cmocka_unit_test(a_hurried_press_is_told_to_wait),
	        cmocka_unit_test(a_swapped_signal_pair_is_named),
	        cmocka_unit_test(an_open_bridge_is_named),
	        cmocka_unit_test(the_rail_under_a_load_is_too_much_load),
	        cmocka_unit_test(a_wrong_gain_is_named),
	        cmocka_unit_test(another_cell_is_no_wrong_gain),
	        cmocka_unit_test(a_load_that_is_not_felt_is_asked_for_again),
	        cmocka_unit_test(a_second_load_entered_too_early_is_no_wrong_gain),
	        cmocka_unit_test(what_was_not_taken_down_is_asked_for_again),
	        cmocka_unit_test(faults_that_show_without_a_load_are_named),
	        cmocka_unit_test(one_load_is_enough_but_shows_no_bend),
	        cmocka_unit_test(a_setup_of_no_scale_is_refused),
	        cmocka_unit_test(every_advice_has_a_name_of_its_own),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
