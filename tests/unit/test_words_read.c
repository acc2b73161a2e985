/* SPDX-License-Identifier: MIT */
/* What the station says in English, read back into another language. The language here is
 * made up: each text within arrows, so that what was read and what was not can be told. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "words/words_read.h"

#define N(array) (sizeof(array) / sizeof(array)[0])

static const char *arrows(const char *english)
{
	static const struct {
		const char *english, *other;
	} rows[] = {
	        {"There is no piece \"{piece}\" here.", "<no \"{piece}\">"},
	        {"It is not stored: {reason}; {remedy}.", "<{remedy}, for {reason}>"},
	        {"the disk is full", "<full>"},
	        {"make room on it, then try again", "<room>"},
	        {"{depth} mm are poured: the piece is full", "<{depth} mm in>"},
	        {"A press does nothing now: {why}", "<no press: {why}>"},
	        {"[{m} ]stayed on the pan; the ratio is still good whichever part it was. Wipe the "
	         "pan.",
	         "<[{m} ]on the pan>"},
	        {"Too little {c}[: {m} needed][, {M} there].",
	         "<short of {c}[, {M} is there][, {m} "
	         "wanted]>"},
	        {"tint", "<tint>"},
	        {"The {c} is past its date[, {t}].", "<old {c}[ {t}]>"},
	        {"The {c} comes from another lot than last time[: {t}].", "<lot {t}>"},
	        {"The record could not be written[: {t}]. Set that right, then press.",
	         "<not {t}>"},
	        {"The room is {degc} C; expected -20 to 60.", "<{degc}>"},
	        {"{d} too much {h}", "<{h} over by {d}>"},
	        {"The ratio is outside tolerance[: {d}], and nothing more fits. Press to keep it, "
	         "recorded as outside, or discard it.",
	         "<out {d}>"},
	};

	for (size_t i = 0; i < N(rows); i++)
		if (strcmp(rows[i].english, english) == 0)
			return rows[i].other;
	return english;
}

static void expect(const char *english, const char *other)
{
	const struct words_language language = {arrows, ',', NULL};
	char buffer[WORDS_SENTENCE_MAX];

	assert_int_equal(words_read_in(&language, english, buffer, sizeof buffer), strlen(other));
	assert_string_equal(buffer, other);
}

static void a_value_is_found_and_put_into_the_other_language(void **state)
{
	(void)state;
	expect("There is no piece \"Fern clock\" here.", "<no \"Fern clock\">");
	expect("There is no piece \"a \"quoted\" one\" here.", "<no \"a \"quoted\" one\">");
}

static void a_fraction_takes_the_other_mark_and_a_name_does_not(void **state)
{
	(void)state;
	expect("18.0 mm are poured: the piece is full", "<18,0 mm in>");
	expect("There is no piece \"v 1.2\" here.", "<no \"v 1.2\">");
	expect("The room is -25.5 C; expected -20 to 60.", "<-25,5>");
}

/* Whatever they look like: a number, a word of ours. */
static void a_persons_own_words_are_left_alone(void **state)
{
	const struct words_language language = {arrows, ',', NULL};
	struct message lot = {
	        .id = MESSAGE_LOT_CHANGED, .has = MESSAGE_HAS_TEXT, .text = "24.0815"};
	char buffer[WORDS_SENTENCE_MAX];

	(void)state;
	expect("There is no piece \"tint\" here.", "<no \"tint\">");
	expect("The A resin comes from another lot than last time: 24.0815.", "<lot 24.0815>");
	expect("The record could not be written: the disk is full. Set that right, then press.",
	       "<not <full>>");
	words_in(&language, WORDS_SENTENCE, &lot, NULL, buffer, sizeof buffer);
	assert_string_equal(buffer, "<lot 24.0815>");
	lot.id = MESSAGE_STORE_FAILED;
	snprintf(lot.text, sizeof lot.text, "the disk is full");
	words_in(&language, WORDS_SENTENCE, &lot, NULL, buffer, sizeof buffer);
	assert_string_equal(buffer, "<not <full>>");
}

