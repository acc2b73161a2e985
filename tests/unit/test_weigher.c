/* SPDX-License-Identifier: MIT */
/* From raw codes to readings: simulated traces with a known truth, and every
 * limit of the scale. The traces carry a warm-up drift of 7 counts/s that fades
 * in 300 s, coloured noise, corrupt reads with their gaps, knocks. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/weighing/weigher.h"
#include "tests/support/random.h"

#define COUNTS_PER_G 429.5
#define ZERO_COUNTS  190000.0
#define MAX_G        3000.0
#define INTERVAL_G   0.1
#define FAST_US      11862

static struct weigher_config usual(void)
{
	return (struct weigher_config){.calibration = {.degree = 1,
	                                               .zero_counts = ZERO_COUNTS,
	                                               .g_per_count = 1.0 / COUNTS_PER_G},
	                               .max_g = MAX_G,
	                               .interval_g = INTERVAL_G};
}

static struct weigher *new_usual(void)
{
	const struct weigher_config config = usual();
	struct weigher *weigher = NULL;

	assert_int_equal(weigher_new(&config, &weigher), 0);
	return weigher;
}

/* ---- traces ---- */

struct row {
	int64_t t_us;
	int32_t counts;
	double truth_g, rate_g_per_s;
	bool corrupt;
	struct reading reading;
};

#define ROWS_MAX 7000u

static struct row rows[ROWS_MAX];

static uint32_t replay(const char *name)
{
	struct weigher *weigher = new_usual();
	char path[512], line[128];
	long long t_us;
	uint32_t n = 0;
	int corrupt;
	FILE *file;

	snprintf(path, sizeof(path), "%s/%s", AMBO_TEST_DATA, name);
	file = fopen(path, "r");
	assert_non_null(file);
	while (fgets(line, sizeof(line), file) != NULL) {
		struct row *row = &rows[n];
		struct weigher_sample sample;

		if (line[0] == '#')
			continue;
		assert_true(n < ROWS_MAX);
		assert_int_equal(sscanf(line, "%lld,%d,%lf,%lf,%d", &t_us, &row->counts,
		                        &row->truth_g, &row->rate_g_per_s, &corrupt),
		                 5);
		row->t_us = t_us;
		row->corrupt = corrupt != 0;
		sample = (struct weigher_sample){.t_us = t_us, .counts = row->counts};
		weigher_feed(weigher, &sample, &row->reading);
		n++;
	}
	fclose(file);
	weigher_free(weigher);
	assert_true(n > 100);
	return n;
}

/* What the scale should show: the truth and the drift of its zero so far. */
static double expected_g(const struct row *row)
{
	const double tau_s = 300.0;

	return row->truth_g +
	       7.0 * tau_s * (1.0 - exp(-(double)row->t_us * 1e-6 / tau_s)) / COUNTS_PER_G;
}

static bool flows(const struct row *row)
{
	return row->rate_g_per_s > 0.0;
}

static const char *const traces[] = {
        "synth_static_10sps_600s.csv", "synth_static_80sps_60s.csv", "synth_pour_10sps.csv",
        "synth_pour_80sps.csv",        "synth_drip0p2_10sps.csv",    "synth_drip0p2_80sps.csv",
};

#define TRACES (sizeof(traces) / sizeof(*traces))

static void a_corrupt_read_is_held_unless_the_noise_explains_it(void **state)
{
	uint32_t corrupt = 0, held = 0;

	(void)state;
	for (size_t k = 0; k < TRACES; k++) {
		const uint32_t n = replay(traces[k]);

		for (uint32_t i = 0; i < n; i++) {
			const struct row *row = &rows[i];
			const double seen_g = (row->counts - ZERO_COUNTS) / COUNTS_PER_G;
			const bool fits = fabs(seen_g - expected_g(row)) <
			                  4.0 * fmax(row->reading.noise_g, 0.05);

			if (!row->corrupt)
				continue;
			corrupt++;
			held += row->reading.held;
			if (!fits)
				assert_true(row->reading.held);
		}
	}
	print_message("%u corrupt reads, %u held, the rest within 4 sd\n", corrupt, held);
	assert_in_range(corrupt, 40, 100);
	assert_true(held * 2 >= corrupt);
}

