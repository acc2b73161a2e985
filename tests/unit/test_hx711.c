/* SPDX-License-Identifier: MIT */
/* The reader against a chip that judges it: tests/support/hx711_chip.h names the rules
 * and the page of the data sheet. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <stdbool.h>
#include <string.h>

#include "tests/support/hx711_rig.h"
#include "tests/support/random.h"

struct bridge {
	int32_t value, step; /* each conversion a step on */
	int inputs[3];       /* conversions by input 25, 26, 27 */
};

static int32_t bridge_sample(void *context, int input)
{
	struct bridge *bridge = context;

	bridge->inputs[input - 25]++;
	bridge->value += bridge->step;
	/* Each input its own gain, so that a conversion with the wrong one is seen. */
	return input == 25   ? bridge->value
	       : input == 27 ? bridge->value / 2
	                     : -1000 - bridge->value;
}

struct bench {
	struct bridge bridge;
	struct hx711_rig rig;
	struct hx711 reader;
	struct hx711_conversion got;
	size_t cell;
};

static void set_up(struct bench *bench, enum hx711_input input, size_t n_cells, double rate_hz)
{
	const struct hx711_config config = {input, n_cells, rate_hz};
	struct hx711_pins pins;

	memset(bench, 0, sizeof(*bench));
	hx711_rig_init(&bench->rig, n_cells, rate_hz, bridge_sample, &bench->bridge);
	pins = hx711_rig_pins(&bench->rig);
	hx711_init(&bench->reader, &config, &pins);
}

static int read_once(struct bench *bench)
{
	int r;

	memset(&bench->got, 0xcc, sizeof(bench->got)); /* nobody initialises it */
	r = hx711_read(&bench->reader, 1000000, &bench->got, &bench->cell);
	for (size_t i = 0; r == 1 && i < bench->rig.n_cells; i++) {
		assert_true(bench->got.counts[i] >= -0x800000);
		assert_true(bench->got.counts[i] <= 0x7fffff);
	}
	return r;
}

static void keeps_every_rule(const struct bench *bench)
{
	for (size_t i = 0; i < bench->rig.n_cells; i++)
		assert_int_equal(hx711_chip_broken(&bench->rig.chip[i]), 0);
	assert_int_equal(bench->rig.woken_for_nothing, 0);
}

static void every_part_of_the_code_range_comes_out_exact(void **state)
{
	struct bench bench;
	int n = 0;

	(void)state;
	set_up(&bench, HX711_A128, 1, 80);
	bench.bridge.value = -0x800000;
	assert_int_equal(read_once(&bench), 1);
	for (int32_t code = -0x800000; code <= 0x7fffff; code += 997, n++) {
		bench.bridge.value = code;
		assert_int_equal(read_once(&bench), 1);
		assert_int_equal(bench.got.counts[0], code);
		assert_int_equal(bench.got.flags, code == -0x800000 ? SCALE_RAIL : 0);
	}
	assert_int_equal(n, 16828);
	bench.bridge.value = 0x7fffff;
	assert_int_equal(read_once(&bench), 1);
	assert_int_equal(bench.got.counts[0], 0x7fffff);
	assert_int_equal(bench.got.flags, SCALE_RAIL);
	/* One wake a conversion, no spinning: a read of the level before, one after. */
	assert_in_range(bench.rig.waits, n, n + 8);
	keeps_every_rule(&bench);
}

static void pins_faster_than_the_chip_are_slowed_down(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench, HX711_A128, 1, 80);
	bench.rig.call_ns = 10; /* registers instead of system calls */
	bench.bridge.value = 4711;
	for (int n = 0; n < 50; n++) {
		assert_int_equal(read_once(&bench), 1);
		assert_int_equal(bench.got.counts[0], 4711);
	}
	keeps_every_rule(&bench);
}

static void unsettled_conversions_after_a_reset_are_dropped(void **state)
{
	static const double rates[] = {10, 80};
	struct bench bench;

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		set_up(&bench, HX711_A128, 1, rates[i]);
		bench.bridge.value = 1000;
		assert_int_equal(read_once(&bench), 1);
		/* 1..3 are unsettled: half of 1000. */
		assert_int_equal(bench.got.counts[0], 1000);
		assert_true(bench.got.t_ns >= bench.rig.chip[0].settled_ns);
		assert_int_equal(bench.rig.chip[0].conversions, 4);
		keeps_every_rule(&bench);
	}
}

