/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/casting/band.h"
#include "daemon/casting/cup.h"
#include "daemon/casting/draw.h"

static struct band band, other;
static char sentence[LABEL_SENTENCE_MAX];

static struct heat_case on_the_bench(double depth_mm)
{
	return (struct heat_case){.resin = casting_resin_fast,
	                          .depth_mm = depth_mm,
	                          .top_w_per_m2k = 10.0,
	                          .bottom_w_per_m2k = 5.0,
	                          .ambient_degc = 25.0,
	                          .start_degc = 25.0,
	                          .below_degc = 25.0,
	                          .below = casting_resin_fast.material};
}

static struct label fasts_label(void)
{
	struct cup_case cup = {.resin = casting_resin_fast,
	                       .mass_g = 100.0,
	                       .ambient_degc = 25.0,
	                       .start_degc = 25.0};

	return (struct label){.family = casting_resin_fast,
	                      .pot_life_s = cup_gel_s(&cup),
	                      .pot_mass_g = 100.0,
	                      .pot_degc = 25.0};
}

/* The cliff as computed with the model: 4.99, 5.45, 5.61 mm for 40, 50, 60 C. */
static void the_depth_at_a_heat_limit_is_found(void **state)
{
	static const double limit[] = {40, 50, 60}, expected[] = {4.99, 5.45, 5.61};
	struct heat_case heat = on_the_bench(0.0);
	double mm;

	(void)state;
	for (int i = 0; i < 3; i++) {
		assert_int_equal(depth_at_limit(&heat, limit[i], 0.0, 100.0, &mm), 0);
		assert_within(mm, expected[i], 0.015);
		/* Wherever the search begins. */
		assert_int_equal(depth_at_limit(&heat, limit[i], 0.3, 100.0, &mm), 0);
		assert_within(mm, expected[i], 0.025);
		assert_int_equal(depth_at_limit(&heat, limit[i], 60.0, 100.0, &mm), 0);
		assert_within(mm, expected[i], 0.025);
	}
	assert_int_equal(depth_at_limit(&heat, 40.0, 0.0, 3.0, &mm), 0);
	assert_within(mm, 3.0, 0.0); /* deeper is not asked */
	assert_int_equal(depth_at_limit(&heat, 25.0, 0.0, 100.0, &mm), 0);
	assert_within(mm, 0.0, 0.0);
	heat.start_degc = 45.0;
	assert_int_equal(depth_at_limit(&heat, 40.0, 0.0, 100.0, &mm), 0);
	assert_within(mm, 0.0, 0.0);
	assert_int_equal(depth_at_limit(&heat, 50.0, 0.0, 2000.0, &mm), -EINVAL);
}

/* Cold cured layers below take heat: deeper may be poured on them. */
static void cured_layers_allow_more(void **state)
{
	struct heat_case heat = on_the_bench(0.0);
	double bare, stacked;

	(void)state;
	assert_int_equal(depth_at_limit(&heat, 50.0, 0.0, 100.0, &bare), 0);
	heat.below_mm = 5.0;
	assert_int_equal(depth_at_limit(&heat, 50.0, 0.0, 100.0, &stacked), 0);
	assert_true(stacked > 1.05 * bare);
}

static void the_model_never_raises_the_label(void **state)
{
	enum depth_rule rule;
	double mm = -1.0;

	(void)state;
	assert_int_equal(depth_allowed(10.0, 4.0, &mm, &rule, sentence), 0);
	assert_within(mm, 4.0, 0.0);
	assert_int_equal(rule, DEPTH_RULE_HEAT);
	assert_int_equal(depth_allowed(3.0, 4.0, &mm, &rule, sentence), 0);
	assert_within(mm, 3.0, 0.0);
	assert_int_equal(rule, DEPTH_RULE_LABEL);
	assert_int_equal(depth_allowed(0.0, 4.0, &mm, &rule, sentence), -EINVAL);
	assert_non_null(strstr(sentence, "no pour depth from its label"));
	assert_int_equal(depth_allowed((double)NAN, 4.0, &mm, &rule, sentence), -EINVAL);
	assert_within(mm, 3.0, 0.0);
}