static void a_held_row_repeats_the_one_before(void **state)
{
	uint32_t held = 0;

	(void)state;
	for (size_t k = 0; k < TRACES; k++) {
		const uint32_t n = replay(traces[k]);

		for (uint32_t i = 1; i < n; i++) {
			const struct reading *now = &rows[i].reading,
			                     *before = &rows[i - 1].reading;

			if (!now->held || !before->known || now->state == READING_FAULT ||
			    before->state == READING_FAULT)
				continue;
			held++;
			assert_within(now->gross_g, before->gross_g, 0.0);
			assert_within(now->rate_g_per_s, before->rate_g_per_s, 0.0);
			assert_within(now->sd_g, before->sd_g, 0.0);
			assert_int_equal(now->state, before->state);
			assert_int_equal(now->t_us, before->t_us);
		}
	}
	assert_true(held > 30);
}

static void no_row_at_rest_errs_by_more_than_its_noise_explains(void **state)
{
	(void)state;
	for (size_t k = 0; k < TRACES; k++) {
		const uint32_t n = replay(traces[k]);
		int64_t moved_us = 0;

		for (uint32_t i = 0; i < n; i++) {
			const struct reading *reading = &rows[i].reading;

			/* The pour's trace has a knock right after the stop. */
			if (flows(&rows[i]))
				moved_us = rows[i].t_us + 600000;
			if (rows[i].t_us < moved_us || reading->state == READING_FAULT)
				continue;
			if (reading->state == READING_SETTLED)
				assert_within(reading->gross_g, expected_g(&rows[i]), 0.10);
			else if (reading->known)
				assert_within(reading->gross_g, expected_g(&rows[i]), 0.55);
		}
	}
}

static void a_pour_at_80_per_s_is_followed_without_lag(void **state)
{
	const uint32_t n = replay("synth_pour_80sps.csv");
	uint32_t poured = 0;
	double squares = 0.0, sum = 0.0;

	(void)state;
	for (uint32_t i = 0; i < n; i++) {
		/* The stream leaves the lip at 0.2 m/s and pushes: v / g of it. */
		const double force_g = expected_g(&rows[i]) + 0.02 * rows[i].rate_g_per_s;
		const double error_g = rows[i].reading.gross_g - force_g;
		const bool knock = rows[i].t_us > 8000000 && rows[i].t_us < 8600000;

		if (rows[i].rate_g_per_s < 10.0 || knock || rows[i].t_us < 5600000)
			continue;
		poured++;
		squares += error_g * error_g;
		sum += error_g;
		assert_within(error_g, 0.0, 0.4);
	}
	assert_true(poured > 300);
	assert_within(sqrt(squares / poured), 0.0, 0.12);
	assert_within(sum / poured, 0.0, 0.06); /* 4 ms at 15 g/s */
}

static void the_end_of_a_trace_is_settled_at_its_truth(void **state)
{
	(void)state;
	for (size_t k = 0; k < TRACES; k++) {
		const uint32_t n = replay(traces[k]);
		const struct row *last = &rows[n - 1];

		assert_int_equal(last->reading.state, READING_SETTLED);
		assert_within(last->reading.gross_g, expected_g(last), 0.05);
		assert_within(last->reading.rate_g_per_s, 0.0, 0.0);
	}
}

static void a_stream_of_0_2_g_per_s_is_left_unsettled_to_its_end(void **state)
{
	const char *const name[] = {"synth_drip0p2_80sps.csv", "synth_drip0p2_10sps.csv"};
	/* How long a change test needs to see it begin: 0.2 g/s is 2 sd of a sample
	 * a second at 80/s, 4 at 10/s. */
	const int64_t seen_us[] = {900000, 1300000};

	(void)state;
	for (int k = 0; k < 2; k++) {
		const uint32_t n = replay(name[k]);
		int64_t began_us = 0;

		for (uint32_t i = 0; i < n; i++) {
			if (!flows(&rows[i]))
				continue;
			if (began_us == 0)
				began_us = rows[i].t_us;
			if (rows[i].t_us > began_us + seen_us[k])
				assert_int_not_equal(rows[i].reading.state, READING_SETTLED);
		}
		assert_true(began_us > 0);
	}
}

static void ten_minutes_of_rest_have_no_false_start(void **state)
{
	(void)state;
	for (size_t k = 0; k < 2; k++) {
		const uint32_t n = replay(traces[k]);
		bool settled = false;

		for (uint32_t i = 0; i < n; i++) {
			const enum reading_state now = rows[i].reading.state;

			settled = settled || now == READING_SETTLED;
			if (settled && now != READING_FAULT)
				assert_int_equal(now, READING_SETTLED);
		}
		assert_true(settled);
	}
}

