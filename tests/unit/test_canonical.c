/* SPDX-License-Identifier: MIT */
#include "daemon/records/canonical.h"

#include <locale.h>
#include <math.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../support/assert_close.h"
#include "../support/batch_guide.h"
#include "../support/temp_folder.h"
#include "daemon/records/json_writer.h"

static char text[16384];

static const char *canonical_of(const struct guide *guide)
{
	assert_in_range(canonical_write(guide, text, sizeof text), 1, sizeof text - 1);
	return text;
}

static void a_whole_record_is_this_very_text(void **state)
{
	struct guide guide;

	(void)state;
	batch_guide(GUIDE_DONE, 3, &guide);
	assert_string_equal(
	        canonical_of(&guide),
	        "{\"format\":1,\"system\":{\"id\":\"tidepool-clear\",\"name\":\"Tidepool Clear\","
	        "\"basis\":\"weight\",\"hardener\":\"b\",\"parts\":[{\"part\":\"a\",\"label\":"
	        "\"resin\","
	        "\"parts_e6\":100000000,\"density_ug_per_ml\":1120000,\"lot\":\"T-0417\","
	        "\"expiry\":\"2027-05-31\"},{\"part\":\"b\",\"label\":\"hardener\","
	        "\"parts_e6\":45000000,\"density_ug_per_ml\":null,\"lot\":\"H-22\","
	        "\"expiry\":null}],\"tolerance_pct_e6\":2000000,"
	        "\"working_life_us\":2400000000,\"working_life_mass_ug\":100000000,"
	        "\"working_life_degc_e6\":25000000},\"request\":{\"total_ug\":330000000,"
	        "\"ratio_e6\":450000,\"tolerance_pct_e6\":2000000,\"tint_pct_e6\":0,"
	        "\"piece\":\"fern clock\",\"layer\":\"1\",\"cup_limit_ug\":700000000,"
	        "\"max_ug\":3000000000,\"u_reading_ug\":30000,\"stir_us\":240000000,"
	        "\"working_life_us\":1800000000,\"charges\":[{\"component\":\"a\","
	        "\"label\":\"resin\",\"target_ug\":227586207},{\"component\":\"b\","
	        "\"label\":\"hardener\",\"target_ug\":102413793}]},\"cup\":{\"pan_ug\":50000,"
	        "\"cup_ug\":12295678},\"dispenses\":[{\"component\":\"a\",\"identity\":\"bottle\","
	        "\"mass_ug\":227500000,\"u_ug\":50000,\"before_ug\":12345678,"
	        "\"after_ug\":239845678,\"start_us\":10000000,\"end_us\":40000000,"
	        "\"by_eye\":false,\"top_up\":false},{\"component\":\"b\",\"identity\":\"by-hand\","
	        "\"mass_ug\":102400000,\"u_ug\":50000,\"before_ug\":239845678,"
	        "\"after_ug\":342245678,\"start_us\":55000000,\"end_us\":90000000,"
	        "\"by_eye\":false,\"top_up\":false},{\"component\":\"tint\","
	        "\"identity\":\"by-hand\",\"mass_ug\":250000,\"u_ug\":null,\"before_ug\":null,"
	        "\"after_ug\":null,\"start_us\":95000000,\"end_us\":95000000,\"by_eye\":true,"
	        "\"top_up\":false}],\"weighed\":{\"divided\":false,\"resin_ug\":227500000,"
	        "\"hardener_ug\":102400000,\"mixed_ug\":0,\"tint_ug\":0,\"filler_ug\":0,"
	        "\"ratio_e6\":450110,\"u_ratio_e6\":293,\"deviation_pct_e6\":24420,"
	        "\"u_deviation_pct_e6\":65138,\"unexplained_ug\":0},"
	        "\"afterwards\":{\"life_start_us\":55000000,\"life_end_us\":1855000000,"
	        "\"stir_start_us\":null,\"residue_ug\":null,\"residue_a_pct_e6\":null,"
	        "\"residue_b_pct_e6\":null,\"stayed_ug\":null,\"given_ug\":0},\"accepted\":[],"
	        "\"step\":\"done\",\"message\":\"done\",\"verdict\":\"within\",\"provisional\":"
	        "false}");
}