static void the_same_seed_draws_the_same_band(void **state)
{
	struct label label = fasts_label();
	bool differ = false;

	(void)state;
	memset(&band, 0, sizeof band);
	memset(&other, 0, sizeof other);
	assert_int_equal(band_draw(&label, &band_spread_usual, 7, 20, &band, sentence), 0);
	assert_int_equal(band_draw(&label, &band_spread_usual, 7, 20, &other, sentence), 0);
	assert_memory_equal(&band, &other, sizeof band);
	assert_int_equal(band_draw(&label, &band_spread_usual, 8, 20, &other, sentence), 0);
	for (int i = 0; i < 20; i++)
		differ = differ || band.samples[i].top_w_per_m2k != other.samples[i].top_w_per_m2k;
	assert_true(differ);
	assert_int_equal(band_draw(&label, &band_spread_usual, 7, 0, &other, sentence), -EINVAL);
	label.pot_life_s = 1.0;
	assert_int_equal(band_draw(&label, &band_spread_usual, 7, 20, &other, sentence), -EINVAL);
	assert_non_null(strstr(sentence, "pot life"));
}

/* Every draw still answers to the label, within the label's own spread. */
static void every_draw_fits_the_label(void **state)
{
	struct label label = fasts_label();

	(void)state;
	assert_int_equal(band_draw(&label, &band_spread_usual, 1, 40, &band, sentence), 0);
	for (int i = 0; i < 40; i++) {
		struct cup_case cup = {.resin = band.samples[i].resin,
		                       .mass_g = 100.0,
		                       .ambient_degc = 25.0,
		                       .start_degc = 25.0};
		double share = cup_gel_s(&cup) / label.pot_life_s;

		assert_true(share > 0.899 && share < 1.112);
		assert_true(band.samples[i].top_w_per_m2k >= 7.0 &&
		            band.samples[i].top_w_per_m2k <= 13.0);
		assert_true(band.samples[i].resin.cure.e2_j_per_mol >= 55e3 &&
		            band.samples[i].resin.cure.e2_j_per_mol <= 60e3);
	}
}

/* What a label says narrows the band: a film's gel time more than the pot life alone.
 * (The project's own figures were 2.6..7.6 and 3.9..6.3 mm, with other spreads.) */
static void a_film_time_narrows_the_band(void **state)
{
	struct label label = fasts_label();
	struct heat_case heat = on_the_bench(0.0);
	struct percentiles alone, with_film;
	double nominal;

	(void)state;
	assert_int_equal(band_draw(&label, &band_spread_usual, 1, 100, &band, sentence), 0);
	assert_int_equal(band_depth(&band, &heat, 50.0, 100.0, &alone), 0);
	label.film_gel_s = label_film_gel_s(&casting_resin_fast.cure, 25.0);
	label.film_degc = 25.0;
	assert_int_equal(band_draw(&label, &band_spread_usual, 1, 100, &band, sentence), 0);
	assert_int_equal(band_depth(&band, &heat, 50.0, 100.0, &with_film), 0);
	assert_int_equal(depth_at_limit(&heat, 50.0, 0.0, 100.0, &nominal), 0);
	assert_true(alone.p5 < with_film.p5 && with_film.p5 < nominal);
	assert_true(nominal < with_film.p95 && with_film.p95 < alone.p95);
	assert_true(alone.p5 > 2.0 && alone.p5 < 4.0);
	assert_true(with_film.p50 > 0.9 * nominal && with_film.p50 < 1.1 * nominal);
}