static void the_noise_is_learnt_from_the_trace(void **state)
{
	uint32_t n;

	(void)state;
	n = replay("synth_static_10sps_600s.csv");
	assert_close(rows[n - 1].reading.noise_g, 0.05, 0.12);
	n = replay("synth_static_80sps_60s.csv");
	assert_close(rows[n - 1].reading.noise_g, 0.09, 0.12);
}

/* Ten samples a second of a stream of 0.2 g/s that was there from the start, neighbours
 * correlated as a sinc^4 leaves them (0.5 and 0.08 here). Returns how often of 100 it
 * was called settled between 2 and 8 s; *ret_noise_g: the mean of what was learnt by
 * four seconds. */
static uint32_t falsely_settled(double noise_g, double *ret_noise_g)
{
	uint32_t wrong = 0;

	*ret_noise_g = 0.0;
	for (uint64_t seed = 1; seed <= 100; seed++) {
		struct weigher *weigher = new_usual();
		struct random random = {.state = seed};
		double white[3] = {random_normal(&random), random_normal(&random)};
		bool settled = false;

		for (int i = 0; i < 80; i++) {
			struct weigher_sample sample = {.t_us = (int64_t)i * 100000};
			struct reading reading;
			double mass_g;

			white[2] = random_normal(&random);
			mass_g = 0.02 * i +
			         noise_g / 0.983 *
			                 (0.28 * white[0] + 0.9 * white[1] + 0.28 * white[2]);
			white[0] = white[1];
			white[1] = white[2];
			sample.counts = (int32_t)lround(ZERO_COUNTS + mass_g * COUNTS_PER_G);
			weigher_feed(weigher, &sample, &reading);
			settled |= i >= 20 && reading.state == READING_SETTLED;
			if (i == 40)
				*ret_noise_g += reading.noise_g / 100.0;
		}
		wrong += settled;
		weigher_free(weigher);
	}
	return wrong;
}

static void more_noise_than_was_guessed_is_seen_in_a_stream(void **state)
{
	double noise_g;

	(void)state;
	assert_in_range(falsely_settled(0.05, &noise_g), 0, 2);
	assert_within(noise_g, 0.05, 0.01);
	assert_in_range(falsely_settled(0.09, &noise_g), 0, 4);
	assert_in_range(falsely_settled(0.20, &noise_g), 0, 4);
	assert_within(noise_g, 0.20, 0.04);
}

static void row_i_depends_on_nothing_after_it(void **state)
{
	struct weigher *weigher = new_usual();
	struct reading reading;
	uint32_t n = replay("synth_pour_80sps.csv");

	(void)state;
	n /= 2; /* in mid-pour; the second weigher never sees the rest */
	for (uint32_t i = 0; i < n; i++) {
		const struct weigher_sample sample = {.t_us = rows[i].t_us,
		                                      .counts = rows[i].counts};

		weigher_feed(weigher, &sample, &reading);
		assert_within(reading.gross_g, rows[i].reading.gross_g, 0.0);
		assert_within(reading.sd_g, rows[i].reading.sd_g, 0.0);
		assert_int_equal(reading.state, rows[i].reading.state);
		assert_int_equal(reading.held, rows[i].reading.held);
	}
	weigher_free(weigher);
}

/* ---- limits ---- */

static int64_t now_us;

/* Feed @n samples of a mass, with noise of about 0.02 g from a fixed pattern. */
static struct reading rest(struct weigher *weigher, double mass_g, uint32_t n)
{
	static const int32_t pattern[] = {3, -8, 12, -2, -11, 7, 1, -5, 10, -9, 4, -1, 8, -6, 2};
	struct reading reading = {0};

	for (uint32_t i = 0; i < n; i++) {
		const struct weigher_sample sample = {
		        .t_us = now_us += FAST_US,
		        .counts = (int32_t)lround(ZERO_COUNTS + mass_g * COUNTS_PER_G) +
		                  pattern[i % 15]};

		weigher_feed(weigher, &sample, &reading);
	}
	return reading;
}

static struct reading code(struct weigher *weigher, int32_t counts)
{
	const struct weigher_sample sample = {.t_us = now_us += FAST_US, .counts = counts};
	struct reading reading;

