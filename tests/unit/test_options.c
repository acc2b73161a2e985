/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "drivers/options.h"
#include "drivers/trace.h"

struct heard {
	int n;
	char text[16][SCALE_MESSAGE_MAX];
};

static void hear(void *context, const char *sentence)
{
	struct heard *heard = context;

	assert_in_range(heard->n, 0, 15);
	snprintf(heard->text[heard->n++], SCALE_MESSAGE_MAX, "%s", sentence);
}

static void numbers_are_decimal_and_nothing_else(void **state)
{
	static const char *const wrong[] = {"",     " 1",  "1 ", "0x10", "nan",   "inf", "1,5",
	                                    "1.5g", "--1", "1e", ".",    "1e999", "e5"};
	double value = 7.0;

	(void)state;
	for (size_t i = 0; i < sizeof(wrong) / sizeof(wrong[0]); i++) {
		assert_int_equal(option_number(wrong[i], &value), -EINVAL);
		assert_close(value, 7.0, 0.0);
	}
	assert_int_equal(option_number("-1.5e-3", &value), 0);
	assert_close(value, -1.5e-3, 0.0);
}

static char locales[] = "/tmp/ambo-locale-XXXXXX";

static int make_folder(void **state)
{
	(void)state;
	return mkdtemp(locales) == NULL ? -1 : 0;
}

static int remove_folder(void **state)
{
	char command[96];

	(void)state;
	unsetenv("LOCPATH");
	snprintf(command, sizeof(command), "rm -r '%s'", locales);
	return system(command);
}

/* Debian images often carry no locale but C: then one is compiled here. */
static bool use_decimal_comma(void)
{
	char command[128];

	if (setlocale(LC_ALL, "de_DE.UTF-8") != NULL)
		return true;
	snprintf(command, sizeof(command),
	         "localedef -i de_DE -f UTF-8 '%s/de_DE.UTF-8' >/dev/null 2>&1", locales);
	if (system(command) < 0)
		return false;
	setenv("LOCPATH", locales, 1);
	return setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
}

static void a_decimal_comma_changes_neither_reading_nor_writing(void **state)
{
	const struct trace_about about = {TRACE_HAS_COUNTS_PER_G, 429.5, 0.0, 0.0, 0.0};
	char comma[16], line[128] = "";
	FILE *stream = tmpfile();
	double value;

	(void)state;
	if (!use_decimal_comma()) {
		print_message("skipped: no de_DE locale, and localedef cannot make one\n");
		skip();
	}
	snprintf(comma, sizeof(comma), "%.1f", 1.5);
	assert_string_equal(comma, "1,5"); /* it is in force */
	assert_int_equal(option_number("429.5", &value), 0);
	assert_close(value, 429.5, 0.0);
	assert_int_equal(option_number("429,5", &value), -EINVAL);
	assert_int_equal(trace_write_header(stream, &about), 0);
	snprintf(comma, sizeof(comma), "%.1f", 1.5);
	assert_string_equal(comma, "1,5"); /* and was left as it was */
	setlocale(LC_ALL, "C");
	rewind(stream);
	assert_non_null(fgets(line, sizeof(line), stream));
	assert_string_equal(line, "# t_us,raw24,driver_flags cpg=429.5\n");
	fclose(stream);
}

static void every_mistake_is_reported_once_with_its_place(void **state)
{
	static const struct scale_option given[] = {
	        {"speed", "fast", "a.conf:3"}, {"rate", "2000", "a.conf:4"},
	        {"seed", "1.5", "a.conf:5"},   {"colour", "red", "a.conf:6"},
	        {"path", "", "a.conf:7"},      {"seed", "2", "a.conf:8"},
	};
	double speed = 1.0, rate = 80.0, seed = 3.0;
	const char *path = "kept", *file = NULL;
	const struct option_spec specs[] = {
	        {"speed", OPTION_NUMBER, false, 0, 10, "", &speed},
	        {"rate", OPTION_NUMBER, false, 1, 1000, "samples/s", &rate},
	        {"seed", OPTION_WHOLE, false, 0, 100, "", &seed},
	        {"path", OPTION_TEXT, false, 0, 0, "a path", &path},
	        {"file", OPTION_TEXT, true, 0, 0, "the path of a trace", &file},
	};
	struct heard heard = {0};

	(void)state;
	assert_int_equal(options_read("thing", given, 6, specs, 5, hear, &heard), 7);
	assert_int_equal(heard.n, 7);
	assert_string_equal(heard.text[0],
	                    "a.conf:3: speed: 'fast' is no number; expected a number from 0 to 10");
	assert_string_equal(heard.text[1], "a.conf:4: rate: '2000' is out of range; expected a "
	                                   "number from 1 to 1000 samples/s");
	assert_string_equal(
	        heard.text[2],
	        "a.conf:5: seed: '1.5' is no whole number; expected a whole number from 0 to 100");
	assert_string_equal(heard.text[3],
	                    "a.conf:6: colour: is no option of the driver thing; expected one of "
	                    "speed, rate, seed, path, file");
	assert_string_equal(heard.text[4], "a.conf:7: path: is empty; expected a path");
	assert_string_equal(heard.text[5], "a.conf:8: seed: is given twice; expected once");
	assert_string_equal(heard.text[6], "a.conf:3: file: is missing for the driver thing; "
	                                   "expected the path of a trace");
	assert_close(speed, 1.0, 0.0);
	assert_close(rate, 80.0, 0.0);
	assert_close(seed, 3.0, 0.0);
	assert_string_equal(path, "kept");
}

static void drivers_are_found_by_name_and_check_all_their_options(void **state)
{
	static const struct scale_option wrong[] = {{"speed", "-1", "a.conf:1"},
	                                            {"state", "", "a.conf:2"},
	                                            {"noise_g", "x", "a.conf:3"}};
	struct heard heard = {0};

	(void)state;
	assert_null(scale_driver_find("abacus"));
	for (size_t i = 0; scale_drivers[i] != NULL; i++)
		assert_ptr_equal(scale_driver_find(scale_drivers[i]->name), scale_drivers[i]);
	assert_int_equal(scale_driver_find("simulated")->check(wrong, 3, hear, &heard), 3);
	assert_int_equal(heard.n, 3);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(numbers_are_decimal_and_nothing_else),
	        cmocka_unit_test_setup_teardown(a_decimal_comma_changes_neither_reading_nor_writing,
	                                        make_folder, remove_folder),
	        cmocka_unit_test(every_mistake_is_reported_once_with_its_place),
	        cmocka_unit_test(drivers_are_found_by_name_and_check_all_their_options),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