/* Asks SQLite, which did not write it: one row, one integer. */
static int64_t ask(const char *sql, const char *json)
{
	sqlite3_stmt *statement;
	sqlite3 *db;
	int64_t answer;

	assert_int_equal(sqlite3_open(":memory:", &db), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	sqlite3_bind_text(statement, 1, json, -1, SQLITE_STATIC);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	answer = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return answer;
}

static void every_record_is_json_of_integers_only(void **state)
{
	(void)state;
	for (int step = GUIDE_READY; step <= GUIDE_DISCARDED; step++) {
		for (uint32_t n = 0; n <= 3; n++) {
			struct guide guide;

			batch_guide((enum guide_step)step, n, &guide);
			canonical_of(&guide);
			assert_int_equal(ask("SELECT json_valid(?)", text), 1);
			assert_int_equal(
			        ask("SELECT count(*) FROM json_tree(?) WHERE type = 'real'", text),
			        0);
			assert_int_equal(ask("SELECT json_array_length(?, '$.dispenses')", text),
			                 n);
			assert_null(strpbrk(text, "\n\t"));
		}
	}
}

static void a_short_buffer_is_filled_and_ended_and_the_length_still_told(void **state)
{
	struct guide guide;
	char small[64];
	size_t length;

	(void)state;
	batch_guide(GUIDE_CHARGE, 1, &guide);
	length = strlen(canonical_of(&guide));
	assert_int_equal(canonical_write(&guide, NULL, 0), length);
	memset(small, '#', sizeof small);
	assert_int_equal(canonical_write(&guide, small, 32), length);
	assert_memory_equal(small, text, 31);
	assert_int_equal(small[31], '\0');
	for (size_t i = 32; i < sizeof small; i++)
		assert_int_equal(small[i], '#');
}

static const char *string_as_json(const char *value)
{
	struct json_writer json;

	json_begin(&json, text, sizeof text);
	json_text(&json, NULL, value);
	json_end(&json);
	return text;
}

/* RFC 8259, 7: quotation mark, reverse solidus and U+0000..U+001F are escaped.
 * RFC 3629, 3, 4 and its examples: what is and is not UTF-8. */
static void strings_are_escaped_and_always_utf_8(void **state)
{
	(void)state;
	assert_string_equal(string_as_json("say \"fern\" \\ sea"), "\"say \\\"fern\\\" \\\\ sea\"");
	assert_string_equal(string_as_json("a\nb\x1f\x7f"), "\"a\\u000ab\\u001f\x7f\"");
	assert_string_equal(string_as_json("\xe6\x97\xa5\xe6\x9c\xac \xc3\xa4 \xf0\x9f\x8c\xbf"),
	                    "\"\xe6\x97\xa5\xe6\x9c\xac \xc3\xa4 \xf0\x9f\x8c\xbf\"");
	/* A cut sequence, a lone tail, an overlong slash, a surrogate, past U+10FFFF. */
	assert_string_equal(string_as_json("\xe6\x97"), "\"\xef\xbf\xbd\xef\xbf\xbd\"");
	assert_string_equal(string_as_json("\x80"), "\"\xef\xbf\xbd\"");
	assert_string_equal(string_as_json("\xc0\xaf"), "\"\xef\xbf\xbd\xef\xbf\xbd\"");
	assert_string_equal(string_as_json("\xed\xa0\x80"),
	                    "\"\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\"");
	assert_string_equal(string_as_json("\xf4\x90\x80\x80"),
	                    "\"\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\"");
}

static const char *e6_as_json(double value)
{
	struct json_writer json;

	json_begin(&json, text, sizeof text);
	json_e6(&json, NULL, value);
	json_end(&json);
	return text;
}

static void masses_are_whole_micrograms_or_null(void **state)
{
	(void)state;
	assert_string_equal(e6_as_json(102.4), "102400000");
	assert_string_equal(e6_as_json(-0.0), "0");
	assert_string_equal(e6_as_json(-1e-7), "0");
	assert_string_equal(e6_as_json(0.5e-6), "1");
	assert_string_equal(e6_as_json(-2.5e-6), "-3");
	assert_string_equal(e6_as_json(NAN), "null");
	assert_string_equal(e6_as_json(INFINITY), "null");
	assert_string_equal(e6_as_json(-INFINITY), "null");
	assert_string_equal(e6_as_json(1e13), "null");
	assert_string_equal(e6_as_json(-9e12), "-9000000000000000000");
}

static void integers_reach_both_ends(void **state)
{
	struct json_writer json;
	size_t length;

	(void)state;
	json_begin(&json, text, sizeof text);
	json_open(&json, NULL, '[');
	json_integer(&json, NULL, INT64_MIN);
	json_integer(&json, NULL, 0);
	json_integer(&json, NULL, INT64_MAX);
	json_close(&json, ']');
	length = json_end(&json);
	assert_int_equal(length, strlen(text));
	assert_string_equal(text, "[-9223372036854775808,0,9223372036854775807]");
}

/* Debian images often carry no locale but C: then one is compiled here. */
static int use_decimal_comma(void **state)
{
	char path[TEMP_PATH_MAX], command[TEMP_PATH_MAX + 64];

	if (setlocale(LC_ALL, "de_DE.UTF-8"))
		return 1;
	temp_path(state, "de_DE.UTF-8", path);
	snprintf(command, sizeof command, "localedef -i de_DE -f UTF-8 '%s' >/dev/null 2>&1", path);
	if (system(command) < 0)
		return 0;
	setenv("LOCPATH", *state, 1);
	return setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
}

static void a_decimal_comma_changes_no_byte(void **state)
{
	char before[sizeof text], comma[16];
	struct guide guide;

	batch_guide(GUIDE_DONE, 3, &guide);
	strcpy(before, canonical_of(&guide));
	if (!use_decimal_comma(state)) {
		print_message("skipped: no de_DE locale, and localedef cannot make one\n");
		skip();
	}
	snprintf(comma, sizeof comma, "%.1f", 1.5);
	assert_string_equal(comma, "1,5"); /* it is in force */
	canonical_of(&guide);
	setlocale(LC_ALL, "C");
	assert_string_equal(text, before);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_whole_record_is_this_very_text),
	        cmocka_unit_test(every_record_is_json_of_integers_only),
	        cmocka_unit_test(a_short_buffer_is_filled_and_ended_and_the_length_still_told),
	        cmocka_unit_test(strings_are_escaped_and_always_utf_8),
	        cmocka_unit_test(masses_are_whole_micrograms_or_null),
	        cmocka_unit_test(integers_reach_both_ends),
	        cmocka_unit_test_setup_teardown(a_decimal_comma_changes_no_byte, temp_folder_make,
	                                        temp_folder_remove),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
