/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "display/touch/palette.h"

/* tests/data/wcag_contrast.csv: WCAG 2.2, contrast ratio; its head names which rows are
 * published and which are worked out. */
static void contrast_is_that_of_the_table(void **state)
{
	FILE *file = fopen(AMBO_TEST_DATA "/wcag_contrast.csv", "r");
	unsigned fg, bg;
	char line[256];
	double ratio;
	int rows = 0;

	(void)state;
	assert_non_null(file);
	while (fgets(line, sizeof line, file))
		if (sscanf(line, "%6x,%6x,%lf", &fg, &bg, &ratio) == 3) {
			assert_within(palette_contrast(fg, bg), ratio, 2e-6);
			assert_within(palette_contrast(bg, fg), ratio, 2e-6);
			rows++;
		}
	fclose(file);
	assert_true(rows >= 15);
}

/* The three ratios that an open library's documentation publishes, to all digits. */
static void contrast_is_that_of_another_library(void **state)
{
	(void)state;
	assert_close(palette_contrast(0xff8100, 0x64003a), 5.235369975583679, 1e-12);
	assert_close(palette_contrast(0xe5e5e5, 0xaabb00), 1.698093107780376, 1e-12);
	assert_close(palette_luminance(0xff8100), 0.36960513804637335, 1e-12);
}

static void every_tones_words_stand_out_seven_to_one(void **state)
{
	(void)state;
	for (int theme = 0; theme < THEME_COUNT; theme++) {
		const struct palette *p = palette_of((enum theme)theme);

		for (int tone = 0; tone < TONE_COUNT; tone++)
			assert_true(palette_contrast(p->tone[tone].ink, p->tone[tone].ground) >=
			            7.0);
		/* What is no text but tells something: 3:1 (WCAG 2.2, 1.4.11). */
		for (int tone = TONE_GOOD; tone < TONE_COUNT; tone++)
			assert_true(palette_contrast(p->tone[tone].edge, p->ground) >= 3.0);
		assert_true(palette_contrast(p->poured, p->ground) >= 3.0);
		assert_true(palette_contrast(p->ghost, p->ground) >= 3.0);
		assert_true(palette_contrast(p->line, p->ground) >= 3.0);
		assert_true(palette_contrast(p->hatching, p->poured) >= 2.5);
	}
}

/* Red, yellow, green and blue mean what IEC 60073 has them mean. */
static void tones_have_the_hues_of_iec_60073(void **state)
{
	(void)state;
	for (int theme = 0; theme < THEME_COUNT; theme++) {
		const struct palette *p = palette_of((enum theme)theme);
		uint32_t danger = p->tone[TONE_DANGER].ground, good = p->tone[TONE_GOOD].ground,
		         act = p->tone[TONE_MUST_ACT].ground,
		         abnormal = p->tone[TONE_ABNORMAL].ground;

		assert_true((danger >> 16 & 255) > 3 * (danger >> 8 & 255));
		assert_true((good >> 8 & 255) > (good >> 16 & 255) &&
		            (good >> 8 & 255) > (good & 255));
		assert_true((act & 255) > (act >> 16 & 255) && (act & 255) > (act >> 8 & 255));
		assert_true((abnormal >> 16 & 255) > 150 && (abnormal >> 8 & 255) > 150 &&
		            (abnormal & 255) < 100);
	}
}

/* Whoever sees red and green alike tells the yellow of "abnormal" by its lightness, and
 * no meaning hangs on red against green: their grounds carry words and shapes. */
static void abnormal_is_told_by_its_lightness_alone(void **state)
{
	(void)state;
	for (int theme = 0; theme < THEME_COUNT; theme++) {
		const struct palette *p = palette_of((enum theme)theme);

		for (int tone = TONE_GOOD; tone < TONE_COUNT; tone++)
			if (tone != TONE_ABNORMAL)
				assert_true(palette_contrast(p->tone[TONE_ABNORMAL].ground,
				                             p->tone[tone].ground) >= 4.5);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(contrast_is_that_of_the_table),
	        cmocka_unit_test(contrast_is_that_of_another_library),
	        cmocka_unit_test(every_tones_words_stand_out_seven_to_one),
	        cmocka_unit_test(tones_have_the_hues_of_iec_60073),
	        cmocka_unit_test(abnormal_is_told_by_its_lightness_alone),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
