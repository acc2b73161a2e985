/* SPDX-License-Identifier: MIT */
/* JSON as RFC 8259 and CSV as RFC 4180 have it. */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "display/terminal/output.h"

static void json_is_escaped_nested_and_separated(void **state)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);
	struct json json;

	(void)state;
	json_init(&json, out, false);
	json_open(&json, NULL, '{');
	json_text(&json, "a\"\\", "line\n\x01é");
	json_open(&json, "list", '[');
	json_whole(&json, NULL, -3);
	json_bool(&json, NULL, true);
	json_number(&json, NULL, (double)NAN);
	json_close(&json, ']');
	json_open(&json, "empty", '{');
	json_close(&json, '}');
	json_number(&json, "x", 0.1);
	json_close(&json, '}');
	fclose(out);
	assert_string_equal(text, "{\"a\\\"\\\\\":\"line\\u000a\\u0001é\",\"list\":[-3,true,null],"
	                          "\"empty\":{},\"x\":0.1}\n");
	free(text);
}

static void csv_quotes_only_what_needs_it(void **state)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	(void)state;
	csv_field(out, "plain text");
	csv_field(out, "a,b");
	csv_field(out, "say \"B\"");
	csv_field(out, "two\nlines");
	fclose(out);
	assert_string_equal(text, "plain text\"a,b\"\"say \"\"B\"\"\"\"two\nlines\"");
	free(text);
}

static void every_double_reads_back_the_same(void **state)
{
	static const double hard[] = {0.1,
	                              1.0 / 3.0,
	                              5e-324,
	                              1.7976931348623157e308,
	                              123456789.123456789,
	                              -0.30000000000000004};
	char text[OUTPUT_NUMBER_MAX];
	uint64_t seed = 88172645463325252u;

	(void)state;
	for (size_t i = 0; i < sizeof hard / sizeof *hard; i++)
		assert_true(strtod(output_number(hard[i], text), NULL) == hard[i]);
	for (int i = 0; i < 20000; i++) {
		double value;

		seed ^= seed << 13, seed ^= seed >> 7, seed ^= seed << 17;
		memcpy(&value, &seed, sizeof value);
		if (isfinite(value))
			assert_true(strtod(output_number(value, text), NULL) == value);
	}
	assert_string_equal(output_number(0.1, text), "0.1");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(json_is_escaped_nested_and_separated),
	        cmocka_unit_test(csv_quotes_only_what_needs_it),
	        cmocka_unit_test(every_double_reads_back_the_same),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