	weigher_feed(weigher, &sample, &reading);
	return reading;
}

static void values_out_of_range_are_refused(void **state)
{
	struct weigher *weigher = NULL;
	struct weigher_config config;

	(void)state;
#define REFUSED(field, value)                                                                      \
	config = usual();                                                                          \
	config.field = (value);                                                                    \
	assert_int_equal(weigher_new(&config, &weigher), -EINVAL);                                 \
	assert_null(weigher)
	REFUSED(max_g, 0.0);
	REFUSED(max_g, (double)NAN);
	REFUSED(interval_g, -0.1);
	REFUSED(noise_g, -0.05);
	REFUSED(noise_g, (double)INFINITY);
	REFUSED(rate_hz, -1.0);
	REFUSED(calibration.g_per_count, 0.0);
	REFUSED(calibration.zero_counts, (double)NAN);
#undef REFUSED
	weigher_free(NULL);
}

static void nothing_is_known_before_the_third_sample(void **state)
{
	struct weigher *weigher = new_usual();
	struct reading reading;

	(void)state;
	reading = code(weigher, 190050);
	assert_false(reading.known);
	assert_int_equal(reading.state, READING_UNSETTLED);
	reading = code(weigher, 4194303); /* corrupt: the median defeats it */
	assert_false(reading.known);
	reading = code(weigher, 190040);
	assert_true(reading.known);
	assert_within(reading.gross_g, 50.0 / COUNTS_PER_G, 1e-9);
	weigher_free(weigher);
}

static void the_rails_are_a_fault_and_do_not_touch_the_estimate(void **state)
{
	const int32_t rails[] = {0x7FFFFF, -0x800000};
	struct weigher *weigher = new_usual();
	struct reading before, reading;

	(void)state;
	for (int i = 0; i < 2; i++) {
		before = rest(weigher, 100.0, 200);
		assert_int_equal(before.state, READING_SETTLED);
		reading = code(weigher, rails[i]);
		assert_int_equal(reading.state, READING_FAULT);
		assert_false(reading.silent);
		assert_within(reading.gross_g, before.gross_g, 0.0);
		/* Tracking goes on with the next, be there a gap or not. */
		now_us += i * 3 * FAST_US;
		reading = rest(weigher, 100.0, 1);
		assert_int_equal(reading.state, READING_SETTLED);
		assert_within(reading.gross_g, 100.0, 0.02);
	}
	reading = code(weigher, 0x7FFFFE);
	assert_int_not_equal(reading.state, READING_FAULT);
	weigher_free(weigher);
}

static void a_small_corrupt_read_is_taken_back_when_the_gap_comes(void **state)
{
	const int32_t counts = (int32_t)(ZERO_COUNTS + 100.0 * COUNTS_PER_G);
	struct weigher *weigher = new_usual();
	struct reading before = rest(weigher, 100.0, 300), reading;
	double mean_g;

	(void)state;
	/* 8 counts off: within the noise, so it passes at first. */
	reading = code(weigher, counts + 8);
	assert_false(reading.held);
	assert_int_equal(reading.n_averaged, before.n_averaged + 1);
	now_us += 3 * FAST_US;
	reading = code(weigher, counts);
	assert_int_equal(reading.n_averaged, before.n_averaged + 1);
	mean_g = before.gross_g + (100.0 - before.gross_g) / (before.n_averaged + 1);
	/* Had it stayed, it would be 6e-5 g above. */
	assert_within(reading.gross_g, mean_g, 1e-5);
	weigher_free(weigher);
}

static void what_the_driver_knows_to_be_bad_is_believed(void **state)
{
	struct weigher *weigher = new_usual();
	struct weigher_sample sample;
	struct reading before = rest(weigher, 100.0, 200), reading;

	(void)state;
	sample = (struct weigher_sample){
	        .t_us = now_us += FAST_US, .counts = 233000, .corrupt = true};
	weigher_feed(weigher, &sample, &reading);
	assert_true(reading.held);
	assert_int_equal(reading.state, READING_SETTLED);
	assert_within(reading.gross_g, before.gross_g, 0.0);
	sample = (struct weigher_sample){.t_us = now_us += FAST_US, .counts = 233000, .rail = true};
	weigher_feed(weigher, &sample, &reading);
	assert_int_equal(reading.state, READING_FAULT);
	weigher_free(weigher);
}

