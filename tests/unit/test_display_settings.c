/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "display/touch/settings.h"

static char path[64];

static int made(void **state)
{
	int fd;

	(void)state;
	snprintf(path, sizeof path, "/tmp/ambo-settings.XXXXXX");
	fd = mkstemp(path);
	return fd < 0 ? -1 : close(fd);
}

static int gone(void **state)
{
	(void)state;
	return unlink(path);
}

static void write_text(const char *text)
{
	FILE *file = fopen(path, "w");

	assert_non_null(file);
	fputs(text, file);
	fclose(file);
}

/* As they are written: the bytes between the fields are the compiler's own. */
static void assert_same(const struct settings *a, const struct settings *b)
{
	const struct settings *const both[] = {a, b};
	char text[2][2048];

	for (int i = 0; i < 2; i++) {
		FILE *file;

		assert_int_equal(settings_write(path, both[i]), 0);
		file = fopen(path, "r");
		assert_non_null(file);
		text[i][fread(text[i], 1, sizeof text[i] - 1, file)] = '\0';
		fclose(file);
		assert_true(strlen(text[i]) > 100 && strlen(text[i]) < sizeof text[i] - 1);
	}
	assert_string_equal(text[0], text[1]);
}

static void what_is_written_is_read_again(void **state)
{
	struct settings wrote = {.theme = THEME_DAY,
	                         .hand = HAND_LEFT,
	                         .turn_deg = 270,
	                         .language = "de",
	                         .blank_min = 2.5,
	                         .first_run_done = true,
	                         .sound_level = 0.35,
	                         .quiet = true,
	                         .speech = true,
	                         .person = 3,
	                         .brightness_pct = 60,
	                         .units = UNITS_US,
	                         .less_motion = true};
	struct settings read;
	char sentence[SETTINGS_SENTENCE_MAX] = "";

	(void)state;
	assert_int_equal(settings_write(path, &wrote), 0);
	settings_default(&read);
	assert_int_equal(settings_read(path, &read, sentence), 0);
	assert_int_equal(read.theme, THEME_DAY);
	assert_int_equal(read.hand, HAND_LEFT);
	assert_int_equal(read.turn_deg, 270);
	assert_string_equal(read.language, "de");
	assert_within(read.blank_min, 2.5, 0.0);
	assert_true(read.first_run_done);
	assert_within(read.sound_level, 0.35, 1e-9);
	assert_true(read.quiet && read.speech);
	assert_int_equal(read.person, 3);
	assert_int_equal(read.brightness_pct, 60);
	assert_true(read.units == UNITS_US && read.less_motion);
}

static void no_file_is_no_fault(void **state)
{
	struct settings read;
	char sentence[SETTINGS_SENTENCE_MAX] = "";

	(void)state;
	settings_default(&read);
	assert_int_equal(settings_read("/nowhere/at/all", &read, sentence), 0);
	assert_false(read.first_run_done);
}

static void what_is_wrong_is_said_with_its_line_and_left_as_usual(void **state)
{
	static const struct {
		const char *text, *said;
	} rows[] = {
	        {"theme = \"dark\";\nturn_deg = 45;\n", ":2: turn_deg"},
	        {"hand = \"both\";\n", ":1: hand"},
	        {"sound_level = 1.5;\n", ":1: sound_level"},
	        {"quiet = 1;\n", ":1: quiet"},
	        {"person = 7;\n", ":1: person"},
	        {"language = \"../../etc\";\n", ":1: language"},
	        {"colour = 3;\n", ":1: colour"},
	        {"theme = \n\n\"day\n", "going on with the usual settings"},
	        {"theme = 7;\n", ":1: theme"},
	        {"blank_min = -1.0;\n", ":1: blank_min"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct settings read, usual;
		char sentence[SETTINGS_SENTENCE_MAX] = "";

		write_text(rows[i].text);
		settings_default(&read);
		settings_default(&usual);
		assert_int_equal(settings_read(path, &read, sentence), -EINVAL);
		assert_non_null(strstr(sentence, rows[i].said));
		assert_same(&read, &usual);
	}
}

static void a_file_that_cannot_be_written_stays_as_it_was(void **state)
{
	struct settings settings;

	(void)state;
	settings_default(&settings);
	assert_true(settings_write("/nowhere/at/all", &settings) < 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(what_is_written_is_read_again),
	        cmocka_unit_test(no_file_is_no_fault),
	        cmocka_unit_test(what_is_wrong_is_said_with_its_line_and_left_as_usual),
	        cmocka_unit_test(a_file_that_cannot_be_written_stays_as_it_was),
	};

	return cmocka_run_group_tests(tests, made, gone);
}
