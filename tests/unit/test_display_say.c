/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/mixing/message.h"
#include "display/touch/say.h"
#include "display/touch/screens.h"
#include "tests/support/display_states.h"
#include "words/words_read.h"

static struct model model;
static struct ui ui;

static void speak(const char *language)
{
	char sentence[512] = "";

	assert_int_equal(say_language(AMBO_CATALOGUES, language, sentence, sizeof sentence), 0);
}

static size_t characters(const char *text)
{
	size_t n = 0;

	for (; *text; text++)
		n += ((unsigned char)*text & 0xc0u) != 0x80u;
	return n;
}

/* In the table's own words and in every language, with any part in it. */
static void headlines_have_at_most_twelve_characters(void **state)
{
	static const char *const parts[] = {"a", "b", "tint", "filler", "mixed", ""};
	char text[SAY_MAX];

	(void)state;
	display_load("add-a", &model, &ui);
	for (unsigned l = 0; l < display_n_languages; l++) {
		speak(display_languages[l]);
		for (int id = 1; id < MESSAGE_COUNT; id++)
			for (size_t p = 0; p < sizeof parts / sizeof *parts; p++) {
				snprintf(model.batch.message, sizeof model.batch.message, "%s",
				         message_name((enum message_id)id));
				snprintf(model.batch.argument_component,
				         sizeof model.batch.argument_component, "%s", parts[p]);
				say_headline(&model, text, sizeof text);
				if (characters(text) < 1 || characters(text) > 12)
					fail_msg("%s in %s: \"%s\"", model.batch.message,
					         display_languages[l], text);
			}
	}
}

/* No sentence of any language loses a value that the English one tells. */
static void translations_tell_the_same_numbers(void **state)
{
	char english[SAY_MAX], other[SAY_MAX];

	(void)state;
	for (int id = 1; id < MESSAGE_COUNT; id++) {
		display_load("add-a", &model, &ui);
		snprintf(model.batch.message, sizeof model.batch.message, "%s",
		         message_name((enum message_id)id));
		model.batch.mass_g = 111.1;
		model.batch.other_mass_g = 222.2;
		model.batch.pct = 3.3;
		model.batch.other_pct = 4.4;
		model.batch.seconds = 55.0;
		model.batch.other_seconds = 66.0;
		snprintf(model.systems[1].label_a, sizeof model.systems[1].label_a, "Qaa");
		snprintf(model.systems[1].label_b, sizeof model.systems[1].label_b, "Qbb");
		snprintf(model.batch.argument_text, sizeof model.batch.argument_text, "Zz-9");
		snprintf(model.batch.argument_other, sizeof model.batch.argument_other, "b");
		speak("en");
		say_sentence(&model, english, sizeof english);
		for (unsigned l = 1; l < display_n_languages; l++) {
			static const char *const values[][2] = {
			        {"111.1", "111,1"}, {"222.2", "222,2"}, {"3.3 %", "3,3 %"},
			        {"4.4 %", "4,4 %"}, {"55 s", "55 s"},   {"1 min 6 s", "1 min 6 s"},
			        {"Zz-9", "Zz-9"},   {"Qaa", "Qaa"},     {"Qbb", "Qbb"},
			};

			speak(display_languages[l]);
			say_sentence(&model, other, sizeof other);
			for (size_t v = 0; v < sizeof values / sizeof *values; v++)
				if (strstr(english, values[v][0]) && !strstr(other, values[v][1]))
					fail_msg("%s: \"%s\" is missing in \"%s\"",
					         display_languages[l], values[v][1], other);
		}
	}
}

static void a_language_brings_its_mark_and_its_direction(void **state)
{
	char text[WORDS_NUMBER_MAX];

	(void)state;
	speak("en");
	say_mass(12.34, false, text);
	assert_string_equal(text, "12.3 g");
	assert_false(say_rtl());
	speak("de");
	say_mass(12.34, false, text);
	assert_string_equal(text, "12,3 g");
	assert_string_equal(say_language_name(), "Deutsch");
	speak("rtl");
	assert_true(say_rtl());
	/* Files keep their point whatever is spoken. */
	assert_string_equal(localeconv()->decimal_point, ".");
	speak("en");
	assert_string_equal(say_language_name(), "English");
}

/* "1 layer", "2 layers", by the language's own rule. */
static void one_is_told_otherwise_than_many(void **state)
{
	static const struct {
		const char *language;
		double layers;
		const char *told;
	} rows[] = {
	        {"en", 0.0, "0 layers poured"},      {"en", 1.0, "1 layer poured"},
	        {"en", 2.0, "2 layers poured"},      {"de", 1.0, "1 Schicht gegossen"},
	        {"de", 2.0, "2 Schichten gegossen"},
	};
	static struct scene scene;

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		bool found = false;

		speak(rows[i].language);
		display_load("pieces", &model, &ui);
		model.pieces[0].layers = rows[i].layers;
		screens_draw(&model, &ui, 154.0, 86.0, &scene);
		for (uint32_t n = 0; n < scene.n_items; n++)
			found |= strncmp(scene_item_text(&scene, &scene.item[n]), rows[i].told,
			                 strlen(rows[i].told)) == 0;
		if (!found)
			fail_msg("%s: \"%s\" is not shown", rows[i].language, rows[i].told);
	}
	speak("en");
}