static void silence_is_a_fault_until_the_next_sample(void **state)
{
	struct weigher *weigher = new_usual();
	struct reading reading = rest(weigher, 100.0, 200);

	(void)state;
	assert_int_equal(weigher_tick(weigher, now_us + 99000, &reading), 0);
	assert_int_equal(reading.state, READING_SETTLED);
	assert_int_equal(weigher_tick(weigher, now_us + 101000, &reading), 1);
	assert_int_equal(reading.state, READING_FAULT);
	assert_true(reading.silent);
	assert_int_equal(weigher_tick(weigher, now_us + 200000, &reading), 0);
	now_us += 300000;
	reading = rest(weigher, 100.0, 1);
	assert_int_equal(reading.state, READING_SETTLED);
	assert_false(reading.silent);
	weigher_free(weigher);
}

#define SLOW_US 94877

static void slow(struct weigher *weigher, struct weigher_sample sample, int n)
{
	struct reading reading;

	for (int i = 0; i < n; i++) {
		sample.t_us = now_us += SLOW_US;
		weigher_feed(weigher, &sample, &reading);
	}
}

static void a_slow_converter_is_silent_after_3_periods_but_not_while_it_restarts(void **state)
{
	/* Void, or a code that a restart may have cut off: four periods to settle, and one. */
	const struct weigher_sample good = {.counts = 190003},
	                            cut_off[] = {{.counts = 0, .corrupt = true},
	                                         {.counts = 190079}};
	struct weigher *weigher = new_usual();
	struct reading reading = {0};

	(void)state;
	slow(weigher, good, 60);
	assert_int_equal(weigher_tick(weigher, now_us + 29 * SLOW_US / 10, &reading), 0);
	assert_int_equal(weigher_tick(weigher, now_us + 30 * SLOW_US / 10, &reading), 1);
	assert_true(reading.silent);
	for (size_t i = 0; i < 2; i++) {
		slow(weigher, good, 60);
		slow(weigher, cut_off[i], 1);
		assert_int_equal(weigher_tick(weigher, now_us + 53 * SLOW_US / 10, &reading), 0);
		assert_int_equal(weigher_tick(weigher, now_us + 56 * SLOW_US / 10, &reading), 1);
	}
	weigher_free(weigher);
}

static void the_time_to_silence_may_be_set(void **state)
{
	struct weigher_config config = usual();
	struct weigher *weigher = NULL;
	struct reading reading;

	(void)state;
	config.silent_s = 1.5;
	assert_int_equal(weigher_new(&config, &weigher), 0);
	assert_int_equal(weigher_silent_us(weigher), INT64_MAX); /* there was none yet */
	slow(weigher, (struct weigher_sample){.counts = 190003}, 1);
	assert_int_equal(weigher_silent_us(weigher), now_us + 1500000);
	assert_int_equal(weigher_tick(weigher, now_us + 1499999, &reading), 0);
	assert_int_equal(weigher_tick(weigher, now_us + 1500000, &reading), 1);
	assert_int_equal(weigher_silent_us(weigher), INT64_MAX); /* told already */
	weigher_free(weigher);
}

static void a_repeated_conversion_is_neither_evidence_nor_a_sign_of_life(void **state)
{
	struct weigher *weigher = new_usual();
	struct reading before = rest(weigher, 100.0, 3), reading;
	const int64_t fresh_us = now_us, silent_us = weigher_silent_us(weigher);
	const int32_t counts = (int32_t)(ZERO_COUNTS + 100.0 * COUNTS_PER_G);

	(void)state;
	assert_int_equal(before.state, READING_UNSETTLED);
	/* Ever so often: three conversions do not settle. */
	for (int i = 0; i < 400; i++) {
		const struct weigher_sample again = {
		        .t_us = now_us += FAST_US / 5, .counts = counts, .repeat = true};

		weigher_feed(weigher, &again, &reading);
		assert_true(reading.held);
		assert_int_equal(reading.state, READING_UNSETTLED);
		assert_int_equal(reading.t_us, fresh_us);
		assert_int_equal(reading.n_averaged, before.n_averaged);
		assert_int_equal(weigher_silent_us(weigher), silent_us);
	}
	assert_int_equal(weigher_tick(weigher, now_us, &reading), 1);
	/* Nor does it end a silence; its rail is one all the same. */
	weigher_feed(weigher,
	             &(struct weigher_sample){.t_us = ++now_us, .counts = counts, .repeat = true},
	             &reading);
	assert_true(reading.silent);
	weigher_feed(weigher,
	             &(struct weigher_sample){.t_us = ++now_us, .repeat = true, .rail = true},
	             &reading);
	assert_int_equal(reading.state, READING_FAULT);
	assert_false(reading.silent);
	weigher_free(weigher);
}