static void the_other_inputs_are_chosen_and_settle_before_they_count(void **state)
{
	static const struct {
		enum hx711_input input;
		int32_t expected;
	} rows[] = {{HX711_B32, -2000}, {HX711_A64, 500}};
	struct bench bench;

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		set_up(&bench, rows[i].input, 1, 80);
		bench.bridge.value = 1000;
		for (int n = 0; n < 20; n++) {
			assert_int_equal(read_once(&bench), 1);
			assert_int_equal(bench.got.counts[0], rows[i].expected);
			assert_int_equal(bench.got.flags, 0);
		}
		assert_int_equal(bench.rig.chip[0].input, rows[i].input);
		assert_int_equal(bench.bridge.inputs[0], 1); /* only the first, of the reset */
		keeps_every_rule(&bench);
	}
}

/* Breaks one frame at each of its pulses in turn. */
static void a_long_pulse_voids_its_conversion_and_the_input_is_chosen_anew(void **state)
{
	static const enum hx711_input inputs[] = {HX711_A128, HX711_B32, HX711_A64};
	static const int32_t expected[] = {1000, -2000, 500};
	static const int64_t pauses_ns[] = {49500, 55000, 61000, 3000000};
	struct bench bench;

	(void)state;
	for (size_t k = 0; k < 12; k++) {
		for (unsigned at = 1; at <= (unsigned)inputs[k % 3]; at++) {
			const int32_t good = expected[k % 3];

			set_up(&bench, inputs[k % 3], 1, 80);
			bench.bridge.value = 1000;
			assert_int_equal(read_once(&bench), 1);
			/* Rising edges are the odd sets: the frame's first is two on. */
			bench.rig.pause_at = bench.rig.sets + 2 * at - 1;
			bench.rig.pause_ns = pauses_ns[k / 3];
			assert_int_equal(read_once(&bench), 1);
			assert_int_equal(bench.got.flags & SCALE_VOID, SCALE_VOID);
			assert_int_equal(bench.reader.n_long, 1);
			for (int n = 0; n < 10; n++) {
				assert_int_equal(read_once(&bench), 1);
				assert_int_equal(bench.got.counts[0], good);
				assert_int_equal(bench.got.flags, n == 0 ? SCALE_GAP : 0);
			}
			assert_int_equal(bench.rig.chip[0].input, inputs[k % 3]);
			assert_int_equal(bench.rig.chip[0].odd_frames, 0);
		}
	}
}

static void a_pause_while_the_clock_is_low_harms_nothing(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench, HX711_A128, 1, 80);
	bench.bridge.value = 1000;
	assert_int_equal(read_once(&bench), 1);
	/* Measured in the high phase it would be taken for a long pulse. */
	bench.rig.pause_at = bench.rig.sets + 20 - 1;
	bench.rig.pause_ns = 40000;
	assert_int_equal(read_once(&bench), 1);
	assert_int_equal(bench.got.flags, 0);
	assert_int_equal(bench.got.counts[0], 1000);
	keeps_every_rule(&bench);
}

static void a_chip_that_restarts_by_itself_is_found_and_given_its_input_again(void **state)
{
	struct bench bench;

	(void)state;
	for (int tenths = 0; tenths < 10; tenths++) {
		set_up(&bench, HX711_A64, 1, 80);
		bench.bridge.value = 1000;
		for (int n = 0; n < 5; n++)
			assert_int_equal(read_once(&bench), 1);
		/* The supply fails 0.6 to 0.96 of a period after a conversion. */
		bench.rig.now_ns += (6000000 + 400000 * tenths) * 5 / 4;
		hx711_chip_restart(&bench.rig.chip[0], bench.rig.now_ns);
		assert_int_equal(read_once(&bench), 1);
		assert_int_equal(bench.got.flags, SCALE_VOID | SCALE_GAP);
		for (int n = 0; n < 10; n++) {
			assert_int_equal(read_once(&bench), 1);
			assert_int_equal(bench.got.counts[0], 500);
			assert_int_equal(bench.got.flags, n == 0 ? SCALE_GAP : 0);
		}
		assert_int_equal(bench.reader.n_restarts, 1);
		keeps_every_rule(&bench);
	}
}