static void values_that_are_sentences_are_read_too_in_any_order(void **state)
{
	(void)state;
	expect("It is not stored: the disk is full; make room on it, then try again.",
	       "<<room>, for <full>>");
	expect("A press does nothing now: 5.0 g stayed on the pan; the ratio is still good "
	       "whichever part it was. Wipe the pan.",
	       "<no press: <5,0 g on the pan>>");
	expect("The ratio is outside tolerance: 2.1 % too much B hardener, and nothing more fits. "
	       "Press to keep it, recorded as outside, or discard it.",
	       "<out <B hardener over by 2,1 %>>");
}

static void a_phrase_that_was_left_out_stays_left_out(void **state)
{
	(void)state;
	expect("Stayed on the pan; the ratio is still good whichever part it was. Wipe the pan.",
	       "<on the pan>");
	expect("Too little tint: 3.5 g needed.", "<short of <tint>, 3,5 g wanted>");
	expect("Too little B hardener: 30.5 g needed, 12.0 g there.",
	       "<short of B hardener, 12,0 g is there, 30,5 g wanted>");
}

static void sentences_in_a_row_are_read_one_by_one(void **state)
{
	(void)state;
	expect("The A resin is past its date, 2026-05-01. There is no piece \"x\" here.",
	       "<old A resin 2026-05-01> <no \"x\">");
	expect("18.0 mm are poured: the piece is full.", "<18,0 mm in>.");
}

static void what_is_in_no_table_stays_as_it_is(void **state)
{
	(void)state;
	expect("", "");
	expect("Something of a newer station: 1.5 g.", "Something of a newer station: 1.5 g.");
	expect("There is no piece \"\" here.", "There is no piece \"\" here.");
	expect("There is no piece \"x\" here", "There is no piece \"x\" here");
}

/* Every template with a value in each gap, given back through itself, is what it was: in
 * English nothing is changed, whichever table it is from. */
static const char *same(const char *english)
{
	return english;
}

static void every_sentence_of_the_station_is_known_and_given_back_whole(void **state)
{
	const struct words_language language = {same, '.', NULL};
	const char *template;
	unsigned n = 0;

	(void)state;
	for (; (template = words_told_template(n)) != NULL; n++) {
		char english[WORDS_SENTENCE_MAX], buffer[WORDS_SENTENCE_MAX];
		size_t length = 0;

		for (const char *c = template; *c != '\0'; c++) {
			english[length++] = *c == '{' ? 'v' : *c;
			if (*c == '{')
				c = strchr(c, '}');
		}
		english[length] = '\0';
		words_read_in(&language, english, buffer, sizeof buffer);
		assert_string_equal(buffer, english);
	}
	assert_true(n > 100);
}

static void a_buffer_too_small_is_filled_and_ended(void **state)
{
	const struct words_language language = {arrows, ',', NULL};
	char buffer[8];

	(void)state;
	assert_int_equal(words_read_in(&language, "There is no piece \"Fern clock\" here.", buffer,
	                               sizeof buffer),
	                 7);
	assert_string_equal(buffer, "<no \"Fe");
	assert_int_equal(words_read_in(&language, "x", buffer, 0), 0);
	/* No half of a character. */
	assert_int_equal(words_read_in(&language, "aaaaaa\u00fc", buffer, sizeof buffer), 6);
	assert_int_equal(words_read_in(&language, "aaaaa\u00fc\u00fc", buffer, sizeof buffer), 7);
	assert_int_equal(words_read_in(&language, "aaaaa\u20ac", buffer, sizeof buffer), 5);
	assert_int_equal(words_read_in(NULL, "The A.", buffer, sizeof buffer), 6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_value_is_found_and_put_into_the_other_language),
	        cmocka_unit_test(a_fraction_takes_the_other_mark_and_a_name_does_not),
	        cmocka_unit_test(a_persons_own_words_are_left_alone),
	        cmocka_unit_test(values_that_are_sentences_are_read_too_in_any_order),
	        cmocka_unit_test(a_phrase_that_was_left_out_stays_left_out),
	        cmocka_unit_test(sentences_in_a_row_are_read_one_by_one),
	        cmocka_unit_test(what_is_in_no_table_stays_as_it_is),
	        cmocka_unit_test(every_sentence_of_the_station_is_known_and_given_back_whole),
	        cmocka_unit_test(a_buffer_too_small_is_filled_and_ended),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