static void repeats_between_leave_every_estimate_as_without_them(void **state)
{
	struct weigher *with = new_usual(), *without = new_usual();
	struct reading a, b;

	(void)state;
	for (int i = 0; i < 600; i++) {
		const struct weigher_sample fresh = {.t_us = now_us += FAST_US,
		                                     .counts = 190000 + i % 11 +
		                                               (i > 300 ? 9000 : 0)};
		struct weigher_sample again = fresh;

		weigher_feed(with, &fresh, &a);
		weigher_feed(without, &fresh, &b);
		assert_memory_equal(&a, &b, sizeof(a));
		again.repeat = true;
		again.t_us += FAST_US / 2;
		weigher_feed(with, &again, &a);
	}
	assert_int_equal(b.state, READING_SETTLED);
	weigher_free(with);
	weigher_free(without);
}

static void nothing_is_settled_while_the_unit_says_that_it_moves(void **state)
{
	struct weigher *weigher = new_usual();
	struct weigher_sample sample = {.counts = (int32_t)(ZERO_COUNTS + 100.0 * COUNTS_PER_G),
	                                .moving = true};
	struct reading reading;

	(void)state;
	for (int i = 0; i < 200; i++) {
		sample.t_us = now_us += FAST_US;
		weigher_feed(weigher, &sample, &reading);
		assert_int_not_equal(reading.state, READING_SETTLED);
	}
	assert_int_equal(reading.state, READING_PROVISIONAL);
	assert_within(reading.gross_g, 100.0, 0.01);
	assert_int_equal(weigher_zero(weigher), -EAGAIN);
	assert_int_equal(weigher_tare(weigher), -EAGAIN);
	sample.moving = false;
	sample.t_us = now_us += FAST_US;
	weigher_feed(weigher, &sample, &reading);
	assert_int_equal(reading.state, READING_SETTLED);
	/* One that is held back by the gate takes the settled value along. */
	sample.moving = true;
	sample.counts += 5000;
	sample.t_us = now_us += FAST_US;
	weigher_feed(weigher, &sample, &reading);
	assert_true(reading.held);
	assert_int_equal(reading.state, READING_PROVISIONAL);
	weigher_free(weigher);
}

static void time_that_runs_backwards_is_held(void **state)
{
	struct weigher *weigher = new_usual();
	struct reading before = rest(weigher, 100.0, 200), reading;
	struct weigher_sample sample = {.t_us = now_us - 1, .counts = 240000};

	(void)state;
	for (int i = 0; i < 10; i++) {
		weigher_feed(weigher, &sample, &reading);
		assert_true(reading.held);
		assert_int_equal(reading.state, READING_SETTLED);
		assert_within(reading.gross_g, before.gross_g, 0.0);
		sample.t_us = i % 2 == 0 ? now_us : 0;
	}
	weigher_free(weigher);
}

static void overload_begins_above_max_plus_9_e(void **state)
{
	/* OIML R 76-1:2006, 4.2.3: no indication above Max + 9 e. */
	struct weigher *weigher = new_usual();

	(void)state;
	assert_false(rest(weigher, MAX_G + 8.9 * INTERVAL_G, 300).overload);
	assert_true(rest(weigher, MAX_G + 9.3 * INTERVAL_G, 300).overload);
	assert_false(rest(weigher, 0.0, 300).underload);
	assert_true(rest(weigher, -2.5, 300).underload);
	weigher_free(weigher);
}

static void zero_and_tare_wait_for_rest(void **state)
{
	struct weigher *weigher = new_usual();
	struct reading reading = rest(weigher, 50.0, 4);

	(void)state;
	assert_int_equal(reading.state, READING_UNSETTLED);
	assert_int_equal(weigher_zero(weigher), -EAGAIN);
	assert_int_equal(weigher_tare(weigher), -EAGAIN);
	rest(weigher, 50.0, 200);
	assert_int_equal(weigher_tare(weigher), 0);
	reading = rest(weigher, 50.0, 1);
	assert_within(reading.net_g, 0.0, 0.01);
	assert_within(reading.gross_g, 50.0, 0.02);
	weigher_clear_tare(weigher);
	assert_within(rest(weigher, 50.0, 1).net_g, 50.0, 0.02);
	weigher_tare(weigher);
	assert_int_equal(weigher_zero(weigher), 0); /* and with it the tare is gone */
	reading = rest(weigher, 50.0, 1);
	assert_within(reading.gross_g, 0.0, 0.01);
	assert_within(reading.net_g, reading.gross_g, 0.0);
	assert_within(weigher_zero_g(weigher), 50.0, 0.02);
	weigher_free(weigher);
}