static void a_reader_that_comes_late_flags_the_gap_and_loses_nothing_more(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench, HX711_A64, 1, 80);
	bench.bridge.value = 1000;
	assert_int_equal(read_once(&bench), 1);
	bench.rig.now_ns += 40000000; /* three conversions go by */
	assert_int_equal(read_once(&bench), 1);
	assert_int_equal(bench.got.flags, SCALE_GAP);
	assert_int_equal(bench.got.counts[0], 500);
	assert_int_equal(read_once(&bench), 1);
	assert_int_equal(bench.got.flags, 0);
	assert_int_equal(bench.reader.n_restarts, 0);
	keeps_every_rule(&bench);
}

static void dead_data_lines_are_silent_or_a_fault_and_never_a_number(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench, HX711_A128, 2, 80);
	bench.bridge.value = 1000;
	assert_int_equal(read_once(&bench), 1);
	bench.rig.chip[1].dead_high = true;
	assert_int_equal(read_once(&bench), 0);
	assert_int_equal(read_once(&bench), 0);
	/* A second of silence each: a wait a period, not a spin. */
	assert_in_range(bench.rig.gets, 0, 1000);
	bench.rig.chip[1].dead_high = false;
	assert_int_equal(read_once(&bench), 1);

	bench.rig.chip[1].dead_low = true;
	assert_int_equal(read_once(&bench), 1);
	assert_int_equal(bench.got.flags & SCALE_VOID, SCALE_VOID);
	assert_int_equal(bench.reader.n_lost, 1);
	for (int n = 0; n < 3; n++) {
		assert_int_equal(read_once(&bench), -EIO);
		assert_int_equal(bench.cell, 1);
	}
	bench.rig.chip[1].dead_low = false;
	assert_int_equal(read_once(&bench), 1);
	assert_int_equal(bench.got.counts[1], 1000);
	assert_int_equal(bench.got.flags, SCALE_GAP);
}

static void up_to_four_chips_on_one_clock_wait_for_the_slowest(void **state)
{
	struct bench bench;

	(void)state;
	for (size_t n_cells = 2; n_cells <= 4; n_cells++) {
		set_up(&bench, HX711_A128, n_cells, 80);
		for (size_t i = 0; i < n_cells; i++)
			bench.rig.chip[i].period_ns += (int64_t)i * 60000; /* 0.5 % apart */
		bench.bridge.value = 4711;
		for (int n = 0; n < 300; n++) {
			assert_int_equal(read_once(&bench), 1);
			assert_int_equal(bench.got.flags & SCALE_VOID, 0);
			for (size_t i = 0; i < n_cells; i++)
				assert_int_equal(bench.got.counts[i], 4711);
		}
		for (size_t i = 0; i < n_cells; i++)
			assert_int_equal(bench.rig.chip[i].odd_frames, 0);
	}
}

static void powered_down_they_wake_settled(void **state)
{
	struct bench bench;

	(void)state;
	set_up(&bench, HX711_B32, 1, 10);
	bench.bridge.value = 1000;
	assert_int_equal(read_once(&bench), 1);
	assert_int_equal(hx711_power_down(&bench.reader), 0);
	bench.rig.now_ns += 3600 * INT64_C(1000000000);
	hx711_chip_advance(&bench.rig.chip[0], bench.rig.now_ns);
	assert_true(bench.rig.chip[0].off);
	while (read_once(&bench) == 0)
		assert_in_range(bench.rig.gets, 0, 5000);
	assert_int_equal(bench.got.counts[0], -2000);
	assert_int_equal(bench.got.flags, SCALE_GAP);
	keeps_every_rule(&bench);
}

static void a_pin_that_fails_ends_the_read_and_the_next_one_goes_on(void **state)
{
	struct bench bench;
	unsigned calls;

	(void)state;
	set_up(&bench, HX711_A128, 1, 80);
	bench.bridge.value = 1000;
	assert_int_equal(read_once(&bench), 1);
	calls = bench.rig.calls;
	assert_int_equal(read_once(&bench), 1);
	calls = bench.rig.calls - calls; /* of one conversion */
	for (unsigned at = 1; at <= calls; at++) {
		set_up(&bench, HX711_A128, 1, 80);
		bench.bridge.value = 1000;
		assert_int_equal(read_once(&bench), 1);
		bench.rig.fail_at = bench.rig.calls + at;
		assert_int_equal(read_once(&bench), -EIO);
		assert_int_equal(read_once(&bench), 1);
		assert_int_equal(bench.got.counts[0], 1000);
		assert_int_equal(bench.got.flags & SCALE_VOID, 0);
		assert_int_equal(bench.rig.chip[0].odd_frames, 0);
	}
}