static void an_unreadable_language_is_said_and_english_stays(void **state)
{
	char sentence[512] = "", folder[] = "/tmp/ambo-language.XXXXXX", path[256];
	FILE *file;

	(void)state;
	assert_int_equal(say_language(AMBO_CATALOGUES, "xx", sentence, sizeof sentence), -ENOENT);
	assert_non_null(strstr(sentence, "going on in English"));
	assert_string_equal(_("Back"), "Back");
	/* A file of that name that is no catalogue. */
	assert_non_null(mkdtemp(folder));
	snprintf(path, sizeof path, "mkdir -p %s/de/LC_MESSAGES", folder);
	assert_int_equal(system(path), 0);
	snprintf(path, sizeof path, "%s/de/LC_MESSAGES/ambo.mo", folder);
	file = fopen(path, "w");
	assert_non_null(file);
	fputs("nothing of the kind", file);
	fclose(file);
	assert_int_equal(say_language(folder, "de", sentence, sizeof sentence), -EINVAL);
	assert_non_null(strstr(sentence, "no message catalogue"));
	assert_string_equal(_("Back"), "Back");
	snprintf(path, sizeof path, "rm -r %s", folder);
	assert_int_equal(system(path), 0);
	speak("en");
}

static void no_sentence_carries_a_minus_sign(void **state)
{
	char text[SAY_MAX];

	(void)state;
	speak("en");
	display_load("add-b-near", &model, &ui);
	for (int id = 1; id < MESSAGE_COUNT; id++) {
		snprintf(model.batch.message, sizeof model.batch.message, "%s",
		         message_name((enum message_id)id));
		model.batch.mass_g = model.batch.other_mass_g = -5.04;
		model.batch.pct = model.batch.other_pct = -1.2;
		say_sentence(&model, text, sizeof text);
		assert_null(strstr(text, "-5"));
		assert_null(strstr(text, "-1"));
	}
	say_deviation(&model, "tidepool-clear", -1.2, text, sizeof text);
	assert_string_equal(text, "1.2 % too little B hardener");
}

/* As the station would put it together, with a value of its own in each gap. */
static int put_together(const char *template, char *english, char values[][16])
{
	int n = 0;
	size_t length = 0;

	for (const char *c = template; *c; c++) {
		if (*c == '{') {
			snprintf(values[n], sizeof values[n], "v%dx", n);
			length += (size_t)sprintf(english + length, "%s", values[n++]);
			c = strchr(c, '}');
		} else if (*c != '[' && *c != ']') {
			english[length++] = *c;
		}
	}
	english[length] = '\0';
	return n;
}

static void what_the_station_refuses_is_told_whole_in_every_language(void **state)
{
	char english[SAY_MAX], other[SAY_MAX], values[12][16];
	const char *template;

	(void)state;
	for (unsigned i = 0; (template = words_told_template(i)) != NULL; i++) {
		int n = put_together(template, english, values);

		speak("en");
		say_read(english, other, sizeof other);
		assert_string_equal(other, english);
		for (unsigned l = 1; l < display_n_languages; l++) {
			speak(display_languages[l]);
			say_read(english, other, sizeof other);
			if (strcmp(other, english) == 0 && *template != '{')
				fail_msg("\"%s\" stays English in %s", english,
				         display_languages[l]);
			for (int v = 0; v < n; v++)
				if (!strstr(other, values[v]))
					fail_msg("%s: \"%s\" is missing in \"%s\"",
					         display_languages[l], values[v], other);
		}
	}
	speak("de");
	say_read("It is not stored: the disk is full; make room on it, then try again.", other,
	         sizeof other);
	assert_string_equal(other, "Es ist nicht gespeichert: die Platte ist voll; Platz schaffen, "
	                           "dann noch einmal versuchen.");
	speak("en");
}

static void names_are_filled_with_what_stands_behind_them(void **state)
{
	char text[32];

	(void)state;
	say_fill(text, sizeof text, "{b} of {a}, {c}", "a", "1", "b", "2", NULL);
	assert_string_equal(text, "2 of 1, {c}");
	/* What does not fit is cut, never written past. */
	say_fill(text, 6, "{a}{a}", "a", "1234", NULL);
	assert_string_equal(text, "12341");
	say_fill(text, sizeof text, "open { brace", "a", "1", NULL);
	assert_string_equal(text, "open { brace");
}

static void clocks_run_in_minutes_and_seconds(void **state)
{
	char text[WORDS_NUMBER_MAX];

	(void)state;
	say_clock(165.0, text);
	assert_string_equal(text, "2:45");
	say_clock(3661.0, text);
	assert_string_equal(text, "1:01:01");
	say_clock(0.2, text);
	assert_string_equal(text, "0:01");
	say_clock(-5.0, text);
	assert_string_equal(text, "0:00");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(headlines_have_at_most_twelve_characters),
	        cmocka_unit_test(translations_tell_the_same_numbers),
	        cmocka_unit_test(a_language_brings_its_mark_and_its_direction),
	        cmocka_unit_test(one_is_told_otherwise_than_many),
	        cmocka_unit_test(an_unreadable_language_is_said_and_english_stays),
	        cmocka_unit_test(no_sentence_carries_a_minus_sign),
	        cmocka_unit_test(what_the_station_refuses_is_told_whole_in_every_language),
	        cmocka_unit_test(names_are_filled_with_what_stands_behind_them),
	        cmocka_unit_test(clocks_run_in_minutes_and_seconds),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