static void zero_is_refused_beyond_20_percent_of_max(void **state)
{
	struct weigher *weigher = new_usual();

	(void)state;
	rest(weigher, 0.201 * MAX_G, 300);
	assert_int_equal(weigher_zero(weigher), -ERANGE);
	assert_within(weigher_zero_g(weigher), 0.0, 0.0);
	rest(weigher, 0.199 * MAX_G, 300);
	assert_int_equal(weigher_zero(weigher), 0);
	weigher_clear(weigher); /* forgets the samples, not the zero */
	assert_false(rest(weigher, 0.0, 1).known);
	assert_within(weigher_zero_g(weigher), 0.199 * MAX_G, 0.02);
	weigher_free(weigher);
}

static void zero_tracking_is_slow_and_only_near_zero(void **state)
{
	struct weigher_config config = usual();
	struct weigher *weigher = NULL;
	double before_g, step_g;

	(void)state;
	config.zero_tracking = true;
	assert_int_equal(weigher_new(&config, &weigher), 0);
	rest(weigher, 0.0, 300);
	weigher_set_zero_g(weigher, -0.04); /* so the pan reads 0.04 g: at zero */
	for (int i = 0; i < 100; i++) {
		before_g = weigher_zero_g(weigher);
		rest(weigher, 0.0, 1);
		step_g = fabs(weigher_zero_g(weigher) - before_g);
		/* R 76-1, 4.5.7 from memory: at most 0.5 d a second. */
		assert_true(step_g <= 0.5 * INTERVAL_G * FAST_US * 1e-6 * 1.000001);
	}
	assert_within(weigher_zero_g(weigher), 0.0, 0.01);
	/* Not where a load rests, however small, once it shows. */
	weigher_set_zero_g(weigher, -0.06);
	rest(weigher, 0.0, 200);
	assert_within(weigher_zero_g(weigher), -0.06, 0.0);
	/* Nor where it is switched off, as from cup to done. */
	weigher_set_zero_tracking(weigher, false);
	weigher_set_zero_g(weigher, -0.04);
	rest(weigher, 0.0, 200);
	assert_within(weigher_zero_g(weigher), -0.04, 0.0);
	weigher_free(weigher);
}

/* Drifting at the given rate; ends where it has drifted to. */
static struct reading drift(struct weigher *weigher, double *mass_g, double g_per_s, double seconds)
{
	static const int32_t noise[] = {9,  -24, 36, -6, -33, 21,  3, -15,
	                                30, -27, 12, -3, 24,  -18, 6};
	static uint32_t i;
	struct reading reading = {0};

	for (double t_s = 0.0; t_s < seconds; t_s += FAST_US * 1e-6) {
		*mass_g += g_per_s * FAST_US * 1e-6;
		reading = code(weigher, (int32_t)lround(ZERO_COUNTS + *mass_g * COUNTS_PER_G) +
		                                noise[(i = (7 * i + 4) % 1009) % 15]);
	}
	return reading;
}

static void warm_is_said_after_20_s_of_rest_without_drift(void **state)
{
	struct weigher *weigher = new_usual();
	bool was_warm = false;
	double mass_g = 0.0;
	int changes = 0;

	(void)state;
	assert_false(drift(weigher, &mass_g, 0.0, 19.0).warm);
	assert_true(drift(weigher, &mass_g, 0.0, 4.0).warm);
	weigher_free(weigher);
	/* 7 counts a second, as a cell that was just switched on; then it fades. */
	weigher = new_usual();
	for (int i = 0; i < 30; i++)
		assert_false(drift(weigher, &mass_g, 7.0 / COUNTS_PER_G, 2.0).warm);
	for (int i = 0; i < 1500; i++) { /* a minute; said once, not on and off */
		const bool warm =
		        drift(weigher, &mass_g, 7.0 / COUNTS_PER_G * (1.0 - i / 1500.0), 0.04).warm;

		changes += warm != was_warm;
		was_warm = warm;
	}
	assert_true(drift(weigher, &mass_g, 0.0, 20.0).warm);
	assert_in_range(changes, 0, 1);
	/* Pouring says nothing of the cell: what was known of it stays. */
	assert_true(drift(weigher, &mass_g, 10.0, 2.0).warm);
	assert_true(drift(weigher, &mass_g, 0.0, 5.0).warm);
	weigher_free(weigher);
}