/* No value that is not a conversion's own, whatever happens on the way. */
static void among_random_faults_no_wrong_code_is_called_good(void **state)
{
	static const enum hx711_input inputs[] = {HX711_A128, HX711_B32, HX711_A64};
	static const int32_t expected[] = {123456, -124456, 61728};
	struct bench bench;
	unsigned good = 0, spoilt = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= 60; seed++) {
		struct random random = {seed};

		set_up(&bench, inputs[seed % 3], 1, 80);
		bench.bridge.value = 123456;
		for (int n = 0; n < 300; n++) {
			const double dice = random_uniform(&random);

			bench.rig.call_ns = 200 + (int64_t)(3000 * random_uniform(&random));
			if (dice < 0.05) {
				bench.rig.pause_at = bench.rig.sets + 1 +
				                     (unsigned)(50 * random_uniform(&random));
				bench.rig.pause_ns = (int64_t)(200000 * random_uniform(&random));
			} else if (dice < 0.06) {
				/* Sooner after a conversion nothing on the wire tells. */
				bench.rig.now_ns +=
				        7000000 + (int64_t)(5e6 * random_uniform(&random));
				hx711_chip_restart(&bench.rig.chip[0], bench.rig.now_ns);
			}
			if (read_once(&bench) != 1)
				continue;
			if ((bench.got.flags & SCALE_VOID) != 0) {
				spoilt++;
				continue;
			}
			good++;
			assert_int_equal(bench.got.counts[0], expected[seed % 3]);
		}
	}
	assert_true(good > 15000);
	assert_true(spoilt > 200);
}

static void the_chip_itself_breaks_whoever_breaks_its_rules(void **state)
{
	struct bridge bridge = {.value = 1};
	struct hx711_chip chip;

	(void)state;
	hx711_chip_init(&chip, 80, bridge_sample, &bridge, 0);
	hx711_chip_advance(&chip, 12500000);
	hx711_chip_clock(&chip, 1, 12500050);
	assert_int_equal(chip.early, 1);
	hx711_chip_data(&chip, 12500100);
	assert_int_equal(chip.early_reads, 1);
	hx711_chip_clock(&chip, 0, 12500150);
	assert_int_equal(chip.short_high, 1);
	hx711_chip_clock(&chip, 1, 12500250);
	assert_int_equal(chip.short_low, 1);
	hx711_chip_clock(&chip, 0, 12500250 + 50500);
	assert_int_equal(chip.long_high, 1);
	assert_int_equal(chip.powerdowns, 1);
	assert_int_equal(chip.resets, 2);
	assert_int_equal(hx711_chip_data(&chip, 12600000), 1);
	hx711_chip_advance(&chip, 30000000);
	for (int i = 0; i < 28; i++) {
		hx711_chip_clock(&chip, 1, 30000000 + i * 2000);
		hx711_chip_clock(&chip, 0, 30001000 + i * 2000);
	}
	hx711_chip_advance(&chip, 40000000);
	assert_int_equal(chip.odd_frames, 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(every_part_of_the_code_range_comes_out_exact),
	        cmocka_unit_test(pins_faster_than_the_chip_are_slowed_down),
	        cmocka_unit_test(unsettled_conversions_after_a_reset_are_dropped),
	        cmocka_unit_test(the_other_inputs_are_chosen_and_settle_before_they_count),
	        cmocka_unit_test(a_long_pulse_voids_its_conversion_and_the_input_is_chosen_anew),
	        cmocka_unit_test(a_pause_while_the_clock_is_low_harms_nothing),
	        cmocka_unit_test(a_chip_that_restarts_by_itself_is_found_and_given_its_input_again),
	        cmocka_unit_test(a_reader_that_comes_late_flags_the_gap_and_loses_nothing_more),
	        cmocka_unit_test(dead_data_lines_are_silent_or_a_fault_and_never_a_number),
	        cmocka_unit_test(up_to_four_chips_on_one_clock_wait_for_the_slowest),
	        cmocka_unit_test(powered_down_they_wake_settled),
	        cmocka_unit_test(a_pin_that_fails_ends_the_read_and_the_next_one_goes_on),
	        cmocka_unit_test(among_random_faults_no_wrong_code_is_called_good),
	        cmocka_unit_test(the_chip_itself_breaks_whoever_breaks_its_rules),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
