/* SPDX-License-Identifier: MIT */
/* What people read. The wording itself is ours: no outside source. Rounding away
 * from "within" and the 12 characters of a headline are design choices. */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "words/words.h"

static const struct resin_system demo = {
        .id = "demo",
        .name = "Demo",
        .part = {{.label = "resin", .parts = 100.0}, {.label = "hardener", .parts = 45.0}},
        .hardener = PART_B,
        .basis = BASIS_WEIGHT,
};

/* Every argument set, every number below zero: what a sentence must never show. */
static struct message full(enum message_id id, enum component component)
{
	struct message m = {.id = id,
	                    .has = 0x1ff,
	                    .component = component,
	                    .other = COMPONENT_A,
	                    .mass_g = -1234.56,
	                    .other_mass_g = -78.9,
	                    .pct = -2.01,
	                    .other_pct = -4.0,
	                    .seconds = -200.0,
	                    .other_seconds = -7500.0};

	snprintf(m.text, sizeof m.text, "text");
	return m;
}

static size_t characters(const char *utf8)
{
	size_t n = 0;

	for (; *utf8; utf8++)
		n += ((unsigned char)*utf8 & 0xC0) != 0x80;
	return n;
}

static bool has_minus(const char *text)
{
	if (strstr(text, "\xe2\x88\x92")) /* U+2212 */
		return true;
	for (; *text; text++)
		if (text[0] == '-' && text[1] >= '0' && text[1] <= '9')
			return true;
	return false;
}

/* Calls check for every message, every component, all arguments and none. */
static void each_message(void (*check)(const struct message *))
{
	for (int id = 0; id < MESSAGE_COUNT; id++)
		for (int c = COMPONENT_A; c <= COMPONENT_MIXED; c++) {
			struct message m = full((enum message_id)id, (enum component)c);

			check(&m);
			m.has = 0;
			check(&m);
			m.has = MESSAGE_HAS_COMPONENT;
			check(&m);
		}
}

static void headline_is_short(const struct message *m)
{
	char text[128];

	words_headline(m, &demo, text, sizeof text);
	if (characters(text) > 12 || has_minus(text))
		fail_msg("headline of %d is \"%s\"", m->id, text);
	if (m->id != MESSAGE_NONE)
		assert_true(*text != '\0');
	if (strpbrk(text, "{}[]|"))
		fail_msg("headline of %d shows its template: \"%s\"", m->id, text);
}

static void every_headline_has_at_most_12_characters(void **state)
{
	(void)state;
	each_message(headline_is_short);
}

static void sentence_reads(const struct message *m)
{
	char text[WORDS_SENTENCE_MAX], caution[WORDS_SENTENCE_MAX];

	words_sentence(m, &demo, text, sizeof text);
	words_caution(m, &demo, caution, sizeof caution);
	if (has_minus(text) || has_minus(caution))
		fail_msg("%d shows a minus sign: \"%s\"", m->id, text);
	if (strpbrk(text, "{}[]|") || strpbrk(caution, "{}[]|"))
		fail_msg("%d shows its template: \"%s\"", m->id, text);
	if (strlen(text) >= WORDS_SENTENCE_MAX - 1 || strstr(text, "  "))
		fail_msg("%d is too long or has a double blank: \"%s\"", m->id, text);
	if (m->id != MESSAGE_NONE && (*text < 'A' || *text > 'Z') && (*text < '0' || *text > '9'))
		fail_msg("%d does not begin a sentence: \"%s\"", m->id, text);
	if (m->id != MESSAGE_NONE && !strchr(".?", text[strlen(text) - 1]))
		fail_msg("%d does not end as one: \"%s\"", m->id, text);
}

static void every_sentence_is_whole_and_without_minus_signs(void **state)
{
	(void)state;
	each_message(sentence_reads);
}

static void assert_says(struct message m, const char *headline, const char *sentence)
{
	char text[WORDS_SENTENCE_MAX];

	words_headline(&m, &demo, text, sizeof text);
	assert_string_equal(text, headline);
	words_sentence(&m, &demo, text, sizeof text);
	assert_string_equal(text, sentence);
}

static void parts_are_named_by_letter_and_by_the_labels_word(void **state)
{
	(void)state;
	assert_says((struct message){.id = MESSAGE_ADD,
	                             .has = MESSAGE_HAS_COMPONENT | MESSAGE_HAS_MASS_G,
	                             .component = COMPONENT_B,
	                             .mass_g = 34.23},
	            "ADD B", "Add B hardener: 34.2 g to go.");
	assert_says((struct message){.id = MESSAGE_TOO_MUCH,
	                             .has = MESSAGE_HAS_COMPONENT | MESSAGE_HAS_MASS_G |
	                                    MESSAGE_HAS_PCT,
	                             .component = COMPONENT_B,
	                             .mass_g = 5.0,
	                             .pct = 4.88},
	            "TOO MUCH B",
	            "5.0 g too much B hardener: the ratio is 4.9 % out. Press to set it right.");
	assert_says((struct message){.id = MESSAGE_TOP_UP,
	                             .has = MESSAGE_HAS_COMPONENT | MESSAGE_HAS_MASS_G |
	                                    MESSAGE_HAS_OTHER_MASS_G,
	                             .component = COMPONENT_A,
	                             .mass_g = 11.11,
	                             .other_mass_g = 346.1},
	            "ADD A",
	            "To set it right add A resin: 11.1 g to go; the batch becomes 346.1 g.");
}

