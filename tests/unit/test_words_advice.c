/* SPDX-License-Identifier: MIT */
#include "words/words_advice.h"

#include <math.h>
#include <string.h>

#include "tests/support/assert_close.h"
#include "words/words.h"

static void every_advice_is_one_whole_sentence_or_more(void **state)
{
	char sentence[WORDS_SENTENCE_MAX];

	(void)state;
	for (int i = 1; i < ADVICE_COUNT; i++) {
		const struct advice advice = {.id = (enum advice_id)i,
		                              .value = -1234567.891,
		                              .other = 3600.0,
		                              .count = 2,
		                              .of = 10};
		const size_t n = words_advice(&advice, sentence, sizeof(sentence));

		assert_true(n > 10 && n < sizeof(sentence) - 1);
		assert_int_equal(strlen(sentence), n);
		assert_int_equal(sentence[n - 1] == '.' || sentence[n - 1] == '?', 1);
		assert_null(strpbrk(sentence, "{}[]|"));
		/* "A-" is a terminal; no number has a minus. */
		for (const char *c = sentence; *c != '\0'; c++)
			assert_false(c[0] == '-' && c[1] >= '0' && c[1] <= '9');
	}
}

static void numbers_stand_where_they_belong(void **state)
{
	char sentence[WORDS_SENTENCE_MAX];

	(void)state;
	words_advice(&(struct advice){.id = ADVICE_PLACE_ON, .value = 2000.0, .count = 1}, sentence,
	             sizeof(sentence));
	assert_string_equal(sentence, "Put 2000 g on the right, half-way to the edge.");
	words_advice(&(struct advice){.id = ADVICE_CHECK_FAILED, .value = -0.31, .other = 0.2},
	             sentence, sizeof(sentence));
	assert_non_null(strstr(sentence, "failed: 0.31 g too little, over 0.20 g."));
	words_advice(&(struct advice){.id = ADVICE_CHECK_OVERDUE, .value = (double)NAN}, sentence,
	             sizeof(sentence));
	assert_string_equal(sentence,
	                    "The daily check is overdue: put a known weight on, ambo check.");
	words_advice(&(struct advice){.id = ADVICE_CHECK_OVERDUE, .value = 90000.0}, sentence,
	             sizeof(sentence));
	assert_non_null(strstr(sentence, ", the last was 25 h 0 min ago:"));
}

static void a_short_buffer_is_never_overrun(void **state)
{
	char buffer[24];

	(void)state;
	for (size_t size = 1; size <= 16; size++) {
		memset(buffer, 'x', sizeof(buffer));
		assert_int_equal(words_advice(&(struct advice){.id = ADVICE_HUM}, buffer, size),
		                 size - 1);
		assert_int_equal(buffer[size - 1], '\0');
		assert_int_equal(buffer[size], 'x');
	}
	assert_int_equal(words_advice(&(struct advice){.id = ADVICE_NONE}, buffer, 8), 0);
	assert_string_equal(buffer, "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(every_advice_is_one_whole_sentence_or_more),
	        cmocka_unit_test(numbers_stand_where_they_belong),
	        cmocka_unit_test(a_short_buffer_is_never_overrun),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
