/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "display/terminal/mix_screen.h"

static const char *bar(double share)
{
	static char buffer[MIX_SCREEN_BAR_MAX];

	mix_screen_bar(share, 21, false, buffer);
	return buffer;
}

static int count(const char *text, char c)
{
	int n = 0;

	for (; *text; text++)
		n += *text == c;
	return n;
}

static void the_bar_is_open_at_first_and_closed_at_the_target(void **state)
{
	(void)state;
	assert_string_equal(bar(1.0), "..........|..........");
	assert_string_equal(bar(0.25), "====>.....|.....<====");
	assert_string_equal(bar(0.0), "=========>|<=========");
}

static void the_bar_closes_steadily_and_meets_only_when_nothing_is_left(void **state)
{
	int open = 21;

	(void)state;
	for (int i = 1000; i >= 0; i--) {
		const char *text = bar(i / 1000.0);
		int now = count(text, '.');

		assert_int_equal(strlen(text), 21);
		assert_true(now <= open);
		if (i > 0)
			assert_true(now > 0);
		open = now;
	}
	assert_int_equal(open, 0);
}

static void too_much_reads_otherwise_than_right(void **state)
{
	(void)state;
	assert_string_equal(bar(-0.001), "=========X|X=========");
	assert_int_equal(count(bar(-0.25), 'X'), 10);
	assert_int_equal(strlen(bar(-5.0)), 21);
}

static void any_share_and_width_stays_in_its_buffer(void **state)
{
	static const double share[] = {-1e300, -1.0, 0.0, 0.5, 1.0, 1e300};
	char buffer[MIX_SCREEN_BAR_MAX];

	(void)state;
	for (int columns = 0; columns <= 400; columns += 7)
		for (size_t i = 0; i < sizeof share / sizeof *share; i++) {
			mix_screen_bar(share[i], columns, true, buffer);
			assert_non_null(memchr(buffer, '\0', sizeof buffer));
		}
}

static void put(struct dict *dict, const char *key, char type, double value, const char *text)
{
	struct dict_entry *entry = &dict->entry[dict->n++];

	snprintf(entry->key, sizeof entry->key, "%s", key);
	entry->type = type;
	entry->number = value;
	entry->whole = (int64_t)value;
	snprintf(entry->text, sizeof entry->text, "%s", text);
}

static void the_screen_keeps_its_lines_and_its_width(void **state)
{
	struct live *live = calloc(1, sizeof *live);
	struct mix_screen screen = {.columns = 60, .utf8 = false, .bench = true, .note = "a note"};
	char *text = NULL, *line;
	size_t size;
	FILE *out = open_memstream(&text, &size);
	int lines = 0;

	(void)state;
	put(&live->batch, "Headline", 's', 0, "ADD B");
	put(&live->batch, "ComponentLabel", 's', 0, "B hardener");
	put(&live->batch, "PressMeans", 's', 0, "next");
	put(&live->batch, "Quantities.TargetGrams", 'd', 102.4, "");
	put(&live->reading.quantities, "RemainingGrams", 'd', -5.0, "");
	put(&live->batch, "Verdict", 's', 0, "cannot-tell");
	put(&live->batch, "Provisional", 'b', 1, "");
	put(&live->batch, "Quantities.DeviationPercent", 'd', -12.34, "");
	put(&live->batch, "Quantities.StirLeftSeconds", 'd', 299, "");
	put(&live->batch, "Quantities.WorkingLifeLeftSeconds", 'd', 7499, "");
	put(&live->batch, "Sentence", 's', 0,
	    "A sentence much longer than one line of this screen, é to be broken between its "
	    "words");
	put(&live->batch, "Caution", 's', 0,
	    "Uncured parts can sensitise skin for life: nitrile gloves, sleeves, eye protection, "
	    "fresh air. The safety data sheet, local rules and licensed practice come first.");
	mix_screen_draw(out, &screen, live);
	fclose(out);
	assert_non_null(strstr(text, "ADD B"));
	assert_non_null(strstr(text, "5.0 g\033[0m too much"));
	assert_non_null(strstr(text, "first."));
	assert_non_null(strstr(text, "provisionally cannot-tell, 12.4 % too little"));
	assert_null(strstr(text, "-5"));
	assert_null(strstr(text, "-1"));
	for (line = strtok(text, "\n"); line; line = strtok(NULL, "\n"), lines++) {
		int wide = 0;

		for (char *c = line; *c; c++) {
			if (*c == '\033')
				c = strpbrk(c, "mK");
			else
				wide += ((unsigned char)*c & 0xC0) != 0x80;
		}
		assert_true(wide < screen.columns);
	}
	assert_int_equal(lines, MIX_SCREEN_LINES);
	free(text);
	free(live);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(the_bar_is_open_at_first_and_closed_at_the_target),
	        cmocka_unit_test(the_bar_closes_steadily_and_meets_only_when_nothing_is_left),
	        cmocka_unit_test(too_much_reads_otherwise_than_right),
	        cmocka_unit_test(any_share_and_width_stays_in_its_buffer),
	        cmocka_unit_test(the_screen_keeps_its_lines_and_its_width),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