static void an_unknown_argument_drops_its_phrase(void **state)
{
	(void)state;
	assert_says((struct message){.id = MESSAGE_ADD,
	                             .has = MESSAGE_HAS_COMPONENT,
	                             .component = COMPONENT_TINT},
	            "ADD TINT", "Add tint.");
	assert_says((struct message){.id = MESSAGE_TOO_MUCH, .has = 0}, "TOO MUCH",
	            "Too much this part. Press to set it right.");
	assert_says((struct message){.id = MESSAGE_TOTAL_TOO_SMALL, .has = 0}, "TOO SMALL",
	            "This is too small a batch for this scale.");
}

static void the_system_is_read_back(void **state)
{
	const struct message m = {.id = MESSAGE_READ_BACK};
	char text[WORDS_SENTENCE_MAX];

	(void)state;
	words_sentence(&m, &demo, text, sizeof text);
	assert_non_null(strstr(text, "for 100 g of resin, 45 g of hardener, as on the label?"));
}

static void a_deviation_is_rounded_away_from_within(void **state)
{
	static const struct {
		double pct;
		const char *text;
	} rows[] = {
	        {2.0, "2.0 %"},   {2.01, "2.1 %"}, {-2.01, "2.1 %"},
	        {1.999, "2.0 %"}, {0.0, "0.0 %"},  {0.01, "0.1 %"},
	        {4.88, "4.9 %"},  {0.3, "0.3 %"},  {2.00001, "2.1 %"},
	};
	char text[WORDS_NUMBER_MAX];

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		words_pct(rows[i].pct, text);
		assert_string_equal(text, rows[i].text);
	}
}

static void masses_are_rounded_for_people(void **state)
{
	char text[WORDS_NUMBER_MAX];

	(void)state;
	words_mass(12.345, true, text);
	assert_string_equal(text, "12.3 g");
	words_mass(1234.56, true, text);
	assert_string_equal(text, "1235 g");
	words_mass(1234.56, false, text);
	assert_string_equal(text, "1234.6 g");
	words_mass(-5.04, false, text);
	assert_string_equal(text, "5.0 g");
	words_mass((double)NAN, false, text);
	assert_string_equal(text, "0.0 g");
	words_mass(1e300, false, text);
	assert_true(strlen(text) < WORDS_NUMBER_MAX);
}

static void durations_read_as_people_say_them(void **state)
{
	char text[WORDS_NUMBER_MAX];

	(void)state;
	words_duration(45.2, text);
	assert_string_equal(text, "45 s");
	words_duration(180.0, text);
	assert_string_equal(text, "3 min");
	words_duration(200.0, text);
	assert_string_equal(text, "3 min 20 s");
	words_duration(7500.0, text);
	assert_string_equal(text, "2 h 5 min");
}

static void hazards_carry_their_caution(void **state)
{
	static const struct {
		enum message_id id;
		const char *says;
	} rows[] = {
	        {MESSAGE_READ_BACK, "gloves"},
	        {MESSAGE_RATIO_WITHIN, "heats"},
	        {MESSAGE_LIFT_AND_STIR, "heats"},
	        {MESSAGE_POUR_SOON, "does not burn"},
	        {MESSAGE_LIFE_OVER, "do not pour"},
	        {MESSAGE_CUP_DRYING, "alcohol"},
	        {MESSAGE_ADD_POWDER, "powder"},
	        {MESSAGE_DONE, "food-safe"},
	        {MESSAGE_READ_BACK, "safety data sheet"},
	};
	char text[WORDS_SENTENCE_MAX];

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct message m = {.id = rows[i].id};

		words_caution(&m, &demo, text, sizeof text);
		if (!strstr(text, rows[i].says))
			fail_msg("%d cautions \"%s\", not %s", m.id, text, rows[i].says);
	}
	words_caution(&(struct message){.id = MESSAGE_TIP_BACK}, &demo, text, sizeof text);
	assert_string_equal(text, "");
}

static void any_size_of_buffer_is_kept(void **state)
{
	struct message m = full(MESSAGE_CANNOT_TELL, COMPONENT_B);
	char text[64];

	(void)state;
	for (size_t size = 0; size < sizeof text - 1; size++) {
		memset(text, 'x', sizeof text);
		assert_true(words_sentence(&m, NULL, text, size) <= size);
		assert_int_equal(text[size], 'x');
		if (size)
			assert_non_null(memchr(text, '\0', size));
	}
	m.id = (enum message_id)MESSAGE_COUNT;
	assert_int_equal(words_sentence(&m, &demo, text, sizeof text), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(every_headline_has_at_most_12_characters),
	        cmocka_unit_test(every_sentence_is_whole_and_without_minus_signs),
	        cmocka_unit_test(parts_are_named_by_letter_and_by_the_labels_word),
	        cmocka_unit_test(an_unknown_argument_drops_its_phrase),
	        cmocka_unit_test(the_system_is_read_back),
	        cmocka_unit_test(a_deviation_is_rounded_away_from_within),
	        cmocka_unit_test(masses_are_rounded_for_people),
	        cmocka_unit_test(durations_read_as_people_say_them),
	        cmocka_unit_test(hazards_carry_their_caution),
	        cmocka_unit_test(any_size_of_buffer_is_kept),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