static void a_cup_put_down_is_seen_at_once_and_weighed(void **state)
{
	struct weigher *weigher = new_usual();
	struct reading reading;

	(void)state;
	rest(weigher, 0.0, 300);
	reading = rest(weigher, 120.0, 2);
	assert_int_equal(reading.state, READING_UNSETTLED);
	reading = rest(weigher, 120.0, 100);
	assert_int_equal(reading.state, READING_SETTLED);
	assert_within(reading.gross_g, 120.0, 0.02);
	assert_in_range(reading.n_averaged, 8, 102);
	weigher_free(weigher);
}

static void states_have_their_names(void **state)
{
	(void)state;
	assert_string_equal(reading_state_name(READING_UNSETTLED), "unsettled");
	assert_string_equal(reading_state_name(READING_PROVISIONAL), "provisional");
	assert_string_equal(reading_state_name(READING_SETTLED), "settled");
	assert_string_equal(reading_state_name(READING_FAULT), "fault");
}

static int fresh(void **state)
{
	(void)state;
	now_us = 0;
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_corrupt_read_is_held_unless_the_noise_explains_it),
	        cmocka_unit_test(a_held_row_repeats_the_one_before),
	        cmocka_unit_test(no_row_at_rest_errs_by_more_than_its_noise_explains),
	        cmocka_unit_test(a_pour_at_80_per_s_is_followed_without_lag),
	        cmocka_unit_test(the_end_of_a_trace_is_settled_at_its_truth),
	        cmocka_unit_test(a_stream_of_0_2_g_per_s_is_left_unsettled_to_its_end),
	        cmocka_unit_test(ten_minutes_of_rest_have_no_false_start),
	        cmocka_unit_test(the_noise_is_learnt_from_the_trace),
	        cmocka_unit_test(more_noise_than_was_guessed_is_seen_in_a_stream),
	        cmocka_unit_test(row_i_depends_on_nothing_after_it),
	        cmocka_unit_test_setup(values_out_of_range_are_refused, fresh),
	        cmocka_unit_test_setup(nothing_is_known_before_the_third_sample, fresh),
	        cmocka_unit_test_setup(the_rails_are_a_fault_and_do_not_touch_the_estimate, fresh),
	        cmocka_unit_test_setup(a_small_corrupt_read_is_taken_back_when_the_gap_comes,
	                               fresh),
	        cmocka_unit_test_setup(what_the_driver_knows_to_be_bad_is_believed, fresh),
	        cmocka_unit_test_setup(silence_is_a_fault_until_the_next_sample, fresh),
	        cmocka_unit_test_setup(
	                a_slow_converter_is_silent_after_3_periods_but_not_while_it_restarts,
	                fresh),
	        cmocka_unit_test_setup(the_time_to_silence_may_be_set, fresh),
	        cmocka_unit_test_setup(a_repeated_conversion_is_neither_evidence_nor_a_sign_of_life,
	                               fresh),
	        cmocka_unit_test_setup(repeats_between_leave_every_estimate_as_without_them, fresh),
	        cmocka_unit_test_setup(nothing_is_settled_while_the_unit_says_that_it_moves, fresh),
	        cmocka_unit_test_setup(time_that_runs_backwards_is_held, fresh),
	        cmocka_unit_test_setup(overload_begins_above_max_plus_9_e, fresh),
	        cmocka_unit_test_setup(zero_and_tare_wait_for_rest, fresh),
	        cmocka_unit_test_setup(zero_is_refused_beyond_20_percent_of_max, fresh),
	        cmocka_unit_test_setup(zero_tracking_is_slow_and_only_near_zero, fresh),
	        cmocka_unit_test_setup(warm_is_said_after_20_s_of_rest_without_drift, fresh),
	        cmocka_unit_test_setup(a_cup_put_down_is_seen_at_once_and_weighed, fresh),
	        cmocka_unit_test(states_have_their_names),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