static void a_layers_band_tells_the_runaways(void **state)
{
	struct heat_case heat = on_the_bench(3.0);
	struct band_layer calm, deep;

	(void)state;
	assert_int_equal(band_draw_about(&casting_resin_fast, &band_spread_usual, 1, 60, &band), 0);
	assert_int_equal(band_layer(&band, &heat, &calm), 0);
	assert_true(calm.peak_degc.p5 < calm.peak_degc.p50 &&
	            calm.peak_degc.p50 < calm.peak_degc.p95);
	assert_within(calm.runaway_share, 0.0, 0.0);
	heat.depth_mm = 12.0;
	assert_int_equal(band_layer(&band, &heat, &deep), 0);
	assert_true(deep.runaway_share > 0.9);
	assert_within(deep.peak_degc.p95, HEAT_RUNAWAY_DEGC, 0.0);
	assert_true(deep.gel_top_s.p50 < calm.gel_top_s.p50);
}

/* A batch with too much hardener runs hotter than the label's. */
static void the_weighed_ratio_moves_the_band(void **state)
{
	struct heat_case heat = on_the_bench(4.0);
	struct band_layer right, heavy;

	(void)state;
	assert_int_equal(band_draw_about(&casting_resin_fast, &band_spread_usual, 1, 40, &band), 0);
	assert_int_equal(band_layer(&band, &heat, &right), 0);
	band_weighed(&band, 1.10, 0.45);
	assert_int_equal(band_layer(&band, &heat, &heavy), 0);
	assert_true(heavy.peak_degc.p50 > right.peak_degc.p50 + 0.1);
}

/* Hyndman and Fan's type 7: of 1..5 the median is 3, the quarter 2, a tenth 1.4. */
static void percentiles_lie_between_the_order_statistics(void **state)
{
	double five[] = {4, 1, 5, 3, 2}, gaps[] = {1, INFINITY, INFINITY, 2}, one[] = {7};

	(void)state;
	assert_close(percentile(five, 5, 0.5), 3.0, 1e-15);
	assert_close(percentile(five, 5, 0.25), 2.0, 1e-15);
	assert_close(percentile(five, 5, 0.1), 1.4, 1e-15);
	assert_close(percentile(five, 5, 1.0), 5.0, 0.0);
	assert_close(percentile(one, 1, 0.05), 7.0, 0.0);
	assert_true(isinf(percentile(gaps, 4, 0.95)));
	assert_close(percentile(gaps, 4, 0.0), 1.0, 0.0);
}

/* Even in every dimension: each tenth of 300 points holds thirty, give or take a few,
 * where chance alone would give thirty give or take five and more. */
static void draws_are_spread_evenly(void **state)
{
	struct draw draw;

	(void)state;
	draw_init(&draw, 42);
	for (unsigned d = 0; d < DRAW_DIMENSIONS; d++) {
		int in_tenth[10] = {0};

		for (unsigned i = 0; i < 300; i++) {
			double u = draw_uniform(&draw, i, d);

			assert_true(u >= 0.0 && u < 1.0);
			in_tenth[(int)(10.0 * u)]++;
		}
		for (int k = 0; k < 10; k++)
			assert_true(abs(in_tenth[k] - 30) <= 4);
	}
	assert_close(draw_between(0.25, 2.0, 4.0), 2.5, 1e-15);
	assert_close(draw_log_between(0.5, 1.0, 4.0), 2.0, 1e-15);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_depth_at_a_heat_limit_is_found),
	        cmocka_unit_test(cured_layers_allow_more),
	        cmocka_unit_test(the_model_never_raises_the_label),
	        cmocka_unit_test(the_same_seed_draws_the_same_band),
	        cmocka_unit_test(every_draw_fits_the_label),
	        cmocka_unit_test(a_film_time_narrows_the_band),
	        cmocka_unit_test(a_layers_band_tells_the_runaways),
	        cmocka_unit_test(the_weighed_ratio_moves_the_band),
	        cmocka_unit_test(percentiles_lie_between_the_order_statistics),
	        cmocka_unit_test(draws_are_spread_evenly),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
