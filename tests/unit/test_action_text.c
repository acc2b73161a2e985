/* SPDX-License-Identifier: MIT */
/* What a person did, as text and back. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <locale.h>
#include <math.h>
#include <string.h>

#include "daemon/station/action_text.h"

static void refused(const char *text, const char *holds)
{
	struct action action;
	char why[256] = "";

	assert_int_equal(action_parse(text, &action, why, sizeof(why)), -EINVAL);
	if (strstr(why, holds) == NULL) {
		print_error("%s: %s\n", text, why);
		fail();
	}
}

static void a_beginning_is_read(void **state)
{
	struct action action;
	char why[256];

	(void)state;
	assert_int_equal(action_parse("begin system=tidepool-clear total_g=330 tint_pct=2 "
	                              "cup_limit_g=400.5 tint_label=blue%20mica",
	                              &action, why, sizeof(why)),
	                 0);
	assert_int_equal(action.kind, ACTION_BEGIN);
	assert_string_equal(action.system_id, "tidepool-clear");
	assert_close(action.recipe.total_g, 330.0, 0.0);
	assert_close(action.recipe.tint_pct, 2.0, 0.0);
	assert_close(action.recipe.cup_limit_g, 400.5, 0.0);
	assert_string_equal(action.recipe.tint_label, "blue mica");
	assert_true(isnan(action.recipe.resin_degc));
	assert_false(action.has_zero_g);
	assert_false(action.has_calibration);
}

static void every_other_event_is_read(void **state)
{
	static const struct {
		const char *text;
		enum action_kind kind;
	} rows[] = {
	        {"press", ACTION_PRESS},    {" other-part ", ACTION_OTHER_PART},
	        {"hold", ACTION_HOLD},      {"discard\r", ACTION_DISCARD},
	        {"scan TP-A", ACTION_SCAN}, {"divide mass_g=80", ACTION_DIVIDE},
	        {"zero", ACTION_ZERO},
	};
	struct action action;
	char why[256];

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		assert_int_equal(action_parse(rows[i].text, &action, why, sizeof(why)), 0);
		assert_int_equal(action.kind, rows[i].kind);
	}
}

static void what_cannot_be_meant_is_refused(void **state)
{
	(void)state;
	refused("", "is no event");
	refused("pres", "is no event");
	refused("press twice", "nothing more");
	refused("begin", "system=ID");
	refused("begin total_g=330", "system=ID");
	refused("begin system=x total_g", "key=value");
	refused("begin system=x total_g=", "no number");
	refused("begin system=x total_g=nan", "no number");
	refused("begin system=x total_g=1e999", "no number");
	refused("begin system=x colour=red", "no key \"colour\"");
	refused("begin system=this-name-is-longer-than-any-id-may-be-here", "1 to 31 bytes");
	refused("begin system=x piece=%00", "no text");
	refused("begin system=x piece=%4", "no text");
	refused("scan", "a code");
	refused("divide mass_g=80 total_g=3", "no key \"total_g\"");
	refused("life", "left_s=SECONDS");
	refused("life left_s=-1", "left_s=SECONDS");
	refused("life mass_g=1", "no key \"mass_g\"");
}

static void what_is_written_reads_back_the_same(void **state)
{
	struct action action = {.kind = ACTION_BEGIN,
	                        .system_id = "lantern-coat",
	                        .recipe = {.total_g = 1.0 / 3.0,
	                                   .tint_pct = 0.1,
	                                   .resin_degc = 0.0,
	                                   .tint_label = "\"a, b\" = 5 %\xc3\xa4",
	                                   .piece = "clock"},
	                        .has_zero_g = true,
	                        .zero_g = -0.25,
	                        .has_calibration = true,
	                        .calibration = {.degree = 2.0,
	                                        .zero_counts = 190000.125,
	                                        .g_per_count = 1.0 / 431.25,
	                                        .g_per_count2 = -1e-13,
	                                        .residual_sd_g = 1.0 / 7.0,
	                                        .repeat_sd_g = 0.01}},
	              back;
	char line[ACTION_TEXT_MAX], again[ACTION_TEXT_MAX], why[256];

	(void)state;
	assert_true(action_write(&action, line, sizeof(line)) < sizeof(line));
	assert_int_equal(strcspn(line, ",\"\n"), strlen(line));
	assert_int_equal(action_parse(line, &back, why, sizeof(why)), 0);
	action_write(&back, again, sizeof(again));
	assert_string_equal(line, again);
	assert_string_equal(back.recipe.tint_label, action.recipe.tint_label);
	assert_close(back.recipe.total_g, action.recipe.total_g, 0.0);
	assert_close(back.zero_g, -0.25, 0.0);
	assert_true(back.has_calibration);
	assert_close(back.calibration.g_per_count, 1.0 / 431.25, 0.0);
	assert_close(back.calibration.residual_sd_g, 1.0 / 7.0, 0.0);
	assert_true(back.recipe.resin_degc == 0.0);
}

static void no_life_left_is_written_too(void **state)
{
	const struct action action = {.kind = ACTION_LIFE};
	struct action back = {.left_s = 1.0};
	char line[ACTION_TEXT_MAX], why[256];

	(void)state;
	action_write(&action, line, sizeof(line));
	assert_string_equal(line, "life left_s=0");
	assert_int_equal(action_parse(line, &back, why, sizeof(why)), 0);
	assert_true(back.kind == ACTION_LIFE && back.left_s == 0.0);
}

static void a_short_buffer_is_ended_and_told(void **state)
{
	const struct action action = {.kind = ACTION_SCAN, .code = "TP-A"};
	char line[6];

	(void)state;
	assert_int_equal(action_write(&action, line, sizeof(line)), 9);
	assert_string_equal(line, "scan ");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_beginning_is_read),
	        cmocka_unit_test(every_other_event_is_read),
	        cmocka_unit_test(what_cannot_be_meant_is_refused),
	        cmocka_unit_test(what_is_written_reads_back_the_same),
	        cmocka_unit_test(no_life_left_is_written_too),
	        cmocka_unit_test(a_short_buffer_is_ended_and_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
