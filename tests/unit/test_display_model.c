/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "display/touch/model.h"

static struct model model;

static void what_is_not_told_is_unknown(void **state)
{
	(void)state;
	model_init(&model);
	assert_true(isnan(model.batch.target_g) && isnan(model.scale.gross_g));
	assert_true(isnan(model_remaining_g(&model)));
	assert_within(model.batch.id, 0.0, 0.0);
	assert_string_equal(model_cue(&model), "");
}

static void values_go_where_their_name_says(void **state)
{
	(void)state;
	model_init(&model);
	model_put_number(&model, MODEL_BATCH, 0, "Quantities.TargetGrams", 102.4);
	model_put_text(&model, MODEL_BATCH, 0, "Step", "charge");
	model_put_text(&model, MODEL_SYSTEM, 2, "Name", "Tidepool Clear");
	assert_within(model.batch.target_g, 102.4, 0.0);
	assert_string_equal(model.batch.step, "charge");
	assert_int_equal(model.n_systems, 3);
	assert_string_equal(model.systems[2].name, "Tidepool Clear");
	assert_true(isnan(model.systems[1].ratio));
	/* Of another type or another name: passed over. */
	assert_int_equal(model_put_text(&model, MODEL_BATCH, 0, "Quantities.TargetGrams", "x"), 0);
	assert_int_equal(model_put_number(&model, MODEL_BATCH, 0, "Colour", 1.0), 0);
	assert_within(model.batch.target_g, 102.4, 0.0);
}

static void a_dictionary_that_comes_anew_forgets_what_it_no_longer_holds(void **state)
{
	(void)state;
	model_init(&model);
	model_put_number(&model, MODEL_BATCH, 0, "Quantities.TargetGrams", 102.4);
	model_put_text(&model, MODEL_BATCH, 0, "Step", "charge");
	model_forget(&model, MODEL_BATCH, 0, "Quantities");
	assert_true(isnan(model.batch.target_g));
	assert_string_equal(model.batch.step, "charge");
}

static void lists_and_texts_have_their_limits(void **state)
{
	char text[2000];

	(void)state;
	model_init(&model);
	for (uint32_t i = 0; i < MODEL_RECORDS_MAX; i++)
		assert_int_equal(model_put_number(&model, MODEL_RECORDS, i, "Id", i), 0);
	assert_int_equal(model_put_number(&model, MODEL_RECORDS, MODEL_RECORDS_MAX, "Id", 1.0),
	                 -ENOSPC);
	assert_int_equal(model.n_records, MODEL_RECORDS_MAX);
	for (size_t i = 0; i < sizeof text; i++)
		text[i] = i + 1 < sizeof text ? 'x' : '\0';
	model_put_text(&model, MODEL_BATCH, 0, "Sentence", text);
	assert_int_equal(model.batch.sentence[sizeof model.batch.sentence - 1], '\0');
}

static void a_curve_of_any_length_keeps_its_whole_span(void **state)
{
	(void)state;
	model_curve_clear(&model);
	for (int i = 0; i < 100000; i++)
		model_curve_add(&model, i * 0.1, i);
	assert_true(model.n_curve > MODEL_CURVE_MAX / 4 && model.n_curve <= MODEL_CURVE_MAX);
	assert_within(model.curve_s[0], 0.0, 0.0);
	assert_true(model.curve_s[model.n_curve - 1] > 9990.0);
	for (uint32_t i = 1; i < model.n_curve; i++)
		assert_true(model.curve_s[i] > model.curve_s[i - 1]);
	model_curve_add(&model, (double)NAN, 1.0);
	assert_true(isfinite(model.curve_s[model.n_curve - 1]));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(what_is_not_told_is_unknown),
	        cmocka_unit_test(values_go_where_their_name_says),
	        cmocka_unit_test(a_dictionary_that_comes_anew_forgets_what_it_no_longer_holds),
	        cmocka_unit_test(lists_and_texts_have_their_limits),
	        cmocka_unit_test(a_curve_of_any_length_keeps_its_whole_span),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
